"""Whether a line that others may see names somebody under 18."""

from __future__ import annotations

import re

from django.db.models import Q
from django.utils import timezone

from studio.models import Person, Studio

_WORDS = re.compile(r"[^\W\d_]+(?:[’'-][^\W\d_]+)*")


def young_names_in(line: str) -> list[str]:
    """First names of young people of the studio that stand in this line, alone or as “Sam’s”, or with their
    family’s name behind; in order, each once.
    """
    said = {word.removesuffix("’s").removesuffix("'s") for word in _WORDS.findall(line)}
    if not said:
        return []
    day = timezone.localdate(timezone=Studio.the().zone)
    perhaps = Person.objects.current().filter(Q(guardian__isnull=False) | Q(born_on__isnull=False))
    named = [person.first_name for person in perhaps if person.is_young_on(day) and person.first_name in said]
    return list(dict.fromkeys(sorted(named)))
