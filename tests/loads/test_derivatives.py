"""Exact derivatives against differences of the same solver: they agree to seven digits.

Differences are central, of two steps, with the second-order error taken out (L. F. Richardson,
1911): (8 (f(h) - f(-h)) - (f(2h) - f(-2h))) / 12 h.
"""

from collections.abc import Callable
from dataclasses import asdict, replace

import numpy as np
import pytest
from core_craft import SMALL, biplane, flight_states, lattice_of, settings_of_craft, solved
from hypothesis import given, settings

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Tips
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives, neutral_point
from vlm.loads.craft_loads import craft_loads, loads_of_state
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState

STATE = FlightState(alpha=0.09, beta=0.05, p_hat=0.03, q_hat=0.006, r_hat=-0.02)
FOLDS = FoldAngles(35.0, -20.0)
few = settings(max_examples=8)

Values = dict[str, float]


def crooked() -> Biplane:
    """Sweep, taper, washout, dihedral, camber, flare; tips on both wings, linked; stagger."""
    plain = biplane()
    upper = plain.upper.model_copy(
        update={
            "sweep_deg": 12.0,
            "end_chord_m": 0.15,
            "dihedral_deg": 3.0,
            "camber": "2412",
            "tips": Tips(
                span_m=0.25, end_chord_m=0.1, sweep_deg=20.0, washout_deg=2.0, flare_deg=9.0
            ),
        }
    )
    lower = plain.lower.model_copy(  # type: ignore[union-attr]
        update={
            "incidence_deg": 1.5,
            "tips": Tips(span_m=0.2, end_chord_m=0.12, flare_deg=-5.0, linkage=-0.7),
        }
    )
    return Biplane(
        title="Crooked",
        upper=upper,
        lower=lower,
        arrangement=Arrangement(gap_m=0.4, stagger_m=0.08),
    )


def difference(function: Callable[[float], Values], h: float) -> Values:
    """Derivatives at 0 of everything a function gives."""
    low2, low, high, high2 = (function(step * h) for step in (-2.0, -1.0, 1.0, 2.0))
    return {
        name: (8.0 * (high[name] - low[name]) - (high2[name] - low2[name])) / (12.0 * h)
        for name in low
    }


def agree(exact: float, found: float, scale: float = 1.0) -> None:
    """Seven digits of the value, or of a tenth of what such values usually are."""
    assert exact == pytest.approx(found, rel=1e-7, abs=1e-8 * scale)


# --- states ----------------------------------------------------------------------------------


@few
@given(settings_of_craft(), flight_states())
def test_derivatives_with_angles_and_rates_in_body_axes(setting, state) -> None:
    loads = solved(*setting, fold_rates=False)
    exact = derivatives(loads, state)["body"]
    letters = {"alpha": "alpha", "beta": "beta", "p_hat": "p", "q_hat": "q", "r_hat": "r"}
    for field, letter in letters.items():

        def at(step: float, field: str = field) -> Values:
            moved = replace(state, **{field: getattr(state, field) + step})
            return asdict(coefficients(loads, moved))

        found = difference(at, 2e-3)
        for name in ("CL", "CY", "Cl", "Cm", "Cn"):
            if f"{name}_{letter}" in exact:
                agree(exact[f"{name}_{letter}"], found[name])


def test_derivatives_in_stability_axes() -> None:
    """Axes held while the state changes; rates about the stability axes themselves."""
    loads = solved(crooked(), FOLDS)
    exact = derivatives(loads, STATE)["stability"]
    sine, cosine = np.sin(STATE.alpha), np.cos(STATE.alpha)

    def in_held_axes(state: FlightState) -> Values:
        values = coefficients(loads, state)
        return {
            "CY": values.CY,
            "Cl": cosine * values.Cl + sine * values.Cn,
            "Cn": cosine * values.Cn - sine * values.Cl,
        }

    changes = {
        "beta": lambda h: replace(STATE, beta=STATE.beta + h),
        "p": lambda h: replace(STATE, p_hat=STATE.p_hat + h * cosine, r_hat=STATE.r_hat + h * sine),
        "r": lambda h: replace(STATE, p_hat=STATE.p_hat - h * sine, r_hat=STATE.r_hat + h * cosine),
    }
    for letter, changed in changes.items():
        found = difference(lambda h, c=changed: in_held_axes(c(h)), 2e-3)
        for name in ("CY", "Cl", "Cn"):
            agree(exact[f"{name}_{letter}"], found[name])


def test_coefficients_in_stability_axes_are_body_ones_turned_by_the_angle_of_attack() -> None:
    loads = solved(crooked(), FOLDS)
    values = coefficients(loads, STATE)
    assert np.hypot(values.Cl, values.Cn) == pytest.approx(
        np.hypot(values.Cl_stability, values.Cn_stability)
    )
    turn = np.arctan2(values.Cn_stability, values.Cl_stability) - np.arctan2(values.Cn, values.Cl)
    assert np.mod(turn + np.pi, 2.0 * np.pi) - np.pi == pytest.approx(-STATE.alpha)
    at_zero = coefficients(loads, replace(STATE, alpha=0.0))
    assert (at_zero.Cl_stability, at_zero.Cn_stability) == (at_zero.Cl, at_zero.Cn)


def test_at_zero_angle_of_attack_both_axes_are_one() -> None:
    slopes = derivatives(solved(crooked(), FOLDS), replace(STATE, alpha=0.0))
    assert slopes["body"] == slopes["stability"]


# --- folds -----------------------------------------------------------------------------------


def with_fold(craft: Biplane, folds: FoldAngles, side: str, grid: Grid = SMALL):
    """Coefficients with one side's commanded fold moved by some radians."""

    def at(step: float) -> Values:
        angle = getattr(folds, f"{side}_deg") + float(np.degrees(step))
        moved = replace(folds, **{f"{side}_deg": angle})
        loads = craft_loads(build_lattice(craft, moved, grid), fold_rates=False, use_mirror=False)
        return asdict(coefficients(loads, STATE))

    return at


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("folds", [FOLDS, FoldAngles(25.0, 25.0), FoldAngles(0.0, 0.0)])
def test_derivatives_with_folds(folds: FoldAngles, side: str) -> None:
    """The tips' turn carries nodes, points, normals, arms; legs stay along the stream."""
    craft = crooked()
    slopes = derivatives(solved(craft, folds), STATE)
    found = difference(with_fold(craft, folds, side), 2e-3)
    for name in ("CL", "Cl", "Cn"):
        agree(slopes["body"][f"{name}_fold_{side}"], found[name])
    agree(slopes["stability"][f"Cl_fold_{side}"], found["Cl_stability"])
    agree(slopes["stability"][f"Cn_fold_{side}"], found["Cn_stability"])


@settings(max_examples=5)
@given(settings_of_craft())
def test_derivatives_with_folds_of_any_craft(setting) -> None:
    craft, folds = setting
    slopes = derivatives(solved(craft, folds), STATE)["body"]
    for side in ("left", "right"):
        found = difference(with_fold(craft, folds, side), 1e-3)
        for name in ("CL", "Cl", "Cn"):
            exact = slopes[f"{name}_fold_{side}"]
            assert exact == pytest.approx(found[name], rel=1e-6, abs=1e-7)


def test_derivatives_with_folds_from_the_fold_engine() -> None:
    craft = crooked()
    slopes = derivatives(FoldEngine(craft, SMALL, wake="craft").loads(FOLDS), STATE)["body"]
    for side in ("left", "right"):
        found = difference(with_fold(craft, FOLDS, side), 2e-3)
        for name in ("CL", "Cl", "Cn"):
            agree(slopes[f"{name}_fold_{side}"], found[name])


def test_circulations_change_with_fold_as_differences_say() -> None:
    craft = crooked()
    loads = solved(craft, FOLDS)
    rates, basis = loads.surface.circulation_rates["right"], loads.surface.basis
    h = 1e-3

    def at(step: float) -> np.ndarray:
        moved = FoldAngles(FOLDS.left_deg, FOLDS.right_deg + float(np.degrees(step)))
        return solved(craft, moved, fold_rates=False).circulation

    found = (8.0 * (at(h) - at(-h)) - (at(2.0 * h) - at(-2.0 * h))) / (12.0 * h)
    found = found @ basis.amounts
    np.testing.assert_allclose(rates, found, atol=1e-8 * np.abs(found).max())


def test_a_craft_without_tips_has_no_derivative_with_fold() -> None:
    from core_craft import monoplane

    slopes = derivatives(solved(monoplane()), STATE)["body"]
    assert [slopes[f"{n}_fold_{s}"] for n in ("CL", "Cl", "Cn") for s in ("left", "right")] == [
        0.0
    ] * 6


def test_loads_solved_without_rates_say_so() -> None:
    slopes = derivatives(solved(biplane(), FOLDS, fold_rates=False), STATE)["body"]
    assert np.isnan(slopes["CL_fold_left"])


# --- wake along the stream -------------------------------------------------------------------


@pytest.mark.parametrize("folds", [FOLDS, FoldAngles(30.0, 30.0)])
def test_derivatives_with_a_wake_that_turns_with_the_stream(folds: FoldAngles) -> None:
    lattice = build_lattice(crooked(), folds, SMALL)
    exact = derivatives(loads_of_state(lattice, STATE), STATE)["body"]
    for letter in ("alpha", "beta"):

        def at(step: float, letter: str = letter) -> Values:
            moved = replace(STATE, **{letter: getattr(STATE, letter) + step})
            loads = loads_of_state(lattice, moved, fold_rates=False)
            return asdict(coefficients(loads, moved))

        found = difference(at, 2e-3)
        for name in ("CL", "CY", "Cl", "Cm", "Cn"):
            if f"{name}_{letter}" in exact:
                agree(exact[f"{name}_{letter}"], found[name])


@pytest.mark.parametrize("side", ["left", "right"])
def test_derivatives_with_folds_in_a_wake_along_the_stream(side: str) -> None:
    craft = crooked()
    loads = loads_of_state(build_lattice(craft, FOLDS, SMALL), STATE)
    exact = derivatives(loads, STATE)["body"]

    def at(step: float) -> Values:
        angle = getattr(FOLDS, f"{side}_deg") + float(np.degrees(step))
        lattice = build_lattice(craft, replace(FOLDS, **{f"{side}_deg": angle}), SMALL)
        return asdict(coefficients(loads_of_state(lattice, STATE, fold_rates=False), STATE))

    found = difference(at, 2e-3)
    for name in ("CL", "Cl", "Cn"):
        agree(exact[f"{name}_fold_{side}"], found[name])


def test_the_turn_of_the_wake_is_a_term_of_its_own() -> None:
    """Without it the derivative with sideslip is another: the check above is no accident."""
    lattice = lattice_of(crooked(), 30.0)
    state = FlightState(alpha=0.09)
    loads = loads_of_state(lattice, state)
    surface = loads.surface
    rates = {k: v for k, v in surface.wrench_rates.items() if k not in ("alpha", "beta")}
    held = replace(loads, surface=replace(surface, wrench_rates=rates))
    turning, still = (derivatives(x, state)["body"]["Cl_beta"] for x in (loads, held))
    assert abs(turning - still) > 0.02 * abs(still)


def test_at_zero_lift_both_wakes_agree() -> None:
    """Without circulation there is no wake to turn."""
    lattice = lattice_of(biplane(), 40.0)
    state = FlightState()
    a = derivatives(craft_loads(lattice), state)["body"]
    b = derivatives(loads_of_state(lattice, state), state)["body"]
    assert b == pytest.approx(a, rel=1e-9, abs=1e-9)


# --- what is made of them --------------------------------------------------------------------


def test_neutral_point_is_where_the_moment_does_not_change_with_incidence() -> None:
    """Etkin and Reid, Dynamics of Flight (1996), section 2.3, from memory."""
    from core_craft import with_moment_point

    craft, state = crooked(), FlightState(alpha=0.05)
    loads = solved(craft, FoldAngles(20.0, 20.0))
    place, margin = neutral_point(loads, derivatives(loads, state)["body"])
    reference = loads.reference
    assert place == pytest.approx(reference.moment_point[0] + margin * reference.chord)
    # The moment arm carries the normal force, which differs from the lift by the drag's share.
    there = with_moment_point(craft, (place, 0.0, float(reference.moment_point[2])))
    moved = derivatives(solved(there, FoldAngles(20.0, 20.0)), state)["body"]
    assert abs(moved["Cm_alpha"]) < 0.02 * abs(margin * moved["CL_alpha"])
