"""Flat rectangles in sideslip: the lattice against pressure modes, tests/reference/yawed_wing."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from published_cases import value_of
from reference.yawed_wing import Rectangle, rectangle

DATA = tomllib.loads(
    (Path(__file__).parents[1] / "reference" / "yawed_rectangles.toml").read_text(encoding="utf-8")
)
RECTANGLES = DATA["rectangle"]
KNOWN = DATA["along_stream_uncertainty"]
SIZES = ((4, 8), (8, 16), (16, 32))


def named(known: dict[str, float]) -> str:
    return f"aspect ratio {known['aspect_ratio']:g}"


def test_the_series_give_tucks_square() -> None:
    """E. O. Tuck, 1993: lift slope of the square plate 1.46023."""
    assert rectangle(1.0, 8, 12).lift_slope == pytest.approx(1.46023, abs=2e-5)


def test_few_modes_give_the_kept_values() -> None:
    known = RECTANGLES[3]
    found = rectangle(known["aspect_ratio"], 6, 12)
    for name in ("lift_slope", "aerodynamic_centre", "roll_damping", "straight"):
        assert getattr(found, name) == pytest.approx(known[name], rel=5e-5)
    assert found.along_stream == pytest.approx(known["along_stream"], rel=4e-3)
    assert found.along_stream_by_edges == pytest.approx(known["along_stream"], rel=3e-2)


@pytest.mark.parametrize("known", RECTANGLES, ids=named)
def test_the_lattice_with_a_straight_wake(known: dict[str, float]) -> None:
    """The chordwise vortices' part alone, and what enters both: lift, its place, roll damping."""
    upper = {"shape": "trapezoid", "aspect_ratio": known["aspect_ratio"]}
    case = {"upper": upper, "alpha_deg": 0.5, "rows": 8, "strips": 24}
    tolerance = {"rel": 1e-3}
    ours = value_of(case, "derivative_per_lift", {"key": "Cl_beta"})
    assert ours == pytest.approx(known["straight"], **tolerance)
    assert value_of(case, "derivative", {"key": "CL_alpha"}) == pytest.approx(
        known["lift_slope"], **tolerance
    )
    assert value_of(case, "derivative", {"key": "Cl_p"}) == pytest.approx(
        known["roll_damping"], **tolerance
    )
    assert value_of(case, "neutral_point_m", {}) == pytest.approx(
        known["aerodynamic_centre"], **tolerance
    )


@pytest.mark.parametrize("known", RECTANGLES, ids=named)
def test_the_default_lattice_with_the_wake_along_the_stream(known: dict[str, float]) -> None:
    ours = value_of(_slipping(known, 8, 20), "derivative_per_lift", {"key": "Cl_beta"})
    assert ours == pytest.approx(known["along_stream"], rel=0.015)


@pytest.mark.slow
@pytest.mark.parametrize("known", RECTANGLES, ids=named)
def test_a_fine_lattice_hardly_differs_from_the_default(known: dict[str, float]) -> None:
    ours = value_of(_slipping(known, 16, 80), "derivative_per_lift", {"key": "Cl_beta"})
    default = value_of(_slipping(known, 8, 20), "derivative_per_lift", {"key": "Cl_beta"})
    assert ours == pytest.approx(known["along_stream"], rel=0.005)
    assert ours == pytest.approx(default, rel=0.01)


def _slipping(known: dict[str, float], rows: int, strips: int) -> dict[str, object]:
    upper = {"shape": "trapezoid", "aspect_ratio": known["aspect_ratio"]}
    return {"upper": upper, "alpha_deg": 2.0, "rows": rows, "strips": strips, "wake": "stream"}


@pytest.mark.slow
@pytest.mark.parametrize("known", RECTANGLES, ids=named)
def test_both_routes_converge_to_the_kept_value(known: dict[str, float]) -> None:
    """Equations (6) and (8) share only the two solutions that they start from."""
    found = [rectangle(known["aspect_ratio"], *size) for size in SIZES]
    for one in found:
        print(_row(one))
    wake = np.array([abs(one.along_stream - known["along_stream"]) for one in found])
    edges = np.array([abs(one.along_stream_by_edges - known["along_stream"]) for one in found])
    assert wake[-1] < KNOWN
    assert edges[-1] < 4e-4
    # Doubling the modes: at least as their power 1.5.
    assert np.all(edges[1:] < edges[:-1] / 2.0**1.5)
    assert wake[1] < wake[0] / 2.0**1.5


def _row(found: Rectangle) -> str:
    return (
        f"A {found.aspect_ratio:4.1f}  {found.chordwise:2d} x {found.spanwise:2d} modes"
        f"  (6) {found.along_stream:.6f}  (8) {found.along_stream_by_edges:.6f}"
        f"  CL_alpha {found.lift_slope:.6f}"
    )
