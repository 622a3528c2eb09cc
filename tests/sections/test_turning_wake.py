"""The wake of strips with sections follows the stream of each state.

The truth is the lattice solved with its wake along the stream of one state, by its own tables: no
strips, no angles between which anything is interpolated (``loads_of_state``).
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from test_strip_coupling import AIR, GRID, SECTION, SPEED, named, with_section

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.craft.section_change import SectionStrips
from vlm.flight.trim.powered import flight_loads, powered_craft
from vlm.flow.direction import EXACT, ROOM
from vlm.lattice.cellule import build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.angles import angle_weights
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import craft_loads, loads_of_state
from vlm.loads.state import FlightState
from vlm.sections import turning
from vlm.sections.coupling import couple_strips, strip_onset
from vlm.sections.sectioned import SectionedLattice, sectioned_lattice
from vlm.sections.strip_forces import strip_forces
from vlm.sections.turning import StripWake, carrying_angles

ALPHAS = np.radians([-6.0, 3.0, 11.0, 14.5])
KEYS = ("CL", "CDi", "CY", "Cl", "Cm", "Cn")


def thin(name: str, folds: FoldAngles, wake: StripWake = "stream") -> SectionedLattice:
    craft = with_section(load_biplane(name), None)
    return sectioned_lattice(craft, build_lattice(craft, folds, GRID), wake=wake)


def found(model: SectionedLattice, beta: float) -> dict[str, Any]:
    stream = SPEED * np.array(FlightState(ALPHAS, np.full(ALPHAS.shape, beta)).wind())
    wide = np.broadcast_to(stream[:, None, :], (len(ALPHAS), model.lattice.panels, 3))
    coupled = couple_strips(model, strip_onset(model, wide, AIR))
    return named(model, strip_forces(model, coupled, stream), stream)


def solved_each(model: SectionedLattice, beta: float) -> dict[str, Any]:
    states = [FlightState(float(alpha), beta, airspeed=SPEED) for alpha in ALPHAS]
    each = [
        coefficients(loads_of_state(model.lattice, state, fold_rates=False), state)
        for state in states
    ]
    return {key: np.array([getattr(one, key) for one in each]) for key in KEYS}


@pytest.mark.parametrize(
    ("name", "folds"),
    [("tideline", FoldAngles()), ("tideline", FoldAngles(-90.0, -90.0)),
     ("winnow", FoldAngles(-30.0, 20.0)), ("turnstone", FoldAngles(25.0, 25.0))],
)  # fmt: skip
def test_thin_sections_are_the_lattice_with_its_wake_along_the_stream(
    name: str, folds: FoldAngles
) -> None:
    """To 3e-6 in level flow; in sideslip, where a parabola lies between three angles, to 3e-4."""
    model = thin(name, folds)
    for beta, most in ((0.0, 3e-6), (np.radians(6.0), 3e-4)):
        strips, solves = found(model, beta), solved_each(model, beta)
        for key in KEYS:
            apart = np.abs(strips[key] - solves[key]).max()
            size = max(np.abs(solves[key]).max(), 0.2 * np.abs(solves["CL"]).max())
            assert apart < most * size, (key, beta)


@pytest.mark.parametrize(
    ("name", "folds"), [("tideline", FoldAngles(15.0, -60.0)), ("winnow", FoldAngles(-30.0, 20.0))]
)
def test_three_angles_of_attack_tell_what_sideslip_changes(
    name: str, folds: FoldAngles, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As all five do, to what is said of them, at angles that are none of theirs."""
    few = found(thin(name, folds), EXACT)
    monkeypatch.setattr(turning, "SPARSE", slice(None))
    between = turning._parabola

    def weights(angle: Any, reach: float) -> Any:
        return between(angle, reach) if reach == EXACT else angle_weights(angle)

    monkeypatch.setattr(turning, "_parabola", weights)
    every = found(thin(name, folds), EXACT)
    for key in ("CL", "CY", "Cl", "Cn"):
        apart = np.abs(few[key] - every[key])[np.radians(12.0) > ALPHAS]
        assert 0.0 < apart.max() < (1e-5 if key[1] in "LY" else 4e-6), key


def test_dihedral_effect_turns_with_the_wake() -> None:
    """Flat wings, where the wakes differ most: half of the slope is lost without the turn."""
    model, state = thin("plank", FoldAngles()), FlightState(float(ALPHAS[1]), airspeed=SPEED)
    step = np.radians(0.5)
    slope = (found(model, step)["Cl"][1] - found(model, -step)["Cl"][1]) / (2.0 * step)
    ends = [
        coefficients(loads_of_state(model.lattice, replace(state, beta=b), fold_rates=False),
                     replace(state, beta=b)).Cl
        for b in (step, -step)
    ]  # fmt: skip
    assert slope == pytest.approx((ends[0] - ends[1]) / (2.0 * step), rel=0.02)
    axis = thin("plank", FoldAngles(), "craft")
    along = (found(axis, step)["Cl"][1] - found(axis, -step)["Cl"][1]) / (2.0 * step)
    assert along < 1.5 * slope < 0.0


def test_with_the_wake_along_the_axis_it_is_that_lattice() -> None:
    model = thin("winnow", FoldAngles(-30.0, 20.0), "craft")
    beta = float(np.radians(5.0))
    state = FlightState(ALPHAS, np.full(ALPHAS.shape, beta), airspeed=SPEED)
    expected = coefficients(craft_loads(model.lattice, fold_rates=False), state)
    for key, value in found(model, beta).items():
        np.testing.assert_allclose(value, getattr(expected, key), rtol=1e-9, atol=1e-11)


def test_a_trim_without_slipstream_meets_the_lattice() -> None:
    """The loads that a trim is made of, thin sections and no rotors' wind: lift of the lattice."""
    craft = with_section(load_biplane("tideline"), None)
    propulsion = craft.propulsion.model_copy(update={"slipstream": False})  # type: ignore[union-attr]
    craft = craft.model_copy(update={"propulsion": propulsion})
    made = powered_craft(craft, FoldAngles(-60.0, -60.0), grid=GRID)
    alphas = ALPHAS[:3]
    speed, thrust = np.full(3, SPEED), np.full((3, len(made.rotors)), 0.5)
    force = flight_loads(made, speed, alphas, thrust).strips.total(0.0)[0]
    lift = force[:, 2] * np.cos(alphas) - force[:, 0] * np.sin(alphas)
    pressure = 0.5 * made.air.density_kg_m3 * SPEED**2 * made.model.lattice.reference.area
    expected = solved_each(made.model, 0.0)["CL"][:3]
    np.testing.assert_allclose(lift / pressure, expected, rtol=2e-6)


def test_slipstream_carries_the_wake_along() -> None:
    """Nose up in the rotors' wind alone the wake lies along the axis; with a stream, between both;
    beyond the limits of the lattice it is held."""
    wind = np.array([8.0, 0.0, 0.0])
    across = np.array([0.0, 0.0, 2.0])
    alpha, _ = carrying_angles(np.stack([wind, wind + across, across]))
    assert alpha[0] == 0.0
    assert np.arctan2(2.0, 8.0) > alpha[1] > EXACT
    assert alpha[2] == pytest.approx(EXACT + ROOM)


def test_a_blown_wing_in_hover_has_its_wake_along_the_axis() -> None:
    made = powered_craft(load_biplane("tideline"), FoldAngles(), grid=GRID)
    thrust = np.full((1, len(made.rotors)), 4.0)
    loads = flight_loads(made, np.array([1e-3]), np.array([np.pi / 2]), thrust)
    shares = loads.coupled.onset.shares
    middle = shares.shape[1] // 2
    assert shares[0, middle] == pytest.approx(1.0, abs=1e-3)


def test_what_sections_change_uses_one_wake_for_both() -> None:
    """Sections that are thin change nothing in sideslip either."""
    craft = with_section(load_biplane("tideline"), SECTION)
    strips = SectionStrips(craft, FoldAngles(20.0, -20.0), build_cellule(craft, GRID))
    state = FlightState(np.radians([3.0, 8.0]), np.radians([4.0, -4.0]))
    amounts = SPEED * state.amounts(strips.model.lattice.reference, strips.onsets[0].shape[2])
    strips.model = strips.model.thin()
    change = strips._change(amounts, 1.2, None)
    # Along x and z the far field's induced drag stands in for the surface's.
    assert np.abs(change.wrench[:, [1, 3, 4, 5]]).max() < 1e-12


def test_loads_that_sections_are_held_against_are_the_lattices() -> None:
    """In sideslip and roll: the stream carries the wake, the turning of the craft does not."""
    craft = with_section(load_biplane("tideline"), SECTION)
    strips = SectionStrips(craft, FoldAngles(20.0, -20.0), build_cellule(craft, GRID))
    state = FlightState(0.12, 0.05, p_hat=0.06, airspeed=SPEED)
    lattice = strips.model.lattice
    amounts = SPEED * state.amounts(lattice.reference, strips.onsets[0].shape[2])
    thin = strips._thin_forces(amounts[None], 1.0)[0][0].sum(axis=0)
    loads = loads_of_state(lattice, state, fold_rates=False)
    expected = np.einsum("a,abk,b->k", amounts, loads.total, amounts)
    np.testing.assert_allclose(thin, expected, atol=2e-4 * np.abs(expected).max())


def test_a_keel_lets_strips_settle_from_hover_to_cruise() -> None:
    """Both copies of a fin in the plane of symmetry carry nothing in a symmetric state, and what
    they have in common has no say in whether strips and sections agree."""
    made = powered_craft(load_biplane("teasel"), FoldAngles(15.0, 15.0), grid=GRID)
    alpha = np.radians(np.linspace(4.0, 88.0, 22))
    thrust = np.full((len(alpha), len(made.rotors)), 4.5)
    loads = flight_loads(made, np.full(len(alpha), 1.2), alpha, thrust)
    assert loads.coupled.converged.all()
    model = made.model
    keel = np.unique(model.spread[model.lattice.plane_panels])
    assert keel.size
    assert np.abs(loads.coupled.offset[:, keel]).max() < 1e-9
    force = loads.total[0]
    assert np.abs(np.diff(force, 2, axis=0)).max() < 0.02 * np.abs(force).max()
