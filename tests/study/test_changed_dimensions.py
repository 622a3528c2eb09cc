"""What follows a changed dimension, and numbers that do not go together, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid, build_cellule
from vlm.study.check import plausible
from vlm.study.design import changes as design_changes


@pytest.mark.parametrize(
    ("value", "share"), [(2.0, 0.0), (3.0, 0.25), (6.0, 1.0), (1.0, 0.0), (9.0, 1.0)]
)
def test_a_key_s_share_of_its_bounds(value, share):
    key = design_changes.SearchKey("x", 2.0, 6.0)
    assert key.share(value) == share
    assert key.value(0.25) == 3.0


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("fold_deg", 1.0, 1.0),
        ("fold_deg", 2.0, 1.0),
        ("fold_deg", 0.0, np.inf),
        ("fold_deg", -np.inf, 0.0),
        ("middle.hinge_place_m", 0.0, 1.0),
    ],
)
def test_bounds_that_hold_nothing_are_refused(name, low, high):
    with pytest.raises(InputRefused):
        design_changes.checked_key(load_biplane("tideline"), name, low, high)


def test_a_tip_grows_as_a_body_whose_squares_scale():
    """Points at (x, y, z) scaled to (c x, s y, z), each c s as heavy: inertias from the points."""
    random = np.random.default_rng(2)
    places, masses = random.normal(size=(9, 3)), random.uniform(0.1, 1.0, 9)

    def sums(points, weights):
        x, y, z = points.T
        about = [weights @ (y**2 + z**2), weights @ (x**2 + z**2), weights @ (x**2 + y**2)]
        return about, [weights @ (x * y), weights @ (x * z), weights @ (y * z)]

    inertia, products = sums(places, masses)
    craft = load_biplane("tideline")
    tip = SimpleNamespace(
        mass_kg=masses.sum(),
        centre_m=(0.1, 0.2, 0.3),
        inertia_kg_m2=inertia,
        products_kg_m2=products,
    )
    old, new = craft.upper, craft.overridden({"upper.tips.span_m": 0.54}).upper
    found = design_changes._grown_tip(old, new, "t", tip)
    span, chord = 1.5, 1.0
    scaled, more = sums(places * [chord, span, 1.0], chord * span * masses)
    assert found["t.mass_kg"] == pytest.approx(1.5 * masses.sum())
    assert found["t.centre_m"] == pytest.approx([0.1, 0.3, 0.3])
    assert found["t.inertia_kg_m2"] == pytest.approx(scaled)
    assert found["t.products_kg_m2"] == pytest.approx(more)
    assert design_changes._grown_tip(old, old, "t", tip) == {}


def test_a_tip_of_another_chord_grows_in_depth():
    craft = load_biplane("tideline")
    new = SimpleNamespace(tips=craft.upper.tips)
    tip = SimpleNamespace(mass_kg=1.0, centre_m=(0.1, 0.2, 0.3), inertia_kg_m2=(3.0, 2.0, 4.0),
                          products_kg_m2=(0.1, 0.2, 0.3))  # fmt: skip

    def areas(wing):
        return SimpleNamespace(tip_area_m2=2.0 if wing is new else 1.0)

    kept = design_changes.wing_dimensions
    design_changes.wing_dimensions = areas
    try:
        found = design_changes._grown_tip(craft.upper, new, "t", tip)
    finally:
        design_changes.wing_dimensions = kept
    # Sums of squares: z^2 = 0.5, y^2 = 2.5, x^2 = 1.5; twice the chord, twice the mass.
    assert found["t.inertia_kg_m2"] == pytest.approx([6.0, 2 * (0.5 + 6.0), 2 * (2.5 + 6.0)])
    assert found["t.centre_m"] == pytest.approx([0.2, 0.2, 0.3])
    assert found["t.products_kg_m2"] == pytest.approx([0.4, 0.8, 0.6])


def test_places_move_with_the_lower_wing_by_their_share_of_the_gap():
    craft = load_biplane("tideline")
    gap, stagger = craft.arrangement.gap_m, craft.arrangement.stagger_m
    new = craft.overridden(
        {"arrangement.gap_m": gap + 0.1, "arrangement.stagger_m": stagger + 0.05}
    )
    found = design_changes._moved_places(craft, new)
    for index, rotor in enumerate(craft.rotors):
        x, y, z = rotor.position_m
        share = min(1.0, max(0.0, -z / gap))
        expected = [x + 0.05 * share, y, z - 0.1 * share]
        assert found[f"rotors.{index}.position_m"] == pytest.approx(expected)
    x, y, z = craft.mass.body_centre_m
    share = -z / gap
    assert 0.0 < share < 1.0
    assert found["mass.body_centre_m"] == pytest.approx([x + 0.05 * share, y, z - 0.1 * share])
    assert design_changes._moved_places(craft, craft) == {}


def test_values_of_keys_as_they_stand():
    craft = load_biplane("tideline")
    assert design_changes.present_value(craft, "upper.hinge_place_m") == 0.5 * craft.upper.span_m
    assert design_changes.present_value(craft, "fold_deg") == 0.0
    assert design_changes.present_value(craft, "arrangement.gap_m") == craft.arrangement.gap_m
    moved = design_changes._moved_hinge(craft.upper, "upper", 0.5)
    ends = 0.5 * craft.upper.span_m + craft.upper.tips.span_m
    assert moved == pytest.approx({"upper.span_m": 1.0, "upper.tips.span_m": ends - 0.5})


@pytest.mark.parametrize(
    ("ratio", "code"),
    [
        (0.9, "no hover"),
        (0.99, "hover reserve"),
        (1.0, "hover reserve"),
        (1.29, "hover reserve"),
        (1.31, None),
    ],
)
def test_thrust_over_weight(ratio, code):
    craft = load_biplane("tideline")
    found = plausible._hover(craft, ratio * craft.mass.total_kg * GRAVITY)
    assert [f.code for f in found] == ([code] if code else [])
    assert [f.value for f in found] == ([pytest.approx(ratio)] if code else [])
    assert plausible._hover(craft, None) == []


def test_airspeeds_that_are_flown():
    """CL = 1.0 and 0.3 on the reference area; those of the schedule where there is one."""
    craft = load_biplane("tideline")
    weight = craft.mass.total_kg * GRAVITY
    plain = craft.model_copy(update={"schedule": None})
    slow, fast = plausible.flown_speeds(plain, 0.4)
    assert 0.5 * SEA_LEVEL_DENSITY * slow**2 * 0.4 * 1.0 == pytest.approx(weight)
    assert 0.5 * SEA_LEVEL_DENSITY * fast**2 * 0.4 * 0.3 == pytest.approx(weight)
    timed = craft.model_copy(
        update={"schedule": SimpleNamespace(airspeed_min_m_s=0.0, airspeed_max_m_s=20.0)}
    )
    assert plausible.flown_speeds(timed, 0.4) == (1e-3, 20.0)
    none = plain.model_copy(update={"mass": None})
    assert plausible.flown_speeds(none, 0.4) is None


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize(("beyond", "named"), [(-0.01, False), (0.01, True)])
def test_a_balance_outside_and_an_inertia_beyond_the_size(axis, beyond, named):
    """Against the corners of wings and rotors, worked out here from the lattice's own nodes."""
    craft = load_biplane("tideline")
    cellule = build_cellule(craft, Grid(1, 6))
    nodes = np.concatenate([p.nodes.reshape(-1, 3) for p in cellule.patches])
    nodes = np.concatenate([nodes, nodes * [1.0, -1.0, 1.0], [r.position_m for r in craft.rotors]])
    low, high = nodes.min(axis=0), nodes.max(axis=0)
    centre = np.array(craft.mass.body_centre_m)
    for end, sign in ((low, -1.0), (high, 1.0)):
        place = centre.copy()
        place[axis] = end[axis] + sign * beyond
        mass = craft.mass.model_copy(update={"body_centre_m": tuple(place)})
        found = plausible._bodies(craft.model_copy(update={"mass": mass}), cellule)
        outside = [f for f in found if f.code.startswith("balance outside")]
        assert [(f.code[-1], f.limit) for f in outside] == (
            [("xyz"[axis], pytest.approx(end[axis]))] if named else []
        )
    away = np.maximum(np.abs(low - centre), np.abs(high - centre)) ** 2
    limit = craft.mass.body_kg * (away.sum() - away[axis])
    inertia = list(craft.mass.body_inertia_kg_m2)
    inertia[axis] = limit * (1.0 + beyond)
    mass = craft.mass.model_copy(update={"body_inertia_kg_m2": tuple(inertia)})
    found = plausible._bodies(craft.model_copy(update={"mass": mass}), cellule)
    beyond_size = [f for f in found if f.code.startswith("inertia")]
    assert [(f.code[-1], f.limit) for f in beyond_size] == (
        [("xyz"[axis], pytest.approx(limit))] if named else []
    )


@pytest.mark.parametrize(
    ("known", "codes"),
    [
        ((1e5, 2e5), [0.8e5, 2.4e5]),
        ((0.79e5, 2.41e5), []),
        ((0.7e5, 2.5e5), []),
        ((0.9e5, 2.5e5), [0.8e5]),
        ((0.7e5, 2.3e5), [2.4e5]),
        ((None,), []),
    ],
)
def test_reynolds_numbers_flown_outside_a_table(monkeypatch, known, codes):
    """Chords of 0.1 and 0.2 m at 8 to 12 m/s; a viscosity of 1e-5 m^2/s: 80 000 to 240 000."""
    monkeypatch.setattr(
        plausible, "standard_air", lambda: SimpleNamespace(kinematic_viscosity_m2_s=1e-5)
    )
    monkeypatch.setattr(plausible, "_chords", lambda *_: [0.2, 0.1])
    monkeypatch.setattr(
        plausible, "section_curves",
        lambda table, folder: [SimpleNamespace(reynolds=one) for one in known],
    )  # fmt: skip
    craft = SimpleNamespace(
        sections={"s": SimpleNamespace(table="x.csv"), "p": SimpleNamespace(table=None)},
        folder=None,
    )
    monkeypatch.setattr(plausible, "flown_speeds", lambda craft, area: (8.0, 12.0))
    cellule = SimpleNamespace(reference=SimpleNamespace(area=0.5))
    found = plausible._reynolds(craft, cellule)
    assert [f.value for f in found] == pytest.approx(codes)
