"""The first page, by who is looking."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from . import access


@access.anyone
def home(request: HttpRequest) -> HttpResponse:
    """Today for tutor and helper, their pieces for a student, the studio's name for a visitor."""
    return render(request, "home/visitor.html")


@access.signed_in
def more(request: HttpRequest) -> HttpResponse:
    """What does not fit on the phone's board of pages."""
    return render(request, "home/more.html")
