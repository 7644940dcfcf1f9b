"""The first way into a studio of one's own: `make tutor`, or `manage.py add_tutor`."""

from __future__ import annotations

import argparse
import getpass

from django.core.management.base import CommandError
from django.db import connection, transaction

from studio.actions import people, second_steps, studio
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.management.language import SpokenCommand
from studio.models import Person, Role


class Command(SpokenCommand):
    help = "Enters the first tutor of an empty studio, or gives a tutor a new password."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--email")
        parser.add_argument("--first-name")
        parser.add_argument("--last-name", default=None)
        parser.add_argument("--studio-name")
        parser.add_argument("--forget-second-step", action="store_true", help="for who lost the phone")
        parser.add_argument("--password", help="asked for when left out, so that it stays out of histories")

    def handle(self, *args: object, **options: object) -> None:
        if Person._meta.db_table not in connection.introspection.table_names():
            raise CommandError(
                say("There is no studio here yet. Open it once, in another window: make studio")
            )
        email = options["email"] or self.ask(say("Email address"))
        known = Person.objects.filter(email__iexact=email.strip()).first()
        try:
            with transaction.atomic():
                if known is None:
                    known = self.enter(email, options)
                password = options["password"] or self.ask_password()
                people.set_password(person=known, password=password, by=None)
                if options["forget_second_step"]:
                    second_steps.forget_all(person=known, by=None)
        except Refused as refused:
            raise CommandError(str(refused)) from None
        self.stdout.write(
            say("{name} can sign in with {email} and that password.", name=known.full_name, email=known.email)
        )

    def enter(self, email: str, options: dict[str, object]) -> Person:
        first_name = options["first_name"] or self.ask(say("First name"))
        last_name = options["last_name"]
        if last_name is None:
            last_name = "" if options["first_name"] else self.ask(say("Last name"), required=False)
        person = people.save_person(
            by=None, first_name=first_name, last_name=last_name, email=email, role=Role.TUTOR
        )
        name = options["studio_name"] or ("" if options["first_name"] else self.ask(say("The studio's name")))
        if name:
            studio.save_studio(by=None, name=name, tutor_name=person.full_name, reply_to=person.email)
        return person

    def ask(self, question: str, *, required: bool = True) -> str:
        try:
            answer = input(f"{question}: ").strip()
        except EOFError:
            answer = ""
        if required and not answer:
            raise CommandError(say("Nothing was entered, so nothing was changed."))
        return answer

    def ask_password(self) -> str:
        try:
            first = getpass.getpass(say("A password of 12 signs or more") + ": ")
            again = getpass.getpass(say("The same once more") + ": ")
        except EOFError:
            raise CommandError(say("Nothing was entered, so nothing was changed.")) from None
        if first != again:
            raise CommandError(say("The two differ. Nothing was changed; try again."))
        return first
