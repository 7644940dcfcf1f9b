"""Static files straight from their sources, refusing a name that no source has."""

from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import StaticFilesStorage


class FoundStaticFiles(StaticFilesStorage):
    """As strict about names as the storage a studio runs with, without collecting first."""

    def url(self, name: str | None) -> str:
        if name and finders.find(name) is None:
            raise ValueError(f"A page asks for the static file “{name}”, which does not exist.")
        return super().url(name)
