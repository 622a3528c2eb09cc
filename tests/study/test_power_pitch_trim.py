"""Settings of which pitch trim leaves no airspeed: the remedy is flown by a study of its own."""

import re

import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.show.tables.power import power_table
from vlm.study.power.pitch_trim import keys_behind
from vlm.study.power.results import power_document
from vlm.study.power.study import PowerPlan, PowerStudy, power_study

COARSE = Grid(2, 8)


def study(craft: Biplane, *speeds: float) -> PowerStudy:
    plan = PowerPlan({"flat": FoldAngles()}, speeds, grid=COARSE, intervals=False)
    return power_study(craft, plan)


def centred(name: str, x: float) -> Biplane:
    craft = load_biplane(name)
    assert craft.mass is not None
    _, y, z = craft.mass.body_centre_m
    return craft.overridden({"mass.body_centre_m": [x, y, z]})


@pytest.mark.parametrize(("name", "x"), [("tideline", 0.2), ("winnow", 0.45), ("thistle", -0.1)])
def test_the_place_that_is_named_frees_the_airspeed(name: str, x: float) -> None:
    found = study(centred(name, x), 14.0, 17.0)
    assert not found.curves["flat"].allowed.any()
    (told,) = [one for one in found.findings if one.code == "pitch_trim_limit"]
    place = re.search(r"x = (-?[\d.]+)\): equal", told.remedy)
    speed = re.search(r"at ([\d.]+) m/s, the nearest", told.what)
    assert place is not None
    assert speed is not None
    assert ("farther aft" in told.remedy) == (float(place[1]) > x)
    again = study(centred(name, float(place[1])), float(speed[1]), 20.0)
    assert again.curves["flat"].allowed[0]
    assert not [one for one in again.findings if one.code == "pitch_trim_limit"]


def test_nothing_is_said_where_some_airspeed_is_left_or_pitch_trim_is_not_why() -> None:
    for craft in (
        load_biplane("tideline"),
        load_biplane("tideline").overridden({"rotors.0.power_max_W": 1.0}),
    ):
        found = study(craft, 14.0, 17.0)
        assert not [one for one in found.findings if one.code == "pitch_trim_limit"]


def test_keys_behind_limits() -> None:
    """Against the keys of the input reference, by hand."""
    assert keys_behind([]) == ""
    assert keys_behind(["none within the speeds asked for"]) == ""
    said = keys_behind(["power of rotor left", "lowest thrust (a, b); electrical power"])
    assert re.findall(r"(\w+\.\w+) \(", said) == [
        "rotors.thrust_min_N", "rotors.power_max_W", "propulsion.power_max_W",
    ]  # fmt: skip


def test_the_answer_names_the_keys() -> None:
    found = study(centred("tideline", 0.2), 14.0, 17.0)
    said = " ".join(power_table(power_document(found)).split())
    assert "Keys behind these limits: rotors.thrust_min_N (lower for rotors that brake" in said
