"""Which ways a mission is flown, and the best fold among them, by hand.

No source but the rules stated in the module; energies are put in as functions of the fold, whose
least is known; all numbers are invented.
"""

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.plan import mission_samples
from vlm.study.mission import single_fold
from vlm.study.mission import study as mission_study
from vlm.study.mission.candidate import Candidate
from vlm.study.mission.study import TIP_SPANS


@dataclass(frozen=True)
class Rule:
    name: str


@dataclass(frozen=True)
class Flight:
    rule: Rule
    energy: float
    legs: list = field(default_factory=list)
    seconds: float = 600.0

    def part(self, kind):
        return 0.0, 0.0


def candidate(fold, energy, name="", group="held", share=1.0, best=False):
    return Candidate(group, Flight(Rule(name), energy), fold, 2.0, share, None, best)


def flights(energy, folds=(-40.0, -20.0, 0.0, 20.0, 40.0)):
    """Flights at some folds, and how others are flown."""
    asked = []

    def at(fold, name):
        asked.append((round(fold, 6), name))
        return candidate(fold, energy(fold), name)

    return [candidate(fold, energy(fold)) for fold in folds], at, asked


def test_where_the_curve_misleads_the_best_of_those_flown_counts():
    """Between the table's folds all is worse than its curve says."""
    found, at, _ = flights(lambda fold: 100.0 + 0.01 * fold**2 + 50.0 * (fold % 20.0 != 0.0))
    assert single_fold.best_between(found, at).fold_deg == 0.0
    none, at, asked = flights(lambda fold: np.nan)
    assert single_fold.best_between(none, at) is None
    assert asked == []


DOWN, UP = [-30.0, -25.0, -22.5, -21.25, -20.625], [-10.0, -15.0, -12.5, -13.75, -14.375]


@pytest.mark.parametrize(
    ("low", "high", "tried"),
    [(-33.0, 50.0, DOWN), (-33.0, -8.0, DOWN + UP), (-99.0, -8.0, UP), (-99.0, 50.0, [])],
)
def test_folds_that_cost_less_are_sought_toward_neighbours_that_cannot_be_flown(low, high, tried):
    """Least at -15; the best of the table is -20, and intervals of 20 degrees are halved five
    times, each time on the side of the one that costs less: by hand."""
    found, at, asked = flights(
        lambda fold: 100.0 + abs(fold + 15.0) if low <= fold <= high else np.nan
    )
    told = single_fold.edges(found, at)
    assert [c.fold_deg for c in told] == tried
    assert [fold for fold, _ in asked] == tried
    assert all(name == f"held at {fold:.1f} deg" for fold, name in asked)
    assert single_fold.edges([candidate(0.0, np.nan)], at) == []


def test_every_fold_is_flown_and_the_best_one_comes_last(monkeypatch):
    energies, told = (lambda fold: 100.0 + 0.01 * (fold - 7.0) ** 2), []
    monkeypatch.setattr(
        mission_study, "FoldTable", SimpleNamespace(of=lambda book, schedule: (book, schedule))
    )
    monkeypatch.setattr(mission_study, "flying_schedule", lambda schedule: f"flying {schedule}")
    monkeypatch.setattr(mission_study, "held_schedule", lambda schedule: f"held {schedule}")
    monkeypatch.setattr(
        mission_study, "held", lambda name, table, fold: SimpleNamespace(
            name=name, fold=fold, table=table))  # fmt: skip
    book = SimpleNamespace(
        craft=SimpleNamespace(mass=SimpleNamespace(total_kg=1.7)),
        folds_deg=np.arange(-40.0, 41.0, 20.0),
    )

    asked = []

    def flown(rule, legs):
        assert (rule.table[0], legs) == (book, "legs")
        asked.append(rule.table[1])
        return Flight(Rule(rule.name), energies(rule.fold))

    tools = SimpleNamespace(schedule="s", legs="legs", report=lambda *words: told.append(words))
    found = mission_study._at_every_fold(tools, book, SimpleNamespace(flight=flown), "held", [8.0])
    assert [c.name for c in found[1:4]] == ["held at -20 deg", "held at 0 deg", "held at 20 deg"]
    assert told == [("flights, held", i, 5) for i in (1, 2, 3, 4, 5)]
    assert set(asked) == {"held s"}
    asked.clear()
    mission_study._at_every_fold(tools, book, SimpleNamespace(flight=flown), "fixed", [8.0])
    assert set(asked) == {"flying s"}
    assert found[-1].is_best_fold
    assert found[-1].fold_deg == pytest.approx(7.0, abs=1.5)
    assert found[-1].name == f"best single fold, {found[-1].fold_deg:.1f} deg"
    assert {(c.group, c.mass_kg, c.tip_span_share) for c in found} == {("held", 1.7, 1.0)}
    assert [c.is_best_fold for c in found] == [False] * 5 + [True]
    # Allowed from 6.2 to 9 degrees alone, between two of the table: 8 degrees are the schedule's.
    whole = energies
    energies = lambda fold: whole(fold) if 6.2 <= fold <= 9.0 else np.nan  # noqa: E731
    found = mission_study._at_every_fold(tools, book, SimpleNamespace(flight=flown), "held", [8.0])
    assert found[-1].is_best_fold
    assert found[-1].fold_deg == pytest.approx(7.0, abs=0.6)
    found = mission_study._at_every_fold(tools, book, SimpleNamespace(flight=flown), "held", [])
    assert not any(c.is_best_fold for c in found)


def test_named_folds_come_first_and_the_best_last():
    def configuration(left, right):
        return SimpleNamespace(folds=SimpleNamespace(left_deg=left, is_symmetric=left == right))

    craft = SimpleNamespace(configurations={
        "flat": configuration(0.0, 0.0), "odd": configuration(0.0, 20.0),
        "folded": configuration(20.0000005, 20.0000005), "other": configuration(20.00001, 20.00001),
    })  # fmt: skip
    all_ = (candidate(0.0, 1.0), candidate(20.0, 2.0), candidate(7.0, 0.5, "best", best=True))
    found = mission_study._named(craft, all_)
    assert [(c.name, c.fold_deg) for c in found] == [("flat", 0.0), ("folded", 20.0), ("best", 7.0)]


@pytest.mark.parametrize(
    ("flights_", "folds"),
    [
        ([(0.0, 9.0), (20.0, 5.0)], [0.0, 20.0]),
        ([(0.0, 4.0), (20.0, 5.0)], [0.0]),
        ([(0.0, 9.0), (0.04, 8.0)], [0.0]),
        ([(0.0, np.nan), (20.0, 5.0), (30.0, 6.0)], [20.0]),
        ([(0.0, np.nan)], []),
    ],
)
def test_other_tips_stand_flat_and_at_the_best_single_fold(flights_, folds):
    assert mission_study._folds_of_other_tips([candidate(*one) for one in flights_]) == folds


def respanned(monkeypatch, fixed, energy, *, longest=9.0, untrimmed=0.0):
    """Other tips as flown, and what was told of the work."""

    def spanned(bare, share):
        if share > longest:
            return None
        return SimpleNamespace(share=share, mass=SimpleNamespace(total_kg=1.0 + share))

    def book(craft, folds, stage):
        assert folds.tolist() == sorted(folds)
        assert stage == f"tips {craft.share:g} times as long"
        if craft.share == untrimmed:
            raise ComputationFailed("no trim")
        return craft

    monkeypatch.setattr(mission_study, "with_tip_span", spanned)
    monkeypatch.setattr(
        mission_study, "FoldTable", SimpleNamespace(of=lambda book, schedule: book.share)
    )
    monkeypatch.setattr(mission_study, "flying_schedule", lambda schedule: schedule)
    monkeypatch.setattr(
        mission_study, "held", lambda name, table, fold: SimpleNamespace(name=name, fold=fold)
    )
    monkeypatch.setattr(
        mission_study, "MissionFlyer",
        lambda book: SimpleNamespace(
            flight=lambda rule, legs: Flight(rule, energy(book.share, rule.fold))),
    )  # fmt: skip
    told = []
    tools = SimpleNamespace(
        schedule=None, legs=(), book=book, report=lambda *words: told.append(words)
    )
    return mission_study._respanned(tools, None, fixed), told


@pytest.mark.parametrize(("flat", "words"), [(9.0, "flat"), (np.nan, "at 20.0 deg")])
def test_other_tips_are_flown_up_to_the_longest_that_can_be_built(monkeypatch, flat, words):
    """One that cannot be trimmed is passed over; the first that cannot be built ends it."""
    longest, untrimmed = TIP_SPANS[-2], TIP_SPANS[1]
    fixed = [candidate(0.0, flat), candidate(20.0, 9.5)]
    found, told = respanned(
        monkeypatch, fixed, lambda share, fold: 50.0 + share, longest=longest, untrimmed=untrimmed
    )
    shares = [share for share in TIP_SPANS if share <= longest and share != untrimmed]
    assert [c.tip_span_share for c in found] == shares
    assert [c.mass_kg for c in found] == [1.0 + share for share in shares]
    assert [c.name for c in found] == [f"tips {share:g} times as long, {words}" for share in shares]
    assert [c.group for c in found] == ["respanned"] * len(shares)
    assert told[0] == ("other tips", 1, len(TIP_SPANS))
    assert told[-1] == ("other tips", len(TIP_SPANS) - 1, len(TIP_SPANS))
    assert respanned(monkeypatch, [candidate(0.0, np.nan)], None)[0] == ()


def test_other_tips_stand_at_the_better_fold_and_the_least_between_spans_is_flown(monkeypatch):
    """Short tips are best flat, others 20 degrees up, the best of all 0.6 times as long."""

    def energy(share, fold):
        return 10.0 + (share - 0.6) ** 2 + (share - 0.4) * (0.1 if fold == 0.0 else -0.1)

    fixed = [candidate(0.0, energy(1.0, 0.0)), candidate(20.0, energy(1.0, 20.0))]
    found, _ = respanned(monkeypatch, fixed, energy)
    assert [c.name for c in found[:2]] == [
        "tips 0.25 times as long, flat", "tips 0.5 times as long, at 20.0 deg",
    ]  # fmt: skip
    # Folded, d/ds [(s - 0.6)^2 - 0.1 s] = 0 at 0.65.
    assert found[-1].tip_span_share == pytest.approx(0.65)
    assert found[-1].energy == min(c.energy for c in found)
    level, _ = respanned(monkeypatch, [candidate(0.0, 5.0)], lambda share, fold: 5.0)
    assert len(level) == len(TIP_SPANS)


SCHEDULE = SimpleNamespace(airspeed_min_m_s=6.0, airspeed_max_m_s=12.0, speeds=4)


def leg(airspeed):
    return SimpleNamespace(airspeed_m_s=airspeed)


def test_airspeeds_of_a_mission():
    found = mission_study.mission_speeds(SCHEDULE, [leg(None), leg(9.0), leg(8.0), leg(10.0)])
    assert found.tolist() == [0.0, 6.0, 8.0, 9.0, 10.0, 12.0]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, None),
        ({"legs": []}, r"\[\[mission\]\] is missing"),
        ({"schedule": None}, r"\[schedule\] is missing"),
        ({"tips": {}}, "neither wing has tips"),
        ({"mass": None}, r"\[mass\] is missing"),
        ({"legs": [leg(6.0), leg(12.0)]}, None),
        ({"legs": [leg(9.0), leg(12.1)]}, r"mission.1.airspeed_m_s = 12.1; .* run from 6 to 12"),
        ({"legs": [leg(5.9)]}, r"mission.0.airspeed_m_s = 5.9"),
    ],
)
def test_what_a_mission_needs(more, words):
    craft = SimpleNamespace(**{
        "source_name": "x.toml", "schedule": SCHEDULE, "tips": {"upper": 1}, "mass": 1.0,
        **{k: v for k, v in more.items() if k != "legs"},
    })  # fmt: skip
    legs = more.get("legs", [leg(None)])
    if words is None:
        assert mission_study.checked_mission(craft, legs) is SCHEDULE
        return
    with pytest.raises(InputRefused, match=words):
        mission_study.checked_mission(craft, legs)


def test_samples_are_drawn_for_what_the_answer_compares(monkeypatch):
    """The schedule, every fold named, and the best of other tips; none where nothing is flown."""
    craft = SimpleNamespace(uncertainty="stated")
    short, long_ = candidate(0.0, 9.0, "short", share=0.9), candidate(0.0, 8.0, "long", share=1.1)
    study = mission_study.MissionStudy(
        craft, "", (), candidate(None, 10.0, "s"), (candidate(0.0, 11.0, "a"),
                                                    candidate(20.0, np.nan, "b")),
        (candidate(0.0, 12.0, "c"),), (), (short, long_),
    )  # fmt: skip
    draws = SimpleNamespace(factors="f", keys="k", shifts="s")
    monkeypatch.setattr(mission_study, "draws_of", lambda of: draws)
    monkeypatch.setattr(
        mission_study, "sampled_energies",
        lambda flight, *words: (
            np.array([[flight.energy - 1.0], [1.0]]) if words[:3] == ("f", "k", "s") else None
        ),
    )  # fmt: skip
    told = []
    found = mission_study._with_samples(study, lambda *words: told.append(words))
    assert found.schedule.samples.tolist() == [10.0]
    assert [c.samples is None for c in found.held] == [False, True]
    assert [c.samples is None for c in found.fixed] == [False]
    assert [c.samples is None for c in found.respanned] == [True, False]
    assert found.draws is draws
    assert told[0] == ("samples, s", 0, 1)
    assert found.best_purpose_built.name == "long"
    assert found.best_fixed.name == "c"
    craft.uncertainty = None
    assert mission_study._with_samples(study, lambda *_: None) is study


def test_what_keys_change_in_a_mission_leaves_folding_and_holding_as_they_are(monkeypatch):
    """Every part of a flight is summed with its legs' folding and holding: counted once."""
    legs = [SimpleNamespace(folding=3.0, holding=0.5), SimpleNamespace(folding=1.0, holding=0.25)]
    pieces = [
        SimpleNamespace(
            piece=SimpleNamespace(fold_deg=fold, climb_angle=0.1, load_factor=1.5), point=fold
        )
        for fold in (0.0, 10.0, 10.0)
    ]

    def by_leg(flight, power, samples):
        first, *others = (power(piece) for piece in pieces)
        return np.array([3.5 + first, 1.25 + sum(others)])

    made = []

    class Moved:
        def __init__(self, piece, keys, grid):
            made.append((piece, keys, grid))

        def response(self, point, climb, factor):
            assert (climb, factor) == (0.1, 1.5)
            return SimpleNamespace(at=lambda shifts: np.outer([1.0, 2.0], [point, 99.0]))

    monkeypatch.setattr(mission_samples, "_by_leg", by_leg)
    monkeypatch.setattr(mission_samples, "_piece_power", lambda piece, factors: np.full(2, 20.0))
    monkeypatch.setattr(mission_samples, "_unturned", lambda piece: piece.piece.fold_deg)
    monkeypatch.setattr(mission_samples, "MovedCraft", Moved)
    rule = SimpleNamespace(book=SimpleNamespace(grid="grid"))
    flight = SimpleNamespace(legs=legs, rule=rule)
    plain = mission_samples.sampled_energies(flight, np.ones((2, 8)))
    assert plain.tolist() == [[23.5, 23.5], [41.25, 41.25]]
    told = []
    moved = mission_samples.sampled_energies(
        flight, np.ones((2, 8)), ("k",), np.ones(2), told.append
    )
    assert moved.tolist() == [[23.5, 23.5], [41.25 + 20.0, 41.25 + 40.0]]
    assert made == [(0.0, ("k",), "grid"), (10.0, ("k",), "grid")]
    assert len(told) == 2


def test_folds_far_from_the_best_are_flown_half_way():
    """Least at 4 degrees, steep below, but of the table 0 is best and 28 comes next: what is read
    between these two falls toward 0."""

    def energy(fold):
        return 100.0 + (0.001 if fold > 4.0 else 0.02) * (fold - 4.0) ** 2

    found, at, asked = flights(energy, folds=(-1.0, 0.0, 28.0))
    assert energy(0.0) < energy(28.0)
    assert single_fold.best_between(found, at).energy == pytest.approx(100.0, abs=0.03)
    assert [fold for fold, _ in asked[:2]] == [14.0, 7.0]
    assert len(asked) <= 6
