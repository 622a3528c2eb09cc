"""Drag areas in lateral derivatives, in what a schedule asks of them, and in the modes: one number.

Sources: the definition of a drag area, drag over dynamic pressure along the wind, and statics
(a force at an arm); nothing else is needed. All craft are invented.
"""

from functools import cache

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.motion.roll_authority import Air
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.lattice.cellule import Grid
from vlm.lattice.reference import ReferenceFrame
from vlm.show.plots.lateral import PARTS
from vlm.study.asked import mode_speeds
from vlm.study.lateral.results import LateralStudy
from vlm.study.lateral.study import LateralPlan, lateral_study

FRAME = ReferenceFrame(area=0.5, span=2.0, chord=0.25, moment_point=np.array([0.1, 0.0, -0.2]))
GRID = Grid(rows=2, strips=8)


def slopes(areas: tuple[float, float, float], place: list[float], alpha: float = 0.0):
    bodies = DragBodies(np.array([areas]), np.array([place]))
    return bodies.lateral_slopes(np.array([0.1, 0.0, -0.2]), FRAME, alpha)


def test_a_ball_s_drag_follows_the_wind() -> None:
    """A ball drags by q A along the wind, 0.3 m behind and 0.4 m above the moment point.

    In sideslip q A beta of it points to port, behind: nose to starboard, into the wind; above:
    port wing down. Rolling moves it by p times 0.4 m across the wind, yawing by r times 0.3 m.
    """
    area, aft, up = 0.02, 0.3, 0.4
    found = slopes((area, area, area), [0.1 + aft, 0.0, -0.2 + up])
    side = area / FRAME.area
    assert found["CY_beta"] == pytest.approx(-side)
    assert found["Cn_beta"] == pytest.approx(side * aft / FRAME.span)
    assert found["Cl_beta"] == pytest.approx(-side * up / FRAME.span)
    assert found["Cl_p"] == pytest.approx(-side * 2.0 * up**2 / FRAME.span**2)
    assert found["Cn_r"] == pytest.approx(-side * 2.0 * aft**2 / FRAME.span**2)


def test_a_ball_s_moment_by_turning_its_whole_drag() -> None:
    """The same at an angle of attack, from r x D of two winds a little apart."""
    alpha, area, place = 0.2, 0.02, [0.35, 0.15, -0.5]
    arm = np.diag([-1.0, 1.0, -1.0]) @ (np.array(place) - FRAME.moment_point)

    def moment(beta: float) -> np.ndarray:
        wind = -np.array([np.cos(alpha) * np.cos(beta), np.sin(beta), np.sin(alpha) * np.cos(beta)])
        return np.cross(arm, area * wind) / (FRAME.area * FRAME.span)

    change = (moment(1e-5) - moment(-1e-5)) / 2e-5
    found = slopes((area, area, area), place, alpha)
    assert [found["Cl_beta"], found["Cn_beta"]] == pytest.approx(change[[0, 2]], rel=1e-6)


def test_without_a_place_it_acts_at_the_centre_of_gravity() -> None:
    found = slopes((0.02, 0.03, 0.04), [np.nan] * 3)
    assert found["CY_beta"] == pytest.approx(-0.03 / FRAME.area)
    assert [found["Cl_beta"], found["Cn_beta"]] == [0.0, 0.0]


@cache
def nosed(x: float) -> Biplane:
    """A shipped craft with a large body at a place along x."""
    return load_biplane("tideline").overridden(
        {"drag_areas.0.side_area_m2": 0.04, "drag_areas.0.position_m": [x, 0.0, -0.35]}
    )


@cache
def study(x: float) -> LateralStudy:
    air = Air(14.0, 1.225)
    plan = LateralPlan(air, (0.0,), (0.0,), (0.0,), (14.0,), GRID)
    return lateral_study(nosed(x), plan)


@pytest.mark.parametrize(("x", "word"), [(-0.25, "unstable"), (0.35, "stable")])
def test_weathercock_is_that_of_the_yaw_stiffness_and_the_modes(x: float, word: str) -> None:
    """With flat tips the moment point is the centre of gravity: N_beta = q S b Cn_beta."""
    found = study(x)
    level = found.folds[0].level
    assert level is not None
    assert level.body is not None
    reference, own = found.reference, found.rotors_must_add[0].own_yaw_stiffness_N_m_rad
    scale = 0.5 * 1.225 * 14.0**2 * reference["area_m2"] * reference["span_m"]
    assert own == pytest.approx(scale * level.body["Cn_beta"], rel=2e-3)
    assert level.weathercock == word
    assert (own > 0.0) == (word == "stable")


def test_the_drawn_parts_of_the_dihedral_effect_add_up() -> None:
    one = study(-0.25).shares[0]
    parts = [float(part(one) or 0.0) for part in PARTS.values()]
    assert sum(parts) == pytest.approx(one.total, rel=1e-9)
    level = study(-0.25).folds[0].level
    assert level is not None
    assert level.body is not None
    assert one.total == pytest.approx(level.body["Cl_beta"], rel=1e-9)
    assert one.drag_areas == pytest.approx(parts[-2])
    assert one.rotors == pytest.approx(parts[-1])


def test_a_schedule_reads_the_side_force_of_bodies_too() -> None:
    """0.04 m^2 in the wind, 0.35 m below the upper wing: a force at its arm."""
    craft = nosed(0.05)
    bare = craft.overridden({"drag_areas.0.side_area_m2": 0.0})
    found = [FoldLoads.of(one, None, GRID) for one in (craft, bare)]
    with_it, without = (one.dihedral_effect(0.0, 0.0, 14.0) for one in found)
    reference = found[0].engine.loads(FoldAngles()).reference
    down = float(reference.moment_point[2]) + 0.35
    by_hand = 0.04 * down / (reference.area * reference.span)
    assert with_it - without == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize(
    ("low", "high", "borne", "asked", "speeds"),
    [
        (11.0, 21.0, 0.0, 12.0, (11.0, 12.0, 16.8)),
        (7.0, 13.0, 0.0, 12.0, (9.6, 12.0, 13.0)),
        (2.0, 27.0, 15.0, 15.0, (15.0, 21.0)),
        (11.0, 21.0, 0.0, 10.0, (10.0, 14.0)),
        (11.0, 21.0, 0.0, 30.0, (24.0, 30.0)),
    ],
)
def test_modes_are_asked_where_the_file_flies(low, high, borne, asked, speeds) -> None:
    """0.8, 1 and 1.4 of the airspeed, held in the file's range and the airspeed itself."""
    flown = Schedule(airspeed_min_m_s=low, airspeed_max_m_s=high, thrust_borne_below_m_s=borne)
    assert mode_speeds(flown, asked) == pytest.approx(speeds)
    assert mode_speeds(None, 12.0) == (9.6, 12.0, 16.8)
