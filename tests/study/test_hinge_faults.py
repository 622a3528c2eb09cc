"""What is said where it is not known whether the rotors hold a jammed tip."""

from typing import Any

import pytest
from thin_craft import thin

from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.tables.hinge import _held
from vlm.study.hinge_results import HeldMoment
from vlm.study.hinge_study import HingePlan, hinge_study
from vlm.verdicts import SIGN_NOT_KNOWN


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rotors": (), "propulsion": None}, "no rotors in the file"),
        ({"propulsion": None}, "rotors not known without [propulsion]"),
    ],
)
def test_why_it_is_not_known_what_the_rotors_can(changes: dict[str, Any], words: str) -> None:
    craft = thin("tideline").model_copy(update=changes)
    plan = HingePlan(Air(12.0, 1.225), (0.0,), load_factors=(1.0,), grid=Grid(3, 8))
    rows = [row for row in hinge_study(craft, plan).jammed if row.roll is not None]
    assert rows
    assert {row.roll.held for row in rows} == {words}


def test_a_jam_that_may_or_may_not_be_held_says_so() -> None:
    """Words by the fields of the row; the ± of the moment reaches across what rotors can."""
    sure = HeldMoment(0.5, 0.1, 2.0, "the rotors hold it")
    assert _held(sure) == "the rotors hold it (2.0 N m)"
    open_to = HeldMoment(1.9, 0.5, 2.0, SIGN_NOT_KNOWN)
    assert _held(open_to) == "not known whether the rotors hold it (2.0 N m)"
