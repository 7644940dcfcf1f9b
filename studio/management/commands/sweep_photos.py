"""``manage.py sweep_photos``: delete photo files that no row names, and photos removed a month ago."""

from __future__ import annotations

from django.core.management.base import CommandError

from studio.actions.photos import sweep_photos
from studio.domain.say import say
from studio.management.language import SpokenCommand


class Command(SpokenCommand):
    help = "Deletes photo files without a row and photos removed 30 days ago; says which files are missing."

    def handle(self, *args: object, **options: object) -> None:
        swept = sweep_photos()
        self.stdout.write(
            say(
                "{rows} removed photos and {files} files without a photo deleted.",
                rows=swept.rows,
                files=swept.files,
            )
        )
        if swept.without_file:
            raise CommandError(
                say(
                    "{count} photos have no file: {names}. Look for them in the backup.",
                    count=len(swept.without_file),
                    names=", ".join(swept.without_file[:20]),
                )
            )
