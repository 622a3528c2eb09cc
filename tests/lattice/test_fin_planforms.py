"""Planforms of fins and strip edges on wings, by hand: plane trigonometry alone."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from core_craft import wing
from fin_craft import plate

from vlm.description.models import Station, Tips, Wing
from vlm.errors import InputRefused
from vlm.lattice.fins import crowded_ahead, fin_area, fin_planform, with_fin_edges
from vlm.lattice.patches import Patch
from vlm.lattice.planform import HalfPlanform, half_planform

ORIGIN = np.zeros(3)


def half(description: Wing) -> HalfPlanform:
    return half_planform(description, ORIGIN, "upper")


TAIL: dict[str, Any] = {"x_m": 0.6, "span_m": 0.25, "dihedral_deg": 0.0}


@pytest.mark.parametrize(
    ("keys", "kinked"),
    [
        ({}, False),
        ({"sweep_deg": 15.0}, True),
        ({"dihedral_deg": 10.0}, True),
        ({"dihedral_deg": 90.0}, True),
        ({"y_m": 0.1}, True),
        ({"joined_to": "upper", "x_m": 0.02}, True),
    ],
)
def test_strips_crowd_at_every_root_but_that_of_a_straight_level_tail(
    keys: dict[str, Any], kinked: bool
) -> None:
    halves = {"upper": half(wing(1.0, 0.3))}
    found = fin_planform(plate(**TAIL | keys), halves, "fins.0")
    assert found.centre_is_kinked is kinked
    assert (found.corners, found.hinge, found.s[0]) == ((), None, 0.0)


def test_a_swept_and_turned_plate() -> None:
    """0.3 m along itself, 60 degrees up, swept back by 20: the quarter-chord line goes aft by
    0.3 tan 20, outboard by 0.15 and up by 0.3 sin 60; its chords turn by 4 degrees, the leading
    edge toward its upper side, which lies inboard by sin 60 and up by cos 60."""
    fin = plate(x_m=0.5, y_m=0.2, z_m=-0.1, span_m=0.3, sweep_deg=20.0, dihedral_deg=60.0,
                incidence_deg=4.0, root_chord_m=0.2, end_chord_m=0.12)  # fmt: skip
    found = fin_planform(fin, {}, "fins.0")
    sine, turn = np.sin(np.radians(60.0)), np.radians(4.0)
    chord = np.array([np.cos(turn), np.sin(turn) * sine, -np.sin(turn) * 0.5])
    np.testing.assert_allclose(found.chord_vector, [0.2 * chord, 0.12 * chord], atol=1e-15)
    np.testing.assert_allclose(found.leading_edge[0], [0.5, 0.2, -0.1])
    quarter = found.leading_edge + 0.25 * found.chord_vector
    way = [0.3 * np.tan(np.radians(20.0)), 0.15, 0.3 * sine]
    np.testing.assert_allclose(quarter[1] - quarter[0], way, atol=1e-15)
    assert found.s[1] == pytest.approx(0.3)
    assert fin_area(found) == pytest.approx(0.16 * 0.3)


def test_roots_on_the_centreline_lie_in_the_plane_of_symmetry() -> None:
    """A pair with dihedral 30: its root's chord turns in that plane, its end's about its span."""
    fin = plate(**TAIL | {"dihedral_deg": 30.0, "incidence_deg": 5.0})
    found, turn = fin_planform(fin, {}, "fins.0"), np.radians(5.0)
    np.testing.assert_allclose(
        found.chord_vector[0], 0.2 * np.array([np.cos(turn), 0.0, -np.sin(turn)]), atol=1e-15
    )
    end = np.array([np.cos(turn), 0.5 * np.sin(turn), -np.sin(turn) * np.cos(np.radians(30.0))])
    np.testing.assert_allclose(found.chord_vector[1], 0.2 * end, atol=1e-15)
    keel = fin_planform(plate(x_m=0.6, z_m=-0.1, span_m=0.25), {}, "fins.0")
    assert not np.any(keel.leading_edge[:, 1])
    np.testing.assert_allclose(keel.leading_edge[1], [0.6, 0.0, 0.15])


def test_a_plate_between_two_wings() -> None:
    """Root 0.05 m aft of the lower wing's leading edge, end 0.02 m aft of the upper's; where an
    offset and a chord hardly differ from the wing's own, they are that."""
    halves = {
        "upper": half_planform(wing(1.0, 0.3), np.array([0.1, 0.0, 0.4]), "upper"),
        "lower": half_planform(wing(1.0, 0.25), np.array([0.0, 0.0, 0.0]), "lower"),
    }
    keys = {"y_m": 0.3, "joined_to": "lower", "end_joined_to": "upper", "x_m": 0.05}
    found = fin_planform(plate(**keys | {"end_x_m": 0.02, "end_chord_m": 0.1}), halves, "fins.0")
    np.testing.assert_allclose(found.leading_edge, [[0.05, 0.3, 0.0], [0.12, 0.3, 0.4]])
    np.testing.assert_allclose(found.chord_vector, [[0.2, 0, 0], [0.1, 0, 0]], atol=1e-15)
    alike = fin_planform(plate(**keys), halves, "fins.0")
    np.testing.assert_allclose(alike.leading_edge[1], [0.15, 0.3, 0.4])
    near = plate(**keys | {"x_m": 2e-4, "root_chord_m": 0.2498, "end_x_m": 1e-4,
                           "end_chord_m": 0.3002})  # fmt: skip
    snapped = fin_planform(near, halves, "fins.0")
    np.testing.assert_allclose(snapped.leading_edge, [[0.0, 0.3, 0.0], [0.1, 0.3, 0.4]])
    np.testing.assert_allclose(snapped.chord_vector[:, 0], [0.25, 0.3])
    assert snapped.s[1] == pytest.approx(0.4)


def test_a_tapered_fin_on_a_twisted_wing_keeps_the_wings_chord_line() -> None:
    halves = {"upper": half(wing(1.0, 0.3, incidence_deg=6.0))}
    fin = plate(x_m=0.05, y_m=0.3, span_m=0.2, joined_to="upper", end_chord_m=0.08)
    found = fin_planform(fin, halves, "fins.0")
    along = np.array([np.cos(np.radians(6.0)), 0.0, -np.sin(np.radians(6.0))])
    np.testing.assert_allclose(found.leading_edge[0], [0, 0.3, 0] + 0.05 * along, atol=1e-12)
    np.testing.assert_allclose(found.chord_vector, [0.2 * along, 0.08 * along], atol=1e-12)


@pytest.mark.parametrize(("span", "refused"), [(1e-10, True), (3e-10, False)])
def test_a_plate_without_span_is_refused(span: float, refused: bool) -> None:
    """Below 1e-9 of its root's chord."""
    fin = plate(x_m=0.5, y_m=0.2, span_m=0.2).model_copy(update={"span_m": span})
    if refused:
        with pytest.raises(InputRefused, match="has its end where its root is"):
            fin_planform(fin, {}, "fins.0")
    else:
        assert fin_planform(fin, {}, "fins.0").s[1] == pytest.approx(span)


def bent() -> Wing:
    """Chords 0.3, 0.2, 0.2 at 0, 0.4 and 0.8 m, a corner at 0.4, and a tip of 0.2 m."""
    stations = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.3),
        Station(y_m=0.4, x_m=0.0, chord_m=0.2, corner=True),
        Station(y_m=0.8, x_m=0.2, chord_m=0.2),
    )
    return Wing(stations=stations, tips=Tips(span_m=0.2, end_chord_m=0.1))


def test_a_strip_edge_is_put_in_and_what_stands_beyond_it_moves_on() -> None:
    plain = half(bent())
    assert (plain.corners, plain.hinge) == ((1,), 2)

    def edged(*places: float) -> HalfPlanform:
        fins = [plate(name=f"f{i}", x_m=0.0, y_m=y, span_m=0.1, joined_to="upper")
                for i, y in enumerate(places)]  # fmt: skip
        return with_fin_edges({"upper": plain}, fins)["upper"]

    inner = edged(0.1)
    assert (inner.corners, inner.hinge) == ((1, 2), 3)
    np.testing.assert_allclose(inner.leading_edge[:, 1], [0.0, 0.1, 0.4, 0.8, 1.0])
    np.testing.assert_allclose(inner.chord_vector[1], [0.275, 0.0, 0.0], atol=1e-12)
    outer = edged(0.6)
    assert (outer.corners, outer.hinge) == ((1, 2), 3)
    np.testing.assert_allclose(outer.leading_edge[2], [0.1, 0.6, 0.0], atol=1e-12)
    assert outer.s[2] == pytest.approx(0.6)
    both = edged(0.1, 0.6)
    assert (both.corners, both.hinge) == ((1, 2, 3), 4)
    # At a station, the hinge or the centreline no station is new.
    assert edged(0.4).corners == (1,)
    assert len(edged(0.8).s) == len(edged(0.0).s) == 4
    assert (edged(0.0).centre_is_kinked, plain.centre_is_kinked) == (True, False)
    straight = half(wing(1.0, 0.2))
    fin = plate(x_m=0.0, y_m=0.5, span_m=0.1, joined_to="upper")
    assert with_fin_edges({"upper": straight}, [fin])["upper"].corners == ()
    with pytest.raises(InputRefused, match=r"fins\.0\.y_m = 0\.81; .* 0\.8 m, its hinge"):
        edged(0.81)


def test_surfaces_ahead_of_a_keel_crowd_their_strips_at_the_centreline() -> None:
    """Those on the centreline whose root ends ahead of the keel's aftmost point."""
    surfaces = {
        "ahead": half(wing(1.0, 0.2)),
        "behind": half_planform(wing(1.0, 0.2), np.array([0.9, 0.0, 0.0]), "lower"),
        "beside": half_planform(wing(1.0, 0.2), np.array([0.0, 0.1, 0.0]), "lower"),
    }
    keel = plate(name="keel", x_m=0.5, span_m=0.2)
    pair = plate(name="pair", **TAIL)
    plates = {fin.name: fin_planform(fin, {}, "fins") for fin in (keel, pair)}
    found = crowded_ahead(surfaces, [keel, pair], plates)
    assert {name: one.centre_is_kinked for name, one in found.items()} == {
        "ahead": True, "behind": False, "beside": False,
    }  # fmt: skip
    alone = crowded_ahead(surfaces, [pair], plates)
    assert not any(one.centre_is_kinked for one in alone.values())


def test_what_meets_its_image() -> None:
    """Wings do, and fins whose roots stand on the centreline, unless they lie in its plane."""

    def meets(part: str, y: float, on_plane: bool) -> bool:
        nodes = np.zeros((3, 2, 3))
        nodes[:, :, 1] = [y, 0.5]
        one = SimpleNamespace(part=part, nodes=nodes, on_plane=on_plane)
        return bool(Patch.meets_image.fget(one))  # type: ignore[attr-defined]

    assert [meets("main", 0.2, False), meets("fin", 0.0, False)] == [True, True]
    assert [meets("fin", 0.2, False), meets("fin", 0.0, True)] == [False, False]
