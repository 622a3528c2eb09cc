"""How a scenario is run, and loads that come late, by hand: events, jams, what acts when.

No source but the rules stated in the modules and closed forms; the craft is made up: its equations
are straight lines in time, so that every event's instant is known.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.motion import StabilisingLaw
from vlm.errors import ComputationFailed
from vlm.flight.simulation import lag, running
from vlm.flight.simulation.equations import Control
from vlm.flight.simulation.lag import Lag
from vlm.flight.simulation.plant import Layout
from vlm.flight.simulation.running import at_instant, control_of, run
from vlm.flight.simulation.task import Task
from vlm.unsteady.lag import LagLaw

LAYOUT = Layout(2, 0)
LEVEL = (1.0, 0.0, 0.0, 0.0)


def placed(centre):
    return SimpleNamespace(placed=lambda folds: "parts", centre=lambda parts: np.array(centre))


PLANT = SimpleNamespace(thrusts=2, lag=None, bodies=placed((0.0, 0.0, 0.5)))


def steady(alpha=0.0, bank=0.0, worms=(0.0, 0.0)):
    state = np.zeros(LAYOUT.size)
    state[0] = 10.0
    state[LAYOUT.attitude], state[LAYOUT.worms] = LEVEL, worms
    state[LAYOUT.place] = (7.0, 8.0, -3.0)
    return SimpleNamespace(
        state=state, alpha=alpha, bank=bank, thrusts=np.array([1.0, 2.0]), held_moment=np.zeros(3)
    )


def task(**more):
    return Task(**{"name": "x", "airspeed": 10.0, "duration": 1.0,
                   "start": FoldAngles(0.0, 0.0), **more})  # fmt: skip


def equations(monkeypatch, slopes):
    """A craft whose state moves at a steady rate, which a jammed worm's does not."""

    class Straight:
        def __init__(self, plant, control):
            self.control = control

        def rate(self):
            rates = np.zeros(LAYOUT.size)
            for place, slope in slopes.items():
                rates[place] = slope
            rates[LAYOUT.worms] *= self.control.worms_run
            return rates

        def __call__(self, time, y):
            return self.rate()

        def jacobian(self, time, y):
            return np.zeros((LAYOUT.size, LAYOUT.size))

        def at(self, time, state):
            return time, self.control

    monkeypatch.setattr(running, "Equations", Straight)


# --- what acts from the start on ----------------------------------------------------------------


def test_worms_are_reported_to_move_by_the_command_from_its_instant_on():
    """Their own angles differ from the folds by load and play, which stays."""
    one = task(start=FoldAngles(10.0, -20.0), target=FoldAngles(30.0, -50.0), command_at=0.5)
    control = control_of(PLANT, one, None, steady(worms=(0.2, -0.3)))
    assert control.targets(0.49, 10.0) == pytest.approx((0.2, -0.3))
    moved = 0.2 + np.radians(20.0), -0.3 - np.radians(30.0)
    assert control.targets(0.5, 10.0) == pytest.approx(moved)
    held = control_of(PLANT, task(), None, steady(worms=(0.2, -0.3)))
    assert held.targets(9.0, 10.0) == pytest.approx((0.2, -0.3))


def test_a_schedule_is_followed_by_the_airspeed():
    schedule = np.array([8.0, 12.0]), np.radians([0.0, -40.0])
    one = task(start=FoldAngles(-20.0, -20.0), schedule=schedule)
    control = control_of(PLANT, one, None, steady(worms=(0.01, 0.02)))
    expected = np.radians(10.0) + np.array([0.01, 0.02])
    assert control.targets(0.0, 9.0) == pytest.approx(tuple(expected))
    assert control.targets(0.0, 20.0) == pytest.approx(tuple(expected - np.radians(30.0)))


@pytest.mark.parametrize(("bank", "pitch"), [(0.0, 10.0), (60.0, 5.038), (90.0, 0.0)])
def test_the_law_holds_pitch_and_bank_of_the_start(bank, pitch):
    """A level path: tan(theta) = tan(alpha) cos(phi); at 60 degrees half of tan 10 is tan 5.038."""
    start = steady(np.radians(10.0), np.radians(bank))
    control = control_of(PLANT, task(speed_to=14.0, holds_bank=False), None, start)
    wanted = control.wanted(2.5)
    assert np.degrees([wanted.bank, wanted.pitch]) == pytest.approx([bank, pitch], abs=1e-3)
    assert (wanted.airspeed, wanted.holds_bank) == (12.0, False)
    assert control.powered == (True, True)
    assert control.base_thrusts.tolist() == [1.0, 2.0]


def test_thrust_is_commanded_for_the_airspeed_that_the_law_steers_to():
    """Along the start's angle of attack, whatever else the state is; without a law nothing changes
    the thrust, which stays that of the start's airspeed."""
    start = steady(np.radians(30.0))
    start.state[:3] = 9.0, 1.0, 7.0
    one = task(speed_to=14.0, command_at=1.0)
    law = StabilisingLaw(speed_N_s_m=1.0)
    expected = np.array([0.5 * 3.0**0.5, 0.0, 0.5])
    for time, airspeed in ((0.0, 10.0), (3.5, 12.0), (9.0, 14.0)):
        settled = control_of(PLANT, one, law, start).settled(time)
        np.testing.assert_allclose(settled, airspeed * expected)
        settled = control_of(PLANT, one, None, start).settled(time)
        np.testing.assert_allclose(settled, 10.0 * expected)


@pytest.mark.parametrize(
    ("attitude", "height"),
    [(LEVEL, 2.5), ((0.0, 1.0, 0.0, 0.0), 3.5), ((0.5**0.5, 0.5**0.5, 0.0, 0.0), 3.0)],
)
def test_the_height_at_the_start_is_that_of_the_centre_of_gravity(attitude, height):
    """Half a metre along z of the body from the moment point, which is 3 m up: upright, on its
    back and on its side."""
    start = steady()
    start.state[LAYOUT.attitude] = attitude
    assert control_of(PLANT, task(), None, start).start_height == pytest.approx(height)


@pytest.mark.parametrize(
    ("jams", "runs"),
    [({}, (True, True)), ({0: 0.0}, (False, True)), ({1: 5e-10}, (True, False)),
     ({0: 2e-9, 1: -2e-9}, (True, True))],
)  # fmt: skip
def test_a_worm_that_jams_where_it_stands_never_moves(jams, runs):
    control = control_of(PLANT, task(jams=jams), None, steady())
    assert control.worms_run == runs


@pytest.mark.parametrize(
    ("time", "supply", "powered", "geared"),
    [
        (0.0, 1.0, (True, True), (True, True)),
        (0.2, 0.8, (True, True), (True, True)),
        (0.3, 0.8, (True, False), (True, True)),
        (0.4, 0.8, (True, False), (False, True)),
        (0.5, 0.8, (True, False), (False, False)),
    ],
)
def test_what_fails_fails_from_its_instant_on(time, supply, powered, geared):
    control = Control(None, None, None, np.zeros(2), np.zeros(3), powered=(True, True))
    one = task(battery=0.8, battery_at=0.2, lost=1, lost_at=0.3, lets_go=(0.4, 0.5))
    found = at_instant(control, one, time)
    assert (found.supply, found.powered, found.geared) == (supply, powered, geared)


# --- histories ----------------------------------------------------------------------------------


def test_a_history_has_two_hundred_instants_a_second(monkeypatch):
    equations(monkeypatch, {0: 2.0})
    found = run(PLANT, task(duration=0.25), None, steady())
    np.testing.assert_allclose(found.times, np.linspace(0.0, 0.25, 51))
    np.testing.assert_allclose(found.states[:, 0], 10.0 + 2.0 * found.times)
    assert found.cut_off == ""
    assert np.isnan(found.jammed_at).all()
    assert len(found.instants) == 51
    assert found.evaluations > 10
    short = run(PLANT, task(duration=1e-4), None, steady())
    np.testing.assert_allclose(short.times, [0.0, 1e-4])


def test_stretches_meet_at_the_instants_of_the_task(monkeypatch):
    """No instant twice; the one at which a rotor is lost is still of the time before."""
    equations(monkeypatch, {0: 2.0})
    found = run(PLANT, task(duration=0.03, lost=0, lost_at=0.012), None, steady())
    assert (np.diff(found.times) > 0.0).all()
    assert found.times[-1] == pytest.approx(0.03)
    for time, control in found.instants:
        assert control.powered == (time <= 0.012 + 1e-12, True)
    np.testing.assert_allclose(found.states[:, 0], 10.0 + 2.0 * found.times)


@pytest.mark.parametrize(
    ("place", "sign", "words", "time"),
    [
        (2, 1.0, "angle of attack passes 24 deg", np.tan(np.radians(24.0))),
        (2, -1.0, "angle of attack passes 24 deg", np.tan(np.radians(24.0))),
        (1, 1.0, "sideslip passes 32 deg", np.tan(np.radians(32.0))),
        (1, -1.0, "sideslip passes 32 deg", np.tan(np.radians(32.0))),
    ],
)
def test_a_history_ends_where_the_tables_do(monkeypatch, place, sign, words, time):
    """At 10 m/s forward, 10 m/s^2 across: the tangent of the angle is the time in seconds."""
    equations(monkeypatch, {place: 10.0 * sign})
    found = run(PLANT, task(), None, steady())
    assert words in found.cut_off
    assert found.times[-1] == pytest.approx(time, abs=1e-6)


def test_in_a_gust_the_angle_is_that_of_the_air(monkeypatch):
    """Air that rises by 2 m/s (earth z is down): w through the air is 2 m/s from the start."""
    equations(monkeypatch, {2: 10.0})
    gust = SimpleNamespace(at=lambda time: np.array([0.0, 0.0, -2.0]), instants=())
    found = run(PLANT, task(gust=gust), None, steady())
    assert found.times[-1] == pytest.approx(np.tan(np.radians(24.0)) - 0.2, abs=1e-6)
    on_its_back = steady()
    on_its_back.state[LAYOUT.attitude] = (0.0, 1.0, 0.0, 0.0)
    found = run(PLANT, task(gust=gust), None, on_its_back)
    assert found.times[-1] == pytest.approx(np.tan(np.radians(24.0)) + 0.2, abs=1e-6)


@pytest.mark.parametrize("side", [0, 1])
def test_a_worm_that_jams_stands_still_and_the_motion_goes_on(monkeypatch, side):
    """From 10 degrees at 0.5 rad/s, its worm 0.02 rad off; it jams at 20 degrees."""
    place = LAYOUT.worms.start + side
    equations(monkeypatch, {place: 0.5, 0: 1.0})
    start = [FoldAngles(10.0, 0.0), FoldAngles(0.0, 10.0)][side]
    worms = [0.0, 0.0]
    worms[side] = np.radians(10.0) + 0.02
    state = steady(worms=worms)
    state.state[LAYOUT.servos] = 3.0
    found = run(PLANT, task(start=start, jams={side: np.radians(20.0)}), None, state)
    at = np.radians(10.0) / 0.5
    assert found.jammed_at[side] == pytest.approx(at, abs=1e-6)
    assert np.isnan(found.jammed_at[1 - side])
    assert found.times[-1] == pytest.approx(1.0)
    assert found.cut_off == ""
    assert found.states[-1, place] == pytest.approx(np.radians(20.0) + 0.02, abs=1e-6)
    assert found.states[-1, 0] == pytest.approx(11.0)
    expected = [3.0, 3.0]
    expected[side] = 0.0
    assert found.states[-1, LAYOUT.servos].tolist() == expected


def test_a_side_jammed_from_the_start_says_so(monkeypatch):
    equations(monkeypatch, {LAYOUT.worms.start: 0.5})
    found = run(PLANT, task(jams={0: 0.0}), None, steady())
    assert found.jammed_at[0] == 0.0
    assert found.states[-1, LAYOUT.worms.start] == 0.0


def test_a_motion_that_cannot_be_followed_is_refused(monkeypatch):
    equations(monkeypatch, {0: np.nan})
    with pytest.raises(ComputationFailed, match="cannot be followed"):
        run(PLANT, task(), None, steady())


# --- loads that come late -----------------------------------------------------------------------

LATE = Lag(LagLaw(np.array([0.2, 0.3]), np.array([0.05, 0.4]), 0.0), 0.5, 2)


def test_loads_that_have_lasted_are_their_steady_values():
    """z = a q, load = (1 - 0.5) q + sum z."""
    steady_loads = np.array([4.0, -8.0])
    states = LATE.from_steady(steady_loads)
    assert LATE.states == 4
    np.testing.assert_allclose(states, [0.8, -1.6, 1.2, -2.4])
    np.testing.assert_allclose(LATE.loads_of(states, steady_loads), steady_loads)
    np.testing.assert_allclose(LATE.rates(states, steady_loads, 10.0), 0.0, atol=1e-15)


def test_after_a_step_the_load_is_that_of_the_law():
    """Half at once; z nears a q by b 2 V/c: 2 and 16 a second at 10 m/s, chord 0.5 m."""
    zero, step = np.zeros(4), np.array([1.0, 2.0])
    np.testing.assert_allclose(LATE.loads_of(zero, step), 0.5 * step)
    np.testing.assert_allclose(LATE.pace(10.0), [2.0, 16.0])
    np.testing.assert_allclose(LATE.rates(zero, step, 10.0), [0.4, 0.8, 4.8, 9.6])
    # z after 0.1 s, by the closed form; the load is then 1 - sum a exp(-b s), s = 4 half chords.
    states = np.outer([0.2 * (1 - np.exp(-0.2)), 0.3 * (1 - np.exp(-1.6))], step).ravel()
    np.testing.assert_allclose(
        LATE.loads_of(states, step), LATE.law.response(np.array([4.0])) * step
    )


def test_the_law_of_a_craft_is_fitted_to_its_lift_after_a_step(monkeypatch):
    """Lift put in: 3 before, 5 long after, and the law's response between; the first step is left
    out. Steps of a quarter half chord, 24 half chords in all, read at their middles."""
    seen = {}
    lattice = SimpleNamespace(reference=SimpleNamespace(chord=0.5))
    law = LagLaw(np.array([0.165, 0.335]), np.array([0.0455, 0.3]), 0.0)
    monkeypatch.setattr(lag, "build_lattice", lambda *_: lattice)

    def marched(course, step, steps):
        seen["march"] = step, steps
        lift = 3.0 + 2.0 * law.response(0.25 * (np.arange(steps) + 0.5))
        lift[0] = 99.0
        return lift

    def quasi(course, step, steps):
        at = course.gust(step * (steps - 1), np.zeros((3, 3)))
        np.testing.assert_allclose(at, np.tile([0, 0, 1e-3], (3, 1)))
        np.testing.assert_allclose(course.gust(0.0, np.zeros((2, 3))), 0.0)
        return np.array([99.0, 5.0])

    def flown(course, step, steps):
        seen.setdefault("steps", []).append(step)
        return np.array([3.0]) if steps == 1 else quasi(course, step, steps)

    monkeypatch.setattr(lag, "march", marched)
    monkeypatch.setattr(lag, "quasi_steady", flown)
    monkeypatch.setattr(
        lag, "load_history",
        lambda lift: SimpleNamespace(
            force=lambda: np.stack([9.0 * lift, 8.0 * lift, lift], axis=1)),
    )  # fmt: skip
    found = lag.craft_lag(None, FoldAngles(), 8)
    assert seen["march"] == (0.0625, 96)
    assert seen["steps"] == [0.0625, 0.0625]
    assert (found.chord, found.loads) == (0.5, 8)
    np.testing.assert_allclose(np.sort(found.law.rates), law.rates, rtol=1e-3)
    np.testing.assert_allclose(np.sort(found.law.shares), law.shares, rtol=1e-3)
