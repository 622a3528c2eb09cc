"""The shipped craft: all load, all say that they are invented, and are what they claim to be."""

from math import cos, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest
from make_elliptic_wing import toml_text

from vlm.description import FoldAngles, load_biplane
from vlm.description.dimensions import decalage_deg, wing_dimensions
from vlm.frames import rotation_about
from vlm.lattice.planform import half_planform

GEOMETRIES = Path(__file__).parents[2] / "geometries"
NAMES = sorted(path.stem for path in GEOMETRIES.glob("*.toml"))


def test_the_five_promised_are_there():
    assert {"tideline", "thistle", "winnow", "turnstone", "ellipse", "plank"} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_it_loads_and_says_that_it_is_invented(name):
    craft = load_biplane(GEOMETRIES / f"{name}.toml")
    head = craft.source_text.split("title")[0]
    assert "invented" in head
    for configuration in craft.configurations.values():
        craft.tip_folds(configuration.folds)


def test_the_demo_crafts_tips_close_a_box():
    """Both ends of each tip's end chord lie on the ends of the lower wing's end chord."""
    craft = load_biplane("tideline")
    upper = half_planform(craft.upper, np.zeros(3), "upper")
    root = np.array([craft.arrangement.stagger_m, 0.0, -craft.arrangement.gap_m])
    lower = half_planform(craft.lower, root, "lower")
    hinge = upper.leading_edge[upper.hinge]
    # Raising the starboard tip turns y toward z: about +x, which is along this hinge.
    folds = craft.tip_folds(craft.configurations["dash"].folds)
    turn = rotation_about([1.0, 0.0, 0.0], radians(folds["upper_right"]))
    lead = hinge + turn @ (upper.leading_edge[-1] - hinge)
    trail = lead + turn @ upper.chord_vector[-1]
    np.testing.assert_allclose(lead, lower.leading_edge[-1], atol=1e-15)
    np.testing.assert_allclose(trail, lower.leading_edge[-1] + lower.chord_vector[-1], atol=1e-15)


def test_the_demo_craft_banks_to_the_side_it_names():
    configurations = load_biplane("tideline").configurations
    right, left = configurations["bank_right"].folds, configurations["bank_left"].folds
    assert left == right.mirrored()
    assert abs(right.right_deg) > abs(right.left_deg)


def test_the_heavy_craft_has_what_the_demo_craft_lacks():
    craft = load_biplane("winnow")
    assert craft.upper.sweep_deg > 0.0
    assert craft.upper.end_chord_m < craft.upper.root_chord_m
    assert craft.upper.tips.flare_deg > 0.0
    assert craft.arrangement.stagger_m > 0.0
    assert decalage_deg(craft) == pytest.approx(1.5)


def test_the_four_tipped_craft_has_tips_on_both_wings():
    craft = load_biplane("turnstone")
    assert set(craft.tips) == {"upper", "lower"}
    assert set(craft.tip_folds(FoldAngles())) == {
        "upper_left",
        "upper_right",
        "lower_left",
        "lower_right",
    }


def test_the_elliptic_wing_is_what_its_script_writes():
    assert (GEOMETRIES / "ellipse.toml").read_text(encoding="utf-8") == toml_text()


def test_the_elliptic_wing_is_an_ellipse():
    """Area pi a b / 4 of the axes, aspect ratio 4 b / (pi c0), a straight mid-chord line."""
    wing = load_biplane("ellipse").upper
    assert len(wing.stations) >= 81
    dimensions = wing_dimensions(wing)
    root = wing.stations[0].chord_m
    assert dimensions.planform_area_m2 == pytest.approx(pi / 4 * 1.2 * root, rel=1e-4)
    assert dimensions.aspect_ratio == pytest.approx(6.0, rel=1e-4)
    middles = [station.x_m + station.chord_m / 2 for station in wing.stations]
    np.testing.assert_allclose(middles, middles[0], atol=1e-9)
    on_ellipse = [(s.y_m / 0.6) ** 2 + (s.chord_m / root) ** 2 for s in wing.stations]
    np.testing.assert_allclose(on_ellipse, 1.0, atol=2e-6)


def test_dimensions_of_a_rectangle():
    dimensions = wing_dimensions(load_biplane("plank").upper)
    assert dimensions.flat_span_m == 1.2
    assert dimensions.planform_area_m2 == pytest.approx(0.24)
    assert dimensions.mean_chord_m == pytest.approx(0.2)
    assert dimensions.aspect_ratio == pytest.approx(6.0)
    assert decalage_deg(load_biplane("plank")) is None


def test_dimensions_of_a_tapered_wing_with_tips_by_hand():
    """1.5 x (0.30 + 0.24) / 2 and 0.5 x (0.24 + 0.15) / 2, tips along a dihedral of 1 degree."""
    dimensions = wing_dimensions(load_biplane("winnow").upper)
    lateral = 0.5 * cos(radians(1.0))
    assert dimensions.flat_span_m == pytest.approx(1.5 + 2 * lateral)
    assert dimensions.tip_area_m2 == pytest.approx(lateral * 0.195)
    assert dimensions.planform_area_m2 == pytest.approx(1.5 * 0.27 + 2 * lateral * 0.195)


@pytest.mark.parametrize("name", NAMES)
def test_dimensions_are_those_of_the_lattices_planform(name):
    """Twist turns an edge sideways where there is dihedral, by a few parts in ten thousand."""
    for wing_name, wing in load_biplane(name).wings.items():
        half = half_planform(wing, np.zeros(3), wing_name)
        dimensions = wing_dimensions(wing)
        assert 2.0 * half.area == pytest.approx(dimensions.planform_area_m2, rel=2e-4)
        assert 2.0 * half.half_span == pytest.approx(dimensions.flat_span_m, rel=2e-4)
        assert half.part_area("tip") == pytest.approx(dimensions.tip_area_m2, rel=1e-3)


def test_tips_by_stations_follow_the_slope_of_their_wing():
    """A wing with 30 degrees of dihedral in its last stretch; its tip keeps that slope."""
    stations = [
        {"y_m": 0.0, "x_m": 0.0, "chord_m": 0.2},
        {"y_m": 0.3, "x_m": 0.0, "chord_m": 0.2},
        {"y_m": 0.3 + 0.2 * cos(pi / 6), "x_m": 0.0, "z_m": 0.2 * sin(pi / 6), "chord_m": 0.2},
    ]
    tip = [
        {"y_m": 0.0, "x_m": 0.0, "chord_m": 0.2},
        {"y_m": 0.25, "x_m": 0.05, "chord_m": 0.1},
    ]
    wing = load_biplane("plank").upper.model_validate(
        {"stations": stations, "tips": {"stations": tip}}
    )
    dimensions = wing_dimensions(wing)
    assert dimensions.flat_span_m == pytest.approx(2 * (0.3 + 0.45 * cos(pi / 6)))
    assert dimensions.tip_area_m2 == pytest.approx(0.25 * cos(pi / 6) * 0.15)
