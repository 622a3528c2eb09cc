"""Natural sizes: identities that follow from their definition as a sum of parts' magnitudes."""

from dataclasses import asdict

import numpy as np
import pytest
from random_craft import random_case

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import CraftLoads, craft_loads
from vlm.loads.sizes import natural_sizes, span_efficiency_size
from vlm.loads.state import FlightState

LATERAL = ("CY", "Cl", "Cn", "CL_beta", "Cm_beta", "CY_alpha", "Cl_q")


def loads_of(name: str, folds: FoldAngles) -> CraftLoads:
    return craft_loads(build_lattice(load_biplane(name), folds, Grid(3, 10)), fold_rates=False)


@pytest.mark.parametrize("seed", range(12))
def test_no_quantity_is_larger_than_the_sum_of_its_parts(seed: int) -> None:
    case = random_case(seed)
    loads = craft_loads(build_lattice(case.craft, case.folds, Grid(3, 10)), fold_rates=False)
    sizes = natural_sizes(loads, case.state)
    known = asdict(coefficients(loads, case.state)) | derivatives(loads, case.state)["body"]
    for name in sizes.keys() & known.keys() - {"CL_alpha"}:  # that turns the lift's direction too
        assert abs(known[name]) <= sizes[name] * (1.0 + 1e-9) + 1e-12, name


@pytest.mark.parametrize("fold", [0.0, 40.0, -60.0])
def test_what_symmetry_cancels_has_no_size(fold: float) -> None:
    loads = loads_of("turnstone", FoldAngles(0.5 * fold, 0.5 * fold))
    sizes = natural_sizes(loads, FlightState(alpha=0.07))
    assert max(float(sizes[name]) for name in LATERAL) < 1e-12
    assert sizes["Cl_beta"] > 0.01


def test_nothing_cancels_on_a_flat_plate() -> None:
    """One patch a side, one pair of flows that lifts but for the square of the incidence."""
    loads, state = loads_of("plank", FoldAngles()), FlightState(alpha=0.01)
    found, sizes = coefficients(loads, state), natural_sizes(loads, state)
    assert sizes["CL"] == pytest.approx(found.CL, rel=1e-3)
    assert sizes["CDi"] == pytest.approx(found.CDi, rel=1e-9)
    assert natural_sizes(loads, FlightState())["CL"] == 0.0


def test_cambered_wings_at_zero_lift_keep_a_size() -> None:
    """Camber and angle of attack cancel, yet each errs by itself."""
    loads = loads_of("tideline", FoldAngles())
    slope = derivatives(loads, FlightState())["body"]["CL_alpha"]
    angle = -coefficients(loads, FlightState()).CL / slope
    state = FlightState(alpha=angle)
    found, sizes = coefficients(loads, state), natural_sizes(loads, state)
    assert abs(found.CL) < 0.01 * sizes["CL"]
    assert sizes["CL"] == pytest.approx(2.0 * abs(slope * angle), rel=0.05)


def test_span_efficiency_errs_by_twice_the_lift_near_zero_lift() -> None:
    """e = CL^2 / (pi A CDi): a thousandth of the lift's size moves it by two of its own."""
    loads = loads_of("tideline", FoldAngles())
    slope = derivatives(loads, FlightState())["body"]["CL_alpha"]
    state = FlightState(alpha=-0.8 * coefficients(loads, FlightState()).CL / slope)
    found, sizes = asdict(coefficients(loads, state)), natural_sizes(loads, state)
    nudge = 1e-3 * sizes["CL"] / found["CL"]
    moved = found["span_efficiency"] * abs((1.0 + nudge) ** 2 - 1.0)
    assert moved == pytest.approx(2e-3 * span_efficiency_size(found, sizes), rel=0.01)


def test_sizes_of_many_states_are_those_of_each() -> None:
    loads = loads_of("winnow", FoldAngles(20.0, -30.0))
    alphas, betas = np.meshgrid([-0.05, 0.02, 0.1], [-0.1, 0.0], indexing="ij")
    table = natural_sizes(loads, FlightState(alpha=alphas, beta=betas, p_hat=0.02))
    for place in np.ndindex(alphas.shape):
        one = FlightState(alpha=float(alphas[place]), beta=float(betas[place]), p_hat=0.02)
        for name, value in natural_sizes(loads, one).items():
            assert table[name][place] == pytest.approx(float(value), rel=1e-12, abs=1e-18)
