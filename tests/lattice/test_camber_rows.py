"""Rows of the lattice hold a thin section's lift and moment exactly, whatever its mean line.

Thin-section theory (Glauert, Elements of Aerofoil and Airscrew Theory, 1926, chapter 7; from
memory): with dz/dx = a_0/2 + sum a_m cos m t at zero incidence, c_l = pi (a_1 - a_0) and the moment
about the quarter chord c_m = pi (a_2 - a_1) / 4. The coefficients are integrated here by scipy, cut
at the mean line's kink. Angles of zero lift of four-digit lines in Abbott and von Doenhoff, Theory
of Wing Sections (from memory, theory): 2412 about -2.07 degrees, 4412 twice that.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane, Wing
from vlm.lattice.camber import camber_slope, row_slopes
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.lattice.spacing import chord_rows
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState

LINES = ("2412", "4412", "3512", "1408", "6209")


def by_theory(line: str) -> tuple[float, float]:
    """Lift and quarter-chord moment coefficients at zero incidence, nose up."""
    kink = float(np.arccos(1.0 - 2.0 * int(line[1]) / 10.0))

    def coefficient(order: int) -> float:
        def term(t: float) -> float:
            slope = camber_slope(line, np.array(0.5 * (1.0 - np.cos(t))))
            return float(slope) * float(np.cos(order * t)) * 2.0 / np.pi

        return quad(term, 0.0, kink)[0] + quad(term, kink, np.pi)[0]  # type: ignore[no-any-return]

    first, second, third = (coefficient(m) for m in range(3))
    return np.pi * (second - first), np.pi * (third - second) / 4.0


def on_rows(slopes: np.ndarray) -> tuple[float, float]:
    """The same from point vortices and control points along a chord of unit length."""
    vortices, controls = chord_rows(len(slopes), "gauss")
    influence = 1.0 / (2.0 * np.pi * (controls[:, None] - vortices))
    strengths = np.linalg.solve(influence, -slopes)
    return 2.0 * float(strengths.sum()), -2.0 * float(strengths @ (vortices - 0.25))


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("rows", [2, 3, 5, 8, 9, 16])
def test_glauert_lift_and_moment_of_a_mean_line(line: str, rows: int) -> None:
    expected = by_theory(line)
    assert on_rows(row_slopes(line, rows, "gauss")) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("line", LINES)
def test_glauert_lift_on_a_single_row(line: str) -> None:
    assert on_rows(row_slopes(line, 1, "gauss"))[0] == pytest.approx(by_theory(line)[0], rel=1e-5)


def test_abbott_and_von_doenhoff_angles_of_zero_lift() -> None:
    for line, angle in (("2412", -2.07), ("4412", -4.15)):
        lift = on_rows(row_slopes(line, 8, "gauss"))[0]
        assert -np.degrees(lift / (2.0 * np.pi)) == pytest.approx(angle, abs=0.02)


def test_a_smooth_line_is_taken_as_it_is(tmp_path: Path) -> None:
    """A parabola's slope is a_1 cos t alone; a cubic's ends at a_2."""
    x = np.linspace(0.0, 1.0, 41)
    rows = "\n".join(f"{a},{0.05 * a * (1 - a) * (1 - 0.5 * a)}" for a in x)
    (tmp_path / "cubic.csv").write_text("x,z\n" + rows)
    controls = chord_rows(8, "gauss")[1]
    found = row_slopes("cubic.csv", 8, "gauss", tmp_path)
    exact = 0.05 * ((1 - 2 * controls) * (1 - 0.5 * controls) - 0.5 * controls * (1 - controls))
    np.testing.assert_allclose(found, exact, atol=5e-5)
    assert not row_slopes("flat", 8, "gauss").any()


def test_uniform_rows_take_the_slope_at_their_control_points() -> None:
    controls = chord_rows(6, "uniform")[1]
    np.testing.assert_array_equal(row_slopes("2412", 6, "uniform"), camber_slope("2412", controls))


def test_lift_of_a_cambered_wing_hardly_depends_on_its_rows() -> None:
    """Within 0.03 % from 4 rows to 9; slopes sampled at the control points scattered by 0.5 %."""
    wing = Wing(span_m=1.2, root_chord_m=0.2, end_chord_m=0.2, camber="2412")
    lifts = []
    for rows in (4, 5, 6, 7, 8, 9):
        lattice = build_lattice(Biplane(title="W", upper=wing), FoldAngles(), Grid(rows, 12))
        lifts.append(coefficients(craft_loads(lattice, fold_rates=False), FlightState()).CL)
    assert max(lifts) / min(lifts) - 1.0 < 3e-4
