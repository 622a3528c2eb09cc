"""Half-widths of the lattice's error cover the true error, and are not much wider than it.

The truth is a much finer lattice with other strips (equal numbers by length instead of matched at
corners, 2.5 times the rows and strips), so that it shares no systematic error with the default. The
estimates were set on seeds 3000 to 3099 of ``wide_craft`` (benchmarks/error_coverage.py); others
are met here.
"""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
import pytest
from random_craft import RandomCase, random_case
from wide_craft import wide_case

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Arrangement, Biplane, Tips, Wing
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import CraftLoads, loads_of_state
from vlm.loads.state import FlightState
from vlm.study.point.errors import ESTIMATED, coarser, error_floors, half_width, half_widths
from vlm.study.point.evaluation import evaluated
from vlm.study.point.point import solve_point
from vlm.study.point.sizes import tip_sizes, wing_areas
from vlm.study.sweep.cases import CaseSolver
from vlm.study.sweep.plan import SweepPlan

ALL = (
    "CY", "CL_q", "Cm_q", "CY_beta", "CY_p", "Cn_p", "CY_r", "Cl_r", "Cn_r", "hinge_moment_N_m",
    "neutral_point_m", "static_margin",
)  # fmt: skip
NAMED = ("CL", "CDi", "Cl", "Cl_beta", "Cm_alpha", "span_efficiency")
DEFAULT = Grid()
FINER = Grid(20, 50, span_law="cosine")
FINE = Grid(14, 36, span_law="cosine")
FIRST_SEED = 1000
NOTHING = 1e-10

Row = dict[str, tuple[float, float]]


def short_name(name: str) -> str:
    """Both sides and wings under one name."""
    for word in ("_left", "_right", "_upper", "_lower"):
        name = name.replace(word, "")
    return name


def loads_of(case: RandomCase, grid: Grid) -> CraftLoads:
    return loads_of_state(build_lattice(case.craft, case.folds, grid), case.state)


def numbers(case: RandomCase, grid: Grid) -> tuple[CraftLoads, dict[str, Any], tuple[Any, Any]]:
    """Loads, every number, and the sizes of wings and tips."""
    cellule = build_cellule(case.craft, grid)
    sizes = wing_areas(cellule), tip_sizes(cellule)
    loads = loads_of(case, grid)
    return loads, evaluated(loads, case.state, *sizes), sizes


def estimate(case: RandomCase, grid: Grid) -> tuple[dict[str, Any], dict[str, Any]]:
    """Numbers on a lattice and the half-widths of their errors."""
    fine, found, sizes = numbers(case, grid)
    rough = numbers(case, coarser(grid))[1]
    floors = error_floors(fine, case.state, found, *sizes)
    return found, half_widths(found, rough, floors, grid, fine.reference.chord)


def error_and_width(seed: int, truth: Grid, grid: Grid = DEFAULT) -> Row:
    """True error and half-width of each quantity of a random case."""
    case = wide_case(seed)
    found, widths = estimate(case, grid)
    exact = numbers(case, truth)[1]
    rows: Row = {}
    for name, width in widths.items():
        error = abs(float(found[name]) - float(exact[name]))
        if np.isfinite(error):
            rows[short_name(name)] = max(
                rows.get(short_name(name), (0.0, np.inf)),
                (error, float(width)),
                key=lambda pair: pair[0] / pair[1] if pair[1] > 0.0 else pair[0],
            )
    return rows


def coverage(rows: dict[int, Row], name: str) -> tuple[int, float]:
    """How many of the rows are covered, and the median of half-width over error.

    Boxes whose rows do not meet, which get far wider ones, do not count in the median.
    """
    pairs = {seed: row[name] for seed, row in rows.items() if name in row}
    covered = sum(error <= width + NOTHING for error, width in pairs.values())
    wide = [
        width / error
        for seed, (error, width) in pairs.items()
        if error > NOTHING and wide_case(seed).kind != "unmatched"
    ]
    return covered, float(np.median(wide))


@pytest.fixture(scope="module")
def hundred() -> dict[int, Row]:
    return {seed: error_and_width(seed, FINER) for seed in range(FIRST_SEED, FIRST_SEED + 100)}


@pytest.mark.slow
@pytest.mark.parametrize("name", [*ESTIMATED, *ALL])
def test_half_widths_cover_95_of_100_random_craft_and_folds(
    name: str, hundred: dict[int, Row]
) -> None:
    """Both sides and wings count as one case, by the worse of them.

    Of a hundred covered at 95 of 100 each, fewer than 90 are seen in 1 of 100 draws.
    """
    covered, wide = coverage(hundred, name)
    cases = sum(name in row for row in hundred.values())
    assert covered >= 0.9 * cases
    assert wide <= 12.0


@pytest.mark.slow
def test_half_widths_cover_95_of_100_over_all_quantities(hundred: dict[int, Row]) -> None:
    shares = []
    for name in (*ESTIMATED, *ALL):
        cases = sum(name in row for row in hundred.values())
        shares.append(coverage(hundred, name)[0] / cases)
    assert np.mean(shares) >= 0.95


@pytest.fixture(scope="module")
def dozen() -> dict[int, Row]:
    first = FIRST_SEED + 100
    return {seed: error_and_width(seed, FINE) for seed in range(first, first + 12)}


@pytest.mark.parametrize("name", NAMED)
def test_half_widths_cover_a_dozen_random_craft_and_folds(name: str, dozen: dict[int, Row]) -> None:
    """Of twelve covered at 95 of 100 each, fewer than ten are seen in 2 of 100 draws."""
    covered, wide = coverage(dozen, name)
    assert covered >= 10
    assert 1.0 < wide <= 10.0


@pytest.mark.parametrize("span", [1.0, 6.0, 20.0])
@pytest.mark.parametrize("grid", [Grid(4, 10), Grid(6, 15), DEFAULT])
def test_half_widths_cover_rectangular_wings_with_known_slopes(span: float, grid: Grid) -> None:
    """Lift slopes 1.460227 (Tuck 1993, from memory; our own extrapolation), 4.214635 and
    5.433532, and CDi/CL^2 of 0.3183182, 0.0539208 and 0.0175929 (derived)."""
    slope, drag = {1.0: (1.460227, 0.3183182), 6.0: (4.214635, 0.0539208)}.get(
        span, (5.433532, 0.0175929)
    )
    wing = Biplane(title="A plank", upper=Wing(span_m=span, root_chord_m=1.0, end_chord_m=1.0))
    case = RandomCase(0, "plank", wing, FoldAngles(), FlightState(alpha=1e-4))
    found, widths = estimate(case, grid)
    assert abs(found["CL_alpha"] - slope) <= widths["CL_alpha"]
    assert widths["CL_alpha"] < 0.01 * slope
    efficiency = 1.0 / (np.pi * span * drag)
    assert abs(found["span_efficiency"] - efficiency) <= widths["span_efficiency"]
    assert widths["span_efficiency"] < 0.01


@pytest.mark.parametrize(
    ("beta", "flare"),
    [
        (0.09, 20.0),
        (0.0, 40.0),
        pytest.param(0.0, 20.0, marks=pytest.mark.slow),
        pytest.param(0.09, 40.0, marks=pytest.mark.slow),
    ],
)
def test_half_widths_cover_a_flared_hinge_that_is_folded(flare: float, beta: float) -> None:
    """Against our own lattice of 20 x 50: two lattices agree by chance while both are off."""
    upper = Wing(
        span_m=0.8, root_chord_m=0.18, end_chord_m=0.18, camber="2412",
        tips=Tips(span_m=0.26, end_chord_m=0.14, flare_deg=flare),
    )  # fmt: skip
    lower = Wing(span_m=0.9, root_chord_m=0.17, end_chord_m=0.15, camber="2412")
    craft = Biplane(
        title="A flared one", upper=upper, lower=lower,
        arrangement=Arrangement(gap_m=0.34, stagger_m=-0.06),
    )  # fmt: skip
    state = FlightState(alpha=0.07, beta=beta)
    case = RandomCase(0, "flared", craft, FoldAngles(30.0, 30.0), state)
    (found, widths), exact = estimate(case, DEFAULT), numbers(case, FINER)[1]
    for name in ("CL", "CDi", "Cm", "CL_alpha", "span_efficiency"):
        assert abs(found[name] - exact[name]) <= widths[name], name
    assert widths["CL"] <= 5.0 * abs(found["CL"] - exact["CL"])


def report(name: str, folds: FoldAngles, **state: float) -> Mapping[str, float]:
    found = solve_point(load_biplane(name), folds, FlightState(**state), grid=Grid(4, 12))
    assert found.error_estimate is not None
    return found.error_estimate


def test_what_is_zero_by_symmetry_has_no_error() -> None:
    widths = report("tideline", FoldAngles(30.0, 30.0), alpha=0.07)
    assert widths["Cl"] < 1e-12
    assert widths["Cn"] < 1e-12
    assert widths["Cl_beta"] > 1e-5
    assert report("tideline", FoldAngles(30.0, 29.0), alpha=0.07)["Cl"] > 1e-7


def test_half_width_does_not_vanish_where_a_quantity_does() -> None:
    """The dihedral effect changes its sign with fold; its error stays what it is beside that."""
    folds = [FoldAngles(float(a), float(a)) for a in (-40.0, -30.0, -20.0, -10.0, 0.0, 10.0)]
    craft, values, widths = load_biplane("tideline"), [], []
    for fold in folds:
        found = solve_point(craft, fold, FlightState(alpha=0.07), grid=Grid(4, 12))
        values.append(found.derivatives["body"]["Cl_beta"])
        assert found.error_estimate is not None
        widths.append(found.error_estimate["Cl_beta"])
    assert min(values) < 0.0 < max(values)
    nearest = int(np.argmin(np.abs(values)))
    assert widths[nearest] > 0.2 * float(np.median(widths))


def test_a_sweep_gives_the_half_widths_of_its_points() -> None:
    craft, grid = load_biplane("winnow"), Grid(4, 12)
    plan = SweepPlan(
        folds_deg=(-20.0, 15.0), alphas_deg=(2.0, 6.0), betas_deg=(0.0, 3.0), asymmetric=True,
        grid=grid, errors=True,
    )  # fmt: skip
    units = [[case] for case in plan.cases()]
    values = [CaseSolver(craft, plan).solve(unit)[0] for unit in units]
    for unit, found in zip(units, values, strict=True):
        assert "floors" not in found
        state = FlightState(alpha=float(np.radians(6.0)), beta=float(np.radians(3.0)))
        expected = solve_point(craft, unit[0].folds, state, grid=grid).error_estimate
        assert expected is not None
        for name, width in expected.items():
            assert found[f"{name}_error"][1, 1] == pytest.approx(width, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("grid", [Grid(3, 8), Grid(4, 9), DEFAULT, Grid(12, 30), FINER])
def test_the_second_lattice_is_coarser_both_ways(grid: Grid) -> None:
    other = coarser(grid)
    assert other.rows < grid.rows
    assert other.strips < grid.strips
    assert other.span_law == grid.span_law


@pytest.mark.parametrize("grid", [Grid(3, 8), Grid(5, 9), Grid(4, 12), DEFAULT, Grid(15, 40)])
@pytest.mark.parametrize("order", [2.0])
def test_richardson_a_pure_error_of_second_order_is_found(grid: Grid, order: float) -> None:
    """f = 1 + C h^2: the half-width without its floor is twice the error (the safety)."""

    def f(one: Grid) -> float:
        return 1.0 + 0.3 * (one.rows * one.strips) ** (-0.5 * order)

    width = half_width(f(grid), f(coarser(grid)), 0.0, grid)
    assert width == pytest.approx(2.0 * (f(grid) - 1.0), rel=1e-9)


def test_half_widths_shrink_as_the_lattice_is_refined() -> None:
    case = random_case(FIRST_SEED)
    widths = [estimate(case, Grid(rows, 2 * rows + 4))[1] for rows in (4, 8, 16)]
    for name in NAMED:
        assert widths[2][name] < 0.6 * widths[0][name]


def test_estimated_quantities_exist() -> None:
    case = random_case(FIRST_SEED)
    loads = loads_of(case, Grid(3, 10))
    known = asdict(coefficients(loads, case.state)) | derivatives(loads, case.state)["body"]
    assert set(ESTIMATED) <= set(known)
    assert set(NAMED) <= set(ESTIMATED)
