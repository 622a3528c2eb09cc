"""Turns of vortex rows where patches meet: plane trigonometry on rectangular craft.

A tip on an unflared hinge turns its rows by the fold, a wing with dihedral d by 2 d at the
centreline, whatever it has farther out, a tip that closes a box by a right angle at both of its
ends.
"""

import numpy as np
import pytest
from core_craft import SMALL, biplane, lattice_of, monoplane

from vlm.description.models import Biplane, Station, Wing
from vlm.lattice.lattice import Lattice
from vlm.loads.bending import incidence_step, largest_bend


def bend_deg(lattice: Lattice) -> float:
    return float(np.degrees(largest_bend(lattice)))


def test_a_flat_craft_is_not_bent() -> None:
    assert bend_deg(lattice_of(monoplane())) == pytest.approx(0.0, abs=1e-5)
    assert bend_deg(lattice_of(biplane())) == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("fold", [-60.0, -3.0, 10.0, 75.0])
def test_a_tip_bends_its_rows_by_the_fold(fold: float) -> None:
    assert bend_deg(lattice_of(biplane(gap=1.0), fold)) == pytest.approx(abs(fold), abs=1e-5)


@pytest.mark.parametrize(("left", "right"), [(50.0, -20.0), (20.0, -50.0), (0.0, 50.0)])
def test_the_larger_of_two_folds_counts(left: float, right: float) -> None:
    assert bend_deg(lattice_of(biplane(gap=1.0), left, right)) == pytest.approx(50.0, abs=1e-5)


def test_dihedral_bends_the_centreline_twice() -> None:
    assert bend_deg(lattice_of(monoplane(dihedral_deg=7.0))) == pytest.approx(14.0, abs=1e-5)


def test_a_gull_wing_is_bent_by_its_dihedral_beside_the_centreline() -> None:
    """Level outboard of half its span: the mean slope of a half is about half that at the root."""
    raised = 0.3 * float(np.tan(np.radians(7.0)))
    stations = tuple(
        Station(y_m=y, x_m=0.0, z_m=z, chord_m=0.2)
        for y, z in ((0.0, 0.0), (0.3, raised), (0.6, raised))
    )
    gull = Biplane(title="A gull wing", upper=Wing(stations=stations))
    assert bend_deg(lattice_of(gull)) == pytest.approx(14.0, abs=1e-5)


def test_a_closed_box_has_right_angles() -> None:
    """Fold -90 at the hinge; the tip's end against the lower wing's, likewise 90 degrees."""
    lattice = lattice_of(biplane(gap=0.3, tip=0.3), -90.0, grid=SMALL)
    assert lattice.is_joined
    assert bend_deg(lattice) == pytest.approx(90.0, abs=1e-4)


@pytest.mark.parametrize(("flare", "fold"), [(20.0, 30.0), (-15.0, 30.0), (25.0, -50.0)])
def test_a_flared_hinge_steps_the_incidence(flare: float, fold: float) -> None:
    """Turning a plane about a line at the angle f to the stream gives it sin(fold) sin(f)."""
    flared = biplane(gap=1.0, tips={"flare_deg": flare})
    expected = abs(np.sin(np.radians(fold)) * np.sin(np.radians(flare)))
    assert incidence_step(lattice_of(flared, fold)) == pytest.approx(expected, rel=1e-6)


def test_a_hinge_along_the_chord_steps_no_incidence() -> None:
    assert incidence_step(lattice_of(biplane(gap=1.0), 60.0)) == pytest.approx(0.0, abs=1e-12)
    assert incidence_step(lattice_of(monoplane(dihedral_deg=7.0))) == pytest.approx(0.0, abs=1e-12)
