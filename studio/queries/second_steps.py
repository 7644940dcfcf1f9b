"""Which second steps somebody has set up."""

from __future__ import annotations

from dataclasses import dataclass

from studio.models import Authenticator, Passkey, Person, RecoveryCode


@dataclass(frozen=True, slots=True)
class SecondSteps:
    app: Authenticator | None
    passkeys: tuple[Passkey, ...]
    codes_left: int

    @property
    def any(self) -> bool:
        return self.app is not None or bool(self.passkeys)


def second_steps(person: Person) -> SecondSteps:
    return SecondSteps(
        Authenticator.objects.filter(person=person, confirmed_at__isnull=False).first(),
        tuple(Passkey.objects.filter(person=person)),
        RecoveryCode.objects.filter(person=person, used_at__isnull=True).count(),
    )


def has_second_step(person: Person) -> bool:
    """Whether a password or a mailed code alone does not let this person in. Staff alone have any."""
    if not person.is_staff_member:
        return False
    app = Authenticator.objects.filter(person=person, confirmed_at__isnull=False)
    return app.exists() or Passkey.objects.filter(person=person).exists()
