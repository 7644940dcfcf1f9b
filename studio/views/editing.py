"""One way to show and take a form for something the studio keeps: people, glazes, kilns, shelves."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from studio.domain.problems import Refused


def put_problems(form: BaseForm, refused: Refused) -> None:
    """Say on the form why it was refused; what was typed stays."""
    for problem in refused.problems:
        form.add_error(None, problem.message)


def edit_page(
    request: HttpRequest,
    *,
    form: BaseForm,
    save: Callable[[], object],
    heading: str,
    done_url: Callable[[object], str] | str,
    back_url: str,
    done_words: str,
    template: str = "components/edit.html",
    **context: object,
) -> HttpResponse:
    """Show the form; when it is posted whole, call ``save`` (one action) and go on to ``done_url``."""
    if request.method == "POST" and form.is_valid():
        try:
            saved = save()
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, done_words)
            return redirect(done_url(saved) if callable(done_url) else done_url)
    status = 422 if request.method == "POST" else 200
    page = {"form": form, "heading": heading, "back_url": back_url, **context}
    return render(request, template, page, status=status)
