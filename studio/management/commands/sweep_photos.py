"""``manage.py sweep_photos``: delete photo files that no row names, and photos removed a month ago."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from studio.actions.photos import sweep_photos


class Command(BaseCommand):
    help = "Deletes photo files without a row and photos removed 30 days ago; says which files are missing."

    def handle(self, *args: object, **options: object) -> None:
        swept = sweep_photos()
        self.stdout.write(f"{swept.rows} removed photos and {swept.files} files without a photo deleted.")
        if swept.without_file:
            raise CommandError(
                f"{len(swept.without_file)} photos have no file: {', '.join(swept.without_file[:20])}. "
                "Look for them in the backup."
            )
