"""Cautions by job. Common practice, no source; each list defers to the makers and to local rules."""

from __future__ import annotations

import pytest

from studio.domain.cautions import DEFERS, Danger, Job, cautions_for
from studio.domain.problems import DomainError
from studio.imaging.icons import icon


@pytest.mark.parametrize("job", list(Job))
def test_each_job_is_warned_of_once_about_each_danger_with_a_sign(job: Job) -> None:
    found = cautions_for(job)
    assert len({one.danger for one in found}) == len(found) >= 2
    for one in found:
        assert one.words.endswith(".")
        assert "<svg" in icon(one.sign)


def test_kiln_care_names_all_that_can_hurt_there() -> None:
    said = {one.danger for one in cautions_for("kiln-care")}
    assert said >= {
        Danger.MAINS,
        Danger.LICENSED,
        Danger.HEAT,
        Danger.FUMES,
        Danger.SILICA,
        Danger.WASH,
        Danger.LIFTING,
    }
    assert cautions_for("kiln-care")[0].danger == Danger.MAINS


def test_the_makers_and_local_rules_come_first() -> None:
    assert "local rules come first" in DEFERS
    assert "data sheets" in DEFERS


def test_a_job_nobody_knows_is_refused() -> None:
    with pytest.raises(DomainError):
        cautions_for("juggling")
