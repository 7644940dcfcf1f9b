"""``manage.py collect_words``: the catalogue of every language brought up to date, and compiled."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand

from studio.domain.languages import ENGLISH, LANGUAGES
from studio.management.words.catalogue import compiled, read_po, write_po
from studio.management.words.collect import collected


class Command(BaseCommand):
    help = "Collects the sentences to translate into studio/locale, keeps what is translated, compiles it."
    requires_system_checks = ()

    def handle(self, **options: object) -> None:
        places = collected(settings.BASE_DIR)
        for language in LANGUAGES:
            if language == ENGLISH:
                continue
            path = Path(settings.LOCALE_PATHS[0]) / language / "LC_MESSAGES" / "django.po"
            known = read_po(path) if path.exists() else {}
            write_po(path, language, known, places)
            now = read_po(path)
            path.with_suffix(".mo").write_bytes(compiled(language, now))
            done = sum(bool(forms) for forms in now.values())
            self.stdout.write(f"{LANGUAGES[language]}: {done} of {len(places)} sentences are translated.")
