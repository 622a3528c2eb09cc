"""The balance that ``check`` names: had again by a craft with its centre of gravity moved there.

Source: at the balance every rotor gives the same thrust, by its meaning.
"""

import json
import re
from typing import Any

import numpy as np
import pytest

from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import Trim, trim_problem, trimmed
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.study.point.point import solve_point


def trim_of(name: str, x: float | None, speed: float) -> Trim:
    craft = load_biplane(name)
    assert craft.mass is not None
    _, y, z = craft.mass.body_centre_m
    if x is not None:
        craft = craft.overridden({"mass.body_centre_m": [x, y, z]})
    found = trimmed(trim_problem(powered_craft(craft, FoldAngles())), speed, 0.0, None)
    assert found is not None
    return found


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    capsys.readouterr()
    assert main(["check", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("name", ["tideline", "teasel", "thistle", "winnow"])
def test_the_craft_balances_there(capsys: pytest.CaptureFixture[str], name: str) -> None:
    found = answer(capsys, name)["balance"]
    speed = found["airspeed_m_s"]
    as_is = trim_of(name, None, speed)
    there = trim_of(name, found["body_centre_x_m"], speed)
    apart = float(np.ptp(as_is.thrusts))
    assert float(np.ptp(there.thrusts)) < 1e-3 * apart
    craft = load_biplane(name)
    assert craft.mass is not None
    moved = found["body_centre_x_m"] - craft.mass.body_centre_m[0]
    # Bodies weigh less than the whole, so that its centre moves less than theirs.
    assert found["aft_m"] == pytest.approx(
        moved * craft.mass.body_kg / craft.mass.total_kg, rel=1e-9
    )
    # Nose up where the centre of gravity lies too far forward.
    assert found["moment_N_m"] * found["aft_m"] > 0.0
    assert found["passed"] is None


def test_it_says_so_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    far = ["--set", "mass.body_centre_m=[0.15,0,-0.19]"]
    found = answer(capsys, "tideline", *far)["balance"]
    assert main(["check", "tideline", *far]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "N m nose down: equal thrusts balance the craft with its centre of gravity" in said
    size = re.search(r"(\d+) mm farther forward, which is ([\d.]+) chords more static margin", said)
    assert size is not None
    assert float(size[2]) == pytest.approx(-found["aft_chords"], rel=0.05)
    assert float(size[1]) == pytest.approx(-1000.0 * found["aft_m"], abs=0.51)
    assert "Beyond a limit there: rotor lower" in said
    source = "from one trim with the rotors on a lattice of 4 rows x 16 strips; its ± is not worked"
    assert source in said
    assert (found["rows"], found["strips"]) == (4, 16)
    assert "less than rotors.thrust_min_N" in said


@pytest.mark.parametrize("name", ["tideline", "thistle"])
def test_the_static_margin_falls_by_what_is_said(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """By the lattice's slope of the pitching moment about the centre of gravity, there and here."""
    found = answer(capsys, name)["balance"]
    craft = load_biplane(name)
    assert craft.mass is not None
    _, y, z = craft.mass.body_centre_m
    moved = craft.overridden({"mass.body_centre_m": [found["body_centre_x_m"], y, z]})
    state = FlightState(alpha=np.radians(4.0))
    before, after = (
        solve_point(one, FoldAngles(), state, grid=Grid(2, 8)).static_margin
        for one in (craft, moved)
    )
    assert after - before == pytest.approx(-found["aft_chords"], rel=0.02)


def test_a_craft_that_is_balanced_is_told_no_move(capsys: pytest.CaptureFixture[str]) -> None:
    x = answer(capsys, "tideline")["balance"]["body_centre_x_m"]
    assert main(["check", "tideline", "--set", f"mass.body_centre_m=[{x:.5f},0,-0.19]"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "rotors of equal thrust balance the craft, within half a millimetre." in said
    assert "mm farther" not in said


@pytest.mark.parametrize("name", ["plank", "ellipse"])
def test_nothing_is_said_without_rotors_and_masses(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    assert answer(capsys, name)["balance"] is None
    assert main(["check", name]) == 0
    assert "nothing is solved." in " ".join(capsys.readouterr().out.split())
