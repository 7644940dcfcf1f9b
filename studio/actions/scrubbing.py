"""Taking one person's name out of all the words that were written in the studio.

Full name, address and number are taken out wherever they stand. First and last name alone are taken out of
rows about the person or a piece of theirs; elsewhere they may be somebody else's, or a glaze's.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from django.db import models
from django.db.models import Q, TextField
from django.db.models.functions import Cast

from studio.domain.name_words import Names, without
from studio.models import Person, Piece
from studio.queries import personal

#: How far a row may be from a piece and still be about it: an answer is about the piece of its placement.
_HOPS = 2


def scrub(*, person: Person, names: Names, instead: str) -> int:
    """Returns how many rows were changed. Statements are left as they were given out."""
    changed = 0
    for model in personal.tables():
        if model.__name__ in personal.AS_GIVEN_OUT or model is Person:
            continue
        columns = _columns_of_words(model)
        if not columns:
            continue
        changed += _scrub(model._base_manager.all(), columns, names.sure, instead)
        if about := _about(model, person):
            changed += _scrub(model._base_manager.filter(about), columns, names.all, instead)
    # What the studio wrote about others.
    return changed + _scrub(Person.objects.exclude(pk=person.pk), ["notes"], names.sure, instead)


def _columns_of_words(model: type[models.Model]) -> list[str]:
    return [
        field.name
        for field in model._meta.fields
        if isinstance(field, models.CharField | models.TextField | models.JSONField)
        and not isinstance(field, models.EmailField)
        and not field.choices
        and not field.primary_key
        and (not field.unique or field.name == "name")
    ]


def _about(model: type[models.Model], person: Person) -> Q | None:
    """Rows that lead to the person, or within two steps to a piece of theirs; a set with one of theirs."""
    paths = [field.name for _, field in _links(model, Person)]
    paths += [f"{path}__maker" for path in _paths_to_piece(model, _HOPS)]
    if model is Piece:
        paths.append("maker")
    if any(field.related_model is model for field in Piece._meta.fields if field.name == "piece_set"):
        paths.append("pieces__maker")
    about = Q()
    for path in paths:
        about |= Q(**{path: person})
    return about if paths else None


def _links(model: type[models.Model], target: type[models.Model]) -> list[tuple[type, models.Field]]:
    return [
        (model, field)
        for field in [*model._meta.fields, *model._meta.many_to_many]
        if field.is_relation and field.related_model is target
    ]


def _paths_to_piece(model: type[models.Model], hops: int) -> list[str]:
    paths = []
    for field in [*model._meta.fields, *model._meta.many_to_many]:
        if not field.is_relation or field.related_model in {None, Person, model}:
            continue
        if field.related_model is Piece:
            paths.append(field.name)
        elif hops > 1:
            paths += [f"{field.name}__{path}" for path in _paths_to_piece(field.related_model, hops - 1)]
    return paths


def _scrub(rows: models.QuerySet, columns: list[str], words: Iterable[str], instead: str) -> int:
    model, changed = rows.model, 0
    holds, cast = Q(), {f"_{column}": Cast(column, TextField()) for column in columns}
    for word in words:
        # As JSON writes it too; SQLite knows capitals of plain letters alone.
        spelt = {word, word.lower(), word.upper(), json.dumps(word)[1:-1]}
        for column in columns:
            for each in spelt:
                holds |= Q(**{f"_{column}__icontains": each})
    if not holds:
        return 0
    found = rows.annotate(**cast).filter(holds).distinct().values("pk", *columns)
    for row in list(found):
        values = {}
        for column in columns:
            new = _cleared(row[column], words, instead)
            if new != row[column]:
                longest = model._meta.get_field(column).max_length
                values[column] = new[:longest] if longest and isinstance(new, str) else new
        if values:
            # By a plain query set: rows of the ledger refuse every change but this one, and no sum changes.
            models.QuerySet(model).filter(pk=row["pk"]).update(**values)
            changed += 1
    return changed


def _cleared(value: object, words: Iterable[str], instead: str) -> object:
    if isinstance(value, str):
        return without(value, words, instead)
    if isinstance(value, list):
        return [_cleared(each, words, instead) for each in value]
    if isinstance(value, dict):
        return {without(key, words, instead): _cleared(each, words, instead) for key, each in value.items()}
    return value
