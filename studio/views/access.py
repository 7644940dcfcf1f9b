"""Who may open which page: the one place that decides.

Every view carries exactly one of these decorators; a test walks the URLs and fails on one that has none.
What a person may not see is absent (404), not forbidden, so that nothing can be learned from the answer.
Somebody who has not signed in is sent to sign in, from every page alike.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse

from studio.models import Person, Piece, Role

View = Callable[..., HttpResponse]


def _declared(level: str, may: Callable[[HttpRequest], bool], *, signed_in: bool) -> Callable[[View], View]:
    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
            if signed_in and not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if not may(request):
                raise Http404
            return view(request, *args, **kwargs)

        guarded.access = level
        return guarded

    return decorate


tutor = _declared("tutor", lambda request: request.user.is_tutor, signed_in=True)
staff = _declared("staff", lambda request: request.user.is_staff_member, signed_in=True)
signed_in = _declared("signed-in", lambda request: True, signed_in=True)
#: One's own account. A helper sees no money anywhere, not even their own: the tutor tells them.
own_money = _declared("own-money", lambda request: request.user.role != Role.HELPER, signed_in=True)
anyone = _declared("anyone", lambda request: True, signed_in=False)
#: The demo's own pages do not exist in a real studio.
demo_only = _declared("demo", lambda request: settings.DEMO, signed_in=False)


def people_answered_for(person: Person) -> QuerySet[Person]:
    """The person, and the young people whose guardian they are."""
    return Person.objects.filter(Q(pk=person.pk) | Q(guardian=person))


def pieces_seen_by(person: Person, among: QuerySet[Piece] | None = None) -> QuerySet[Piece]:
    """All pieces for tutor and helper; for others their own and their young people's."""
    pieces = Piece.objects.all() if among is None else among
    if person.is_staff_member:
        return pieces
    return pieces.filter(Q(maker=person) | Q(maker__guardian=person))
