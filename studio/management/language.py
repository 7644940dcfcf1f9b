"""Commands speak the studio's language, as its pages do."""

from __future__ import annotations

from django.core.management.base import BaseCommand
from django.db import DatabaseError
from django.utils import translation

from studio.domain.languages import ENGLISH, spoken
from studio.models import Studio


class SpokenCommand(BaseCommand):
    """A command whose words are for whoever runs the studio. English where there is none yet."""

    def execute(self, *args: object, **options: object) -> str | None:
        with translation.override(_language()):
            return super().execute(*args, **options)


def _language() -> str:
    try:
        return spoken(Studio.objects.values_list("language", flat=True).first() or "")
    except DatabaseError:  # nothing has been made yet
        return ENGLISH
