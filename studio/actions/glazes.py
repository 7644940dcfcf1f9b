"""The studio's glazes."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.cones import hotter
from studio.domain.say import later, say
from studio.models import Glaze, Person

from .common import (
    clean_choice,
    clean_colour,
    clean_cone,
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    retire,
    save_checked,
)

MOST_IN_HAND_G = 1_000_000
_NAME_TAKEN = later("There is a glaze of this name already. Choose another name.")


@transaction.atomic
def save_glaze(
    *,
    by: Person,
    name: str,
    colour: str = "#b7bfb9",
    finish: str = "",
    cone_from: str = "6",
    cone_to: str = "6",
    food_contact: str = Glaze.FoodContact.UNSTATED,
    movement: str = Glaze.Movement.STILL,
    metallic: bool = False,
    notes: str = "",
    kind: str = Glaze.Kind.GLAZE,
    source: str = "",
    recipe: str = "",
    low_at_g: int | None = None,
    glaze: Glaze | None = None,
    now: datetime | None = None,
) -> Glaze:
    """Add a glaze, or change one. ``food_contact`` is its maker's word, never ours.

    A new recipe or maker is another glaze to a laboratory: from that day its older tests don't hold.
    """
    must_be_tutor(by)
    row = Glaze() if glaze is None else Glaze.objects.select_for_update(no_key=True).get(pk=glaze.pk)
    row.name = clean_text(name, label=say("name of the glaze"), longest=60, required=True)
    row.colour = clean_colour(colour)
    row.finish = clean_text(finish, label=later("finish"), longest=40)
    row.cone_from = clean_cone(cone_from, label=say("coolest cone"), required=True)
    row.cone_to = clean_cone(cone_to, label=say("hottest cone"), required=True)
    if hotter(row.cone_from, row.cone_to):
        refuse(
            "cones-turned",
            say(
                "Cone {cone_from} is hotter than cone {cone_to}. Turn the two round.",
                cone_from=row.cone_from,
                cone_to=row.cone_to,
            ),
        )
    row.food_contact = clean_choice(food_contact, Glaze.FoodContact.values, label=say("maker's word on food"))
    row.movement = clean_choice(movement, Glaze.Movement.values, label=later("movement"))
    row.metallic = bool(metallic)
    row.notes = clean_text(notes, label=later("notes"), longest=1000, lines=True)
    row.kind = clean_choice(kind, Glaze.Kind.values, label=later("kind"))
    row.low_at_g = (
        None
        if low_at_g is None
        else clean_whole(low_at_g, label=say("least in hand, g"), least=1, most=MOST_IN_HAND_G)
    )
    new_source = clean_text(source, label=later("maker"), longest=60)
    new_recipe = clean_text(recipe, label=later("recipe"), longest=4000, lines=True)
    if glaze is not None and (row.recipe, row.source) != (new_recipe, new_source):
        row.recipe_changed_on = local_day(moment(now))
    row.recipe, row.source = new_recipe, new_source
    save_checked(row, words={"glaze_name_once": _NAME_TAKEN})
    return row


@transaction.atomic
def retire_glaze(*, glaze: Glaze, by: Person, now: datetime | None = None) -> Glaze:
    """Take a glaze off the list for new work; what carries it keeps it."""
    return retire(glaze, by=by, now=now)


@transaction.atomic
def restore_glaze(*, glaze: Glaze, by: Person, now: datetime | None = None) -> Glaze:
    """Put a glaze back on the list."""
    must_be_tutor(by)
    row = Glaze.objects.select_for_update(no_key=True).get(pk=glaze.pk)
    row.retired_at = None
    save_checked(row, words={"glaze_name_once": _NAME_TAKEN})
    return row
