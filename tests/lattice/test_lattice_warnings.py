"""Warnings about a lattice or a state, with number, limit and remedy."""

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from core_craft import SMALL, biplane, lattice_of, monoplane, wing

from vlm.description.models import Arrangement, Biplane, Tips
from vlm.findings import Finding, gathered
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice_warnings import LEG_SHARE, SLENDER_LIMIT, lattice_warnings
from vlm.loads.state import FlightState
from vlm.study.point.validity import (
    ATTACHED_LIMIT_DEG,
    MACH_LIMIT,
    RATE_LIMIT,
    SIDESLIP_LIMIT_DEG,
    state_warnings,
)


def doubts_by_code(*arguments, **keys) -> dict[str, Finding]:
    return {found.code: found for found in lattice_warnings(lattice_of(*arguments, **keys))}


def test_a_plain_craft_raises_no_doubt() -> None:
    assert doubts_by_code(biplane(gap=0.31, stagger=0.013), 20.0) == {}


def test_panels_wider_than_long() -> None:
    """A strip as wide as the plank's chord, cut into rows a fiftieth of it and less."""
    wide = monoplane(8.0, 0.2)
    found = doubts_by_code(wide, grid=Grid(20, 4))["slender_panels"]
    # Cosine strips: the widest of 4 over half the span is 4 sin(pi/8) m wide; of 20
    # rows the longest, beside the middle of the chord, is 0.2 / 2 (cos 20t - cos 22t) m long,
    # t = pi/41.
    length = 0.1 * (np.cos(20.0 * np.pi / 41.0) - np.cos(22.0 * np.pi / 41.0))
    expected = 4.0 * np.sin(np.pi / 8.0) / length
    assert found.value == pytest.approx(expected, rel=1e-9)
    assert (found.limit, found.unit) == (SLENDER_LIMIT, "1")
    assert "more strips or fewer rows" in found.sentence()
    assert "slender_panels" not in doubts_by_code(wide, grid=Grid(4, 4))


def test_the_pointed_end_of_an_outline_is_no_slender_panel() -> None:
    pointed = monoplane(1.0, 0.2, end_chord_m=1e-4)
    assert "slender_panels" not in doubts_by_code(pointed)


def test_a_tip_nearer_to_another_surface_than_a_panel_is_wide() -> None:
    """At -75 degrees the tip's end stands beside the lower wing's end, in its plane."""
    craft = biplane(gap=0.2 * np.sin(np.radians(75.0)), tip=0.2, lower={"span_m": 1.096})
    lattice = lattice_of(craft, -75.0, grid=Grid(3, 10, span_law="uniform"))
    found = {f.code: f for f in lattice_warnings(lattice)}["near_surfaces"]
    apart = 0.5 + 0.2 * np.cos(np.radians(75.0)) - 0.548
    ends = [p.width[-1] for p in lattice.patches if p.wing == "lower" or p.part == "tip"]
    assert found.value == pytest.approx(apart / min(ends), rel=1e-6)
    assert found.value < found.limit == 1.0
    assert "more strips" in found.remedy


def test_a_tip_over_the_aft_part_of_a_wing_alone_is_as_near() -> None:
    """At -90 degrees 10 mm above the end of a lower wing that reaches 50 mm under the tip."""
    craft = biplane(gap=0.21, stagger=-0.15, tip=0.2)
    lattice = lattice_of(craft, -90.0, grid=Grid(4, 10, span_law="uniform"))
    assert not lattice.is_joined
    found = {f.code: f for f in lattice_warnings(lattice)}["near_surfaces"]
    ends = [p.width[-1] for p in lattice.patches if p.wing == "lower" or p.part == "tip"]
    assert found.value == pytest.approx(0.01 / min(ends), rel=1e-6)


def test_a_tip_that_stays_clear_raises_none() -> None:
    assert "near_surfaces" not in doubts_by_code(biplane(gap=0.3), -60.0)


def test_a_joined_tip_is_not_near_its_joint() -> None:
    assert "near_surfaces" not in doubts_by_code(biplane(gap=0.2), -90.0)


def staggered(stagger: float) -> Biplane:
    """A raised lower wing with a control station where an upper strip's edge stands, and as high.

    Ten cosine strips of the upper half span have an edge at 0.5 sin(pi/4). The lower wing, bent at
    its centre, has nine strips crowded at both ends of its half; the seventh has its station at
    (1 - cos(6.5 pi/9)) / 2 of it.
    """
    edge = 0.5 * np.sin(0.25 * np.pi)
    half_span = 2.0 * edge / (1.0 - np.cos(6.5 * np.pi / 9.0))
    rise = float(np.degrees(np.arctan2(0.1, edge)))
    return Biplane(
        title="A lower wing in the upper wing's wake",
        upper=wing(1.0),
        lower=wing(float(2.0 * half_span), dihedral_deg=rise),
        arrangement=Arrangement(gap_m=0.1, stagger_m=stagger),
    )


def test_a_leg_through_a_control_point_of_another_surface() -> None:
    by_length = Grid(SMALL.rows, SMALL.strips, span_law="cosine")
    found = doubts_by_code(staggered(0.6), grid=by_length)["leg_near_control_point"]
    assert found.value == pytest.approx(0.0, abs=1e-9)
    assert found.limit == LEG_SHARE
    assert "stagger" in found.remedy


def test_legs_run_aft_only() -> None:
    """The lower wing stands ahead: the upper wing's legs, one at the station's place, miss it."""
    by_length = Grid(SMALL.rows, SMALL.strips, span_law="cosine")
    found = doubts_by_code(staggered(-0.6), grid=by_length).get("leg_near_control_point")
    assert found is None or found.value > 0.01


def test_a_joint_of_other_chords_is_reported() -> None:
    craft = biplane(gap=0.2, lower={"root_chord_m": 0.25, "end_chord_m": 0.25})
    found = doubts_by_code(craft, -90.0)["unmatched_joint"]
    assert found.value == 2.0  # one on each side
    assert "rows" in found.remedy
    assert "unmatched_joint" not in doubts_by_code(biplane(gap=0.2), -90.0)


def test_tips_on_both_wings_are_looked_at_from_both() -> None:
    craft = biplane(gap=0.405, lower={"tips": Tips(span_m=0.2, end_chord_m=0.2, linkage=-1.0)})
    assert "near_surfaces" in doubts_by_code(craft, -90.0, grid=Grid(3, 10, span_law="uniform"))
    assert "near_surfaces" not in doubts_by_code(craft, 10.0, grid=SMALL)


@pytest.mark.parametrize(
    ("code", "beyond", "within", "limit"),
    [
        ("angle_of_attack", {"alpha": -0.23}, {"alpha": 0.2}, ATTACHED_LIMIT_DEG),
        ("sideslip", {"beta": -0.18}, {"beta": 0.17}, SIDESLIP_LIMIT_DEG),
        ("rate", {"q_hat": -0.11}, {"p_hat": 0.09}, RATE_LIMIT),
        ("mach", {"airspeed": 110.0}, {"airspeed": 100.0}, MACH_LIMIT),
    ],
)  # fmt: skip
def test_states_beyond_the_model(code: str, beyond: dict, within: dict, limit: float) -> None:
    (found,) = [one for one in state_warnings(FlightState(**beyond)) if one.code == code]
    assert found.value > found.limit == limit
    assert found.remedy
    assert state_warnings(FlightState(**within)) == []


def test_the_worst_of_many_states_counts() -> None:
    (found,) = state_warnings(FlightState(alpha=np.radians([0.0, 14.0, -15.0])))
    assert found.value == pytest.approx(15.0)


def finding(value: float, code: str = "near", limit: float = 1.0, cases: int = 1) -> Finding:
    return Finding(code, "a tip is near", value, limit, "m", "common practice", "move it", cases)


def test_warnings_of_a_study_are_printed_once_with_the_worst_number_and_a_count() -> None:
    found = gathered([finding(0.5), finding(0.2, cases=3), finding(0.9), finding(7.0, "other")])
    assert [(f.code, f.value, f.cases) for f in found] == [("near", 0.2, 5), ("other", 7.0, 1)]
    assert found[0].sentence() == (
        "a tip is near: 0.2 m, limit 1 m, the worst of 5 cases (common practice); move it"
    )


def test_a_pure_number_is_reported_without_a_unit() -> None:
    text = Finding("a", "what", 2.0, 1.0, "1", "docs", "remedy").sentence()
    assert text == "what: 2, limit 1 (docs); remedy"


@pytest.mark.parametrize(
    ("value", "limit", "cases", "source", "sentence"),
    [
        (0.2, None, 1, "docs", "what: 0.2 m (docs); remedy"),
        (0.2, None, 3, "docs", "what: 0.2 m, the worst of 3 cases (docs); remedy"),
        (None, None, 1, "docs", "what (docs); remedy"),
        (None, None, 3, "", "what in 3 cases; remedy"),
        (float("nan"), float("nan"), 1, "docs", "what (docs); remedy"),
        (-0.2, 0.0, 1, "docs", "what: -0.2 m, limit 0 m (docs); remedy"),
    ],
)
def test_no_number_is_printed_where_none_is_meant(value, limit, cases, source, sentence) -> None:
    assert Finding("a", "what", value, limit, "m", source, "remedy", cases).sentence() == sentence


def test_a_number_is_printed_with_its_error() -> None:
    """Two digits of the half-width, the value to the same place (common practice)."""
    found = Finding("near", "what", 1.234, 2.0, "m", "", "remedy", half_width=0.051)
    assert found.sentence() == "what: 1.234 ± 0.051 m, limit 2 m; remedy"
    worst = gathered([found, replace(found, value=2.0, half_width=0.3)])[0]
    assert worst.half_width == 0.051
    assert (
        replace(found, half_width=float("nan"))
        .sentence()
        .startswith("what: 1.23 m, interval not known, limit 2 m")
    )


def test_no_warning_has_a_number_that_stands_for_nothing() -> None:
    """A written 0 or 1 is no measured number, and no limit but of a ratio: None is meant."""
    ratios = {"thrust over weight", "gap over width"}
    places = []
    for path in sorted((Path(__file__).parents[2] / "vlm").rglob("*.py")):
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and ast.unparse(call.func) == "Finding":
                numbers = [one.value for one in call.args[2:4] if isinstance(one, ast.Constant)]
                if any(n is not None for n in numbers):
                    known = any(ratio in ast.unparse(call.args[1]) for ratio in ratios)
                    places += [] if known else [f"{path.name}:{call.lineno}"]
    assert not places
