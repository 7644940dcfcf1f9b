"""``manage.py daily_run``: let go what was kept long enough; the mail worker does it too."""

from __future__ import annotations

from django.utils import timezone

from studio.actions import retention
from studio.domain.retention import did_words
from studio.domain.say import say
from studio.management.language import SpokenCommand


class Command(SpokenCommand):
    help = "Does today's run of the keeping periods, once a day however often it is asked."

    def handle(self, *args: object, **options: object) -> None:
        run = retention.daily_run(now=timezone.now())
        if run is None:
            self.stdout.write(say("Today’s run is done, or under way elsewhere."))
            return
        for code, count in run.did:
            self.stdout.write(f"{did_words(code, count)}.")
        if not run.did:
            self.stdout.write(say("Nothing had been kept too long."))
