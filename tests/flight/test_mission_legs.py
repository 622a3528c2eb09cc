"""Rules of folding in missions, and their legs, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.description.mission import Leg
from vlm.errors import ComputationFailed
from vlm.flight.plan import mission, mission_rules
from vlm.flight.plan.mission import FlownLeg, FlownPiece, MissionFlight, MissionFlyer, Piece
from vlm.flight.plan.mission_rules import FoldRule

SPEEDS = np.array([8.0, 10.0, 12.0, 14.0, 16.0])


def rule(power=None, reasons=("",) * 5, **keys):
    values = 100.0 + (SPEEDS - 11.3) ** 2 if power is None else np.array(power, dtype=float)
    folds = np.where(np.isfinite(values), 2.0 * SPEEDS - 20.0, np.nan)
    return FoldRule("r", None, SPEEDS, folds, values, reasons, keys.pop("table", None), **keys)


@pytest.mark.parametrize(("speed", "fold"), [(6.0, -4.0), (9.0, -2.0), (13.5, 7.0), (20.0, 12.0)])
def test_a_fold_is_interpolated_and_held_beyond_the_ends(speed, fold):
    assert rule().fold(speed) == pytest.approx(fold)


def test_folds_that_are_not_known_are_passed_over():
    assert rule([1.0, np.nan, np.nan, 1.0, 1.0]).fold(11.0) == pytest.approx(2.0)
    assert np.isnan(rule([np.nan] * 5).fold(11.0))


def test_what_forbids_an_airspeed_is_reported_by_the_nearest():
    made = rule(reasons=("a", "", "b", "", ""), active=(("x",), (), ("y",), (), ()))
    assert [made.reason(v) for v in (8.9, 9.1, 12.9)] == ["a", mission_rules.NO_TRIM, "b"]
    assert [made.active_at(v) for v in (8.9, 11.1)] == [("x",), ("y",)]
    assert rule().active_at(9.0) == ()


@pytest.mark.parametrize(
    ("headwind", "best"),
    [(None, 11.3), (0.0, np.sqrt(100.0 + 11.3**2)), (4.0, None), (99.0, np.nan)],
)
def test_the_best_airspeed_of_a_parabola(headwind, best):
    """Least power; least power over the ground speed: (V - w) P' = P."""
    if best is None:
        fine = np.linspace(8.0, 16.0, 80_001)
        best = fine[np.argmin((100.0 + (fine - 11.3) ** 2) / (fine - headwind))]
    speeds = np.linspace(8.0, 16.0, 41)
    power = 100.0 + (speeds - 11.3) ** 2
    found = FoldRule("r", None, speeds, speeds, power, ("",) * 41, None)._best_of_table(headwind)
    assert found == pytest.approx(best, abs=0.03, nan_ok=True)


@pytest.mark.parametrize("side", [-1, 1])
def test_the_last_allowed_airspeed_beside_the_best_is_sought(monkeypatch, side):
    """Power falls toward the side that is not allowed beyond 11.4 or 12.6 m/s: within 2/32."""
    edge = 12.0 + 0.6 * side
    values = [np.nan if side * (v - 12.0) > 0.0 else 100.0 - side * v for v in SPEEDS]
    made = rule(values, moves=True)

    def solved(table, speed):
        inside = side * (speed - edge) <= 0.0
        return SimpleNamespace(
            speed=speed, setting=object() if inside else None, fold_deg=1.0, active=("z",),
            power=100.0 - side * speed,
        )  # fmt: skip

    monkeypatch.setattr(mission_rules, "best_fold", solved)
    found = made.best_speed()
    assert abs(found - edge) <= 2.0 / 32.0 + 1e-9
    assert side * (found - edge) <= 0.0


@pytest.mark.parametrize(
    ("least", "allowed", "held"),
    [
        (7.0, 16.0, (mission_rules.LOWEST_AIRSPEED,)),
        (17.0, 16.0, (mission_rules.HIGHEST_AIRSPEED,)),
        (11.3, 16.0, ()),  # the least power itself
        (11.3, 13.0, ()),  # with room to what is forbidden
        (15.0, 12.6, ("stall margin", "hinge moment")),  # at the edge between two of the table
        (15.0, 12.0, ("stall margin", "hinge moment")),  # at one of the table
    ],
)
def test_what_holds_the_best_airspeed_is_named(monkeypatch, least, allowed, held):
    """Power is least at one airspeed, and none beyond another is allowed."""
    power = [100.0 + (v - least) ** 2 if v <= allowed else np.nan for v in SPEEDS]

    def solved(table, speed):
        inside = speed <= allowed
        return SimpleNamespace(
            speed=speed, setting=object() if inside else None, fold_deg=1.0, active=(),
            power=100.0 + (speed - least) ** 2, forbidden=() if inside else held,
        )  # fmt: skip

    monkeypatch.setattr(mission_rules, "best_fold", solved)
    assert rule(power, moves=True).speed_held_by() == held


def test_a_leg_that_names_its_airspeed_is_held_by_nothing():
    made = rule(100.0 + SPEEDS)
    for keys, held in [({}, (mission_rules.LOWEST_AIRSPEED,)), ({"airspeed_m_s": 8.0}, ())]:
        flown = FlownLeg(leg(kind="loiter", time_s=1.0, **keys), (), 0.0, 0.0)
        assert mission.speed_held_by(made, flown) == held
    hover = FlownLeg(leg(kind="hover", time_s=1.0), (), 0.0, 0.0)
    assert mission.speed_held_by(made, hover) == ()


def test_a_rule_that_gains_an_airspeed_keeps_its_order(monkeypatch):
    made = rule([np.nan, 101.0, 102.0, 103.0, 104.0], ("stall", "", "", "", ""), moves=True,
                active=((), ("a",), (), (), ()))  # fmt: skip
    monkeypatch.setattr(
        mission_rules,
        "best_fold",
        lambda table, v: SimpleNamespace(
            speed=v, setting=object() if v >= 8.7 else None, fold_deg=5.0, active=("z",), power=99.0
        ),
    )
    more = made._reaching(1, 0)
    assert more.speeds.tolist() == [8.0, 8.75, *SPEEDS[1:]]
    assert more.power[1] == 99.0
    assert more.folds_deg[1] == 5.0
    assert more.reasons == ("stall", "", "", "", "", "")
    assert more.active == ((), ("z",), ("a",), (), (), ())
    none = made._reaching(0, 0)
    assert none is made


def test_a_held_fold_solves_itself_and_a_schedule_its_best(monkeypatch):
    monkeypatch.setattr(
        mission_rules, "best_fold", lambda table, v: SimpleNamespace(fold_deg=7.0, reason="why")
    )
    asked = []

    def setting(fold, speed):
        asked.append((fold, speed))
        return SimpleNamespace(is_allowed=False, passed=("stall",), fold_deg=fold)

    table = SimpleNamespace(setting=setting)
    assert rule(moves=True, table=table).level_fold(11.0) == (7.0, "why")
    fold, why = rule(table=table).level_fold(11.0)
    assert (np.isnan(fold), why, asked) == (True, "stall", [(2.0, 11.0)])


class _Rule:
    """11 m/s is best, 13 m/s into the wind; the fold is the airspeed in degrees."""

    speeds, reasons = SPEEDS, ("stall", "", "stall", "hinge", "")

    def fold(self, speed):
        return speed

    def level_fold(self, speed):
        return (speed, "") if speed < 15.5 else (np.nan, "rotor")

    def level_power(self, speed):
        return 100.0 if speed <= 16.0 else np.nan

    def reason(self, speed):
        return "too fast"

    def best_speed(self, headwind):
        return {None: 11.0}.get(headwind, 13.0 if (headwind or 0.0) < 15.0 else np.nan)


def leg(**keys):
    return Leg.model_validate({"name": "leg", **keys})


@pytest.mark.parametrize(
    ("keys", "faster", "seconds", "speed"),
    [
        ({"kind": "loiter", "time_s": 50.0, "repeat": 3}, 1.0, 150.0, 11.0),
        ({"kind": "loiter", "time_s": 50.0}, 1.2, 50.0, 13.2),
        ({"kind": "loiter", "time_s": 50.0, "airspeed_m_s": 9.0}, 1.2, 50.0, 9.0),
        ({"kind": "dash", "distance_m": 900.0, "headwind_m_s": 4.0, "repeat": 2}, 1.0, 200.0, 13.0),
        ({"kind": "dash", "distance_m": 900.0, "airspeed_m_s": 9.0}, 1.0, 100.0, 9.0),
        ({"kind": "climb", "height_m": 60.0, "climb_rate_m_s": 2.0, "repeat": 2}, 1.0, 60.0, 11.0),
        ({"kind": "turn", "turns": 2, "radius_m": 30.0, "airspeed_m_s": 11.0, "repeat": 3}, 1.0,
         6 * 2.0 * np.pi * 30.0 / 11.0, 11.0),
    ],
)  # fmt: skip
def test_a_leg_s_time_and_airspeed(keys, faster, seconds, speed):
    [piece] = mission.planned_pieces(_Rule(), leg(**keys), faster)
    assert (piece.seconds, piece.speed, piece.fold_deg) == pytest.approx((seconds, speed, speed))
    climbing = keys["kind"] == "climb"
    assert np.sin(piece.climb_angle) == pytest.approx(2.0 / 11.0 if climbing else 0.0)
    if keys["kind"] == "turn":
        # Centripetal force over weight: tan(bank) = V^2/(g R), n = 1/cos(bank).
        bank = np.arctan(11.0**2 / (GRAVITY * 30.0))
        assert piece.load_factor == pytest.approx(1.0 / np.cos(bank))


def test_a_turn_of_a_load_factor_flies_at_the_same_angle_of_attack():
    """sqrt(1.44) times 11 m/s; R = V^2/(g sqrt(n^2 - 1))."""
    [piece] = mission.planned_pieces(_Rule(), leg(kind="turn", turns=1, load_factor=1.44))
    assert piece.speed == pytest.approx(13.2)
    radius = 13.2**2 / (GRAVITY * np.sqrt(1.44**2 - 1.0))
    assert piece.seconds == pytest.approx(2.0 * np.pi * radius / 13.2)


def test_hover_and_transition():
    [hover] = mission.planned_pieces(_Rule(), leg(kind="hover", time_s=20.0, repeat=2))
    assert (hover.seconds, hover.speed, hover.fold_deg) == (40.0, 0.0, 0.0)
    pieces = mission.planned_pieces(
        _Rule(), leg(kind="transition", time_s=12.0, airspeed_m_s=12.0, repeat=2)
    )
    assert [p.seconds for p in pieces] == [4.0] * 6
    assert [p.speed for p in pieces] == pytest.approx([1.0, 3.0, 5.0, 7.0, 9.0, 11.0])
    assert [p.fold_deg for p in pieces] == pytest.approx([1.0, 3.0, 5.0, 7.0, 9.0, 11.0])


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ({"kind": "loiter", "time_s": 9.0, "airspeed_m_s": 17.0}, "at 17 m/s: too fast"),
        ({"kind": "loiter", "time_s": 9.0, "airspeed_m_s": 15.8}, "at 15.8 m/s: rotor"),
        (
            {"kind": "climb", "height_m": 9.0, "climb_rate_m_s": 11.0},
            "no less than the airspeed 11",
        ),
        ({"kind": "dash", "distance_m": 9.0, "headwind_m_s": 16.0}, "no less than any airspeed"),
        (
            {"kind": "dash", "distance_m": 9.0, "headwind_m_s": 15.0},
            "allowed: stall; elsewhere hinge",
        ),
    ],
)
def test_why_a_leg_cannot_be_flown(keys, message):
    with pytest.raises(ComputationFailed, match=message):
        mission.planned_pieces(_Rule(), leg(**keys))


def test_energies_of_legs_add_up():
    point = SimpleNamespace(value=lambda key: 50.0)
    pieces = tuple(FlownPiece(Piece(t, 11.0, 0.0), point, None) for t in (10.0, 30.0))
    flown = FlownLeg(leg(kind="hover", time_s=1.0), pieces, 5.0, 7.0)
    assert (flown.seconds, flown.flight_energy, flown.energy) == (40.0, 2000.0, 2012.0)
    stuck = FlownLeg(leg(kind="loiter", time_s=1.0), (), np.nan, np.nan, "stall")
    whole = MissionFlight(None, (flown, flown))
    assert (whole.seconds, whole.energy, whole.reason) == (80.0, 4024.0, "")
    assert whole.part("hover") == (80.0, 4024.0)
    assert whole.part("loiter") == (0, 0)
    assert np.isnan(MissionFlight(None, (flown, stuck)).energy)
    assert MissionFlight(None, (flown, stuck)).reason.endswith(": stall")


def flyer(serves="side", tips=2, **keys):
    values = {
        "serves": serves,
        "servo_voltage_V": 6.0,
        "servo_hold_current_A": 0.1,
        "friction": (0.1, 0.2),
    }
    craft = SimpleNamespace(actuator=SimpleNamespace(**values), tips=[None] * tips)
    return MissionFlyer(SimpleNamespace(craft=craft, **keys))


@pytest.mark.parametrize(
    ("serves", "tips", "servos"), [("side", 2, 2), ("tip", 2, 4), ("tip", 1, 2)]
)
def test_servos_of_a_craft_and_what_they_hold_with(serves, tips, servos):
    made = flyer(serves, tips)
    assert made.servos == servos
    assert made.holding_power == pytest.approx(servos * 0.6)
    bare = MissionFlyer(SimpleNamespace(craft=SimpleNamespace(actuator=None)))
    assert (bare.servos, bare.holding_power) == (0, 0.0)


def test_folding_costs_what_all_servos_take_at_the_lower_airspeed(monkeypatch):
    asked = []

    def one(self, start, end, speed):
        asked.append((start, end, speed))
        return 6.0 if end < 50.0 else np.inf

    monkeypatch.setattr(MissionFlyer, "_all_servos", one)
    made = flyer()
    assert made._folding_energy(Piece(1, 12.0, 0.0), Piece(1, 9.0, 10.0)) == 6.0
    assert made._folding_energy(Piece(1, 9.0, 0.0), Piece(1, 12.0, 10.0)) == 6.0
    assert asked == [(0.0, 10.0, 9.0)]
    assert made._folding_energy(Piece(1, 9.0, 0.0), Piece(1, 9.0, 0.04)) == 0.0
    assert made._folding_energy(Piece(1, 9.0, 0.0), Piece(1, 9.0, 0.06)) == 6.0
    with pytest.raises(ComputationFailed, match="between 0 and 60 deg"):
        made._folding_energy(Piece(1, 9.0, 0.0), Piece(1, 9.0, 60.0))
