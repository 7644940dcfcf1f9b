"""How money, sizes, times and stages are written on pages. Builtins: no ``{% load %}`` needed."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from decimal import Decimal

from django import template
from django.template.defaultfilters import stringfilter
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from studio.domain.forecast import Forecast
from studio.domain.lengths import Unit, exact_words, fine_words, length_words, nearest_words, unit_in_force
from studio.domain.readings import degrees_words
from studio.domain.say import date_words, figure, lower_first, midway, say
from studio.domain.stages import STAGE_WORDS, Stage
from studio.models import Person, Piece, Studio

register = template.Library()


@register.simple_tag(takes_context=True, name="money")
def money_tag(context: template.Context, amount_minor: int) -> str:
    """``{% money row.amount_minor %}``: in the studio's currency, as the studio writes sums."""
    return (context.get("studio") or Studio.the()).money_words(amount_minor or 0)


@register.filter
def without_sign(amount_minor: int) -> int:
    """For a sum beside words that say whose it is: "In hand £3.20"."""
    return abs(amount_minor)


@register.filter
def cm(length_mm: int | None) -> str:
    """``194`` as ``19.4 cm``, or ``7 5/8 in`` where the studio measures in inches."""
    return "" if length_mm is None else length_words(length_mm)


@register.filter
def mm(length_mm: float | None) -> str:
    """A short or exact length: ``6`` as ``6 mm``, or ``1/4 in``."""
    return "" if length_mm is None else fine_words(length_mm)


@register.filter
def exact(length_mm: Decimal | float | None) -> str:
    """A length measured to a tenth of a millimetre: ``87.5 mm``, or ``3.44 in``."""
    return "" if length_mm is None else exact_words(length_mm)


@register.filter
def nearest(length_mm: Decimal | float | None) -> str:
    """As a ruler is read: ``102 mm``, or ``4 1/16 in``."""
    return "" if length_mm is None else nearest_words(length_mm)


@register.simple_tag
def length_unit() -> str:
    """The unit behind the field of a piece's size: ``cm`` or ``in``."""
    return say("in") if unit_in_force() is Unit.INCH else "cm"


@register.filter
def said(words: object) -> str:
    """Words that a value of the rules carries itself, in the language in force."""
    return say(str(words))


@register.filter
def language_tag(code: str) -> str:
    """``en-gb`` as ``en-GB``, as BCP 47 writes it."""
    language, _, country = code.partition("-")
    return f"{language}-{country.upper()}" if country else language


@register.filter
def kilos(grams: int) -> str:
    """2500 as ``2.5 kg``, 800 as ``800 g``."""
    return f"{grams} g" if grams < 1000 else say("{grams} kg", grams=figure(grams / 1000, "g"))


@register.filter
def litres(volume_mm3: int | None) -> str:
    """Cubic millimetres as ``4.90 litres``."""
    return say("{volume_mm3} litres", volume_mm3=figure((volume_mm3 or 0) / 1000000, ".2f"))


def _local(moment: datetime) -> datetime:
    return timezone.localtime(moment) if timezone.is_aware(moment) else moment


@register.filter
def when(moment: datetime | None) -> str:
    """``Tuesday 18 November, 11:20``; with the year when it is not this one."""
    if not moment:
        return ""
    local = _local(moment)
    this_year = local.year == timezone.localdate().year
    return date_words(local, "l j F, H:i") if this_year else date_words(local, "l j F Y, H:i")


@register.filter
def clock(moment: datetime | None) -> str:
    """``11:20``."""
    return date_format(_local(moment), "H:i") if moment else ""


@register.filter
def day(moment: datetime | date | None) -> str:
    """``18 Nov``; with the year when it is not this one."""
    if not moment:
        return ""
    local = _local(moment) if isinstance(moment, datetime) else moment
    this_year = local.year == timezone.localdate().year
    return date_words(local, "j M") if this_year else date_words(local, "j M Y")


@register.filter
def long_day(moment: datetime | date | None) -> str:
    """``Friday 19 December``."""
    if not moment:
        return ""
    local = _local(moment) if isinstance(moment, datetime) else moment
    this_year = local.year == timezone.localdate().year
    return date_words(local, "l j F") if this_year else date_words(local, "l j F Y")


@register.filter
def day_range(forecast: Forecast | None) -> str:
    """``3 to 9 December``, ``28 November to 3 December``: days, as nobody knows the hour."""
    if not forecast:
        return ""
    first, last = _local(forecast.earliest).date(), _local(forecast.latest).date()
    this_year = timezone.localdate().year
    until = date_words(last, "j F") if last.year == this_year else date_words(last, "j F Y")
    if first == last:
        return until
    if (first.year, first.month) == (last.year, last.month):
        begin = date_words(first, "j")
    elif first.year != last.year and this_year not in (first.year, last.year):
        begin = date_words(first, "j F Y")
    else:
        begin = date_words(first, "j F")
    return say("{begin} to {until}", begin=begin, until=until)


@register.filter
def degrees(celsius: Decimal | float) -> str:
    """``104 °C``: rounded as everywhere."""
    return degrees_words(celsius)


@register.filter
def per_cent(part: float) -> str:
    """``63``: a share of 1 in whole hundredths, with a proper minus."""
    return f"{round(100 * part)}".replace("-", "−")


@register.filter
def days_since(moment: datetime | None) -> int:
    """Whole local days from ``moment`` to today."""
    return (timezone.localdate() - _local(moment).date()) // timedelta(days=1) if moment else 0


@register.filter
def stage_word(stage: str) -> str:
    return STAGE_WORDS[Stage(stage)] if stage else ""


#: Stage -> the name of its icon.
STAGE_ICONS: dict[Stage, str] = {
    Stage.WET: "wet",
    Stage.LEATHER_HARD: "leather-hard",
    Stage.BONE_DRY: "bone-dry",
    Stage.BISQUE_FIRING: "bisque-firing",
    Stage.BISQUED: "to-glaze",
    Stage.GLAZED: "glazing",
    Stage.GLAZE_FIRING: "glaze-firing",
    Stage.LOW_FIRING: "glaze-firing",
    Stage.FIRED: "glaze-firing",
    Stage.FINISHING: "finishing",
    Stage.READY: "ready",
    Stage.COLLECTED: "collected",
    Stage.LOST: "lost",
    Stage.RECLAIMED: "lost",
    Stage.UNCLAIMED: "lost",
    Stage.WITHDRAWN: "lost",
}


@register.filter
def stage_icon(stage: str) -> str:
    return STAGE_ICONS[Stage(stage)]


@register.simple_tag
def client_id() -> SafeString:
    """A hidden field with an id of this form's own: sent twice, it counts once."""
    return format_html('<input type="hidden" name="client_id" value="{}">', uuid.uuid4())


@register.simple_tag
def fresh_id() -> str:
    """A number for one button, where several buttons of a form each do one thing once."""
    return uuid.uuid4().hex


@register.filter
def tel(number: str) -> str:
    """A phone number as the address of a call: digits and a leading plus alone."""
    digits = "".join(sign for sign in number if sign.isascii() and sign.isdigit())
    return f"+{digits}" if number.strip().startswith("+") else digits


register.filter(lower_first)


@register.filter(is_safe=True)
@stringfilter
def lower(value: str) -> str:
    """In small letters for the middle of a sentence, but for languages whose nouns keep their capitals."""
    return midway(value)


@register.simple_tag
def slip_name(person: Person) -> str:
    """What paper lying about may say of a maker: see `Person.slip_name`."""
    return person.slip_name(timezone.localdate())


@register.simple_tag
def part_percent(part: float | None) -> str:
    """``0.589`` as ``59``."""
    return f"{100 * (part or 0):.0f}"


@register.filter
def rule_words(code: str) -> str:
    """``not-bone-dry`` as a heading: ``Not bone dry``."""
    return code.replace("-", " ").capitalize()


@register.filter
def whose(piece: Piece) -> str:
    """The maker's name; or that it is the studio's own, or that nobody knows."""
    if piece.maker_id:
        return piece.maker.full_name
    return say("the studio’s own") if piece.studios_own else say("whose is it?")


@register.filter
def hours_minutes(minutes: float | None) -> str:
    """``760`` minutes as ``12 h 40 min``."""
    if minutes is None:
        return ""
    hours, left = divmod(round(minutes), 60)
    if not hours:
        return say("{left} min", left=left)
    return say("{hours} h {left} min", hours=hours, left=left) if left else f"{hours} h"
