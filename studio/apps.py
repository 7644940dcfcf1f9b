from django.apps import AppConfig
from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext

from .domain.say import speak_with


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Wareboard"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """The rules know no Django: here their sentences are given its translator."""
        speak_with(gettext, ngettext, date_format)
