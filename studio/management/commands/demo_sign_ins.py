"""Say how to sign in to the demo: `manage.py demo_sign_ins`."""

from __future__ import annotations

from django.conf import settings
from django.core.management.base import BaseCommand

from studio.management.demo.story import TEACHING_PASSWORDS


class Command(BaseCommand):
    help = "Prints how to sign in to the demo studio."

    def handle(self, *args: object, **options: object) -> None:
        self.stdout.write(
            "\nSign in with a password\n"
            f"  tutor     maud@quillmere.example     {TEACHING_PASSWORDS['maud']}\n"
            f"  helper    ivo@quillmere.example      {TEACHING_PASSWORDS['ivo']}\n"
            "Sign in with a code by mail\n"
            "  student   ines@quillmere.example\n"
            "  guardian  ruth@quillmere.example     (for Sam, who is 16)\n"
            f"The demo's mails are kept, and read at {settings.SITE_URL}/mail/\n"
        )
