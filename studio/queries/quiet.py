"""Whether mail may go at a moment: the studio's quiet hours, its weekdays without mail, its holidays."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.utils import timezone

from studio.domain.quiet import LONGEST, may_go_from
from studio.models import Holiday, Studio


def may_mail_from(now: datetime, studio: Studio) -> datetime:
    """The first moment from now on at which mail that can wait may go; now itself when it may."""
    here = timezone.localtime(now, studio.zone)
    first = here.date()
    holidays = Holiday.objects.filter(last_on__gte=first, first_on__lte=first + timedelta(days=LONGEST))
    spans = list(holidays.values_list("first_on", "last_on"))

    def is_closed(day: date) -> bool:
        return str(day.isoweekday()) in studio.closed_weekdays or any(
            begins <= day <= ends for begins, ends in spans
        )

    found = may_go_from(
        here, quiet_from=studio.quiet_from, quiet_until=studio.quiet_until, is_closed=is_closed
    )
    return now if found <= here else found
