"""How tables are made of solves: of sections, of loads around a trim, and trims of a mission.

No source but the rules stated in the modules and closed forms: what is solved is put in, so that
every entry of a table is known; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.errors import ComputationFailed
from vlm.flight.plan import mission
from vlm.flight.plan.mission import MissionFlyer
from vlm.flight.simulation import section_table as tables
from vlm.flight.simulation.section_table import ALPHAS, BETAS, ROLLS
from vlm.flight.trim import power_samples
from vlm.flight.trim.power_samples import LIFT_CHANGE, PULL, STALLED_CHANGE, TURN, load_table

# --- what sections change -----------------------------------------------------------------------

SPEED, DENSITY = 15.0, 1.1


class Strips:
    """Each value by a formula of angle, sideslip, rates and the sum of 3^i T_i."""

    def __init__(self, agrees=lambda alpha: True):
        self.agrees, self.asked = agrees, []

    def change(self, amounts, density, thrusts):
        assert density == DENSITY
        u, v, w = (amounts[:, :3] * [1.0, -1.0, 1.0]).T  # of the air past the craft: x aft, z up
        np.testing.assert_allclose(np.linalg.norm(amounts[:, :3], axis=1), SPEED)
        assert not amounts[:, 6:].any()
        alpha, beta, p = np.arctan2(w, u), np.arcsin(v / SPEED), amounts[:, 3]
        turning = amounts[:, 4:6] @ [0.2, 0.3] * alpha
        blown = 0.0 if thrusts is None else float(thrusts @ 3.0 ** np.arange(len(thrusts)))
        self.asked.append(thrusts)
        base = alpha + 2.0 * beta + 0.1 * p + 0.01 * blown + turning
        known = np.array([self.agrees(a) for a in alpha])
        return SimpleNamespace(
            wrench=np.outer(base, np.arange(1.0, 7.0)),
            hinges={"upper_left": 7.0 * base, "upper_right": 8.0 * base},
            margin=np.where(alpha > 0.4, np.inf, base), stalled=9.0 * base, agrees=known,
        )  # fmt: skip


BODIES = ("upper_left", "upper_right")
SIGNS = np.array([-1, 2, -3, -4, 5, -6, 7, 8, 1, 9])
"""Of a wrench 1 to 6 in geometry axes, turned into body axes; hinges, margin, stalled share."""


def table_craft(strips, symmetric=True, rotors=(), sections=True):
    craft = SimpleNamespace(motions=8, bodies=BODIES)
    asked = []

    def at(folds):
        asked.append((folds.left_deg, folds.right_deg))
        return craft

    return SimpleNamespace(
        at=at, strips_at=lambda folds: strips, is_symmetric=symmetric, asked=asked,
        craft=SimpleNamespace(rotors=rotors), has_sections=sections,
    )  # fmt: skip


def test_tables_of_sections_hold_what_is_solved():
    """Rows beyond no roll rate, at no sideslip; what one rotor's slipstream adds for a newton."""
    thrusts = np.array([2.0, 5.0])
    found = tables._solved(table_craft(Strips()), (-10.0, 20.0), SPEED, DENSITY, thrusts)
    base = ALPHAS[:, None] + 2.0 * BETAS + 0.01 * 17.0
    expected = base[..., None] * SIGNS
    expected[ALPHAS > 0.4, :, 8] = 0.0  # no margin without sections' stall
    np.testing.assert_allclose(found.slipping, expected, atol=1e-12)
    rolling = np.broadcast_to((0.1 * ROLLS)[:, None] * SIGNS, (len(ALPHAS), len(ROLLS), 10)).copy()
    rolling[ALPHAS > 0.4, :, 8] = 0.0
    np.testing.assert_allclose(found.rolling, rolling, atol=1e-12)
    turning = np.multiply.outer(np.multiply.outer(ALPHAS, [0.2, 0.3]), SIGNS)
    turning[ALPHAS > 0.4, :, 8] = 0.0
    np.testing.assert_allclose(found.turning, turning, atol=1e-12)
    blowing = np.broadcast_to(
        0.01 * np.array([1.0, 3.0])[:, None] * SIGNS, (len(ALPHAS), 2, 10)
    ).copy()
    blowing[ALPHAS > 0.4, :, 8] = 0.0
    np.testing.assert_allclose(found.blowing, blowing, atol=1e-12)
    assert found.agrees


def test_states_that_do_not_agree_take_the_nearest_that_does():
    strips = Strips(agrees=lambda alpha: alpha < ALPHAS[-1] - 1e-9)
    found = tables._solved(table_craft(strips), (0.0, 0.0), SPEED, DENSITY, np.zeros(0))
    assert not found.agrees
    assert strips.asked == [None] * 6
    last = len(BETAS) - 1
    np.testing.assert_allclose(found.slipping[-1, last, 0], found.slipping[-2, last, 0])
    assert found.slipping[-2, last, 0] != pytest.approx(found.slipping[-3, last, 0])


def test_at_most_four_folds_of_a_side_and_both_ends():
    """0 to 6 in thirds is 0, 2, 4, 6; 0 to 7 is 0, 2.33, 4.67, 7."""
    assert tables._fewer(np.arange(4.0)).tolist() == [0, 1, 2, 3]
    assert tables._fewer(np.arange(7.0)).tolist() == [0, 2, 4, 6]
    assert tables._fewer(np.arange(8.0)).tolist() == [0, 2, 5, 7]


AIR = SimpleNamespace(points=(np.radians([-10.0, 0.0, 20.0]),) * 2, bodies=BODIES, wide=8)


@pytest.mark.parametrize(("symmetric", "solves"), [(True, 6), (False, 9)])
def test_mirrored_folds_are_solved_once(symmetric, solves):
    craft = table_craft(Strips(), symmetric)
    told = []
    found = tables.section_table(craft, AIR, SPEED, DENSITY, np.zeros(0), told.append)
    assert len(craft.asked) == solves
    assert told[0] == "sections at fold 1 of 9"
    assert told[-1] == "sections at fold 9 of 9"
    assert (found.values, found.stalls, found.agrees, found.airspeed) == (10, True, True, SPEED)
    assert found.slipping.shape == (9, len(ALPHAS) * len(BETAS) * 10)
    assert found.rolling.shape == (9, len(ALPHAS) * len(ROLLS) * 10)
    assert found.blowing.shape == (9, 0)
    image = found.slipping[3].reshape(len(ALPHAS), len(BETAS), 10)
    own = found.slipping[1].reshape(len(ALPHAS), len(BETAS), 10)
    if symmetric:
        np.testing.assert_allclose(image[:, 0, 1], -own[:, -1, 1])
        np.testing.assert_allclose(image[:, 0, 6], own[:, -1, 7])
    else:
        np.testing.assert_allclose(image, own)


def test_without_sections_and_slipstream_there_is_no_table():
    plain = table_craft(Strips(), sections=False)
    assert tables.section_table(plain, AIR, SPEED, DENSITY, np.zeros(0)) is None
    rotors = load_biplane("tideline").rotors
    blown = table_craft(Strips(), rotors=rotors, sections=False)
    found = tables.section_table(blown, AIR, SPEED, DENSITY, np.ones(len(rotors)))
    assert found.stalls is False
    assert len(blown.asked) == 6
    odd = table_craft(Strips(), rotors=rotors[:1])
    tables.section_table(odd, AIR, SPEED, DENSITY, np.ones(1))
    assert len(odd.asked) == 9


def test_a_rotor_s_mirror_image_turns_the_other_way():
    rotors = load_biplane("tideline").rotors
    images = tables.mirrored_rotors(rotors)
    for own, image in zip(rotors, images, strict=True):
        (x, y, z), other = own.position_m, rotors[image]
        assert other.position_m == (x, -y, z)
        assert other.spin != own.spin
    same = "left" if rotors[0].spin == "right" else "right"
    wrong = (rotors[0].model_copy(update={"spin": same}), *rotors[1:])
    assert tables.mirrored_rotors(wrong) is None


# --- loads around a trim ------------------------------------------------------------------------

RANDOM = np.random.default_rng(5)
VALUE, SLOPE = RANDOM.normal(size=11), RANDOM.normal(size=(11, 4))
BEND = (lambda half: half + half.transpose(0, 2, 1))(RANDOM.normal(size=(11, 4, 4)))
TRIM = np.array([0.3, 0.1, 0.5, 0.6])


@pytest.mark.parametrize("leans", [True, False])
def test_a_table_of_quadratic_loads_is_exact(monkeypatch, leans):
    """Differences of a quadratic give its slopes and second derivatives (Taylor). Steps: one degree
    in each angle, a hundredth over the rotors in each thrust."""
    count = 4 if leans else 3
    trim, seen = TRIM[:count], {}

    def loads(problem, craft, speed, climb, states, start):
        seen.setdefault(craft.name, (speed, climb, states, start))
        x = states - trim
        parts = VALUE + x @ SLOPE[:, :count].T
        parts = parts + 0.5 * np.einsum("pij,si,sj->sp", BEND[:, :count, :count], x, x)
        return SimpleNamespace(
            parts=parts + craft.more, body_force=np.arange(3.0)[None], profile=2.0 * parts[:, :6],
            body_moment=np.arange(3.0, 6.0)[None],
        )  # fmt: skip

    monkeypatch.setattr(power_samples, "_loads_at", loads)
    monkeypatch.setattr(power_samples, "_parts", lambda of: of.parts)
    monkeypatch.setattr(power_samples, "_profile", lambda of: of.profile)
    rotors = (None,) * 2
    craft = SimpleNamespace(name="own", more=0.0, rotors=rotors)
    problem = SimpleNamespace(unknowns=count, craft=craft, leans=leans)
    curve = SimpleNamespace(problem=problem, climb_angle=0.05)
    at = SimpleNamespace(
        speed=12.0,
        trim=SimpleNamespace(
            unknown=trim, loads=SimpleNamespace(coupled=SimpleNamespace(offset="start"))
        ),
    )
    others = SimpleNamespace(
        lift=SimpleNamespace(name="lift", more=0.6), stalled=SimpleNamespace(name="stall", more=0.3)
    )
    found = load_table(curve, at, others)
    assert (found.speed, found.climb_angle) == (12.0, 0.05)
    np.testing.assert_allclose(found.value, VALUE)
    np.testing.assert_allclose(found.slope, SLOPE[:, :count], atol=1e-9)
    np.testing.assert_allclose(found.curve, BEND[:, :count, :count], atol=1e-5)
    np.testing.assert_allclose(found.profile, 2.0 * VALUE[:6])
    np.testing.assert_allclose(found.profile_slope, 2.0 * SLOPE[:6, :count], atol=1e-9)
    np.testing.assert_allclose(found.body, np.arange(6.0))
    np.testing.assert_allclose(found.lift, 0.6 / LIFT_CHANGE)
    np.testing.assert_allclose(found.stalled, 0.3 / STALLED_CHANGE)
    angles = 2 if leans else 1
    states = seen["own"][2] - trim
    steps = np.r_[[TURN] * angles, [PULL / 2.0] * (count - angles)]
    np.testing.assert_allclose(states[1 : count + 1], np.diag(steps), atol=1e-12)
    assert len(states) == 1 + 2 * count + count * (count - 1) // 2
    for name in ("lift", "stall"):
        assert seen[name][:2] == (12.0, 0.05)
        np.testing.assert_array_equal(seen[name][2], trim[None])
        assert seen[name][3] == "start"


@pytest.mark.parametrize(
    ("climb", "lean", "alpha"), [(0.0, 0.0, 20.0), (10.0, 0.0, 10.0), (10.0, 60.0, -0.32)]
)
def test_alpha_is_pitch_less_what_the_climb_takes(monkeypatch, climb, lean, alpha):
    """sin(theta - alpha) = sin(climb)/cos(lean): at a lean of 60 degrees twice sin 10, 20.32."""
    seen = {}

    def flown(craft, speeds, alphas, thrusts, start):
        seen.update(speeds=speeds, alphas=alphas, thrusts=thrusts, start=start)

    monkeypatch.setattr(power_samples, "flight_loads", flown)
    thrusts = np.ones((2, 4))
    problem = SimpleNamespace(split=lambda states: (
        np.radians([20.0, 20.0]), np.radians([lean, lean]), thrusts))  # fmt: skip
    power_samples._loads_at(problem, None, 12.0, np.radians(climb), np.zeros((2, 3)), "start")
    np.testing.assert_allclose(np.degrees(seen["alphas"]), alpha, atol=0.005)
    assert seen["speeds"].tolist() == [12.0, 12.0]
    assert (seen["thrusts"] is thrusts, seen["start"]) == (True, "start")


def test_moments_of_the_sections_drag_are_about_the_centre_of_gravity():
    """Two strips with drag 1 and 2 N aft; the centre of gravity stands 0.5 m above: r x F."""
    strips = SimpleNamespace(
        profile=np.array([[[1.0, 0, 0], [2.0, 0, 0]]]),
        profile_moment=np.array([[[0, 0.1, 0], [0, 0.2, 0]]]),
    )
    found = power_samples._profile(
        SimpleNamespace(strips=strips, offset=np.array([[0.0, 0.0, 0.5]]))
    )
    np.testing.assert_allclose(found, [[3.0, 0, 0, 0, 0.3 - 1.5, 0]])


# --- trims and travel of a mission --------------------------------------------------------------


class Curve:
    def __init__(self, fold):
        self.problem = SimpleNamespace(craft=Made(fold, SimpleNamespace(mass=2.0)))
        self.fold = fold

    def at(self, speed):
        return self.fold, speed


class Made(SimpleNamespace):
    def __init__(self, fold, masses):
        super().__init__(fold=fold, masses=masses)


@pytest.fixture
def flight(monkeypatch):
    """A mission over curves at folds of -20, 0 and 30 degrees; trims say what they were given."""
    book = SimpleNamespace(
        folds_deg=np.array([-20.0, 0.0, 30.0]), curves=[Curve(-20.0), Curve(0.0), None],
        built=lambda fold: Made(fold, SimpleNamespace(mass=2.0)), air=None, grid=None,
        craft=SimpleNamespace(actuator=None, tips=(1, 2)),
    )  # fmt: skip
    monkeypatch.setattr(mission, "replace", lambda made, **more: (
        Made(made.fold, more["masses"]) if "masses" in more
        else SimpleNamespace(mass=more["mass"])))  # fmt: skip
    monkeypatch.setattr(mission, "nearest_curve", lambda book, fold: book.curves[int(fold > -10.0)])
    monkeypatch.setattr(mission, "trim_problem", lambda made: ("problem", made.fold))
    monkeypatch.setattr(
        mission, "direct_trim",
        lambda made, speed, climb_angle, near: (made.fold, made.masses.mass, speed, climb_angle,
                                                near),
    )  # fmt: skip
    made = object.__new__(MissionFlyer)
    vars(made).update(book=book, _trims={}, _foldings={}, _folding_craft=None)
    return made


@pytest.mark.parametrize(
    ("asked", "trim"),
    [
        ((0.0, 12.0, 0.0, 1.0), (0.0, 12.0)),
        ((0.0, 12.0, 0.1, 1.0), (0.0, 2.0, 12.0, 0.1, (0.0, 12.0))),
        ((-20.0, 12.0, 0.0, 1.5), (-20.0, 3.0, 12.0, 0.0, (-20.0, 12.0))),
        ((5.0, 12.0, 0.0, 1.0), (5.0, 2.0, 12.0, 0.0, (0.0, 12.0))),
        ((30.0, 12.0, 0.0, 1.0), (30.0, 2.0, 12.0, 0.0, (0.0, 12.0))),
        ((1e-8, 12.0, 0.0, 1.0), (1e-8, 2.0, 12.0, 0.0, (0.0, 12.0))),
        ((5e-10, 12.0, 0.0, 1.0), (0.0, 12.0)),
    ],
)
def test_level_trims_of_tabulated_folds_are_those_of_the_table(flight, asked, trim):
    """Climbs, turns (a mass times the load factor) and folds between are trimmed directly."""
    found = flight.trim(*asked)
    assert found[0] == trim
    assert flight.trim(*asked) is found


def piece(fold, speed):
    return SimpleNamespace(fold_deg=fold, speed=speed)


@pytest.mark.parametrize(
    ("start", "end", "speed", "energy"),
    [
        (0.0, 0.049, 9.0, 0.0),
        (0.0, 0.051, 9.0, 2.0 * 0.5 * 9.0),
        (0.0, -30.0, 9.0, 9.0),
        (0.0, -30.0, 0.0, 4.0 * (30.0 + 0.3)),
        (0.0, -30.0, 2.0, 4.0 * (30.0 + 0.3)),
    ],
)
def test_energy_of_folding_between_two_states(monkeypatch, flight, start, end, speed, energy):
    """Two sides against the air where the wings carry the craft, at the lower airspeed of both;
    else every servo by itself, with the highest friction."""
    monkeypatch.setattr(mission, "FoldingCraft", lambda *_, **__: "folding")

    def between(folding, actuator, airspeed, density, one, other):
        assert density == pytest.approx(1.225)
        if airspeed < 3.0:
            return None
        return {"greatest_friction": SimpleNamespace(energy=0.5 * airspeed)}

    monkeypatch.setattr(mission, "folding_between", between)
    monkeypatch.setattr(
        mission, "folding",
        lambda actuator, one, other, load, friction: SimpleNamespace(
            energy=np.degrees(abs(one - other)) + friction),
    )  # fmt: skip
    flight.book.craft.actuator = SimpleNamespace(friction=(0.1, 0.3), serves="tip")
    for first, second in ((speed, speed + 3.0), (speed + 3.0, speed)):
        found = flight._folding_energy(piece(start, first), piece(end, second))
        assert found == pytest.approx(energy)


def test_a_servo_that_stalls_ends_the_mission(monkeypatch, flight):
    assert flight._folding_energy(piece(0.0, 9.0), piece(50.0, 9.0)) == 0.0  # no drive in the file
    flight.book.craft.actuator = SimpleNamespace(friction=(0.1, 0.3), serves="tip")
    flight._foldings[0.0, 50.0, 9.0] = np.inf
    with pytest.raises(ComputationFailed, match="stalls between 0 and 50 deg"):
        flight._folding_energy(piece(0.0, 9.0), piece(50.0, 9.0))
