"""Loads with a wake that follows the flow.

Outside: an elliptic wing drags CL^2 / (pi A) (Prandtl 1918); signs and powers that symmetry asks
for; derivatives against differences of states solved one by one.
"""

import json
from dataclasses import replace

import numpy as np
import pytest

from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flow.relaxed import ChainSizes
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.soundness import residual
from vlm.loads.state import FlightState
from vlm.study.point.point import wake_warnings

GRID = Grid(rows=4, strips=12)
CLOSE = ChainSizes(tolerance=1e-7)
SKEWED = FlightState(alpha=np.radians(8.0), beta=np.radians(5.0), p_hat=0.02)


def lattice_of(name: str, left: float = 0.0, right: float = 0.0):
    return build_lattice(load_biplane(name), FoldAngles(left, right), GRID)


@pytest.mark.parametrize(
    ("angle", "names"), [("alpha", ("CL", "Cm")), ("beta", ("CY", "Cl", "Cn"))]
)
def test_derivatives_with_angles_are_those_of_states_beside(angle: str, names: tuple[str]) -> None:
    lattice = lattice_of("tideline", 20.0, -20.0)
    slopes = derivatives(relaxed_loads(lattice, SKEWED, sizes=CLOSE), SKEWED)["body"]
    step, found = np.radians(0.2), []
    for sign in (-1.0, 1.0):
        state = replace(SKEWED, **{angle: getattr(SKEWED, angle) + sign * step})
        loads = relaxed_loads(lattice, state, sizes=CLOSE, with_angles=False)
        found.append(coefficients(loads, state))
    straight = derivatives(loads_of_state(lattice, SKEWED, fold_rates=False), SKEWED)["body"]
    for name in names:
        key = f"{name}_{angle}"
        wanted = (getattr(found[1], name) - getattr(found[0], name)) / (2.0 * step)
        # Well inside what relaxing changes, or to the differences' own error.
        allowed = max(0.05 * abs(straight[key] - slopes[key]), 2e-5)
        assert slopes[key] == pytest.approx(wanted, abs=allowed), key


def test_what_it_adds_to_a_flat_wings_lift_goes_with_the_cube_of_the_angle() -> None:
    """The lift is odd in the angle of attack and its linear part knows no displaced wake."""
    lattice, added = lattice_of("plank"), []
    for alpha in (3.0, 6.0):
        state = FlightState(alpha=np.radians(alpha))
        relaxed = relaxed_loads(lattice, state, sizes=CLOSE, with_angles=False)
        straight = loads_of_state(lattice, state, fold_rates=False)
        added.append(coefficients(relaxed, state).CL - coefficients(straight, state).CL)
    assert added[0] < 0.0
    assert np.log2(added[1] / added[0]) == pytest.approx(3.0, abs=0.25)


def test_an_elliptic_wing_drags_as_prandtl_has_it() -> None:
    lattice, state = lattice_of("ellipse"), FlightState(alpha=np.radians(4.0))
    values = coefficients(relaxed_loads(lattice, state, with_angles=False), state)
    wanted = values.CL**2 / (np.pi * lattice.reference.aspect_ratio)
    assert values.CDi == pytest.approx(wanted, rel=5e-3)


def test_no_air_flows_through_the_wings() -> None:
    loads = relaxed_loads(lattice_of("tideline", 20.0, -20.0), SKEWED, with_angles=False)
    assert residual(loads) < 1e-9


def test_a_wake_that_did_not_settle_is_reported() -> None:
    lattice = lattice_of("tideline", 20.0, -20.0)
    hasty = relaxed_loads(lattice, SKEWED, sizes=ChainSizes(most=1), with_angles=False)
    assert not hasty.converged
    assert "not converged" in wake_warnings(hasty)[0].sentence()
    assert wake_warnings(relaxed_loads(lattice, SKEWED, with_angles=False)) == []


def test_an_engine_gives_it_for_named_states_alone() -> None:
    engine = FoldEngine(load_biplane("tideline"), GRID, wake="relaxed")
    with pytest.raises(ValueError, match="one state"):
        engine.loads(FoldAngles(0.0, 0.0))


@pytest.fixture
def answer(capsys: pytest.CaptureFixture[str]):
    """The JSON document of a command."""

    def call(*words: str) -> dict:
        capsys.readouterr()
        assert main([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return call


def test_point_sweep_and_converge_take_it(answer, tmp_path) -> None:
    grid = ("--rows", "4", "--strips", "12")
    point = answer("point", "tideline", "--alpha", "8", "--fold", "-30", "--wake", "relaxed",
                   "--no-errors", *grid)  # fmt: skip
    assert point["relaxed_wake"]["converged"]
    assert point["relaxed_wake"]["iterations"] >= 2
    assert point["derivatives"]["body"]["CL_fold_left"] is None
    plain = answer("point", "tideline", "--alpha", "8", "--fold", "-30", "--no-errors", *grid)
    assert plain["relaxed_wake"] is None
    assert point["coefficients"]["CL"] < plain["coefficients"]["CL"]
    out = str(tmp_path / "sweep.nc")
    sweep = answer("sweep", "tideline", "--folds", "-30,0", "--alphas", "4,8", "--wake", "relaxed",
                   "--out", out, *grid)  # fmt: skip
    lift = sweep["variables"]["CL"]["values"][0][1][0]
    assert lift == pytest.approx(point["coefficients"]["CL"], rel=1e-9)
    study = answer("converge", "tideline", "--alpha", "8", "--wake", "relaxed", "--rows", "4",
                   "--strips", "16")  # fmt: skip
    ways = study["relaxed_wake"]["values"]
    assert abs(ways["half the core"]["CL"] / ways["as it is"]["CL"] - 1.0) < 1e-3
