"""Turns of the wake on folded wings: the lattice against the reverse-flow theorem.

tests/reference/turned_wake.py knows nothing of the trailing edge: it needs only solutions with a
wake along x, and its flat rectangle must give what pressure modes give.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from reference.turned_wake import Sheets, turned_lift, turned_roll

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flow.solve import Solvers
from vlm.flow.wake import trailing_rings
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice

REFERENCE = Path(__file__).parents[1] / "reference"
KEPT = tomllib.loads((REFERENCE / "turned_wakes.toml").read_text(encoding="utf-8"))
TURNS = KEPT["turn"]
RECTANGLES = tomllib.loads((REFERENCE / "yawed_rectangles.toml").read_text(encoding="utf-8"))
AFT = np.array([1.0, 0.0, 0.0])
TOWARD = {"port": np.array([0.0, -1.0, 0.0]), "up": np.array([0.0, 0.0, 1.0])}
CHORD, TIP, HINGE, GAP = 0.17, 0.36, 0.42, 0.36


def named(turn: dict) -> str:
    return f"{turn['fold_deg'][0]:g}/{turn['fold_deg'][1]:g} toward {turn['toward']}"


def sheets(fold_deg: list[float], strips: int) -> Sheets:
    left, right = np.radians(fold_deg)
    upper = [
        [-HINGE - TIP * np.cos(left), TIP * np.sin(left)], [-HINGE, 0.0], [HINGE, 0.0],
        [HINGE + TIP * np.cos(right), TIP * np.sin(right)],
    ]  # fmt: skip
    return Sheets((np.array(upper), np.array([[-HINGE, -GAP], [HINGE, -GAP]])), CHORD, strips)


def lattice_turn(fold_deg: list[float], aside: np.ndarray, grid: Grid) -> dict[str, float]:
    """The same two integrals from the package's circulations, by differences."""
    craft = load_biplane("tideline", ["upper.camber=flat", "lower.camber=flat"])
    lattice = build_lattice(craft, FoldAngles(*fold_deg), grid)
    solvers, step, found = Solvers(lattice, use_mirror=False), 1e-3, []
    for sign in (-1.0, 1.0):
        direction = AFT + sign * step * aside
        flows = solvers.unit_flows(direction / np.linalg.norm(direction))
        found.append(trailing_rings(lattice, flows.circulation)[:, 2])
    rate = (found[1] - found[0]) / (2.0 * step)
    traces = [patch.sense * np.diff(patch.nodes[-1], axis=0) for patch in lattice.patches]
    places = [patch.trailing_stations() for patch in lattice.patches]
    traces, places = np.concatenate(traces)[:, 1:], np.concatenate(places)[:, 1:]
    return {"lift": float(rate @ traces[:, 0]), "roll": float(rate @ np.sum(places * traces, 1))}


@pytest.mark.parametrize("turn", TURNS, ids=named)
def test_the_default_lattice_turns_as_the_reference_does(turn: dict) -> None:
    found = lattice_turn(turn["fold_deg"], TOWARD[turn["toward"]], Grid(8, 20))
    for name in ("lift", "roll"):
        if name in turn:
            assert found[name] == pytest.approx(turn[name], rel=0.025), name


def test_a_flat_rectangle_gives_what_pressure_modes_give() -> None:
    known = next(r for r in RECTANGLES["rectangle"] if r["aspect_ratio"] == 6.0)
    flat = Sheets((np.array([[-3.0, 0.0], [3.0, 0.0]]),), 1.0, 32)
    # Equation (5) of yawed_wing.py without its second term.
    wanted = 0.5 * 36.0 * known["lift_slope"] * (known["straight"] - known["along_stream"])
    assert turned_roll(flat, 8, TOWARD["port"]) == pytest.approx(wanted, rel=4e-3)


@pytest.mark.slow
@pytest.mark.parametrize("turn", TURNS, ids=named)
def test_the_reference_converges_to_what_is_kept(turn: dict) -> None:
    shape, aside = sheets(turn["fold_deg"], 20), TOWARD[turn["toward"]]
    for name, integral in (("lift", turned_lift), ("roll", turned_roll)):
        if name in turn:
            found = [integral(shape, rows, aside) for rows in (3, 6)]
            print(named(turn), name, found)
            assert found[1] == pytest.approx(turn[name], rel=KEPT["uncertainty"])
            assert abs(found[1] - turn[name]) < abs(found[0] - turn[name])


@pytest.mark.slow
@pytest.mark.parametrize("turn", TURNS, ids=named)
def test_a_fine_lattice_comes_closer(turn: dict) -> None:
    found = lattice_turn(turn["fold_deg"], TOWARD[turn["toward"]], Grid(16, 40))
    for name in ("lift", "roll"):
        if name in turn:
            assert found[name] == pytest.approx(turn[name], rel=0.015), name
