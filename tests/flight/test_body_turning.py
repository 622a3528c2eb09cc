"""How large a body turns a sign of static stability, against ellipsoids in potential flow.

The air that moves with an ellipsoid is known in closed form (H. Lamb, Hydrodynamics, sixth edition,
1932, articles 114 and 373, from memory), and so is the flow on it: the stream along each axis,
enlarged by 1 + k, less its part along the normal. Pressures are summed here over the surface. The
couple on it is Munk's (NACA Report 184, 1924, from memory). The craft are invented.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.craft.body_turning import volume_in_pitch, volume_in_yaw
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.state import FlightState
from vlm.show.tables.compare import compare_table
from vlm.show.tables.lateral import lateral_table
from vlm.show.tables.point import point_table
from vlm.show.words import body_words, litres
from vlm.study.compare.numbers import Entry
from vlm.study.compare.study import ComparePlan, compare_study
from vlm.study.lateral.study import LateralPlan, lateral_study
from vlm.study.point.document import point_document
from vlm.study.point.point import PointReport, solve_point

GRID, SPEED, DENSITY = Grid(3, 10), 13.0, 1.225


def air_that_moves(axes: tuple[float, float, float]) -> np.ndarray:
    """k along each axis: mass of air that moves over that of the air in the ellipsoid's place.

    k = A / (2 - A), A = a b c int_0^inf dl / ((a_i^2 + l) sqrt((a^2 + l) (b^2 + l) (c^2 + l))).
    """
    sizes = np.square(axes)

    def part(l: float, i: int) -> float:  # noqa: E741
        return 1.0 / ((sizes[i] + l) * np.sqrt(np.prod(sizes + l)))

    shares = [
        np.prod(axes) * (quad(part, 0.0, 1.0, args=(i,))[0] + quad(part, 1.0, np.inf, args=(i,))[0])
        for i in range(3)
    ]
    assert sum(shares) == pytest.approx(2.0, rel=1e-6)  # as div grad of the gravity inside
    return np.array([one / (2.0 - one) for one in shares])


def couple(axes: tuple[float, float, float], angle: float) -> float:
    """Moment of the pressure over dynamic pressure and volume, that enlarges the angle [1]."""
    wind = np.array([np.cos(angle), 0.0, np.sin(angle)])
    enlarged = (1.0 + air_that_moves(axes)) * wind
    nodes, weights = np.polynomial.legendre.leggauss(80)
    round_, step = np.linspace(0.0, 2.0 * np.pi, 80, endpoint=False, retstep=True)
    x, turn = np.meshgrid(nodes, round_, indexing="ij")
    ring = np.sqrt(1.0 - x**2)
    unit = np.stack([x, ring * np.cos(turn), ring * np.sin(turn)], axis=-1)
    places, across = unit * axes, unit / axes * np.prod(axes)
    normal = across / np.linalg.norm(across, axis=-1, keepdims=True)
    flow = enlarged - np.sum(enlarged * normal, axis=-1, keepdims=True) * normal
    pressure = 1.0 - np.sum(flow**2, axis=-1)
    force = -pressure[..., None] * across * (weights[:, None] * step)[..., None]
    about = np.cross(places, force).sum(axis=(0, 1))
    assert np.abs(force.sum(axis=(0, 1))).max() < 1e-9  # a pure couple
    # The nose stands at -x, into the wind; a wind from below, +z, that raises it turns about +y.
    return float(about[1]) / (4.0 / 3.0 * np.pi * np.prod(axes))


@pytest.mark.parametrize(("slender", "known"), [(4.0, 0.78), (10.0, 0.94)])
def test_a_round_body_has_munk_s_couple_less_than_that_of_a_slender_one(
    slender: float, known: float
) -> None:
    axes = (slender, 1.0, 1.0)
    along, across, _ = air_that_moves(axes)
    assert across - along == pytest.approx(known, abs=0.005)
    angle = np.radians(0.5)
    slope = couple(axes, angle) / angle
    assert slope == pytest.approx(2.0 * (across - along), rel=1e-3)
    assert slope < 2.0


def test_a_body_twice_as_tall_as_wide_has_twice_the_couple_in_yaw() -> None:
    along, across, _ = air_that_moves((60.0, 1.0, 2.0))
    assert across - along == pytest.approx(2.0, rel=0.02)


FRAME = build_lattice(load_biplane("tideline"), FoldAngles(), Grid(1, 4)).reference


def test_a_slender_body_of_the_volume_told_takes_the_number_to_its_half_width() -> None:
    angle = np.radians(0.5)
    slope = couple((100.0, 1.0, 1.0), angle) / angle
    yaw = volume_in_yaw(0.02, 0.004, FRAME)
    pitch = volume_in_pitch(0.05, 0.01, 4.0, FRAME)
    assert yaw is not None
    assert pitch is not None
    assert 0.02 - slope * yaw / (FRAME.area * FRAME.span) == pytest.approx(0.004, rel=0.02)
    margin = 0.05 - slope * pitch / (FRAME.area * FRAME.chord) / 4.0
    assert margin == pytest.approx(0.01, rel=0.02)


@pytest.mark.parametrize(("value", "width"), [(-0.1, 0.01), (0.1, 0.2), (0.1, float("nan"))])
def test_no_volume_is_told_of_what_is_not_known_to_be_stable(value: float, width: float) -> None:
    assert volume_in_yaw(value, width, FRAME) is None
    assert volume_in_pitch(value, width, 4.0, FRAME) is None


def test_volumes_are_rounded_down() -> None:
    assert litres(0.0006789) == "0.67 litres"
    assert litres(0.0239) == "23 litres"
    assert body_words({"in pitch": None, "in yaw": None}) == ""
    assert body_words({"in pitch": 1e-3, "in yaw": 2e-3}).endswith(
        "may turn stability in pitch from 1.0 litres on and in yaw from 2.0 litres on."
    )


def point(craft: Biplane, fold: float) -> PointReport:
    state = FlightState(alpha=np.radians(4.0), airspeed=SPEED, density=DENSITY)
    return solve_point(craft, FoldAngles.symmetric(fold), state, grid=GRID)


def taken(volume: float, frame: ReferenceFrame, length: float) -> float:
    """What a slender body takes from a coefficient's slope [1 per rad]."""
    return 2.0 * volume / (frame.area * length)


def test_a_point_tells_the_body_that_turns_what_it_calls_stable() -> None:
    """Without rotors by hand; with rotors, which take from both, a smaller one."""
    craft = load_biplane("teasel")
    bare = craft.model_copy(update={"rotors": ()})
    whole, alone = point(craft, -30.0), point(bare, -30.0)
    frame, body, widths = alone.loads.reference, alone.derivatives["body"], alone.half_widths
    turns = alone.body_turns
    assert turns.pitch_m3 is not None
    assert turns.yaw_m3 is not None
    left = body["Cn_beta"] - taken(turns.yaw_m3, frame, frame.span)
    assert left == pytest.approx(widths["Cn_beta"], rel=1e-6)
    lowered = body["Cm_alpha"] + taken(turns.pitch_m3, frame, frame.chord)
    assert -lowered / body["CL_alpha"] == pytest.approx(widths["static_margin"], rel=1e-6)
    assert whole.body_turns.yaw_m3 is not None
    assert whole.body_turns.pitch_m3 is not None
    assert 0.0 < whole.body_turns.yaw_m3 < turns.yaw_m3
    assert 0.0 < whole.body_turns.pitch_m3 < turns.pitch_m3
    text = " ".join(point_table("a", whole).split())
    said = f"in pitch from {litres(whole.body_turns.pitch_m3)} on and in yaw from"
    assert f"{said} {litres(whole.body_turns.yaw_m3)} on." in text
    assert point_document(whole)["body_turns"]["yaw_m3"] == whole.body_turns.yaw_m3


def test_a_point_tells_no_body_of_what_rotors_may_turn() -> None:
    """Tideline with flat tips is unstable in pitch, and in yaw with its rotors."""
    report = point(load_biplane("tideline"), 0.0)
    assert report.derivatives["body"]["Cn_beta"] > report.half_widths["Cn_beta"]
    assert (report.body_turns.pitch_m3, report.body_turns.yaw_m3) == (None, None)
    assert "round body" not in point_table("a", report)


def test_lateral_and_compare_tell_it_beside_their_verdicts() -> None:
    craft, fin = load_biplane("tideline"), load_biplane("teasel")
    plan = LateralPlan(Air(SPEED, DENSITY), (-30.0, 0.0), shares_deg=(0.0,), grid=GRID)
    study = lateral_study(craft, plan)
    stable, unstable = (row.level for row in study.folds)
    assert stable is not None
    assert unstable is not None
    assert stable.body is not None
    volume = stable.body_turns_yaw_m3
    assert volume is not None
    left = stable.body["Cn_beta"] - taken(volume, FRAME, FRAME.span)
    assert left == pytest.approx(stable.half_width("Cn_beta"), rel=1e-6)
    assert unstable.body_turns_yaw_m3 is None
    assert f"stable, body < {litres(volume)}" in lateral_table(study, full=True)

    entries = [Entry(one.title, one, FoldAngles()) for one in (craft, fin)]
    found = compare_study(entries, ComparePlan(4.0, Air(SPEED, DENSITY), GRID, power=False))
    margin = next(one for one in found.numbers if one.key == "static_margin")
    assert margin.body_turns_m3 is not None
    none, some = margin.body_turns_m3
    assert none is None
    assert some is not None
    frame = build_lattice(fin, FoldAngles(), GRID).reference
    known, slope = margin.values[1], point(fin, 0.0).derivatives["body"]["CL_alpha"]
    assert known.value is not None
    left = known.value - taken(some, frame, frame.chord) / slope
    assert left == pytest.approx(known.half_width, rel=1e-3)
    text = " ".join(compare_table(found).split())
    assert f"(without a round body of more than {litres(some)})" in text
