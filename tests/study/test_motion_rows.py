"""Rows of a motion with their half-widths, by hand.

No source but the rules stated in the module; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.show.tables import motion as motion_table
from vlm.show.text.layout import WIDTH
from vlm.sides import Side
from vlm.study.motion import study as motion_study
from vlm.study.motion.results import PeakRow, SideRow
from vlm.study.motion.study import Again, Flown

TIMES = np.array([0.0, 1.0, 2.0])


def flight(columns=None, cut_off="", **history):
    """One way in which a scenario was flown; its columns are put in."""
    made = Flown(
        None, None, None, SimpleNamespace(cut_off=cut_off, times=TIMES, jammed_at=(np.nan, 0.7)),
        SimpleNamespace(times=TIMES, **history),
    )  # fmt: skip
    made.__dict__["columns"] = {k: np.array(v, dtype=float) for k, v in (columns or {}).items()}
    return made


@pytest.fixture(autouse=True)
def _known_widths(monkeypatch):
    monkeypatch.setattr(
        motion_study, "half_width",
        lambda fine, rough, size, grid: 0.5 * abs(fine - rough) + 0.01 * size,
    )  # fmt: skip


def test_half_width_at_the_end_adds_lattice_and_every_group():
    """0.5 |5 - 4| + 0.01 times the range of 6, then |4.5 - 4| and |3 - 4|."""
    own, rough = flight({"bank_deg": [-1, 2, 5]}), flight({"bank_deg": [0, 2, 4]})
    off = flight({"bank_deg": [0, 2, 4.5]}), flight({"bank_deg": [0, 2, 3]})
    found = motion_study._end_width(own, Again(rough, off, None), "bank_deg", None)
    assert found == pytest.approx(0.5 + 0.06 + 0.5 + 1.0)
    short = flight({"bank_deg": [0, 2]})
    assert np.isnan(motion_study._end_width(own, Again(rough, (short,), None), "bank_deg", None))
    assert np.isnan(motion_study._end_width(own, Again(short, (), None), "bank_deg", None))
    assert np.isnan(motion_study._end_width(own, None, "bank_deg", None))


def test_of_what_rotors_may_hold_the_larger_change_counts():
    """On top of the groups, |4.5 - 4|: of |3.4 - 4| and |4.3 - 4| the first."""
    own, rough, off, *ends = (flight({"bank_deg": [0, 2, end]}) for end in (5, 4, 4.5, 3.4, 4.3))
    again = Again(rough, (off,), None, tuple(ends))
    found = motion_study._end_width(own, again, "bank_deg", None)
    assert found == pytest.approx(0.5 + 0.05 + 0.5 + 0.6)
    assert again.model_width(None, "bank_deg") == pytest.approx(0.5 + 0.6)
    early = flight({"bank_deg": [0, 2]}, "sideslip")
    early.history.times = TIMES[:2]
    cut = replace(again, rotors=(ends[0], early))
    assert np.isnan(motion_study._end_width(own, cut, "bank_deg", None))
    assert cut.known_until(own) == 1.0
    assert len(cut.cut_off_findings()) == 1


def test_half_width_of_a_time_to_fold(monkeypatch):
    """And a step of the samples, 1/200 s; not known where one flight does not arrive."""
    monkeypatch.setattr(motion_study, "_arrival", lambda task, history, side: history.arrives)
    own, rough, off = (flight(arrives=t) for t in (2.0, 1.8, 1.9))
    width = motion_study._time_width
    expected = 0.1 + 0.02 + 0.1 + 0.005
    assert width(None, own, Again(rough, (off,), None), Side.PORT, None) == pytest.approx(expected)
    slow = Again(rough, (off,), None, (flight(arrives=1.81), flight(arrives=1.76)))
    assert width(None, own, slow, Side.PORT, None) == pytest.approx(expected + 0.04)
    never = flight(arrives=None)
    for again in (Again(never, (off,), None), Again(rough, (off, never), None),
                  Again(rough, (off,), None, (never,)), None):  # fmt: skip
        assert width(None, own, again, Side.PORT, None) is None
    assert width(None, never, Again(rough, (off,), None), Side.PORT, None) is None


def test_half_widths_of_extremes(monkeypatch):
    """The extreme of each flight counts, wherever in time it stands: sizes 5 and 4, the range 6;
    the model's part of a hinge adds that tip's own, of a worm the servo's."""
    spread = SimpleNamespace(hinges={"upper_left": 0.3, "lower_left": 0.4, "upper_right": 0.9})
    column = "hinge_upper_left_N_m"
    rough = flight({column: [1, 4, 0], "worm_torque_left_N_m": [0, 1, 2]})
    off = flight({column: [4.25, 0, 0], "worm_torque_left_N_m": [0, -2.5, 0]})
    again = Again(rough, (off, off), spread)
    tips = [
        SimpleNamespace(body="upper_left", side=0, linkage=-0.5),
        SimpleNamespace(body="lower_left", side=0, linkage=1.0),
        SimpleNamespace(body="upper_right", side=1, linkage=1.0),
    ]
    plant = SimpleNamespace(bodies=SimpleNamespace(tips=tips))
    seen = []
    monkeypatch.setattr(
        motion_study, "worm_width", lambda plant, side, own: seen.append((side, own)) or 7.0
    )
    assert again.model_width(plant, column) == pytest.approx(0.25 + 0.25 + 0.3)
    assert seen == []
    # 2 against -2.5, which never comes above 0.
    assert again.model_width(plant, "worm_torque_left_N_m") == pytest.approx(2.0 + 2.0 + 7.0)
    assert seen == [(0, [pytest.approx(0.15), pytest.approx(0.4)])]
    columns = {"time_s": TIMES, column: np.array([-1.0, 0.0, 5.0]),
               "current_left_A": np.array([1.0, np.nan, 0.0])}  # fmt: skip
    columns |= {name: np.zeros(3) for name, _ in motion_study.PEAKS}
    monkeypatch.setattr(motion_study, "columns_of", lambda plant, history: columns)
    own = Flown(None, plant, None, SimpleNamespace(cut_off=""), None)
    rough.columns.update({name: np.zeros(3) for name, _ in motion_study.PEAKS})
    off.columns.update({name: np.zeros(3) for name, _ in motion_study.PEAKS})
    rows = {row.name: row for row in motion_study.peak_rows(own, again, None)}
    row = rows[column]
    assert (row.value, row.unit, row.at_s) == (5.0, "N m", 2.0)
    assert row.half_width == pytest.approx(0.5 * 1.0 + 0.06 + 0.8)
    assert "current_left_A" not in rows
    assert np.isnan(motion_study.peak_rows(own, None, None)[0].half_width)


def test_a_bank_that_may_be_any_has_no_half_width(monkeypatch):
    """Flights that go over on their backs: 180 degrees of bank apart say nothing of it."""
    zeros = {name: np.zeros(3) for name, _ in motion_study.PEAKS}
    own, over = ({**zeros, "bank_deg": np.array([0.0, end, end])} for end in (30.0, 210.0))
    monkeypatch.setattr(motion_study, "columns_of", lambda *_: {"time_s": TIMES, **own})
    made = Flown(None, None, None, SimpleNamespace(cut_off="", times=TIMES), None)
    made.__dict__["columns"] = own
    again = Again(flight(own), (flight(over),), SimpleNamespace(hinges={}))
    assert np.isnan(motion_study.peak_rows(made, again, None)[0].half_width)
    assert np.isnan(motion_study._end_width(made, again, "bank_deg", None))
    near = Again(flight(own), (flight({**own, "bank_deg": [0, 80, 80]}),), again.spread)
    assert motion_study.peak_rows(made, near, None)[0].half_width == pytest.approx(50.3)
    assert motion_study._end_width(made, near, "bank_deg", None) == pytest.approx(50.3)


def test_extremes_before_a_time_are_those_of_every_flight_before_it(monkeypatch):
    """Before 2 s: 1 of own, 3 on the rough lattice, 2 with loads off; ranges count until then."""
    column = {"load_factor": [1, 0.5, 9]}
    own = {"time_s": TIMES, "current_left_A": np.zeros(3), **column}
    own |= {name: np.zeros(3) for name, _ in motion_study.PEAKS if name not in own}
    monkeypatch.setattr(
        motion_study, "columns_of", lambda plant, history: {k: np.array(v) for k, v in own.items()}
    )
    rough, off = (flight({**own, "load_factor": one}) for one in ([3, 0, 0], [0, 2, 7]))
    again = Again(rough, (off,), SimpleNamespace(hinges={}))
    made = Flown(None, None, None, SimpleNamespace(cut_off=""), None)
    rows = {row.name: row for row in motion_study.peak_rows(made, again, None, before_s=2.0)}
    row = rows["load_factor"]
    assert (row.value, row.at_s) == (1.0, 0.0)
    assert row.half_width == pytest.approx(0.5 * 2.0 + 0.005 + 1.0)
    assert motion_study.peak_rows(made, again, None, before_s=0.0) == ()


@pytest.mark.parametrize("to_port", [1.0, -1.0])
def test_a_swing_that_goes_a_little_farther_the_other_way_is_not_off_by_all_of_it(to_port):
    """5.0 and -4.9 against 4.9 and -5.0: off by 0.1; but 9 the other way is larger by 4."""
    own, other, far = (to_port * np.array(v) for v in ([5.0, -4.9], [4.9, -5.0], [5.0, -9.0]))
    assert motion_study.apart("bank_deg", own, other) == pytest.approx(0.1)
    assert motion_study.apart("bank_deg", own, far) == pytest.approx(4.0)
    assert motion_study.apart("height_m", np.array([0, -2.0]), np.array([5.0, -1.5])) == 0.5


def cut_off_rows(own_values, rough_values, cut=("", "passes 24 deg"), ends=(2.0, 1.0)):
    """Extremes of the angle of attack where own and rough flight end at these times."""
    made = []
    for values, why, end in zip((own_values, rough_values), cut, ends, strict=True):
        kept = end >= TIMES
        columns = {name: np.zeros(kept.sum()) for name, _ in motion_study.PEAKS}
        columns |= {"time_s": TIMES[kept], "alpha_deg": np.array(values, float)[kept]}
        made.append(Flown(None, None, None, SimpleNamespace(cut_off=why, times=TIMES[kept]),
                          SimpleNamespace(times=TIMES[kept])))  # fmt: skip
        made[-1].__dict__["columns"] = columns
    own, rough = made
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(motion_study, "columns_of", lambda plant, history: own.columns)
        again = Again(rough, (), SimpleNamespace(hinges={}))
        rows = {row.name: row for row in motion_study.peak_rows(own, again, None)}
    return again.known_until(own), rows["alpha_deg"]


def test_an_extreme_beyond_where_a_flight_is_cut_off_has_no_half_width():
    """Cut off at 1 s: 6 at 0 s is compared until then, with 7; 9 at 2 s with nothing."""
    until, row = cut_off_rows([6.0, 4.0, 5.0], [7.0, 3.0, 0.0])
    assert (until, row.value, row.at_s) == (1.0, 6.0, 0.0)
    assert row.half_width == pytest.approx(0.5 * 1.0 + 0.01 * 2.0)
    until, row = cut_off_rows([6.0, 4.0, 9.0], [7.0, 3.0, 0.0])
    assert (row.value, row.at_s) == (9.0, 2.0)
    assert np.isnan(row.half_width)


def test_an_extreme_of_flights_that_part_before_one_is_cut_off_has_no_half_width():
    """-20 against 90: larger by 70, where all that was passed through is 24."""
    _, row = cut_off_rows([4.0, -20.0, 0.0], [4.0, 90.0, 0.0], ("passes 24 deg", ""), (1.0, 2.0))
    assert row.value == -20.0
    assert np.isnan(row.half_width)
    until, row = cut_off_rows([4.0, -20.0, 0.0], [4.0, 90.0, 0.0], ("", ""), (2.0, 2.0))
    assert until == motion_study.NEVER
    assert row.half_width == pytest.approx(0.5 * 70.0 + 0.01 * 24.0)


def test_what_is_not_known_of_a_flight_that_is_cut_off_is_said():
    row = PeakRow("alpha_deg", -20.4, float("nan"), "deg", 1.2)
    study = SimpleNamespace(peaks=(row,), known_until_s=1.25, cut_off_at_s=None)
    text = motion_table._peaks(study, False)
    assert "-20.4 ± not known" in text
    assert "a flight within the errors is cut off at 1.25 s" in " ".join(text.split())
    study.cut_off_at_s = 1.25
    assert "this flight is cut off at 1.25 s" in motion_table._peaks(study, False)
    study.known_until_s = None  # no ± was worked out at all
    assert motion_table._peaks(study, False).endswith("-20.4   1.20")


@pytest.mark.parametrize(
    ("ends", "named"), [((2.0, 2.0, 2.0), False), ((2.0, 1.5, 0.5), True), ((1.2, 2.0, 2.0), True)]
)
def test_a_history_that_errors_cut_off_is_reported_with_its_earliest_end(ends, named):
    made = []
    for end in ends:
        cut = "the sideslip passes 32 deg" if end < 2.0 else ""
        made.append(flight(cut_off=cut))
        made[-1].run.times = np.array([0.0, end])
    made[0].history.times = np.array([0.0, 1.9])
    found = Again(made[0], tuple(made[1:]), None).cut_off_findings()
    assert bool(found) == named
    if named:
        assert found[0].value == min(end for end in ends if end < 2.0)
        assert found[0].limit is None
        assert "sideslip passes 32" in found[0].what


@pytest.mark.parametrize(
    ("margins", "time"),
    [([0.1, 0.2, 0.0], np.inf), ([0.1, -0.1, 0.2], 1.0), ([-0.1, -0.1, -0.1], 0.0)],
)
def test_when_a_strip_is_first_past_its_stall(margins, time):
    assert motion_study._stalled_from(flight(stall_margin=np.array(margins))) == time


@pytest.mark.parametrize(
    ("let_go", "told"), [(0.5, 0.5), (2.0, 2.0), (2.5, None), (motion_study.NEVER, None)]
)
def test_a_side_s_row(monkeypatch, let_go, told):
    sides = {"left": np.radians([0.0, -10.0, -30.0]), "right": np.radians([5.0, 7.0, 9.0])}
    history = SimpleNamespace(
        times=TIMES, folds=sides, targets={k: 2.0 * v for k, v in sides.items()},
        fold_rates={k: np.radians([1.0, -4.0, 2.0]) for k in sides},
    )  # fmt: skip
    own = Flown(None, None, None, SimpleNamespace(jammed_at=(np.nan, 0.7)), history)
    task = SimpleNamespace(
        lets_go=(let_go, let_go), duration=2.0, target=None, schedule=None,
        start=SimpleNamespace(left_deg=0.0, right_deg=5.0),
    )  # fmt: skip
    port, starboard = (motion_study._side(task, own, None, side, None) for side in (0, 1))
    assert (port.side, starboard.side) == ("left", "right")
    assert (port.start_deg, starboard.start_deg) == (0.0, 5.0)
    assert (port.end_deg, starboard.end_deg) == pytest.approx((-30.0, 9.0))
    assert (port.commanded_deg, starboard.commanded_deg) == pytest.approx((-60.0, 18.0))
    assert (port.jammed_at_s, starboard.jammed_at_s) == (None, 0.7)
    assert port.let_go_at_s == told
    assert port.peak_rate_deg_s == pytest.approx(4.0)
    assert port.commanded_by == "nothing"
    task.schedule = ()
    assert motion_study._commanded_by(task) == "schedule"
    task.target = 1
    assert motion_study._commanded_by(task) == "command"


@pytest.mark.parametrize(
    ("start", "commanded", "time", "said"),
    [(0.0, 0.0, None, "held"), (0.0, 20.0, None, "does not arrive"), (0.0, 20.0, 0.5, "")],
)
def test_tips_that_are_told_to_stay_do_not_fail_to_arrive(start, commanded, time, said):
    """The widest row of the table fits a page."""
    row = SideRow(
        side=Side.STARBOARD, start_deg=start, commanded_deg=commanded, commanded_by="command",
        end_deg=-0.0701, time_s=time, time_half_width_s=0.0079, peak_rate_deg_s=37.5,
        jammed_at_s=None, let_go_at_s=None,
    )  # fmt: skip
    text = motion_table._sides((row, replace(row, time_s=0.57)))
    assert text.splitlines()[2].endswith(f" {said}" if said else "37.5")
    assert max(len(line) for line in text.splitlines()) <= WIDTH


def test_limits_that_are_kept_are_kept_for_the_time_flown():
    """What comes after the run is not known, so that the sentence names its length."""
    study = SimpleNamespace(
        cut_off="", state={"duration_s": 2.5}, within_limits=True, sides=(), rotors_limited_s=0.0,
        findings=(), limits=(), bank_end_deg=1.0, bank_end_half_width_deg=0.1, height_end_m=0.0,
        height_end_half_width_m=0.1, known_until_s=None,
        peak=lambda name: SimpleNamespace(value=-0.2, half_width=0.1),
    )  # fmt: skip
    assert motion_table.motion_answer(study)[0] == "Stays within the limits below for its 2.5 s."
