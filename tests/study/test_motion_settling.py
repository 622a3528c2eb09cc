"""Swings that grow at the end of a motion are reported, others are not."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description import load_biplane
from vlm.description.folds import FoldAngles
from vlm.description.motion import Scenario
from vlm.flight.simulation.building import Modelled, motion_of
from vlm.flight.simulation.task import Task, task_of
from vlm.lattice.cellule import Grid
from vlm.study.motion import settling as motion_settling
from vlm.study.motion.judging import whether_within
from vlm.study.motion.results import LimitRow
from vlm.study.motion.settling import UPSET_GROWS, growth_findings, upset_findings
from vlm.study.motion.study import Flown, flown

TIMES = np.linspace(0.0, 6.0, 1201)
FLAT = FoldAngles(0.0, 0.0)
TASK = Task("test", 13.0, 6.0, FLAT)


def history(rate: float, size: float = 0.02, drift: float = 0.0) -> SimpleNamespace:
    """A pitch attitude that swings ten times with a growth [1/s] about a drift [rad/s]."""
    none = np.zeros_like(TIMES)
    swing = size * np.exp(rate * TIMES) * np.sin(10.0 * TIMES)
    return SimpleNamespace(
        times=TIMES, bank=none, beta=none, pitch=swing + drift * TIMES,
        worms={"left": none}, targets={"left": none},
    )  # fmt: skip


@pytest.mark.parametrize(("rate", "grows"), [(0.1, True), (0.0, False), (-0.1, False)])
def test_a_swing_that_grows(rate: float, grows: bool) -> None:
    found = growth_findings(TASK, history(rate, drift=0.05))  # type: ignore[arg-type]
    assert bool(found) is grows
    if grows:
        # Of an exponential: three seconds later, over the half before.
        assert found[0].value == pytest.approx(np.exp(0.3), rel=0.05)
        assert "pitch attitude" in found[0].what


def test_a_swing_that_grows_with_rotors_within_their_error_is_told_of() -> None:
    """Where the history itself grows, that is told, and not the other."""
    still, grows, faster = history(-0.1), history(0.1), history(0.3)
    assert growth_findings(TASK, still, (still, still)) == []  # type: ignore[arg-type]
    (found,) = growth_findings(TASK, still, (still, grows))  # type: ignore[arg-type]
    assert found.what.startswith("with rotors within their error the pitch attitude swings")
    assert found.value == pytest.approx(np.exp(0.3), rel=0.05)
    (found,) = growth_findings(TASK, grows, (still, faster))  # type: ignore[arg-type]
    assert found.what.startswith("the pitch attitude swings")
    assert found.value == pytest.approx(np.exp(0.3), rel=0.05)


def test_small_swings_and_short_histories_are_let_be() -> None:
    assert growth_findings(TASK, history(0.3, size=1e-4)) == []  # type: ignore[arg-type]
    late = Task("test", 13.0, 6.0, FLAT, target=FLAT, command_at=5.5)
    assert growth_findings(late, history(0.5)) == []  # type: ignore[arg-type]


def upset(
    monkeypatch: pytest.MonkeyPatch, rate: float, cut_off: str = "", bank: float = 0.0
) -> tuple[list[str], list[float]]:
    """Codes of what is reported of a motion that slips by an invented history when it is upset."""
    begun: list[float] = []
    slips = 0.02 * np.exp(rate * TIMES) * np.sin(10.0 * TIMES)

    def run(plant: object, task: object, law: object, start: SimpleNamespace) -> SimpleNamespace:
        begun.append(float(start.state[1]))
        return SimpleNamespace(cut_off=cut_off, times=TIMES)

    flown = SimpleNamespace(**{**vars(history(0.0)), "beta": slips})
    monkeypatch.setattr(motion_settling, "run", run)
    monkeypatch.setattr(motion_settling, "history_of", lambda plant, done: flown)
    monkeypatch.setattr(
        motion_settling, "replace", lambda start, state: SimpleNamespace(state=state)
    )
    monkeypatch.setattr(
        motion_settling, "layout_of", lambda plant: SimpleNamespace(speeds=slice(0, 8))
    )
    own = SimpleNamespace(**{**vars(history(0.0)), "bank": np.full_like(TIMES, bank)})
    start = SimpleNamespace(state=np.zeros(20))
    found = upset_findings([None], TASK, None, start, own)  # type: ignore[arg-type]
    return [one.code for one in found], begun


@pytest.mark.parametrize(
    ("rate", "cut_off", "bank", "told"),
    [(0.1, "", 0.0, True), (-0.1, "", 0.0, False), (-0.1, "sideslip", 0.0, True),
     (0.1, "", 0.02, False)],
)  # fmt: skip
def test_whether_a_little_sideslip_grows_in_a_motion_that_has_none(
    monkeypatch, rate, cut_off, bank, told
):
    """At 13 m/s a degree of it is 0.227 m/s; a motion that banks by itself is not flown again."""
    codes, begun = upset(monkeypatch, rate, cut_off, bank)
    assert codes == ([UPSET_GROWS] if told else [])
    assert begun == ([] if bank else [pytest.approx(0.227, rel=1e-3)])


def test_a_little_sideslip_is_also_looked_at_with_rotors_within_their_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of plants named by the rate at which they slip; the first that grows is told of."""
    calm = SimpleNamespace(**vars(history(0.0)))
    monkeypatch.setattr(motion_settling, "run", lambda plant, *_: SimpleNamespace(cut_off=""))
    monkeypatch.setattr(
        motion_settling, "layout_of", lambda plant: SimpleNamespace(speeds=slice(0, 8))
    )
    monkeypatch.setattr(
        motion_settling, "replace", lambda start, state: SimpleNamespace(state=state)
    )
    monkeypatch.setattr(
        motion_settling, "history_of",
        lambda plant, done: SimpleNamespace(
            **{**vars(calm), "beta": 0.02 * np.exp(plant * TIMES) * np.sin(10.0 * TIMES)}
        ),
    )  # fmt: skip
    start = SimpleNamespace(state=np.zeros(20))

    def told(*plants: float) -> list[str]:
        found = upset_findings(plants, TASK, None, start, calm)  # type: ignore[arg-type]
        return [one.what for one in found]

    assert told(-0.1, -0.2, -0.05) == []
    (what,) = told(-0.1, -0.2, 0.1)
    assert "grows: with rotors within their error the sideslip swings" in what
    (what,) = told(0.1, 0.2, -0.1)
    assert "grows: the sideslip swings" in what


@pytest.mark.slow
@pytest.mark.parametrize(("fold", "departs"), [(-45.0, True), (15.0, False)])
def test_what_is_reported_of_a_little_sideslip_is_what_sides_apart_do(
    fold: float, departs: bool
) -> None:
    """Both sides told alike it never rolls; told a degree apart it departs, or does not."""
    craft = load_biplane("tideline")
    law = motion_of(craft).law

    def on_the_way(starboard: float) -> tuple[Task, Flown]:
        scenario = Scenario(name="fold", airspeed_m_s=13.0, to_left_deg=fold,
                            to_right_deg=starboard, duration_s=5.0)  # fmt: skip
        task = task_of(craft, scenario)
        modelled = Modelled(
            Grid(2, 8), sections=False, lagged=False, apparent=False, slipstream=False
        )
        return task, flown(craft, task, modelled, law)

    _, apart = on_the_way(fold + 1.0)
    assert bool(apart.run.cut_off) is departs
    task, alike = on_the_way(fold)
    assert not alike.run.cut_off
    assert np.abs(alike.history.bank).max() < 1e-6
    found = upset_findings([alike.plant], task, law, alike.start, alike.history)
    assert [one.code for one in found] == ([UPSET_GROWS] if departs else [])
    kept = [LimitRow("load factor", 1.1, 0.1, 3.0, "1", 0.0, kept=True)]
    assert whether_within(kept, "", found) is (None if departs else True)
