"""Whether a motion keeps its limits: every row by the definition, value and half-width by hand.

A limit is surely kept where value and half-width together are within it, surely broken where the
value less the half-width is beyond it, and not known between.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.findings import Finding
from vlm.frames import wind_direction
from vlm.study.motion.judging import (
    BEYOND_ROTORS,
    NOT_KNOWN,
    NOT_TRUSTED,
    WIDEST_ROLL,
    _start_finding,
    _tables,
    limit_rows,
    rotor_findings,
    whether_within,
)
from vlm.study.motion.results import LimitRow, PeakRow

LOAD = PeakRow("load_factor", 2.0, 0.1, "1", 0.5)


def rows(
    *peaks: PeakRow, hinge: float | None = 5.0, before: list[PeakRow] | None = None
) -> list[LimitRow]:
    """Limits of 5 N m at the hinge, 0.8 N m of a servo and a load factor of 4."""
    drive = SimpleNamespace(
        hinge_moment_limit_N_m=hinge, servo_stall_torque_N_m=0.8, load_factor_limit=4.0
    )
    own = peaks if any(p.name == "load_factor" for p in peaks) else (*peaks, LOAD)
    return list(limit_rows(SimpleNamespace(actuator=drive), own, before))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "width", "kept"),
    [
        (3.0, 0.5, True), (3.5, 0.5, True), (3.75, 0.5, None), (4.0, 0.0, True), (4.5, 0.5, None),
        (4.75, 0.5, False), (-3.5, 0.5, True), (-3.75, 0.5, None), (-4.75, 0.5, False),
        (4.25, 0.0, False), (2.0, np.nan, None), (9.0, np.nan, None),
    ],
)  # fmt: skip
def test_a_size_is_within_its_limit_or_beyond_it_for_sure_or_neither(
    value: float, width: float, kept: bool | None
) -> None:
    """Of either sign; without a half-width nothing is sure."""
    [row] = rows(PeakRow("load_factor", value, width, "1", 0.5))
    assert row.kept is kept
    assert (row.name, row.value, row.limit, row.unit, row.at_s) == (
        "load factor", value, 4.0, "1", 0.5,
    )  # fmt: skip
    np.testing.assert_equal(row.half_width, width)


@pytest.mark.parametrize(
    ("value", "width", "kept"),
    [
        (2.0, 0.5, True), (0.5, 0.5, None), (0.5, 0.75, None), (0.25, 0.0, True), (0.0, 0.0, None),
        (-0.25, 0.0, False), (-0.5, 0.5, None), (-0.5, 0.75, None), (-2.0, 0.5, False),
        (2.0, np.nan, None),
    ],
)  # fmt: skip
def test_a_margin_is_above_nothing_or_below_it_for_sure_or_neither(
    value: float, width: float, kept: bool | None
) -> None:
    """Margins have signs: what is left to the stall."""
    row = rows(PeakRow("stall_margin_deg", value, width, "deg", 0.7))[-1]
    assert row.kept is kept
    assert (row.name, row.value, row.limit, row.unit, row.at_s) == (
        "margin to the stall", value, 0.0, "deg", 0.7,
    )  # fmt: skip


def test_the_worst_hinge_and_servo_are_those_that_may_reach_farthest() -> None:
    """Sizes with half-widths: 4.5 + 0.1 < 4.2 + 0.5."""
    found = rows(
        PeakRow("hinge_front_left_N_m", -4.5, 0.1, "N m", 0.1),
        PeakRow("hinge_rear_left_N_m", 4.2, 0.5, "N m", 0.2),
        PeakRow("worm_torque_left_N_m", 0.3, 0.0, "N m", 0.4),
        PeakRow("worm_torque_right_N_m", -0.9, 0.05, "N m", 0.5),
    )
    assert [(row.name, row.value, row.limit, row.at_s, row.kept) for row in found] == [
        ("hinge moment, rear left", 4.2, 5.0, 0.2, True),
        ("worm torque of one servo", -0.9, 0.8, 0.5, False),
        ("load factor", 2.0, 4.0, 0.5, True),
    ]


def test_only_limits_that_the_file_states_are_asked_for() -> None:
    """Without one of the hinge, or without a quantity, there is no row."""
    hinge = PeakRow("hinge_front_left_N_m", 9.0, 0.0, "N m", 0.1)
    assert [row.name for row in rows(hinge, hinge=None)] == ["load factor"]
    assert [row.name for row in rows(hinge)] == ["hinge moment, front left", "load factor"]
    assert [row.name for row in rows()] == ["load factor"]


def test_a_hinge_that_surely_breaks_the_limit_goes_before_one_that_may_reach_farther() -> None:
    """5.5 less 0.1 is beyond 5; 4 with 3 may be."""
    [row, _] = rows(
        PeakRow("hinge_front_left_N_m", -5.5, 0.1, "N m", 0.1),
        PeakRow("hinge_rear_left_N_m", 4.0, 3.0, "N m", 0.2),
    )
    assert (row.name, row.kept) == ("hinge moment, front left", False)


@pytest.mark.parametrize(
    ("value", "before", "kept", "shown"),
    [
        (2.0, 1.9, None, 2.0), (9.0, 3.0, None, 9.0), (9.0, 4.05, None, 9.0),
        (9.0, 4.2, False, 4.2), (-9.0, 4.2, False, 4.2), (9.0, None, None, 9.0),
    ],
)  # fmt: skip
def test_after_a_stall_only_what_was_broken_before_is_known(
    value: float, before: float | None, kept: bool | None, shown: float
) -> None:
    """The worst of all at 0.5 s, the worst before the stall at 0.2 s; a limit of 4."""
    load = PeakRow("load_factor", value, 0.1, "1", 0.5)
    early = [] if before is None else [PeakRow("load_factor", before, 0.1, "1", 0.2)]
    [row] = rows(load, before=early)
    assert (row.kept, row.value, row.at_s) == (kept, shown, 0.2 if kept is False else 0.5)
    [margin] = rows(load, PeakRow("stall_margin_deg", -2.0, 0.1, "deg", 0.5), before=early)[1:]
    assert margin.kept is False


def limit(kept: bool | None) -> LimitRow:
    """A limit of which only the verdict is asked."""
    return LimitRow("any", 1.0, 0.0, 2.0, "1", 0.0, kept)


@pytest.mark.parametrize(
    ("kept", "cut_off", "verdict"),
    [
        ((), "", True), ((True, True), "", True), ((True, None), "", None),
        ((None, False), "", False), ((True, False), "", False), ((True,), "too fast", False),
        ((None,), "too fast", False),
    ],
)  # fmt: skip
def test_all_limits_together(
    kept: tuple[bool | None, ...], cut_off: str, verdict: bool | None
) -> None:
    """One broken breaks all; one unknown leaves it open; so does a finding.

    What would happen in another flight mends nothing that is broken in this one.
    """
    limits = [limit(one) for one in kept]
    assert whether_within(limits, cut_off) is verdict
    for code in NOT_KNOWN:
        known = Finding(code, "", 0.0, 0.0, "1", "", "")
        open_to = None if code in NOT_TRUSTED or verdict is not False else False
        assert whether_within(limits, cut_off, [known]) is open_to
    assert {"start-beyond-rotors", "moment-not-held"} < set(NOT_KNOWN)
    other = Finding("any-other", "", 0.0, 0.0, "1", "", "")
    assert whether_within(limits, cut_off, [other]) is verdict


@pytest.mark.parametrize(
    ("thrusts", "value", "bound"),
    [
        ([5.0, 9.0], 9.0, 6.0),  # 3 over
        ([-4.0, 9.0], -4.0, 1.0),  # 5 under
        ([8.0, 1.5], 8.0, 4.0),  # 4 over, and 0.5 under
        ([8.0, -3.0], -3.0, 2.0),  # 5 under
    ],
)
def test_the_start_names_the_rotor_farthest_beyond_its_limits(
    thrusts: list[float], value: float, bound: float
) -> None:
    """Rotors from 1 to 4 N and from 2 to 6 N."""
    rotors = SimpleNamespace(low=np.array([1.0, 2.0]), high=np.array([4.0, 6.0]))
    plant: Any = SimpleNamespace(rotors=rotors)
    start: Any = SimpleNamespace(thrusts=np.array(thrusts))
    found = _start_finding(plant, start, "beyond")
    assert (found.value, found.limit, found.unit) == (value, bound, "N")
    assert found.what == "steady flight at the start: beyond"


def test_rolls_beyond_the_sections_table_are_reported_by_their_size() -> None:
    """The largest of either sign, roll alone; 6 rad/s is within."""
    rates = np.array([[1.0, 9.0, 9.0], [-6.5, 0.0, 0.0], [6.25, 0.0, 0.0]])
    history: Any = SimpleNamespace(rates=rates)
    agreed: Any = SimpleNamespace(sections=SimpleNamespace(agrees=True))
    parted: Any = SimpleNamespace(sections=SimpleNamespace(agrees=False))
    none: Any = SimpleNamespace(sections=None)
    [found] = _tables(agreed, history)
    assert (found.code, found.value, found.limit) == ("roll-beyond-table", 6.5, WIDEST_ROLL)
    told = _tables(parted, history)
    assert [one.code for one in told] == ["strips-disagree", "roll-beyond-table"]
    assert (told[0].value, told[0].limit) == (None, None)
    assert _tables(none, history) == []
    within: Any = SimpleNamespace(rates=np.array([[6.0, 0.0, 0.0]]))
    assert _tables(agreed, within) == []


def test_rotors_are_held_to_what_they_can_give_at_the_slowest_and_the_fastest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Limits of 10 N less half the airspeed; flown at 10, 10.4 and 14 m/s from a start at 10.

    At 14 m/s rotors a and b may give 3 N and give 3.5 and 4; what they give at 10 m/s is no matter.
    At 10.4 m/s the start's limits hold, at 10 too.
    """
    asked: list[tuple[object, ...]] = []

    def range_there(rotor: Any, thrust: float, most: float, wind: Any, *rest: object) -> Any:
        asked.append((rotor.name, thrust, most, tuple(wind), *rest))
        return SimpleNamespace(high=10.0 - 0.5 * float(np.linalg.norm(wind)))

    monkeypatch.setattr("vlm.study.motion.judging.thrust_range", range_there)
    history: Any = SimpleNamespace(
        airspeed=np.array([10.0, 10.4, 14.0, 13.6]),
        alpha=np.array([0.1, 0.2, 0.3, 0.4]),
        beta=np.array([0.0, 0.0, -0.1, 0.0]),
        thrusts=np.array([[8.0, 9.0], [9.0, 9.0], [2.0, 4.0], [3.5, 1.0]]),
    )
    craft = SimpleNamespace(
        rotors=[SimpleNamespace(name="a"), SimpleNamespace(name="b")], folder="there"
    )
    folding: Any = SimpleNamespace(craft=craft, symmetric_masses=SimpleNamespace(mass=2.0))
    task: Any = SimpleNamespace(airspeed=10.0)
    [found] = rotor_findings(folding, task, history, 1.2)
    assert (found.code, found.value, found.limit) == (BEYOND_ROTORS, 4.0, pytest.approx(3.0))
    assert "rotor b" in found.what
    assert "14 m/s" in found.what
    wind = tuple(14.0 * np.asarray(wind_direction(0.3, -0.1)))
    assert asked == [
        ("a", 8.0, 2.0 * GRAVITY, wind, 1.2, "there"),
        ("b", 9.0, 2.0 * GRAVITY, wind, 1.2, "there"),
    ]
    history.thrusts[2:] = [[2.0, 3.005], [3.009, 1.0]]  # less than 0.01 N over
    assert rotor_findings(folding, task, history, 1.2) == []
    history.thrusts[3, 0] = 3.02
    [found] = rotor_findings(folding, task, history, 1.2)
    assert "rotor a" in found.what
    assert found.value == 3.02


def test_rotors_are_held_at_the_slowest_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """From a start at 20 m/s: 10 m/s is half of it; 19.5 m/s is like it."""
    speeds: list[float] = []

    def range_there(rotor: Any, thrust: float, most: float, wind: Any, *rest: object) -> Any:
        speeds.append(float(np.linalg.norm(wind)))
        return SimpleNamespace(high=1.0)

    monkeypatch.setattr("vlm.study.motion.judging.thrust_range", range_there)
    history: Any = SimpleNamespace(
        airspeed=np.array([19.5, 10.0]), alpha=np.zeros(2), beta=np.zeros(2),
        thrusts=np.array([[9.0], [1.5]]),
    )  # fmt: skip
    craft = SimpleNamespace(rotors=[SimpleNamespace(name="a")], folder=None)
    folding: Any = SimpleNamespace(craft=craft, symmetric_masses=SimpleNamespace(mass=2.0))
    task: Any = SimpleNamespace(airspeed=20.0)
    [found] = rotor_findings(folding, task, history, 1.2)
    assert speeds == pytest.approx([10.0])
    assert (found.value, found.limit) == (1.5, 1.0)
