"""Masses that fold, against point clouds turned by a general library and handbook inertias."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation

from vlm.description.folds import FoldAngles
from vlm.description.mass import Mass, TipMass
from vlm.description.models import Biplane
from vlm.flight.craft.mass_properties import (
    PointedMass,
    craft_mass_properties,
    gathered,
    inertia_tensor,
)
from vlm.lattice.cellule import Grid, build_cellule

FLARE, DIHEDRAL = 8.0, 5.0


def tip_cloud(seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Masses and places (aft, outboard, up) of a tip made of points."""
    random = np.random.default_rng(seed)
    places = random.uniform([0.0, 0.0, -0.02], [0.16, 0.36, 0.02], size=(40, 3))
    return random.uniform(0.001, 0.004, size=40), places


def summed(masses: np.ndarray, places: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Mass, centre and inertia about it, straight from the sums over points."""
    total = masses.sum()
    centre = masses @ places / total
    arm = places - centre
    inertia = np.zeros((3, 3))
    for m, r in zip(masses, arm, strict=True):
        inertia += m * ((r @ r) * np.eye(3) - np.outer(r, r))
    return total, centre, inertia


def described_tip() -> TipMass:
    total, centre, inertia = summed(*tip_cloud())
    return TipMass(
        mass_kg=total,
        centre_m=tuple(centre),
        inertia_kg_m2=tuple(np.diag(inertia)),
        products_kg_m2=(-inertia[0, 1], -inertia[0, 2], -inertia[1, 2]),
    )


def craft_of(mass: Mass) -> Biplane:
    return Biplane.model_validate(
        {
            "title": "A craft of the tests",
            "upper": {
                "span_m": 0.8,
                "root_chord_m": 0.2,
                "end_chord_m": 0.16,
                "dihedral_deg": DIHEDRAL,
                "tips": {"span_m": 0.36, "end_chord_m": 0.1, "flare_deg": FLARE},
            },
            "mass": mass.model_dump(exclude_none=True),
        }
    )


BODY = Mass(
    body_kg=1.4,
    body_centre_m=(0.06, 0.01, -0.12),
    body_inertia_kg_m2=(0.02, 0.03, 0.04),
    body_products_kg_m2=(0.001, -0.002, 0.0),
    upper_tip=described_tip(),
)


def turned_cloud(fold_left: float, fold_right: float) -> tuple[np.ndarray, np.ndarray]:
    """Every point of both tips in geometry axes, turned one by one."""
    masses, places = tip_cloud()
    dihedral = Rotation.from_euler("x", DIHEDRAL, degrees=True)
    half = 0.4
    quarter = np.array([0.25 * 0.2, half, half * np.tan(np.radians(DIHEDRAL))])
    origin = quarter - np.array([0.25 * 0.16, 0.0, 0.0])
    middle = origin + np.array([0.5 * 0.16, 0.0, 0.0])
    flare = np.radians(FLARE)
    axis = dihedral.apply([np.cos(flare), -np.sin(flare), 0.0])
    flat = origin + dihedral.apply(places)

    def turned(fold_deg: float) -> np.ndarray:
        turn = Rotation.from_rotvec(np.radians(fold_deg) * axis)
        return middle + turn.apply(flat - middle)

    port = turned(fold_left) * np.array([1.0, -1.0, 1.0])
    return np.concatenate([masses, masses]), np.concatenate([turned(fold_right), port])


@pytest.mark.parametrize("folds", [(0.0, 0.0), (35.0, -70.0), (-90.0, -90.0), (150.0, 20.0)])
def test_folded_craft_is_the_sum_of_its_points(folds: tuple[float, float]) -> None:
    craft = craft_of(BODY)
    cellule = build_cellule(craft, Grid(2, 8))
    angles = {k: np.radians(v) for k, v in craft.tip_folds(FoldAngles(*folds)).items()}
    found = craft_mass_properties(craft, cellule, angles)

    tips_mass, tips_centre, tips_inertia = summed(*turned_cloud(*folds))
    body_centre = np.array(BODY.body_centre_m)
    total = tips_mass + BODY.body_kg
    centre = (tips_mass * tips_centre + BODY.body_kg * body_centre) / total
    expected = inertia_tensor(BODY.body_inertia_kg_m2, BODY.body_products_kg_m2) + tips_inertia
    for m, place in ((tips_mass, tips_centre), (BODY.body_kg, body_centre)):
        r = place - centre
        expected = expected + m * ((r @ r) * np.eye(3) - np.outer(r, r))
    # Body axes turn the geometry axes by half a turn about y.
    half_turn = Rotation.from_euler("y", 180, degrees=True).as_matrix()
    assert found.mass == pytest.approx(total, rel=1e-12)
    assert_allclose(found.centre, centre, atol=1e-12)
    assert_allclose(found.inertia, half_turn @ expected @ half_turn.T, atol=1e-12)


def test_flat_centre_is_the_default_moment_point() -> None:
    craft = craft_of(BODY.model_copy(update={"body_centre_m": (0.06, 0.0, -0.12)}))
    cellule = build_cellule(craft, Grid(2, 8))
    flat = craft_mass_properties(craft, cellule, {})
    assert_allclose(cellule.reference.moment_point, flat.centre, atol=1e-12)


def test_swapped_folds_mirror_the_mass() -> None:
    craft = craft_of(
        BODY.model_copy(
            update={"body_centre_m": (0.06, 0.0, -0.12), "body_products_kg_m2": (0.0, -0.002, 0.0)}
        )
    )
    cellule = build_cellule(craft, Grid(2, 8))
    one = craft_mass_properties(craft, cellule, {"upper_left": 0.3, "upper_right": -1.1})
    other = craft_mass_properties(craft, cellule, {"upper_left": -1.1, "upper_right": 0.3})
    mirror = np.diag([1.0, -1.0, 1.0])
    assert_allclose(one.centre, mirror @ other.centre, atol=1e-14)
    assert_allclose(one.inertia, mirror @ other.inertia @ mirror, atol=1e-14)


def test_rods_on_a_line_are_one_rod() -> None:
    """Uniform rod, m L^2 / 12 about its centre (any mechanics handbook)."""
    mass, length, pieces = 0.6, 1.2, 4
    step = length / pieces
    inertia = np.diag([1.0, 0.0, 1.0]) * (mass / pieces) * step**2 / 12.0
    rods = {
        str(i): PointedMass(
            mass / pieces, np.array([0.0, (i + 0.5) * step - 0.5 * length, 0.0]), inertia
        )
        for i in range(pieces)
    }
    whole = gathered(rods)
    expected = mass * length**2 / 12.0
    assert_allclose(np.diag(whole.inertia), [expected, 0.0, expected], rtol=1e-12)


def test_mechanism_can_be_taken_out() -> None:
    mass = Mass.model_validate(
        {**BODY.model_dump(exclude_none=True), "mechanism": {"each_kg": 0.04}}
    )
    assert mass.total_kg - mass.without_mechanism().total_kg == pytest.approx(0.08)
    heavy = craft_mass_properties(craft_of(mass), build_cellule(craft_of(mass), Grid(2, 8)), {})
    light = craft_mass_properties(craft_of(BODY), build_cellule(craft_of(BODY), Grid(2, 8)), {})
    # Two point masses at the hinges, 0.8 m apart, and the shift of the centre between them.
    reduced = 0.08 * BODY.total_kg / mass.total_kg
    origin = build_cellule(craft_of(BODY), Grid(2, 8)).halves["upper"].leading_edge[1]
    lever = origin[2] - light.centre[2]
    sideways = light.centre[1]
    expected = light.inertia[0, 0] + 0.08 * 0.4**2 + reduced * (lever**2 + sideways**2)
    assert heavy.inertia[0, 0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("body_inertia_kg_m2", (0.01, 0.01, 0.05), "no moment of inertia can exceed"),
        ("body_kg", -1.0, "greater than 0"),
        ("body_kg", float("nan"), "finite"),
        ("body_centre", (0.0, 0.0, 0.0), "body_centre"),
    ],
)
def test_impossible_masses_are_refused(key: str, value: object, words: str) -> None:
    entry = {**BODY.model_dump(exclude_none=True), key: value}
    with pytest.raises(ValueError, match=words):
        Mass.model_validate(entry)
