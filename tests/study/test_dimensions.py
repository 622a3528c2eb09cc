"""Dimensions of rectangular craft, flat and folded, by plane geometry; all invented."""

import numpy as np
import pytest
from flying_craft import biplane, monoplane

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.flight.craft.mass_properties import craft_mass_properties
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import folded
from vlm.study.check import study as check
from vlm.study.check.dimensions import dimensions


@pytest.mark.parametrize("fold", [0.0, 60.0, -60.0, 90.0])
def test_a_folded_span_and_its_area_from_above(fold):
    """0.9 m and tips of 0.3 m: 0.9 + 0.6 cos fold; 0.2 m of chord."""
    (row,) = dimensions(monoplane(), [fold])["folds"]
    span = 0.9 + 0.6 * np.cos(np.radians(fold))
    assert row["span_m"] == pytest.approx(span)
    assert row["projected_area_m2"] == pytest.approx(0.2 * span, abs=1e-9)
    assert row["fold_deg"] == fold


def test_a_rectangular_wing_s_sizes():
    found = dimensions(monoplane())
    wing = found["wings"]["upper"]
    assert wing["flat_span_m"] == pytest.approx(1.5)
    assert wing["area_m2"] == pytest.approx(0.3)
    assert wing["aspect_ratio"] == pytest.approx(7.5)
    assert wing["mean_chord_m"] == pytest.approx(0.2)
    assert (wing["tip_area_m2"], wing["tip_span_m"]) == pytest.approx((0.06, 0.3))
    assert wing["tip_share_of_area"] == pytest.approx(0.4)
    assert found["arrangement"] is None
    assert found["reference"]["area_m2"] == pytest.approx(0.3)


def test_how_two_wings_stand_to_each_other():
    craft = biplane()
    gap, stagger = craft.arrangement.gap_m, craft.arrangement.stagger_m
    found = dimensions(craft)
    told, reference = found["arrangement"], found["reference"]
    assert (told["gap_m"], told["stagger_m"]) == (gap, stagger)
    assert told["gap_over_chord"] == pytest.approx(gap / reference["chord_m"])
    assert told["stagger_over_chord"] == pytest.approx(stagger / reference["chord_m"])
    assert told["gap_over_span"] == pytest.approx(gap / reference["span_m"])
    assert told["decalage_deg"] == craft.upper.incidence_deg - craft.lower.incidence_deg


@pytest.mark.parametrize("fold", [-20.0, -40.0, -70.0, 30.0])
def test_the_clearance_of_a_tip_folded_toward_the_other_wing(fold):
    """Its hinge stands 0.35 m above the other wing's end: the distance of a point from a stretch
    of 0.3 m."""
    (row,) = dimensions(biplane(), [fold])["folds"]
    along = np.array([np.cos(np.radians(fold)), np.sin(np.radians(fold))])
    nearest = min(max(0.0, -0.35 * along[1]), 0.3) * along
    assert row["clearance_m"] == pytest.approx(np.hypot(nearest[0], nearest[1] + 0.35))
    assert row["state"] == ""


def test_masses_at_every_fold_of_the_table():
    """A body of 1.8 kg and two tips of 0.06 kg: weight over the area seen from above; centre and
    inertia are those of the craft so folded."""
    craft = monoplane()
    cellule = build_cellule(craft, Grid(4, 12))
    found = check._masses(craft, cellule, dimensions(craft, [0.0, 60.0])["folds"])
    assert [one.fold_deg for one in found] == [0.0, 60.0]
    for one, area in zip(found, (0.3, 0.24), strict=True):
        assert one.wing_loading_N_m2 == pytest.approx(1.92 * GRAVITY / area)
        turned = folded(cellule, craft, FoldAngles.symmetric(one.fold_deg)).folds
        whole = craft_mass_properties(craft, cellule, turned)
        assert one.centre_m == pytest.approx(tuple(whole.centre), abs=1e-12)
        assert one.inertia_kg_m2 == pytest.approx(tuple(np.diag(whole.inertia)))
        assert one.product_xz_kg_m2 == pytest.approx(-whole.inertia[0, 2])
    assert found[1].centre_m[2] > found[0].centre_m[2]
    assert check._masses(craft.model_copy(update={"mass": None}), cellule, []) == ()
    (flat,) = check._masses(craft, cellule, [])
    assert (flat.fold_deg, flat.wing_loading_N_m2) == (0.0, None)
