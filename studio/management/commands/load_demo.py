"""Fill an empty studio with the demo: `manage.py load_demo`."""

from __future__ import annotations

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from studio.actions.forecasts import reckon_ranges
from studio.management.demo.story import build
from studio.models import Firing, Person, Piece

from .serve import DEMO_MARKER


class Command(BaseCommand):
    help = "Loads the invented demo studio into an empty database, all of it or nothing."

    def handle(self, *args: object, **options: object) -> None:
        if Person.objects.exists():
            raise CommandError("There are people in this studio already. The demo goes into an empty one.")
        with transaction.atomic():
            build(timezone.now())
            reckon_ranges()
        (settings.VAR / DEMO_MARKER).touch()
        self.stdout.write(
            f"The demo studio is loaded: {Person.objects.count()} people, {Piece.objects.count()} pieces, "
            f"{Firing.objects.count()} firings."
        )
