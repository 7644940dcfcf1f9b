"""The cautions of a job, on any page: ``{% cautions "kiln-care" %}``. A builtin library."""

from __future__ import annotations

from django import template

from studio.domain.cautions import DEFERS, cautions_for

register = template.Library()


@register.inclusion_tag("components/cautions.html")
def cautions(job: str, *, opened: bool = True) -> dict[str, object]:
    """``kiln-care``, ``loading``, ``firing``, ``unloading``, ``grinding`` or ``glazing``; not ``opened``: a
    line that unfolds."""
    return {"cautions": cautions_for(job), "defers": DEFERS, "opened": opened, "job": job}


@register.inclusion_tag("components/caution_lines.html")
def caution_lines(job: str) -> dict[str, object]:
    """The same as plain sentences without signs, for sheets of paper."""
    return {"cautions": cautions_for(job), "defers": DEFERS}
