"""What is said of a bank history and of reversals, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.motion.roll_response import SLIP_REACHED
from vlm.show.sentences import open_roll, roll_faults
from vlm.sides import Side
from vlm.study.roll import verdicts as roll_verdicts
from vlm.study.roll.results import BankHistory, YawAidRow
from vlm.study.roll.reversal import reversal
from vlm.verdicts import SIGN_NOT_KNOWN


def response(bank_deg, cut_off="", stalled=0.0):
    bank = np.radians(np.array(bank_deg, dtype=float))
    count = len(bank)
    times = 0.5 * np.arange(count)

    def time_to(angle):
        reached = np.flatnonzero(np.sign(angle) * bank >= abs(angle))
        return float(times[reached[0]]) if len(reached) else None

    return SimpleNamespace(
        times=times,
        bank=bank,
        roll_rate=np.radians(np.linspace(0.0, -30.0, count)),
        yaw_rate=np.zeros(count),
        sideslip=np.radians(np.linspace(5.0, -3.0, count)),
        folds={
            Side.PORT: np.radians(np.full(count, 10.0)),
            Side.STARBOARD: np.radians(np.full(count, -20.0)),
        },
        yaw_moment=np.linspace(0.0, -0.4, count),
        stalled=np.full(count, stalled),
        cut_off=cut_off,
        time_to=time_to,
    )


def test_a_history_as_commanded():
    row = roll_verdicts.history_row("held", response([0.0, -2.0, 20.0, 50.0]), 0.5, 0.1)
    assert (row.commanded, row.ends, row.reverses) == ("to starboard", "to starboard", False)
    assert row.first_the_wrong_way_deg == pytest.approx(2.0)
    assert row.time_to_s == {"30": 1.5, "45": 1.5, "60": None}
    assert row.reversed_at_s is None
    assert (row.fold_left_deg[0], row.fold_right_deg[0]) == pytest.approx((10.0, -20.0))
    assert (row.peak_roll_rate_deg_s, row.peak_sideslip_deg) == pytest.approx((30.0, 5.0))
    assert (row.cut_off_at_s, row.departs) == (None, False)


def test_how_a_history_ends_is_not_known_where_its_loads_do_not_hold():
    """A cut off history and one that ends reversed, both with sideslip that tables miss."""
    cut = roll_verdicts.history_row(
        "free in yaw", response([0.0, 20.0, 30.0], cut_off=SLIP_REACHED), 0.5, 0.1, loads_hold=False
    )
    back = roll_verdicts.history_row(
        "rotors aid yaw", response([0.0, 5.0, -30.0]), 0.5, 0.1, loads_hold=False
    )
    assert [(row.ends, row.reverses) for row in (cut, back)] == 2 * [(SIGN_NOT_KNOWN, False)]
    told_of = told(cut)["history_cut_off"]
    assert "may depart" in told_of.remedy
    history = BankHistory(left_deg=15.0, right_deg=-90.0, histories=(cut, back))
    study = SimpleNamespace(reversals=(), bank_history=history)
    assert roll_faults(study) == []
    assert open_roll(study).startswith(
        "how it rolls folded to port 15.0, starboard -90.0 deg, free in yaw and rotors aid yaw:"
    )


def test_how_a_history_ends_is_not_known_where_the_rotors_decide():
    """Cut off with rotors that hold their speed, not with those that hold their torque."""
    row = roll_verdicts.history_row(
        "free in yaw", response([0.0, 20.0, 30.0], cut_off=SLIP_REACHED), 0.5, 0.1,
        rotors_decide=True,
    )  # fmt: skip
    assert (row.ends, row.departs, row.end_is_known) == (SIGN_NOT_KNOWN, True, False)
    assert "may depart" in told(row)["history_cut_off"].remedy
    history = BankHistory(left_deg=15.0, right_deg=-90.0, histories=(row,))
    study = SimpleNamespace(reversals=(), bank_history=history)
    assert roll_faults(study) == []
    assert open_roll(study).endswith(
        "free in yaw: what is not known of the rotors' own answer to the air decides it"
    )


def test_the_end_of_a_history_is_its_way_and_why_it_is_cut_off():
    assert roll_verdicts.ending(response([0.0, 20.0])) == ("to starboard", "")
    cut = response([0.0, -0.05], cut_off=SLIP_REACHED)
    assert roll_verdicts.ending(cut) == ("no roll", SLIP_REACHED)


def test_a_history_to_port_that_turns_round():
    """From -10 to +30 deg between 0.5 and 1 s: through zero a quarter of the way."""
    row = roll_verdicts.history_row("free", response([0.0, -10.0, 30.0]), -0.5, 0.1)
    assert (row.commanded, row.ends, row.reverses) == ("to port", "to starboard", True)
    assert row.reversed_at_s == pytest.approx(0.5 + 0.25 * 0.5)
    assert row.first_the_wrong_way_deg == 0.0
    assert row.time_to_s == {"30": None, "45": None, "60": None}
    never = roll_verdicts.history_row("free", response([0.0, 10.0, 30.0]), -0.5, 0.1)
    assert never.reversed_at_s == 0.0


@pytest.mark.parametrize(
    ("bank", "moment", "ends", "reverses"),
    [([0.0, 0.05], 0.5, "no roll", False), ([0.0, 0.15], 0.5, "to starboard", False),
     ([0.0, -0.15], 0.5, "to port", True), ([0.0, -0.15], 0.05, "to port", False),
     ([0.0, -0.05], 0.5, "no roll", False)],
)  # fmt: skip
def test_a_tenth_of_a_degree_is_no_way_yet(bank, moment, ends, reverses):
    row = roll_verdicts.history_row("held", response(bank), moment, 0.1)
    assert (row.ends, row.reverses) == (ends, reverses)
    assert row.commanded == (SIGN_NOT_KNOWN if moment == 0.05 else "to starboard")


def told(row, aid=None, turned=()):
    history = BankHistory(histories=(row,), yaw_aid=aid)
    return {f.code: f for f in roll_verdicts.roll_findings(9.0, turned, history)}


def test_what_is_reported_of_a_history():
    row = roll_verdicts.history_row("free", response([0.0, -10.0, 30.0], stalled=0.2), -0.5, 0.1)
    found = told(row, YawAidRow(1.0, 1.0, -0.3, 0.9))
    assert set(found) == {"control_reversal", "history_stall", "yaw_at_limit"}
    assert found["control_reversal"].value == pytest.approx(30.0)
    assert "ends to starboard; bank at the end" in found["control_reversal"].what
    assert (found["history_stall"].value, found["history_stall"].limit) == (0.2, 0.1)
    assert (found["yaw_at_limit"].value, found["yaw_at_limit"].limit) == (0.4, 0.3)
    cut = roll_verdicts.history_row(
        "free", response([0.0, 9.0], roll_verdicts.SLIP_REACHED), 0.5, 0.1
    )
    found = told(cut)
    assert set(found) == {"history_cut_off"}
    assert found["history_cut_off"].value == 0.5
    assert "cut off within its 9 s:" in found["history_cut_off"].what


@pytest.mark.parametrize(
    ("stalled", "limits", "codes"),
    [
        (0.1, (None, None), set()),
        (0.11, (None, None), {"history_stall"}),
        (0.0, (-0.401, 0.5), set()),
        (0.0, (-0.4003, None), {"yaw_at_limit"}),
        (0.0, (-9.0, 0.4), {"yaw_at_limit"}),
        (0.0, (-np.inf, np.inf), set()),
    ],
)
def test_stall_beyond_a_tenth_and_yaw_at_its_limit_are_reported(stalled, limits, codes):
    row = roll_verdicts.history_row("held", response([0.0, 9.0], stalled=stalled), 0.5, 0.1)
    assert set(told(row, YawAidRow(1.0, 1.0, *limits))) == codes


@pytest.mark.parametrize(
    ("width", "half"), [(0.02, 0.01), (9.0, 4.5), (0.0, 0.0), (np.nan, np.inf)]
)
def test_a_reversal_is_known_to_the_moment_s_width_over_its_slope(width, half):
    """A moment of 2 (V - 11) N m a metre a second."""
    found = reversal(8.0, 13.0, lambda v: 2.0 * (v - 11.0), lambda v: width)
    assert found == pytest.approx((11.0, half), abs=1e-3)


def test_a_reversal_without_values_or_slope_is_not_known():
    assert reversal(8.0, 13.0, lambda v: np.nan, lambda v: 0.1) == (10.5, np.inf)
    jump = reversal(8.0, 13.0, lambda v: 0.0 if 10.0 < v < 12.0 else v - 11.0, lambda v: 0.1)
    assert jump[1] == np.inf


def authority(*senses):
    rows = []
    for speed, sense in zip((8.0, 10.0, 13.0, 17.0), senses, strict=True):
        one = None if sense is None else SimpleNamespace(sense=sense)
        keys = dict.fromkeys(roll_verdicts.COMMANDS) | {"strongest": one}
        rows.append(SimpleNamespace(airspeed_m_s=speed, **keys))
    return rows


@pytest.mark.parametrize(
    ("senses", "width", "half"),
    [
        (("to port", "to port", "to starboard", "to starboard"), 0.02, 0.01),
        # No farther than the airspeeds of the table at which the sign is known.
        (("to port", "to port", "to starboard", "to starboard"), 99.0, 2.0),
        (("to port", SIGN_NOT_KNOWN, "to starboard", "to starboard"), 99.0, 3.0),
        (("to port", None, SIGN_NOT_KNOWN, "to starboard"), 99.0, 6.0),
        (("to port", "to port", "to port", SIGN_NOT_KNOWN), 0.02, None),
    ],
)
def test_a_command_reverses_between_airspeeds_of_known_signs(senses, width, half):
    found = roll_verdicts.reversals(
        authority(*senses), lambda key, v: 2.0 * (v - 11.0), lambda key, v: width
    )
    assert [(r.command, r.below, r.above) for r in found] == (
        [("strongest pair", "to port", "to starboard")] if half else []
    )
    assert [(r.airspeed_m_s, r.half_width_m_s) for r in found] == (
        [pytest.approx((11.0, half), abs=2e-3)] if half else []
    )
