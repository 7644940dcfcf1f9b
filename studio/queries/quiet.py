"""Whether mail may go at a moment: the studio's quiet hours, its weekdays without mail, its holidays."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.utils import timezone

from studio.domain.quiet import LONGEST, may_go_from
from studio.models import Holiday, Notice, Studio

Spans = list[tuple[date, date]]
#: Kinds that know no quiet hours.
AT_ALL_HOURS = (Notice.Kind.SIGN_IN, Notice.Kind.ALARM)


def holidays_from(first: date) -> Spans:
    """First and last day of each holiday that can matter to mail of this day."""
    holidays = Holiday.objects.filter(last_on__gte=first, first_on__lte=first + timedelta(days=LONGEST))
    return list(holidays.values_list("first_on", "last_on"))


def may_mail_from(now: datetime, studio: Studio, *, holidays: Spans | None = None) -> datetime:
    """The first moment from now on at which mail that can wait may go; now itself when it may.

    ``holidays`` are those of `holidays_from`, where they have just been read.
    """
    here = timezone.localtime(now, studio.zone)
    spans = holidays_from(here.date()) if holidays is None else holidays

    def is_closed(day: date) -> bool:
        return str(day.isoweekday()) in studio.closed_weekdays or any(
            begins <= day <= ends for begins, ends in spans
        )

    found = may_go_from(
        here, quiet_from=studio.quiet_from, quiet_until=studio.quiet_until, is_closed=is_closed
    )
    return now if found <= here else found


def goes_from(notice: Notice, now: datetime, studio: Studio, *, holidays: Spans | None = None) -> datetime:
    """When a notice leaves that is let go at ``now`` or has been: after its time of grace, its next try and
    the quiet hours, which never keep it back past the moment at which it is no news any more.
    """
    start = max(filter(None, (now, notice.not_before, notice.next_try_at)))
    if notice.kind in AT_ALL_HOURS:
        return start
    awake = may_mail_from(start, studio, holidays=holidays)
    return start if notice.expires_at is not None and notice.expires_at <= awake else awake
