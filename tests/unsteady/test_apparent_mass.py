"""Apparent mass of plates against exact theory and handbook values."""

import numpy as np
import pytest
from plates import CHORD, ellipse, lattice_of, rectangle
from scipy.special import ellipe

from vlm.lattice.cellule import Grid
from vlm.unsteady.apparent_mass import apparent_mass

HEAVE, ROLL, PITCH = 2, 3, 4


def test_lamb_plate_of_infinite_span() -> None:
    # Lamb, Hydrodynamics, section 71 (from memory): pi rho b^2 a unit of span, and of a plate that
    # turns about the middle of its chord pi rho b^4 / 8; b = 1 m.
    span = 400.0 * CHORD
    found = apparent_mass(rectangle(400.0, Grid(rows=8, strips=5)))
    assert found[HEAVE, HEAVE] == pytest.approx(np.pi * span, rel=1e-3)
    # The moment point stands at a quarter of the chord, half a semi-chord from the middle.
    turning = np.pi * (0.5**2 + 1.0 / 8.0)
    assert found[PITCH, PITCH] == pytest.approx(turning * span, rel=0.02)


def test_lamb_elliptic_plate() -> None:
    # Lamb, Hydrodynamics, section 114 (from memory): 4/3 pi rho a b^2 / E(k), k^2 = 1 - b^2/a^2.
    a, b = np.pi, 1.0
    found = apparent_mass(ellipse(4.0, Grid(rows=8, strips=16)))
    exact = 4.0 / 3.0 * np.pi * a * b**2 / ellipe(1.0 - (b / a) ** 2)
    assert found[HEAVE, HEAVE] == pytest.approx(exact, rel=2e-3)


@pytest.mark.parametrize(
    ("aspect_ratio", "coefficient"), [(1.0, 0.579), (2.0, 0.757), (4.0, 0.872), (10.0, 0.947)]
)
def test_handbook_rectangular_plates(aspect_ratio: float, coefficient: float) -> None:
    # Ships' and offshore handbooks' table of flat plates, over rho pi/4 c^2 span (DNV-RP-C205,
    # appendix D, from memory); the lattice that motions use.
    found = apparent_mass(rectangle(aspect_ratio, Grid(rows=4, strips=8)))
    scale = 0.25 * np.pi * CHORD**2 * aspect_ratio * CHORD
    assert found[HEAVE, HEAVE] / scale == pytest.approx(coefficient, abs=2e-3)


def test_long_tip_that_swings_about_its_hinge() -> None:
    # Strips of pi rho b^2 (Lamb) that move at their distance from the hinge: pi rho b^2 s^3 / 3
    # from an inner wing that stands still; the flow round the end takes its share.
    tips = {"span_m": 60.0, "end_chord_m": CHORD}
    wing = {"span_m": 20.0, "root_chord_m": CHORD, "end_chord_m": CHORD, "camber": "flat"}
    lattice = lattice_of({"title": "tips", "upper": wing | {"tips": tips}}, Grid(6, 40))
    found = apparent_mass(lattice)
    assert found[6, 6] == pytest.approx(np.pi * 60.0**3 / 3.0, rel=0.05)
    assert found[6, 6] < np.pi * 60.0**3 / 3.0
    # Raising the starboard and the port tip weighs the same, and both lift the air alike.
    assert found[7, 7] == pytest.approx(found[6, 6])
    assert found[HEAVE, 6] == pytest.approx(found[HEAVE, 7])
    assert found[ROLL, 6] == pytest.approx(-found[ROLL, 7])


def test_no_motion_takes_energy_from_air_at_rest() -> None:
    tips = {"span_m": 2.0, "end_chord_m": CHORD}
    wing = {"span_m": 6.0, "root_chord_m": CHORD, "end_chord_m": CHORD, "camber": "2412"}
    lattice = lattice_of({"title": "tips", "upper": wing | {"tips": tips}}, Grid(4, 10), fold=40.0)
    assert float(np.linalg.eigvalsh(apparent_mass(lattice)).min()) > -1e-9
