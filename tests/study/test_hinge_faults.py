"""What is said where it is not known whether the rotors hold a jammed tip."""

from typing import Any

import pytest

from vlm.description.loading import load_biplane
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.study.hinge_study import HingePlan, hinge_study


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rotors": (), "propulsion": None}, "no rotors in the file"),
        ({"propulsion": None}, "rotors not known without [propulsion]"),
    ],
)
def test_why_it_is_not_known_what_the_rotors_can(changes: dict[str, Any], words: str) -> None:
    craft = load_biplane("tideline").model_copy(update=changes)
    plan = HingePlan(Air(12.0, 1.225), (0.0,), load_factors=(1.0,), grid=Grid(3, 8))
    rows = [row for row in hinge_study(craft, plan).jammed if row.roll is not None]
    assert rows
    assert {row.roll.held for row in rows} == {words}
