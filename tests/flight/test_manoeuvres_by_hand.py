"""A roll command flown, and what a log asks of its craft's own model: by hand.

No source but the rules stated in the modules; moments, flights and power curves are made up.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed
from vlm.flight.mechanism.fold_path import FoldPath
from vlm.flight.motion import roll_manoeuvre
from vlm.flight.motion.roll_authority import Air
from vlm.log import climbing
from vlm.sides import Side

START, END = FoldAngles(0.0, 10.0), FoldAngles(-30.0, 40.0)


@pytest.fixture
def craft(monkeypatch):
    """Moments on the servos of a side: twice its fold, and three less; damping its size, and half.

    Too slow to fly where port is beyond -60 degrees.
    """
    monkeypatch.setattr(
        roll_manoeuvre, "level_flight",
        lambda folds, speed, density: None if folds.left_deg < -60.0 else (folds, speed, density),
    )  # fmt: skip

    def loads(folds, flight, serves):
        assert (flight, serves) == ((folds, 15.0, 1.1), "tip")
        return {
            Side.PORT: [2.0 * folds.left_deg, 2.0 * folds.left_deg - 3.0],
            Side.STARBOARD: [2.0 * folds.right_deg, 2.0 * folds.right_deg - 3.0],
        }

    def dampings(folds, flight, serves):
        return {
            Side.PORT: [abs(folds.left_deg), 0.5 * abs(folds.left_deg)],
            Side.STARBOARD: [0.5 * folds.right_deg, folds.right_deg],
        }

    monkeypatch.setattr(roll_manoeuvre, "servo_loads", loads)
    monkeypatch.setattr(roll_manoeuvre, "servo_dampings", dampings)
    return SimpleNamespace(at=lambda folds: folds)


AIR = Air(15.0, 1.1)


def test_loads_on_the_way_are_those_most_against_each_side(craft):
    """Port folds down, so that the larger moment is against it; starboard up, and the smaller is.
    Both are read at the fold by straight lines, in either sense of the fold, and of dampings the
    largest."""
    moments, damping = roll_manoeuvre._loads_on_the_way(craft, START, END, AIR, "tip")
    for fold in (0.0, -7.0, -30.0):
        assert moments[Side.PORT](np.radians(fold)) == pytest.approx(2.0 * fold)
        assert damping[Side.PORT](np.radians(fold)) == pytest.approx(-fold)
    for fold in (10.0, 23.0, 40.0):
        assert moments[Side.STARBOARD](np.radians(fold)) == pytest.approx(2.0 * fold - 3.0)
        assert damping[Side.STARBOARD](np.radians(fold)) == pytest.approx(fold)


def path(stops):
    times = np.array([0.0, 1.2])
    return FoldPath(
        times,
        {Side.PORT: np.radians([0.0, -30.0]), Side.STARBOARD: np.radians([10.0, 40.0])},
        {side: np.zeros(2) for side in Side},
        dict(zip(Side, stops, strict=True)),
    )


@pytest.mark.parametrize(
    ("stops", "count"), [((1.2, 1.2), 13), ((0.77, 1.2), 14), ((1.2, 0.3), 13)]
)
def test_a_manoeuvre_is_flown_at_thirteen_instants_and_at_its_stops(
    craft, monkeypatch, stops, count
):
    seen = []

    def fold_path(actuator, start, end, loads, friction, damping):
        seen.append((start, end, friction))
        return path(stops)

    monkeypatch.setattr(roll_manoeuvre, "fold_path", fold_path)
    actuator = SimpleNamespace(serves="tip", friction=(0.05, 0.1))
    found = roll_manoeuvre.manoeuvre(craft, actuator, START, END, AIR)
    start, end, friction = seen[0]
    assert friction == 0.1
    assert np.degrees([start[s] for s in Side]) == pytest.approx([0.0, 10.0])
    assert np.degrees([end[s] for s in Side]) == pytest.approx([-30.0, 40.0])
    times = [p.time for p in found.passages]
    assert len(times) == count
    assert set(np.round(stops, 9)) <= set(np.round(times, 9))
    assert (times[0], times[-1]) == (0.0, 1.2)
    for passage in found.passages:
        assert passage.craft.left_deg == pytest.approx(-25.0 * passage.time, abs=1e-9)
        assert passage.craft.right_deg == pytest.approx(10.0 + 25.0 * passage.time)
        assert passage.flight == (passage.craft, 15.0, 1.1)


def test_a_servo_that_stalls_and_wings_that_do_not_carry_are_refused(craft, monkeypatch):
    monkeypatch.setattr(roll_manoeuvre, "fold_path", lambda *_: None)
    actuator = SimpleNamespace(serves="tip", friction=(0.05, 0.1))
    with pytest.raises(ComputationFailed, match=r"stalls between fold 0, 10 and -30, 40 degrees"):
        roll_manoeuvre.manoeuvre(craft, actuator, START, END, AIR)
    with pytest.raises(ComputationFailed, match=r"fold -66.6667, 10 degrees at 15 m/s: the wings"):
        roll_manoeuvre.manoeuvre(craft, actuator, START, FoldAngles(-80.0, 10.0), AIR)


# --- climb and power limit of a log's craft ------------------------------------------------------


def described(**more):
    plain = {
        "mass": SimpleNamespace(total_kg=2.0), "rotors": (1,), "propulsion": object(),
        "configurations": {"flat": SimpleNamespace(folds="folds")},
    }  # fmt: skip
    return SimpleNamespace(**{**plain, **more})


@pytest.mark.parametrize(
    ("extra", "share"),
    [
        ((2.0, 2.0, 2.0), 0.5),
        ((2.0, 4.0, 1.25), 0.5),
        ((np.nan, 4.0, 2.0), 0.375),
        ((0.9, 2.0, 50.0), 0.5),
        ((-1.0, np.nan, 100.0), None),
    ],
)
def test_the_share_of_power_that_turns_into_climb(monkeypatch, extra, share):
    """Weight times rate of climb over the power beyond level flight, the median of three airspeeds,
    shares of 0.05 to 1 alone. The airspeeds: 0.9, 1.1 and 1.3 times that of a lift coefficient of
    0.5, here of 19.6 N on 0.8 m^2: 8.95 m/s."""
    seen, lattice = [], SimpleNamespace(reference=SimpleNamespace(area=0.8))

    def curve(powered, speeds, climb_angle=0.0):
        seen.append((speeds, climb_angle))
        climb = 2.0 * GRAVITY * speeds * np.sin(np.radians(2.0))
        return SimpleNamespace(
            values=lambda name: 40.0 + (climb * np.array(extra) if climb_angle else 0.0)
        )

    monkeypatch.setattr(
        climbing, "powered_craft",
        lambda craft, folds, grid: SimpleNamespace(model=SimpleNamespace(lattice=lattice)),
    )  # fmt: skip
    monkeypatch.setattr(climbing, "power_curve", curve)
    found = climbing.climb_efficiency(described())
    assert found == (None if share is None else pytest.approx(share))
    expected = (2.0 * GRAVITY / (0.5 * 1.225 * 0.5 * 0.8)) ** 0.5 * np.array([0.9, 1.1, 1.3])
    np.testing.assert_allclose(seen[0][0], expected)
    assert [angle for _, angle in seen] == [0.0, pytest.approx(np.radians(2.0))]


@pytest.mark.parametrize(
    "lacking", [{"mass": None}, {"rotors": ()}, {"propulsion": None}, {"configurations": {}}]
)
def test_without_a_flying_craft_nothing_is_known_of_its_climb(monkeypatch, lacking):
    monkeypatch.setattr(climbing, "powered_craft", lambda *_, **__: pytest.fail("not asked for"))
    assert climbing.climb_efficiency(described(**lacking)) is None


def test_a_craft_that_cannot_be_trimmed_has_no_climb(monkeypatch):
    def refuse(*_, **__):
        raise ComputationFailed("no trim")

    monkeypatch.setattr(climbing, "powered_craft", refuse)
    assert climbing.climb_efficiency(described()) is None


@pytest.mark.parametrize(
    ("limits", "power"),
    [((100.0, 150.0), 250.0 / 0.72 + 8.0), ((100.0, None), 400.0), ((0.0, 90.0), 90.0 / 0.72 + 8)],
)
def test_the_most_power_that_all_rotors_and_loads_draw(limits, power):
    """Shafts over the efficiency of motors and controllers, 0.9 x 0.8, and the fixed load."""
    propulsion = SimpleNamespace(
        motor_efficiency=0.9, controller_efficiency=0.8, fixed_load_W=8.0, power_max_W=400.0
    )
    rotors = [SimpleNamespace(power_max_W=one) for one in limits]
    found = climbing.power_limit(SimpleNamespace(propulsion=propulsion, rotors=rotors))
    assert found == pytest.approx(power)
    assert climbing.power_limit(SimpleNamespace(propulsion=None, rotors=rotors)) is None
    assert climbing.power_limit(SimpleNamespace(propulsion=propulsion, rotors=[])) is None
