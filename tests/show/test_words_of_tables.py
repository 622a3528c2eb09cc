"""How tables and sentences print numbers that they used to print badly; all numbers invented."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.figure import Figure

from vlm.description.loading import load_biplane
from vlm.errors import InputRefused, nearest_name
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.plain import from_to, plus_minus
from vlm.show.plots import design as design_plots
from vlm.show.tables import compare as compare_tables
from vlm.show.tables import design as design_tables
from vlm.show.tables import hinge as hinge_tables
from vlm.show.tables import lateral as lateral_tables
from vlm.show.tables import log as log_tables
from vlm.show.tables import motion as motion_tables
from vlm.show.tables import roll as roll_tables
from vlm.show.tables.convergence import percentage
from vlm.show.text.layout import with_error
from vlm.sides import Side
from vlm.study.compare.results import Group, Known
from vlm.study.hinge import study as hinge_study
from vlm.study.hinge.results import TO_LIMIT, HingePlan, MoveRow
from vlm.study.mission.break_even import _weightless_words
from vlm.verdicts import SIGN_NOT_KNOWN


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (1407.2, 182.4, "1410 ± 180"), (741.0, 116.0, "740 ± 120"), (376.4, 50.3, "376 ± 50"),
        (1250.0, 99.6, "1250 ± 100"), (-4.0, 182.0, "0 ± 180"), (15432.0, 1234.0, "15400 ± 1200"),
    ],
)  # fmt: skip
def test_two_digits_of_a_half_width_of_hundreds(value, half, text):
    assert with_error(value, half) == text
    assert plus_minus(value, half, "W") == f"{text} W"


@pytest.mark.parametrize(
    ("ends", "text"),
    [((1.344, 1.722), "1.34 to 1.72"), ((0.10848, 0.10862), "0.1085 to 0.1086"),
     ((-0.001, 7.0), "0.00 to 7.00"), ((2.0, 2.0), "2.00 to 2.00")],
)  # fmt: skip
def test_a_narrow_interval_shows_both_its_ends(ends, text):
    assert from_to(*ends) == text


@pytest.mark.parametrize(
    ("share", "text"), [(1.034, "103 %"), (0.9, "90 %"), (0.031, "3.1 %"), (None, "-")]
)
def test_shares_are_percentages_without_powers_of_ten(share, text):
    assert percentage(share) == text


def test_a_command_that_no_airspeed_allows_is_one_line():
    known = SimpleNamespace(rolling_moment_N_m=0.3, half_width_N_m=0.1, sense="to starboard",
                            yawing_moment_N_m=0.1, yawing_half_width_N_m=0.01, yaw="adverse",
                            roll_rate_deg_s=10.0, roll_rate_half_width_deg_s=1.0)  # fmt: skip
    rows = [
        SimpleNamespace(airspeed_m_s=speed, reason=None, strongest=known, port_down_20_deg=known,
                        both_apart_20_deg=None, not_flown={"both_apart_20_deg": "too slow"})
        for speed in (9.0, 12.0)
    ]  # fmt: skip
    text = roll_tables._airspeeds(rows)
    assert text.count("too slow") == 1
    assert "both apart 20 deg, at every airspeed: too slow" in text
    rows[1].not_flown, rows[1].both_apart_20_deg = {}, known
    assert "at every airspeed" not in roll_tables._airspeeds(rows)


def test_a_move_that_cannot_be_flown_is_named_by_its_folds():
    move = MoveRow(f"0{TO_LIMIT}", 0.0, -85.0, reason="too slow")
    assert "0 to -85  too slow" in hinge_tables._short_moves([move])
    assert "too slow: the wings cannot carry" in hinge_tables._short_moves([move])


def test_a_row_that_nobody_has_is_left_out():
    def number(words, *values):
        kind = SimpleNamespace(words=words, unit="1", group=Group.LEVEL)
        known = tuple(Known(value, 0.1) for value in values)
        return SimpleNamespace(kind=kind, values=known, differences=known)

    entries = tuple(SimpleNamespace(name=name) for name in "ab")
    numbers = (number("lift", 1.0, None), number("margin", None, None))
    text = compare_tables._differences(
        SimpleNamespace(entries=entries, numbers=numbers, missing={}, not_flown=()), full=False
    )
    assert "lift" in text
    assert text.splitlines()[-1].startswith("-: one of both has no such speed")
    assert "margin" not in text


def test_a_fold_beyond_the_limits_is_refused_before_anything_is_solved(monkeypatch):
    def solved(*args, **keys):
        raise AssertionError("solved first")

    monkeypatch.setattr(hinge_study, "FoldingCraft", solved)
    plan = HingePlan(Air(12.0, 1.2), folds_deg=(0.0, 150.0), grid=Grid(2, 8))
    with pytest.raises(InputRefused, match="fold of 150 degrees"):
        hinge_study.hinge_study(load_biplane("geometries/tideline.toml"), plan)


@pytest.mark.parametrize("word", ["nothing", "gnats", "xyzzy", "qqqq"])
def test_no_name_is_offered_where_none_is_near(word):
    names = ["hinge", "lateral", "roll", "power", "schedule", "mission", "motion", "log", "sweep"]
    assert nearest_name(word, names) is None


@pytest.mark.parametrize(
    ("word", "near"),
    [("hing", "hinge"), ("rol", "roll"), ("powre", "power"), ("shedule", "schedule"),
     ("mision", "mission"), ("swepe", "sweep"), ("latera", "lateral")],
)  # fmt: skip
def test_a_slip_of_the_keys_still_finds_its_name(word, near):
    names = ["hinge", "lateral", "roll", "power", "schedule", "mission", "motion", "log", "sweep"]
    assert nearest_name(word, names) == near


@pytest.mark.parametrize("half", [0.5, None])
def test_the_file_s_craft_is_a_level_with_the_half_width_of_the_difference(half):
    """0.5 % of 80 W are 0.4 W; without a half-width nothing is drawn."""
    axes = Figure().subplots()
    document = {"present": {"value": 80.0}, "better_half_width_percent": half}
    named = design_plots._as_in_the_file(axes, document, {"low": 0.2, "high": 0.7})
    assert [text for _, text in named] == ([] if half is None else ["as in the file, ±"])
    for line, _ in named:
        assert line.get_xydata().tolist() == [[0.2, 80.0], [0.7, 80.0]]
    for band in axes.patches:
        low, high = band.get_extents().transformed(axes.transData.inverted()).intervaly
        assert (low, high) == (pytest.approx(79.6), pytest.approx(80.4))
    assert len(axes.patches) == (0 if half is None else 1)


def test_a_design_s_gain_over_the_file_has_its_half_width():
    worth = {"value": 80.0, "mass_kg": 2.0}
    assert design_tables._row("a", worth, 0.224, 0.1049)[-1] == "0.22 ± 0.10 %"
    assert design_tables._row("a", worth, 0.224)[-1] == "0.2 %"
    assert design_tables._row("a", worth, None)[-1] == ""


def test_neighbours_of_the_best_design_are_told_apart():
    """Three digits of a change, a sign where there is one, and none of what is nothing."""

    def row(step, percent, per, reason=""):
        return {"key": "k_m", "step": step, "goal_percent": percent, "goal_percent_per": per,
                "per": "percent of the key", "reason": reason}  # fmt: skip

    rows = [row(0.1, 0.01071, 0.002142), row(-0.1, 0.01093, -0.002186), row(0.2, 0.0, 1e-5),
            row(0.3, None, None, "at its bound")]  # fmt: skip
    for sought, better in (("lowest", "below"), ("highest", "above")):
        document = {"goal": "power", "sought": sought, "sensitivity": rows}
        head, _, up, down, none, last, note = design_tables._sensitivity(document).splitlines()
        assert head.split()[:4] == ["key", "step", "power,", "%"]
        assert up.split()[2:4] == ["+0.0107", "+0.00214"]
        assert down.split()[2:4] == ["+0.0109", "-0.00219"]
        assert none.split()[2:4] == ["0", "0"]
        assert last.split()[2:] == ["at", "its", "bound"]
        assert f"{better} zero is better" in note


def test_where_each_start_led_fits_the_page():
    names = ["arrangement.gap_m", "upper.tips.span_m", "lower.tips.span_m"]
    values = dict.fromkeys(names, 0.25)
    end = {"start": values, "end": values, "value": 200.0, "evaluations": 30, "converged": True}
    document = {"keys": [{"key": name} for name in names], "goal": "power", "unit": "W",
                "ends": [end, end]}  # fmt: skip
    text = design_tables._ends(document)
    assert max(map(len, text.splitlines())) <= 80
    assert "lower.tips.span_m to" in text


@pytest.mark.parametrize(("unpredicted", "heads"), [((0, 0), 6), ((0, 3), 7)])
def test_segments_that_are_not_predicted_have_a_column_where_there_are_any(unpredicted, heads):
    rows = [
        SimpleNamespace(configuration="open", bias_W=3.0, bias_half_width_W=1.0, bias_share=0.1,
                        bias_share_half_width=0.02, scatter_W=1.0, slope_W_s_m=0.1, outside=0,
                        bin_residual_W=np.zeros(4), unpredicted=count)
        for count in unpredicted
    ]  # fmt: skip
    text = log_tables._against(SimpleNamespace(residuals=rows, fitted_residuals=[]))
    assert len(text.splitlines()[1].split()) == heads
    assert ("not predicted: segments" in " ".join(text.split())) is (heads == 7)


def test_the_value_has_the_digits_of_a_narrow_interval():
    """0.11 lies in no interval from 0.1079 to 0.1088."""
    samples = [3600.0 * np.linspace(0.1078, 0.1089, 101)]
    said = _weightless_words(3600.0 * 0.10835, samples, 90.0)
    found = re.search(r"take (\S+) Wh more, 90 % interval (\S+) to (\S+) Wh", said)
    assert found is not None
    value, low, high = map(float, found.groups())
    assert low < value < high


def moved(cut_off="", time=1.5, name="command"):
    side = SimpleNamespace(
        side=Side.PORT, start_deg=0.0, commanded_deg=-90.0, end_deg=-90.0, time_s=time,
        time_half_width_s=0.1, peak_rate_deg_s=60.0, jammed_at_s=None, let_go_at_s=None,
        commanded_by=name,
    )  # fmt: skip
    limit = SimpleNamespace(name="load factor", value=1.2, half_width=0.1, limit=3.0, unit="1",
                            at_s=1.0, kept=True)  # fmt: skip
    return SimpleNamespace(
        cut_off=cut_off, sides=(side,), limits=(limit,), bank_end_deg=200.0, height_end_m=-5.9,
        bank_end_half_width_deg=float("nan"), height_end_half_width_m=float("nan"),
        peak=lambda name: SimpleNamespace(value=-5.9, half_width=4.1),
        known_until_s=2.7 if cut_off else None,
    )  # fmt: skip


def test_a_motion_that_is_cut_off_keeps_limits_only_so_far():
    whole, cut = moved(), moved("the angle of attack passes 24 deg")
    assert motion_tables._limits(whole).splitlines()[-1].endswith("  kept")
    assert motion_tables._limits(cut).splitlines()[-1].endswith("  kept so far")
    assert "height at the end -5.90 m (± not known), lowest" in motion_tables._end(cut)
    assert "not known" not in motion_tables._end(whole)


def test_what_is_but_rounding_in_a_motion_is_nothing():
    cut = moved("the angle of attack passes 24 deg")
    cut.bank_end_deg, cut.height_end_m = 1.9e-12, 0.04
    assert motion_tables._end(cut).startswith("Bank at the end 0 deg, height at the end 0.0400 m")
    rounded = SimpleNamespace(value=-3e-10, half_width=float("nan"))
    assert motion_tables._open_or_with_error(cut, rounded) == "0 ± not known"


def test_a_column_of_what_happens_to_the_tips_is_there_where_something_does():
    quiet, late = motion_tables._sides(moved().sides), motion_tables._sides(moved(time=None).sides)
    assert quiet.splitlines()[0].endswith("peak, deg/s")
    assert late.splitlines()[2].endswith("  does not arrive")
    assert "-: not commanded" in late
    assert "-:" not in quiet


def test_a_root_whose_growth_is_not_known_is_given_once():
    mode = SimpleNamespace(frequency_rad_s=None, damping_ratio=None, real_1_s=0.083,
                           real_half_width_1_s=0.16, growth=SIGN_NOT_KNOWN)  # fmt: skip
    assert lateral_tables.mode_words(mode) == (
        "root 0.08 ± 0.16 1/s, whether it grows is not known"
    )
    mode.frequency_rad_s, mode.damping_ratio = 2.05, -0.13
    assert lateral_tables.mode_words(mode) == (
        "2.05 rad/s, damping -0.13, whether it grows is not known (0.08 ± 0.16 1/s)"
    )


def test_pairs_of_least_yaw_say_among_which():
    known = SimpleNamespace(value=1.0, half_width=0.1)
    pair = SimpleNamespace(
        left_deg=1.0, right_deg=2.0, rolling=known, yawing=known, yaw="proverse",
        roll_rate=(5.0, 1.0),
    )  # fmt: skip
    study = SimpleNamespace(strongest=pair, pure_roll_pairs=(), least_yaw_pairs=(pair,))
    assert "at most a third more than the shortest way" in roll_tables._pairs(study)
    study.least_yaw_pairs = ()
    assert "least yaw" not in roll_tables._pairs(study)
