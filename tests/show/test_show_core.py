"""Tables for people: digits that mean something, units, signs in words; strip loads as a plot."""

import re

import numpy as np
import pytest
import xarray as xr
from core_craft import biplane, monoplane

from vlm.description.folds import FoldAngles
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.show.plots.sweep import strip_axes
from vlm.show.style import plot_style
from vlm.show.tables.check import dimensions_table
from vlm.show.tables.point import point_table
from vlm.show.tables.sweep import MOST_ROWS, sweep_table
from vlm.show.text.answer import CAUTION
from vlm.show.text.layout import (
    number,
    section,
    small,
    table,
    with_error,
    with_interval,
)
from vlm.study.check.dimensions import dimensions
from vlm.study.point.point import solve_point
from vlm.study.sweep.dataset import sweep_dataset
from vlm.study.sweep.plan import KeyAxis, SweepPlan
from vlm.study.sweep.running import run_plan
from vlm.verdicts import SIGN_NOT_KNOWN

GRID = Grid(2, 8)
CRAFT = biplane(tips={"fold_max_deg": 40.0})
FOLDS = FoldAngles(20.0, -10.0)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1.23456, "1.235"),
        (-12.3456, "-12.35"),
        (0.00123456, "0.001235"),
        (123456.0, "123456"),
        (1234567.0, "1.235e+06"),
        (0.0000123456, "1.235e-05"),
        (0.0, "0"),
        (-3e-15, "0"),
        (None, "-"),
        (float("nan"), "-"),
        (float("inf"), "-"),
    ],
)
def test_four_digits(value: float | None, text: str) -> None:
    assert number(value) == text


def test_other_digits() -> None:
    assert number(2.0, 3) == "2.00"
    assert number(1234.5, 2) == "1234"  # digits before the point are never cut


@pytest.mark.parametrize(
    ("value", "half_width", "text"),
    [
        (0.293312, 0.00123, "0.2933 ± 0.0012"),
        (0.293312, 0.0995, "0.29 ± 0.10"),
        (-4.2, 0.3, "-4.20 ± 0.30"),
        (123.4, 12.0, "123 ± 12"),
        (0.004649123, 9.4e-8, "0.004649123 ± 0.000000094"),
        (-5.54279e-5, 9.8e-7, "(-5.543 ± 0.098)e-5"),
        (1.2e-9, 9.8e-7, "(0.0 ± 9.8)e-7"),
        (1.25, 3e-9, "1.25000 ± 3.0e-09"),
        (1.25, 3e-11, "1.250"),
        (-0.031274, 0.000998, "-0.0313 ± 0.0010"),
        (0.5, None, "0.500"),
        (0.5, float("nan"), "0.500"),
        (0.5, 0.0, "0.5000"),
        (-0.001, 0.2, "0.00 ± 0.20"),
        (None, 0.1, "-"),
        (float("nan"), 0.1, "-"),
    ],
)
def test_a_value_has_the_digits_its_error_allows(value, half_width, text) -> None:
    assert with_error(value, half_width) == text


def test_what_rounds_to_zero_has_no_sign() -> None:
    assert [small(value) for value in (-0.001, -0.0, 0.001, -0.01)] == [
        "0.00", "0.00", "< 0.01", "-0.01",
    ]  # fmt: skip


def test_columns_line_up_and_no_line_ends_in_blanks() -> None:
    text = table(["wing", "CL", ""], [["upper", "1.5", ""], ["lower wing", "-12.25", "x"]])
    assert text.splitlines() == [
        "wing            CL",
        "----------  ------  -",
        "upper          1.5",
        "lower wing  -12.25  x",
    ]
    assert section("Wings", text).startswith("Wings\nwing")


# --- point -----------------------------------------------------------------------------------


def point_text(craft=CRAFT, folds=FOLDS, **keys) -> str:
    state = FlightState(alpha=float(np.radians(4.0)), **keys)
    return point_table(craft.title, solve_point(craft, folds, state, grid=GRID), full=True)


@pytest.mark.parametrize(
    ("rates", "words"),
    [({"p_hat": 0.2}, "with the rates' work"), ({"q_hat": 0.02}, "with the rates' work"),
     ({}, "as a check")],
)  # fmt: skip
def test_drag_of_the_surface_and_the_work_of_the_rates_are_the_wake_s_energy(
    rates: dict[str, float], words: str
) -> None:
    """The wings leave what thrust and moments put in: D V = sum F V + M omega (energy)."""
    report = solve_point(CRAFT, FoldAngles(), FlightState(alpha=0.07, **rates))
    text = point_table("A", report)
    [line] = [one for one in text.splitlines() if one.startswith("CDi_surface")]
    assert line.endswith(words)
    if rates:
        told = float(re.findall(r"; ([0-9.]+) with", line)[0])
        assert told == pytest.approx(report.coefficients.CDi, rel=0.02)
        assert report.coefficients.CDi_surface != pytest.approx(told, rel=0.04)
    assert len(line) <= 80


def test_point_table_states_setting_references_and_limits() -> None:
    text = point_text(beta=float(np.radians(3.0)))
    lines = text.splitlines()
    assert lines[:2] == ["A biplane: one setting", CAUTION]
    words = " ".join(text.split())
    assert "Tips at 20 deg (port) and -10 deg (starboard), angle of attack 4 deg" in words
    assert "sideslip 3 deg, 12 m/s at 1.225 kg/m^3: CL " in words
    assert "reference area 0.4800 m^2, span 1.400 m, chord 0.2000 m, moment point" in words
    assert "in geometry axes (x aft, y starboard, z up)" in words
    assert "panels, wake along the free stream" in words


@pytest.mark.parametrize("full", [False, True])
def test_point_table_fits_80_columns(full: bool) -> None:
    report = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07, beta=0.05), grid=GRID)
    assert max(len(line) for line in point_table("A", report, full=full).splitlines()) <= 80


def test_point_says_what_is_not_known_before_what_is_stable() -> None:
    report = solve_point(CRAFT, FoldAngles(30.0, 30.0), FlightState(alpha=0.07), grid=GRID)
    lines = point_table("A", report).split("\n\n")[1].splitlines()
    assert abs(report.static_margin) < report.half_widths["static_margin"]
    assert lines[-2].startswith("Whether it is stable in pitch is not known: static margin ")
    assert lines[-1].startswith("Stable dihedral effect: Cl_beta ")


def test_point_without_errors_claims_no_sign() -> None:
    report = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07), grid=GRID, errors=False)
    text = point_table("A", report)
    assert "stable" not in text
    assert "Errors are left out" in text


def test_point_on_a_lattice_too_coarse_for_errors_says_so() -> None:
    report = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07), grid=Grid(1, 4))
    text = " ".join(point_table("A", report).split())
    assert "too coarse for errors, and what the signs say, to be known" in text
    assert "stable" not in text
    finer = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07), grid=GRID)
    assert "too coarse" not in point_table("A", finer)


def test_point_table_gives_values_with_errors_signs_and_units() -> None:
    report = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07), grid=GRID)
    text = point_table("A", report, full=True)
    lift = next(line for line in text.splitlines() if line.startswith("CL  "))
    assert with_error(report.coefficients.CL, report.half_widths["CL"]) in lift
    assert lift.endswith("lift up")
    assert "positive: starboard wing down" in text
    margin = with_error(report.static_margin, report.half_widths["static_margin"])
    assert f"static margin {margin} chords" in " ".join(text.split())
    for head in (
        "moment [N m]",
        "flat area [m^2]",
        "circulation [m^2/s]",
        "Derivatives, per radian, body axes",
        "Derivatives, per radian, stability axes",
    ):
        assert head in text
    hinge = report.hinges["upper_left"]
    row = next(line for line in text.splitlines() if line.startswith("upper port"))
    widths = report.half_widths
    assert with_error(hinge.moment, widths["hinge_moment_upper_left_N_m"]) in row
    assert with_error(hinge.coefficient, widths["hinge_moment_coefficient_upper_left"]) in row
    strips = text[text.index("Strips, port to starboard") :].splitlines()
    assert len([line for line in strips if line.startswith(("upper", "lower"))]) == len(
        report.strips
    )


@pytest.mark.parametrize(
    ("fold", "words"),
    [(30.0, "stable dihedral effect"), (-30.0, "unstable dihedral effect")],
)
def test_the_dihedral_effect_is_reported_in_words(fold: float, words: str) -> None:
    text = point_text(folds=FoldAngles(fold, fold))
    line = next(line for line in text.splitlines() if line.startswith("Cl_beta"))
    assert line.split("  ")[-1].strip() == words


def test_no_dihedral_effect_is_called_neither_stable_nor_unstable() -> None:
    report = solve_point(monoplane(), FoldAngles(), FlightState(), grid=GRID)
    line = next(
        line for line in point_table("A", report).splitlines() if line.startswith("Cl_beta")
    )
    assert line.endswith(("no dihedral effect", SIGN_NOT_KNOWN))


def test_point_table_without_tips_has_no_hinges() -> None:
    assert "Hinge" not in point_text(craft=monoplane(), folds=FoldAngles())


# --- sweeps ----------------------------------------------------------------------------------


def sweep(plan: SweepPlan) -> xr.Dataset:
    results, _ = run_plan(CRAFT, plan)
    return sweep_dataset(CRAFT, plan, results)


def body(text: str) -> list[list[str]]:
    """Cells of the table's rows, between its ruler and the blank line after it."""
    lines = text.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("---")) + 1
    rows = []
    for line in lines[first:]:
        if not line or line.startswith("("):
            break
        rows.append(line.split())
    return rows


def test_sweep_table_at_the_angle_nearest_four_degrees() -> None:
    dataset = sweep(SweepPlan((0.0, 20.0, 45.0), (0.0, 3.0, 8.0), (-5.0, 1.0), grid=GRID))
    text = sweep_table(dataset)
    words = " ".join(text.split())
    assert "sweep, angle of attack 3 deg, sideslip 1 deg Estimate" in words
    assert "Rests on: reference area 0.4800 m^2" in words
    assert CAUTION in text
    rows = body(text)
    assert [row[0] for row in rows] == ["0", "20", "45"]
    lift = float(dataset["CL"].sel(fold=20.0, alpha=3.0, beta=1.0))
    assert rows[1][1] == number(lift, 3)  # no ± stands beside it
    assert "More: --errors, " in text
    assert set(rows[2][1:]) == {"-"}  # beyond the limit


def test_sweep_table_with_errors_and_a_key() -> None:
    plan = SweepPlan(
        (10.0,), keys=(KeyAxis("arrangement.gap_m", (0.3, 0.4)),), grid=Grid(3, 10), errors=True
    )
    dataset = sweep(plan)
    text = sweep_table(dataset)
    assert "arrangement_gap_m" in text
    assert max(len(line) for line in text.splitlines()) <= 80
    one = dataset.isel(fold=0, alpha=0, beta=0).sel(arrangement_gap_m=0.4)
    assert with_error(float(one["CL"]), float(one["CL_error"] + one["CL_spread"])) in text


def test_a_long_sweep_is_reported_by_a_part_of_it() -> None:
    dataset = sweep(SweepPlan((0.0, 20.0), grid=GRID))
    folds = np.linspace(0.0, 40.0, 2 * MOST_ROWS + 10)
    long = dataset.isel(fold=np.zeros(len(folds), dtype=int)).assign_coords(fold=folds)
    text = sweep_table(long)
    assert f"({len(folds)} cases; one in 3 is shown)" in text
    shown = [float(row[0]) for row in body(text)]
    np.testing.assert_allclose(shown, [float(f"{f:g}") for f in folds[::3]])


# --- dimensions ------------------------------------------------------------------------------


def test_dimensions_table_of_a_biplane_and_of_a_monoplane() -> None:
    text = dimensions_table(dimensions(CRAFT, [0.0, 30.0, 50.0]))
    assert "gap 0.3000 m (1.50 chords, 0.214 of the span)" in text
    assert "stagger 0 m (0 chords, positive with the upper wing ahead)" in text
    rows = body(text[text.index("Both tips folded") :])
    assert rows[0][:4] == ["0", "1.400", "0.4800", "0.3000"]
    assert rows[2][:4] == ["50", "-", "-", "-"]
    assert "passes upper.tips.fold_max_deg = 40" in " ".join(text.split())
    alone = dimensions_table(dimensions(monoplane()))
    assert "Arrangement" not in alone
    assert "Both tips folded" not in alone


def test_clearance_is_measured_from_the_edges_themselves() -> None:
    """A dropped tip ends 0.1 m above the lower wing and 0.1 m ahead of its leading edge."""
    craft = biplane(gap=0.3, stagger=0.3, tip=0.2)
    (row,) = dimensions(craft, [-90.0])["folds"]
    assert row["clearance_m"] == pytest.approx(np.hypot(0.1, 0.1))


# --- plots -----------------------------------------------------------------------------------


def test_a_point_whose_errors_are_not_known_says_no_sign() -> None:
    """Of fewer than 8 strips no error is known: numbers alone, no sentence that opens with ":"."""
    report = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07), grid=Grid(2, 6))
    lines = point_table("A craft", report).splitlines()
    assert any(line.startswith("Static margin") for line in lines)
    assert any(line.startswith("Cl_beta") for line in lines)
    assert not any(line.startswith(":") for line in lines)


def test_strip_axes_have_units_and_a_line_for_each_wing() -> None:
    report = solve_point(CRAFT, FOLDS, FlightState(alpha=0.07), grid=GRID)
    with plot_style() as plt:
        _, axes = plt.subplots()
        assert strip_axes(axes, report.strips) is axes
        assert "[m]" in axes.get_xlabel()
        assert "starboard positive" in axes.get_xlabel()
        assert "lift coefficient" in axes.get_ylabel()
        assert len(axes.get_lines()) == 2
        upper = axes.get_lines()[0]
        strips = [strip for strip in report.strips if strip.wing == "upper"]
        np.testing.assert_allclose(upper.get_ydata(), [strip.cl for strip in strips])
        # Distances along the folded wing: as far out as the flat half span, less half a strip.
        assert upper.get_xdata()[-1] == pytest.approx(0.7 - 0.5 * strips[-1].width_m)
        assert np.all(np.diff(upper.get_xdata()) > 0.0)


@pytest.mark.parametrize(
    ("value", "ends", "printed"),
    [
        (8.885, (7.32, 9.23), "8.9 ± 1.6"),  # half of it, 0.96, would leave out what is below 7.9
        (28.0, (26.9, 29.1), "28.0 ± 1.1"),
        (28.0, (28.5, 29.0), "28.0 ± 1.0"),
        (28.0, (26.9, None), "28.0"),
        (28.0, None, "28.0"),
    ],
)
def test_a_printed_half_width_holds_the_whole_interval(value, ends, printed) -> None:
    assert with_interval(value, ends) == printed
    if ends and None not in ends:
        middle, _, width = printed.partition(" ± ")
        assert float(middle) - float(width) <= ends[0] + 0.1
        assert float(middle) + float(width) >= ends[1] - 0.1
