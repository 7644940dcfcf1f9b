"""What a device posts: one reading or many, as JSON or as a form; an odd one is refused by its place."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from math import isfinite
from typing import Any, NoReturn

from studio.actions.common import refuse
from studio.actions.kiln_devices import MOST_READINGS, Posted
from studio.actions.readings import clean_temperature
from studio.domain.say import say

#: A thousand readings fit in this.
MOST_BYTES = 256 * 1024
_LONGEST_AGE_S = 30 * 24 * 3600


def posted_from_json(body: bytes) -> list[Posted]:
    """``{"temperature_c": 812.4}``, a list of such, or ``{"readings": [...]}``. Raises `Refused`."""
    try:
        found = json.loads(body, parse_float=Decimal, parse_int=Decimal, parse_constant=_no_constant)
    except (ValueError, RecursionError, ArithmeticError):
        refuse("not-json", 'This is no JSON. Send {"temperature_c": 812.4}.')
    if isinstance(found, dict) and "readings" in found:
        found = found["readings"]
    rows = found if isinstance(found, list) else [found]
    if len(rows) > MOST_READINGS:
        refuse(
            "too-many-readings",
            say(
                "{most_readings} readings at most fit in one post. Send several.",
                most_readings=format(MOST_READINGS, ","),
            ),
        )
    return [
        _posted(row, say("Reading {place}: ", place=place) if len(rows) > 1 else "")
        for place, row in enumerate(rows, 1)
    ]


def posted_from_form(fields: Mapping[str, str]) -> list[Posted]:
    """The fields of a form: ``temperature_c`` (or ``temperature_f``), with ``at`` or ``age_s``."""
    return [_posted({name: fields[name] for name in fields}, "")]


def _posted(row: Any, place: str) -> Posted:
    if not isinstance(row, Mapping):
        refuse("no-reading", f'{place}a reading is {{"temperature_c": 812.4}}.')
    if "temperature_c" in row:
        celsius = clean_temperature(_plain(row["temperature_c"], place))
    elif "temperature_f" in row:
        fahrenheit = _number(row["temperature_f"], say("{place}temperature_f is no number.", place=place))
        celsius = clean_temperature((fahrenheit - 32) * 5 / 9)
    else:
        refuse("no-temperature", say("{place}temperature_c is missing.", place=place))
    at, age = row.get("at"), row.get("age_s")
    if at not in (None, "") and age not in (None, ""):
        refuse("two-times", say("{place}send at or age_s, not both.", place=place))
    if at not in (None, ""):
        return Posted(celsius, at=_moment(at, place))
    if age in (None, ""):
        return Posted(celsius)
    words = say("{place}age_s is the reading's age in seconds, from 0 to thirty days.", place=place)
    age_s = float(_number(age, words))
    if not 0 <= age_s <= _LONGEST_AGE_S:
        refuse("no-age", words)
    return Posted(celsius, age_s=age_s)


def _moment(at: Any, place: str) -> datetime:
    words = say(
        "{place}at is a time with its offset, like 2025-11-17T11:00:00Z, or seconds since 1970.", place=place
    )
    try:
        if isinstance(at, Decimal):
            return datetime.fromtimestamp(float(at), UTC)
        found = datetime.fromisoformat(str(at))
        return found.astimezone(UTC) if found.tzinfo else refuse("no-time", words)
    except (ValueError, OverflowError, OSError):
        refuse("no-time", words)


def _plain(value: Any, place: str) -> str:
    if isinstance(value, bool) or not isinstance(value, Decimal | str) or len(str(value)) > 20:
        refuse("no-temperature", say("{place}temperature_c is no number.", place=place))
    return str(value)


def _number(value: Any, words: str) -> Decimal:
    try:
        number = (
            Decimal(str(value).strip()) if not isinstance(value, bool) and len(str(value)) <= 20 else None
        )
    except ArithmeticError:
        number = None
    if number is None or not number.is_finite() or not isfinite(float(number)):
        refuse("no-number", words)
    return number


def _no_constant(name: str) -> NoReturn:
    raise ValueError(name)
