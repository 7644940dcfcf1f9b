"""Whom to call, and what to know of somebody's health: at class for staff, else for those it is about.

Nothing of it stands in an address, a list or an export; who looked at it is written to the log, by codes.
"""

from __future__ import annotations

import logging
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from studio.actions import care_notes as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.care_notes import CareNoteForm
from studio.models import Person, Session
from studio.queries import registers

from . import access

log = logging.getLogger("studio.care_notes")


def may_read_notes(by: Person, meeting: Session, now: datetime) -> bool:
    """The tutor always; a helper from an hour before a class to three hours after it."""
    return by.is_tutor or (by.is_staff_member and registers.is_open(meeting, now))


@access.staff
@never_cache
@require_safe
def at_class(request: HttpRequest, code: str, person_code: str) -> HttpResponse:
    """One person of this meeting: whom to call, and what to know."""
    meeting = get_object_or_404(Session.objects.select_related("course"), code=code)
    if not may_read_notes(request.user, meeting, timezone.now()):
        raise Http404
    person = get_object_or_404(registers.people_of(meeting), code=person_code)
    log.info("%s read the emergency note of %s at meeting %s", request.user.code, person.code, meeting.code)
    context = {
        "meeting": meeting,
        "person": person,
        "young": person.is_young_on(timezone.localdate()),
    }
    return render(request, "register/care_note.html", context)


@access.signed_in
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def care_note(request: HttpRequest, code: str) -> HttpResponse:
    """Written by the tutor, by the person, or by the guardian of somebody under 18."""
    person, now = get_object_or_404(Person, code=code), timezone.now()
    if not actions.may_write_note(request.user, person, now):
        raise Http404
    initial = {name: getattr(person, name) for name in CareNoteForm.base_fields}
    form = CareNoteForm(request.POST or None, initial=initial)
    if form.is_valid():
        try:
            actions.save_care_note(person=person, by=request.user, **form.cleaned_data)
        except Refused as refused:
            for problem in refused.problems:
                form.add_error(None, problem.message)
        else:
            messages.success(request, say("Saved. Only the people who teach can read it."))
            own = reverse("care-note", args=[person.code])
            return redirect(reverse("person", args=[person.code]) if request.user.is_tutor else own)
    if request.user.pk not in {person.pk, person.guardian_id}:
        log.info("%s opened the emergency note of %s", request.user.code, person.code)
    context = {
        "form": form,
        "person": person,
        "others": access.people_answered_for(request.user).exclude(pk=person.pk),
    }
    return render(request, "register/care_note_edit.html", context, status=422 if form.errors else 200)
