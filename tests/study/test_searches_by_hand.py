"""Searches around trims and designs, by hand: top speed, branches, mirror images, a design's sides.

No source but the rules stated in the modules; what is trimmed is put in, all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from flying_craft import biplane

from vlm.flight.trim import branches, special_speeds
from vlm.flight.trim.branches import FlownBranches, flown_branches
from vlm.flight.trim.powered import PoweredCraft
from vlm.study.design import around as design_around
from vlm.study.design import study as design_study
from vlm.study.design.changes import SearchKey
from vlm.study.design.goals import Worth
from vlm.study.point import blown_values
from vlm.study.power import branches as power_branches
from vlm.study.power import study as power_study
from vlm.study.schedule import study as schedule_study

# --- top speed ----------------------------------------------------------------------------------


def searched(monkeypatch, inside, converges=lambda speed: True):
    """Speeds tried, and what the search ends with; ``inside`` says where limits are kept."""
    tried = []

    def trimmed(problem, speed, climb, guess=None, start=None):
        tried.append((speed, guess))
        coupled = SimpleNamespace(offset=f"offset {speed}")
        return SimpleNamespace(
            is_converged=converges(speed) if guess is None else converges(speed) is True,
            unknown=f"unknown {speed}", loads=SimpleNamespace(coupled=coupled), speed=speed,
        )  # fmt: skip

    monkeypatch.setattr(power_study, "trim_problem", lambda craft: None)
    monkeypatch.setattr(power_study, "trimmed", trimmed)
    monkeypatch.setattr(
        power_study, "measured",
        lambda problem, trim: SimpleNamespace(least_margin=0.0 if inside(trim.speed) else -0.1),
    )  # fmt: skip
    return power_study.top_speed(None), tried


def test_a_top_speed_is_a_step_beyond_the_last_inside(monkeypatch):
    """Steps of 12 %; three outside end it, two do not."""
    first, step = power_study.SLOWEST_TOP, power_study.SEARCH_STEP
    speeds = first * step ** np.arange(40)
    assert step == 1.12
    top, tried = searched(monkeypatch, lambda speed: speed <= speeds[4] + 1e-9)
    assert top == pytest.approx(speeds[5])
    assert len(tried) == 8
    assert tried[1][1] == f"unknown {first}"
    gap = {round(float(one), 6) for one in (speeds[2], speeds[3])}
    top, tried = searched(
        monkeypatch, lambda speed: speed <= speeds[6] + 1e-9 and round(speed, 6) not in gap
    )
    assert top == pytest.approx(speeds[7])
    none, tried = searched(monkeypatch, lambda speed: False)
    assert none == 0.0
    assert tried[-1][0] < power_study.FASTEST_TOP <= tried[-1][0] * step


def test_where_the_branch_ends_a_trim_is_sought_afresh(monkeypatch):
    """Converges only without a guess: tried twice at each speed but the first."""
    top, tried = searched(monkeypatch, lambda speed: speed < 20.0, lambda speed: "afresh")
    assert top > 0.0
    assert [guess is None for _, guess in tried[:5]] == [True, False, True, False, True]


# --- branches -----------------------------------------------------------------------------------


class Point(SimpleNamespace):
    def value(self, name):
        return self.angle


def path(*pairs):
    return tuple(SimpleNamespace(speed=s, angle=a, unknown=[np.radians(a)]) for s, a in pairs)


def curve(monkeypatch, *found):
    monkeypatch.setattr(
        branches, "_at", lambda curve, point: Point(speed=point.speed, angle=point.angle)
    )
    monkeypatch.setattr(branches, "_jump", lambda *_: None)

    def turn(problem, before, after, climb, rising):
        assert min(before.angle, after.angle) < (50.0 if rising else 30.0)
        return path((9.2, 51.0) if rising else (6.9, 29.0))[0]

    monkeypatch.setattr(branches, "turn_between", turn)
    return SimpleNamespace(branches=found, problem=None, climb_angle=0.0)


HOVER = ((0.0, 90.0), (5.0, 80.0), (8.0, 60.0), (9.0, 50.0), (8.0, 40.0), (7.0, 30.0))
CRUISE = ((7.0, 30.0), (8.0, 20.0), (9.5, 12.0), (15.0, 5.0))


def test_one_branch_that_turns_is_two_that_are_flown(monkeypatch):
    """From hover up to the turn solved at 9.2 m/s, from cruise down to that at 6.9; a fifth beyond
    these speeds is kept."""
    found = flown_branches(curve(monkeypatch, path(*HOVER, *CRUISE[1:])))
    assert (found.highest, found.lowest) == (9.2, 6.9)
    assert found.from_hover[-1].speed == 9.2
    assert found.from_cruise[0].speed == 6.9
    near = branches.NEAR
    assert all(p.speed >= (1.0 - near) * 6.9 for p in found.from_hover)
    assert all(p.speed <= (1.0 + near) * 9.2 for p in found.from_cruise)
    assert [p.speed for p in found.from_hover] == [8.0, 9.2]
    assert [p.speed for p in found.from_cruise] == [6.9, 8.0, 9.5]
    apart = flown_branches(curve(monkeypatch, path(*HOVER), path(*CRUISE[::-1])))
    assert (apart.highest, apart.lowest) == (9.2, 7.0)


def test_one_branch_that_does_not_turn_is_none(monkeypatch):
    straight = path((0.0, 90.0), (5.0, 60.0), (9.0, 20.0), (15.0, 5.0))
    assert flown_branches(curve(monkeypatch, straight)) is None
    assert flown_branches(curve(monkeypatch)) is None


@pytest.mark.parametrize(
    ("up", "down", "turn"),
    [((60.0, 20.0), (15.0, 40.0), 40.0), (None, (15.0, 70.0), 55.0), (None, None, 25.0)],
)
def test_the_largest_turn_between_two_branches(up, down, turn):
    def jump(pair):
        return None if pair is None else tuple(Point(angle=angle) for angle in pair)

    found = FlownBranches(9.0, 7.0, (Point(angle=1.0), Point(angle=50.0)), (Point(angle=25.0),),
                          jump(up), jump(down))  # fmt: skip
    assert power_branches._turn(found) == turn


# --- mirror images ------------------------------------------------------------------------------


def powered(centre=0.0, mirrored=True, positions=None, axes=None, spins=(1.0, -1.0), kinds=(1, 1)):
    parts = {
        "model": SimpleNamespace(lattice=SimpleNamespace(is_mirror_symmetric=mirrored)),
        "masses": SimpleNamespace(centre=np.array([0.0, centre, 0.0])),
        "positions": np.array(positions or [[0.1, 0.3, 0.0], [0.1, -0.3, 0.0]]),
        "axes": np.array(axes or [[-1.0, 0.1, 0.0], [-1.0, -0.1, 0.0]]), "spins": np.array(spins),
        "rotors": [SimpleNamespace(model_dump=lambda exclude, kind=kind: {"kind": kind})
                   for kind in kinds],
    }  # fmt: skip
    return object.__new__(type("Put", (PoweredCraft,), parts))


@pytest.mark.parametrize(
    ("more", "symmetric"),
    [
        ({}, True),
        ({"centre": 9e-7}, True),
        ({"centre": -2e-6}, False),
        ({"mirrored": False}, False),
        ({"spins": (1.0, 1.0)}, False),
        ({"kinds": (1, 2)}, False),
        ({"positions": [[0.1, 0.3, 0.0], [0.1, -0.300002, 0.0]]}, False),
        ({"axes": [[-1.0, 0.1, 0.0], [-1.0, 0.1, 0.0]]}, False),
        ({"positions": [[0.1, 0.0, 0.2], [0.1, 0.0, -0.2]]}, False),
    ],
)
def test_port_mirrors_starboard(more, symmetric):
    assert PoweredCraft.is_symmetric.func(powered(**more)) is symmetric


# --- speeds at a body angle ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("angles", "allowed", "speeds"),
    [
        ([50.0, 40.0, 20.0, 10.0], "1111", [13.0]),
        ([50.0, 40.0, 20.0, 10.0], "1101", []),
        ([30.0, 20.0, 10.0, 5.0], "1111", [10.0]),
        ([50.0, 30.0, 10.0, 5.0], "1111", [12.0]),
        ([50.0, 30.0, 10.0, 5.0], "0111", [12.0]),
        ([50.0, 40.0, 30.0, 10.0], "0111", [14.0]),
        ([50.0, 20.0, 50.0, 5.0], "1111", [10.0 + 4.0 / 3.0, 12.0 + 2.0 / 3.0, 14.0 + 8.0 / 9.0]),
        ([50.0, 40.0, 35.0, 31.0], "1111", []),
    ],
)
def test_airspeeds_at_which_the_body_stands_at_30_degrees(angles, allowed, speeds):
    """Straight between the table's 10, 12, 14 and 16 m/s; one on the table counts once."""
    table = np.array([10.0, 12.0, 14.0, 16.0])
    made = SimpleNamespace(
        allowed=np.array([a == "1" for a in allowed]), values=lambda name: np.array(angles),
        speeds=table, at=lambda speed: Point(angle=float(np.interp(speed, table, angles))),
    )  # fmt: skip
    found = special_speeds.speeds_at_body_angle(made, 30.0)
    assert found == pytest.approx(speeds, abs=1e-5)


# --- lift of blown wings, a design's sides, a schedule's reversals --------------------------------


def test_lift_and_side_force_of_blown_surfaces():
    """60 Pa by 2 m^2 and by 0.5 m^2 of a fin, whose side force is reported too; rows beyond the
    states (steps of slopes) do not count."""
    patches = [SimpleNamespace(wing="upper"), SimpleNamespace(wing="keel")]
    strips = SimpleNamespace(model=SimpleNamespace(
        lattice=SimpleNamespace(patches=patches), strips=SimpleNamespace(patch=np.array([0, 0, 1]))
    ))  # fmt: skip
    force = np.array([[[1.0, 0, 12], [1.0, 0, 48], [0, 3.0, 6]], [[9.0] * 3] * 3])
    state = SimpleNamespace(
        alpha=np.zeros(1), dynamic_pressure=60.0, lift_direction=lambda: np.array([[0, 0, 1.0]])
    )
    prefix = blown_values.FIN_PREFIX
    areas = {"upper": 2.0, f"{prefix}keel": 0.5}
    found = blown_values.BlownSetting._wings(
        None, strips, state, SimpleNamespace(force=force), areas
    )
    assert set(found) == {"CL_upper", f"CL_{prefix}keel", f"CY_{prefix}keel"}
    assert found["CL_upper"] == pytest.approx([0.5])
    assert found[f"CL_{prefix}keel"] == pytest.approx([0.2])
    assert found[f"CY_{prefix}keel"] == pytest.approx([0.1])


KEYS = (SearchKey("k", 2.0, 6.0),)


def asker(goal="power", tips=True, trade=None, keys=KEYS):
    asked = []

    def ask(values, way=""):
        asked.append((dict(values), way))
        return Worth(1.0)

    plan = SimpleNamespace(
        goal=SimpleNamespace(goal=goal, grid=None, sign=1.0), keys=keys, trade_key=trade,
        trade_points=3,
        key=lambda name: next(k for k in keys if k.name == name),
    )  # fmt: skip

    class Ask:
        craft = biplane() if tips else SimpleNamespace(tips={})

        def __call__(self, *words):
            return ask(*words)

    made = Ask()
    made.plan = plan
    return made, asked


def around(best, folds=(10.0, 20.0), **more):
    ask, asked = asker(**more)
    told = []
    found = SimpleNamespace(
        best=best, worth=Worth(7.0, folds_deg=folds), present=None, fixed={}, sides=[], trade=None,
        searched=None,
    )  # fmt: skip
    design_study._look_around(ask, found, lambda *words: told.append(words))
    return found, asked, told


def test_fixed_craft_beside_a_design():
    """Open, closed, and at the mean of its own folds; its fold is no key of those."""
    fold = design_study.FOLD
    found, asked, told = around({"k": 3.0, fold: 5.0})
    own = f"{design_study.OWN}15.0"
    assert asked[:3] == [({"k": 3.0}, "open"), ({"k": 3.0}, "closed"), ({"k": 3.0}, own)]
    assert set(found.fixed) == {"open", "closed", "own"}
    assert told == [("sensitivity", 0, 7.0)]
    assert "own" not in around({"k": 3.0}, folds=(-1.0, 1.0))[0].fixed
    assert around({"k": 3.0}, goal="rolling moment")[0].fixed == {}
    assert around({"k": 3.0}, tips=False)[0].fixed == {}


@pytest.mark.parametrize(
    ("value", "steps"),
    [(4.0, (1, -1)), (6.0, (None, -1)), (2.0, (1, None)), (5.9, (0.1, -1)), (5.97, (None, -1))],
)
def test_a_step_to_either_side_of_a_design_stays_within_its_bounds(value, steps):
    found, asked, _ = around({"k": value}, tips=False)
    size = max(design_around.SIDE_STEP * value, design_around.LEAST_STEP * 4.0)
    for side, step, sense in zip(found.sides, steps, (1.0, -1.0), strict=True):
        if step is None:
            assert (side.worth, side.step) == (None, pytest.approx(sense * size))
        else:
            expected = step if abs(step) < 1 else step * size
            assert side.step == pytest.approx(expected)
            assert ({"k": pytest.approx(value + expected)}, "") in asked


def test_a_trade_runs_over_the_key_and_through_the_design():
    found, asked, told = around({"k": 3.0}, trade="k")
    assert found.trade.values == (2.0, 3.0, 4.0, 6.0)
    assert len(found.trade.folding) == len(found.trade.open_fixed) == 4
    assert [one for one in told if one[0] == "trade"] == [("trade", i, 7.0) for i in range(4)]
    assert asked[-2:] == [({"k": 6.0}, ""), ({"k": 6.0}, "open")]
    assert around({"k": 3.0}, trade="k", tips=False)[0].trade.open_fixed == ()


def test_reversals_along_a_schedule_are_reported_with_their_moment():
    moments = {9.0: -0.4, 12.0: 0.3}

    def state(speed):
        slowing = SimpleNamespace(quantities={schedule_study.ROLL_MOMENT: moments[speed]})
        return SimpleNamespace(slowing=slowing)

    flown = SimpleNamespace(roll_reversals=[(8.0, 9.0), (12.0, 12.0)], state=state)
    first, second = schedule_study._reversals(flown)
    assert (first.value, first.limit, second.value) == (0.4, None, 0.3)
    assert "rolls to port;" in first.what
    assert "rolls to starboard;" in second.what
    assert "between 8 and 9 m/s" in first.what
    assert "at 12 m/s" in second.what


def test_coefficients_of_a_blown_craft_are_over_density_and_airspeed_squared(monkeypatch):
    """Named from wrenches of density and airspeed squared of one: 1.2 x 100; far drag by half of
    that and the area of 2 m^2, along the wind, with what the strips' own drag is corrected by."""
    seen = []

    def named(wrench, state, reference):
        seen.append(wrench)
        return {"CL": wrench[:, 2], "CDi": wrench[:, 0]}

    monkeypatch.setattr(blown_values, "named_coefficients", named)
    lattice = SimpleNamespace(reference=SimpleNamespace(area=2.0))
    strips = SimpleNamespace(model=SimpleNamespace(lattice=lattice))
    state = SimpleNamespace(density=1.2, airspeed=10.0, wind=lambda: np.array([[1.0, 0.0, 0.0]]))
    blown = SimpleNamespace(
        force=np.array([[[3.0, 0, 60.0], [3.0, 0, 60.0]]]),
        moment=np.array([[[1.0, 2.0, 3.0], [5.0, 6.0, 7.0]]]),
        correction=np.array([[0.6, 9.0, 9.0]]),
    )
    found = blown_values.BlownSetting._coefficients(None, strips, state, blown)
    np.testing.assert_allclose(seen[0], np.array([[6.0, 0, 120.0, 6.0, 8.0, 10.0]]) / 120.0)
    assert found["CL"] == pytest.approx([1.0])
    assert found["CDi"] == pytest.approx([2.0 * 6.6 / 240.0])
