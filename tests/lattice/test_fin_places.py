"""Fins in the lattice: where they stand, what they ask of wings, what they must not meet."""

from typing import Any

import numpy as np
import pytest
from fin_craft import COARSE, lattice, plate, two_wings

from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import mirrored_lattice
from vlm.lattice.lattice_warnings import lattice_warnings

BETWEEN: dict[str, Any] = {"y_m": 0.25, "joined_to": "lower", "end_joined_to": "upper"}
TIPS = {"tips": {"span_m": 0.18, "end_chord_m": 0.2}}


def codes(craft: Biplane, fold: float = 0.0, grid: Grid = COARSE) -> list[str]:
    return [finding.code for finding in lattice_warnings(lattice(craft, fold, grid=grid))]


def test_every_fin_stands_on_both_sides() -> None:
    craft = two_wings(fins=(plate(x_m=0.5, span_m=0.3), plate(name="pair", **BETWEEN)))
    found = lattice(craft)
    half = len(found.patches) // 2
    for starboard, port in zip(found.patches[:half], found.patches[half:], strict=True):
        mirror = starboard.nodes * np.array([1.0, -1.0, 1.0])
        np.testing.assert_array_equal(port.nodes, mirror)
    keel = [patch for patch in found.patches if patch.wing == "plate"]
    assert [patch.on_plane for patch in keel] == [True, True]
    assert not np.any(keel[0].nodes[..., 1])
    assert not np.any(keel[0].controls[..., 1])
    assert len(found.plane_panels) == keel[0].panels


def test_a_wing_has_a_strip_edge_where_a_fin_stands_on_it() -> None:
    found = lattice(two_wings(upper={"incidence_deg": 3.0, "dihedral_deg": 4.0},
                              fins=(plate(**BETWEEN),)))  # fmt: skip
    pieces = [p for p in found.patches if p.wing == "upper" and p.side == "right"]
    assert len(pieces) == 2
    (fin,) = [p for p in found.patches if p.wing == "plate" and p.side == "right"]
    np.testing.assert_allclose(fin.nodes[:, -1], pieces[0].nodes[:, -1], atol=1e-12)
    np.testing.assert_allclose(fin.nodes[:, -1], pieces[1].nodes[:, 0], atol=1e-12)
    assert all(junction.matched for junction in found.junctions)
    assert len(found.junctions) == 4


def test_the_shape_of_a_wing_does_not_change_with_a_strip_edge() -> None:
    tapered = {"end_chord_m": 0.1, "washout_deg": 4.0, "sweep_deg": 12.0}
    bare = lattice(two_wings(upper=tapered)).patches[0]
    cut = lattice(two_wings(upper=tapered, fins=(plate(**BETWEEN),)))
    pieces = [p for p in cut.patches if p.wing == "upper" and p.side == "right"]
    for row in (0, -1):
        line = np.concatenate([piece.nodes[row] for piece in pieces])
        for axis in (0, 2):
            along = np.interp(line[:, 1], bare.nodes[row, :, 1], bare.nodes[row, :, axis])
            np.testing.assert_allclose(line[:, axis], along, atol=1e-12)


def test_a_plate_at_the_hinge_asks_for_no_further_strip_edge() -> None:
    craft = two_wings(upper=TIPS, fins=(plate(**BETWEEN | {"y_m": 0.5}),))
    found = lattice(craft)
    assert [p.part for p in found.patches[:4]] == ["main", "main", "fin", "tip"]
    meeting = [{found.patches[i].part for i, _ in joined.members} for joined in found.junctions]
    assert {"main", "fin", "tip"} in meeting


def test_a_root_that_stands_on_a_wing_lies_on_its_chord_line() -> None:
    fin = plate(x_m=0.05, y_m=0.3, span_m=0.1, joined_to="upper", root_chord_m=0.1)
    found = lattice(two_wings(upper={"incidence_deg": 5.0}, fins=(fin,)))
    (patch,) = [p for p in found.patches if p.wing == "plate" and p.side == "right"]
    wing = next(p for p in found.patches if p.wing == "upper")
    lead, trail = wing.nodes[0, -1], wing.nodes[-1, -1]
    along = (trail - lead) / np.linalg.norm(trail - lead)
    apart = patch.nodes[:, 0] - lead
    off = apart - (apart @ along)[:, None] * along
    np.testing.assert_allclose(off, 0.0, atol=1e-12)


def test_the_mirror_image_of_a_lattice_with_fins_is_that_of_its_folds() -> None:
    craft = two_wings(upper=TIPS, fins=(plate(x_m=0.5, span_m=0.3), plate(name="p", **BETWEEN)))
    mirrored, other = mirrored_lattice(lattice(craft, 20.0, -10.0)), lattice(craft, -10.0, 20.0)
    for one, two in zip(mirrored.patches, other.patches, strict=True):
        np.testing.assert_allclose(one.nodes, two.nodes, atol=1e-15)
    assert mirrored.junctions == other.junctions


REFUSED = {
    "through a wing": (
        two_wings(fins=(plate(y_m=0.3, z_m=-0.1, span_m=0.2),)), 0.0,
        "the upper wing meets the fin plate with the tips flat; move the fin, or let it stand on"
        " the wing (joined_to)",
    ),
    "through another fin": (
        two_wings(fins=(plate(x_m=1.0, span_m=0.2),
                        plate(name="tail", x_m=1.0, z_m=0.1, span_m=0.2, dihedral_deg=0.0))), 0.0,
        "the fin plate meets the fin tail with the tips flat; move one of them",
    ),
    "beyond a wing": (
        two_wings(fins=(plate(y_m=0.6, span_m=0.1, joined_to="upper"),)), 0.0,
        "fins.0.y_m = 0.6; the upper wing reaches to 0.5 m, its end",
    ),
    "on a tip": (
        two_wings(upper=TIPS, fins=(plate(y_m=0.6, span_m=0.1, joined_to="upper"),)), 0.0,
        "fins.0.y_m = 0.6; the upper wing reaches to 0.5 m, its hinge: fins stand on the fixed"
        " wing",
    ),
    "over the plane of symmetry": (
        two_wings(fins=(plate(y_m=0.1, z_m=0.3, span_m=0.2, dihedral_deg=170.0),)), 0.0,
        "the fin plate reaches 0.097 m beyond the plane of symmetry",
    ),
    "in the way of a tip": (
        two_wings(0.3, upper=TIPS, fins=(plate(y_m=0.55, z_m=-0.2, span_m=0.1),)), -90.0,
        "degrees; stay inside that angle, shorten the tip or move the fin",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_a_fin_must_not_meet(case: str) -> None:
    craft, fold, message = REFUSED[case]
    with pytest.raises(InputRefused) as caught:
        lattice(craft, fold)
    assert message in str(caught.value)


def test_the_angle_at_which_a_tip_meets_a_fin_is_where_they_touch() -> None:
    # The hinge stands at y = 0.5 and z = 0, the fin's upper edge 0.05 m outboard and 0.1 m below:
    # the tip passes there at atan(0.1 / 0.05) below the flat, plane geometry.
    craft = two_wings(0.3, upper=TIPS, fins=(plate(y_m=0.55, z_m=-0.2, span_m=0.1),))
    with pytest.raises(InputRefused, match="touch at -") as caught:
        lattice(craft, -90.0)
    touched = float(str(caught.value).split("touch at -")[1].split()[0])
    assert touched == pytest.approx(np.degrees(np.arctan2(0.1, 0.05)), abs=0.2)


def test_what_is_warned_of() -> None:
    assert codes(two_wings(fins=(plate(**BETWEEN),))) == []
    near = plate(y_m=0.3, z_m=0.003, span_m=0.1)
    assert "near_fin" in codes(two_wings(fins=(near,)))
    behind = plate(x_m=0.5, y_m=0.3, z_m=-0.1, span_m=0.2)
    assert "leg_near_control_point" in codes(two_wings(fins=(behind,)))


def test_the_weak_leg_in_the_plane_of_a_keel_is_no_warning() -> None:
    # Straight ahead of the middle control point of a keel; a pair beside it is warned of.
    keel = plate(name="keel", x_m=0.6, z_m=-0.15, span_m=0.3)
    assert codes(two_wings(fins=(keel,))) == []
    found = lattice(two_wings(fins=(keel,)))
    wings = [p for p in found.patches if p.wing == "upper" and p.side == "right"]
    assert wings[0].width[0] < 0.2 * wings[0].width[3]  # strips crowd toward the centreline


def test_strips_crowd_where_a_plate_stands_on_the_centreline() -> None:
    bare = lattice(two_wings()).patches[0]
    wing = lattice(two_wings(fins=(plate(**BETWEEN | {"y_m": 0.0}),))).patches[0]
    assert bare.width[0] > bare.width[3]
    assert wing.width[0] < wing.width[3]


def test_circulation_does_not_fall_to_nothing_where_a_fin_stands() -> None:
    # Neither the plate's root nor the wing's end under it is free, rows that meet or not.
    for place in (0.0, 0.05):
        fin = plate(x_m=place, y_m=0.5, span_m=0.2, joined_to="upper")
        found = lattice(two_wings(fins=(fin,)))
        slopes = WakeShape(found).slopes
        first = np.cumsum([0, *(patch.strips for patch in found.patches)])
        even = np.ones(len(slopes))
        for index, patch in enumerate(found.patches):
            rates = (slopes @ even)[first[index] : first[index + 1]]
            if patch.wing == "plate":
                assert abs(rates[0]) < 1e-9  # its root
                assert rates[-1] < -1.0  # its end is free
            elif patch.wing == "upper":
                assert abs(rates[-1]) < 1e-9
            else:
                assert rates[-1] < -1.0
