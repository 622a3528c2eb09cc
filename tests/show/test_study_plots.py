"""Pictures of the studies: units on axes, labels at the lines, bands where errors are known."""

import re
from dataclasses import replace
from functools import cache
from itertools import combinations
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.collections import PathCollection
from matplotlib.contour import ContourSet
from matplotlib.text import Annotation
from picture_layout import faults
from thin_craft import thin

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.labelling import end_labels, headline, kept_within, spread_apart
from vlm.show.plots import compare as compare_plots
from vlm.show.plots import hinge as hinge_plots
from vlm.show.plots import lateral as lateral_plots
from vlm.show.plots import log as log_plots
from vlm.show.plots import mission as mission_plots
from vlm.show.plots import power as power_plots
from vlm.show.plots import roll as roll_plots
from vlm.show.plots import schedule as schedule_plots
from vlm.show.plots.contours import contour_map
from vlm.show.style import plot_style
from vlm.study.compare.numbers import Entry
from vlm.study.compare.results import PowerLine
from vlm.study.compare.study import ComparePlan, compare_study
from vlm.study.hinge.results import HingePlan, HingeStudy
from vlm.study.hinge.study import hinge_study
from vlm.study.lateral.results import LateralStudy
from vlm.study.lateral.study import LateralPlan, lateral_study
from vlm.study.roll.results import RollStudy
from vlm.study.roll.study import RollPlan, roll_study

GRID = Grid(2, 6)
# Errors are only known of lattices that have a coarser one.
KNOWN_ERRORS = Grid(4, 12)
AIR = Air(13.0)
FOLDS = (-60.0, 0.0, 60.0)


@cache
def hinge() -> HingeStudy:
    plan = HingePlan(AIR, FOLDS, airspeeds=(13.0, 20.0, 26.0), grid=KNOWN_ERRORS)
    return hinge_study(thin("tideline"), plan)


@cache
def lateral() -> LateralStudy:
    plan = LateralPlan(
        AIR, FOLDS, shares_deg=(-60.0, 0.0), airspeeds=(11.0, 13.0), grid=KNOWN_ERRORS
    )
    return lateral_study(thin("tideline"), plan)


@cache
def roll() -> RollStudy:
    speeds = (11.0, 13.0, 16.0)
    plan = RollPlan(AIR, base_deg=0.0, step_deg=45.0, airspeeds=speeds, duration=1.5, grid=GRID)
    return roll_study(thin("tideline"), plan)


def power() -> dict[str, Any]:
    """An invented document: two parabolas that cross at 10 m/s, by their equations."""
    speeds = [0.0, 5.0, 10.0, 15.0, 20.0]
    curves = {"open": [100.0 + v for v in speeds], "dash": [110.0 for _ in speeds]}
    best = {"least_power_W": None, "least_power_speed_m_s": None}
    one = {
        name: {
            "electrical_power_W": values,
            "electrical_power_W_low": [0.9 * v for v in values],
            "electrical_power_W_high": [1.1 * v for v in values],
            "limit": ["", "", "", "", ""],
            "branches": None,
            "speeds": best,
        }
        for name, values in curves.items()
    }
    percent = [100.0 * (b / a - 1.0) for a, b in zip(curves["open"], curves["dash"], strict=True)]
    return {
        "airspeed_m_s": speeds,
        "configurations": one,
        "differences": [{"first": "open", "second": "dash", "difference_percent": percent}],
        "crossings": [
            {"first": "open", "second": "dash", "airspeed_m_s": 10.0, "interval_m_s": [9.0, 11.5]}
        ],
    }


def schedule() -> dict[str, Any]:
    return {
        "title": "invented",
        "answer": ["Fold 12 deg at 10 m/s, 18 deg at 14 m/s.", "No airspeed draws less."],
        "ideal": [
            {"airspeed_m_s": 10.0, "fold_deg": 10.0},
            {"airspeed_m_s": 12.0, "fold_deg": 20.0},
            {"airspeed_m_s": 14.0, "fold_deg": None},
        ],
        "flown": {
            "airspeed_m_s": [10.0, 14.0],
            "fold_deg": [12.0, 18.0],
            "outside_m_s": [14.0],
        },
        "map": {
            "fold_deg": [0.0, 10.0, 20.0],
            "airspeed_m_s": [10.0, 12.0, 14.0],
            "electrical_power_W": [[50.0, 49.0, 55.0], [52.0, 53.0, 51.0], [None, None, None]],
            "forbidden_by": [["stall margin", "", ""], ["stall margin", "", ""], ["no trim"] * 3],
            "joined": [False, False, False],
        },
    }


def mission() -> dict[str, Any]:
    def way(name: str, *sizes: float) -> dict[str, Any]:
        return {
            "name": name,
            "energy_Wh": sum(sizes),
            "energy_interval_Wh": [0.9 * sum(sizes), 1.2 * sum(sizes)],
            "schedule_saves_Wh": sum(sizes) - 8.0,
            "schedule_saves_interval_Wh": [sum(sizes) - 8.5, sum(sizes) - 7.4],
            "legs": [{"leg": f"leg {i}", "energy_Wh": size} for i, size in enumerate(sizes)],
        }

    return {
        "mission": "invented",
        "answer": "Folding along the schedule takes 8 Wh, and saves 1 Wh.",
        "schedule": way("", 3.0, 5.0),
        "held": [way("open", 3.0, 6.0)],
        "without_mechanism": [],
        "other_tips": [],
        "battery_usable_Wh": 12.0,
        "findings": [],
        "interval_percent": 90.0,
    }


DRAWN = {
    "roll map": lambda axes: roll_plots.pairs_on_map(
        roll_plots.moment_map(axes, roll(), "rolling_moment_N_m"), roll()
    ),
    "yaw map": lambda axes: roll_plots.moment_map(axes, roll(), "yawing_moment_N_m"),
    "commands": lambda axes: roll_plots.command_curves(axes, roll()),
    "authority": lambda axes: roll_plots.authority_curves(axes, roll()),
    "bank": lambda axes: roll_plots.bank_histories(axes, roll()),
    "dihedral": lambda axes: lateral_plots.dihedral_curves(axes, lateral()),
    "derivatives": lambda axes: lateral_plots.derivative_curves(axes, lateral()),
    "shares": lambda axes: lateral_plots.share_bars(axes, lateral()),
    "roots": lambda axes: lateral_plots.root_locus(axes, lateral(), "lateral"),
    "aid": lambda axes: lateral_plots.aid_curves(axes, lateral()),
    "moments": lambda axes: hinge_plots.moment_parts(axes, hinge(), 1.0, 13.0),
    "airspeed": lambda axes: hinge_plots.moment_against_airspeed(axes, hinge()),
    "worm": lambda axes: hinge_plots.worm_curves(axes, hinge()),
    "bending": lambda axes: hinge_plots.wing_loads(axes, hinge(), hinge_plots.BENDING),
    "power": lambda axes: power_plots.power_axes(axes, power()),
    "difference": lambda axes: power_plots.difference_axes(axes, power()),
    "schedule": lambda axes: schedule_plots.schedule_axes(axes, schedule()),
    "mission": lambda axes: mission_plots.mission_axes(axes, mission()),
}
PURE_NUMBERS = {"efficiency", "coefficient of friction of the mesh", ""}
# Bars have no end to stand beside, and wing loads all end at nothing.
LEGENDS = {"shares", "bending", "mission"}


def has_unit(text: str) -> bool:
    return text in PURE_NUMBERS or bool(re.search(r"\[[^\]]+\]", text))


@pytest.mark.parametrize("name", DRAWN)
def test_axes_come_back_with_units_and_labels_apart(name: str) -> None:
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(6.4, 4.2), layout="constrained")
        assert DRAWN[name](axes) is axes
        figure.canvas.draw()
        for every in figure.axes:
            for text in (every.get_xlabel(), every.get_ylabel()):
                assert has_unit(text), text
        assert (axes.get_legend() is not None) is (name in LEGENDS)
        boxes = [
            (text.get_text(), text.get_window_extent())
            for text in axes.texts
            if isinstance(text, Annotation) and text.get_rotation() == 0.0 and text.get_text()
        ]
        for (first, a), (second, b) in combinations(boxes, 2):
            across = min(a.x1, b.x1) - max(a.x0, b.x0)
            up = min(a.y1, b.y1) - max(a.y0, b.y0)
            assert across <= 1.0 or up <= 0.25 * a.height, f"{first!r} lies on {second!r}"


def test_a_schedule_s_map_is_broken_where_a_tip_touches() -> None:
    """The box at 0 deg is another branch: diamonds, crossed out, and no colour up to 10 deg."""
    document = schedule()
    document["map"]["joined"] = [True, False, False]
    with plot_style() as plt:
        _, axes = plt.subplots()
        schedule_plots.schedule_axes(axes, document)
        drawn = [one for one in axes.collections if isinstance(one, ContourSet)]
        low = min(path.get_extents().y0 for one in drawn for path in one.get_paths() if len(path))
        assert low == pytest.approx(10.0)
        (diamonds,) = [one for one in axes.collections if isinstance(one, PathCollection)]
        assert diamonds.get_offsets().tolist() == [[10.0, 0.0], [12.0, 0.0], [14.0, 0.0]]
        (crosses,) = [line for line in axes.lines if line.get_marker() == "x"]
        assert crosses.get_xdata().tolist() == [10.0, 12.0, 14.0]
        assert "touches" in axes.get_xlabel()


def test_what_a_schedule_must_not_hold_is_hatched_with_its_reason() -> None:
    """Not grey: the scale of power runs through grey itself."""
    with plot_style() as plt:
        _, axes = plt.subplots()
        schedule_plots.schedule_axes(axes, schedule())
        said = {text.get_text() for text in axes.texts}
        assert {"not allowed: stall margin", "not allowed: no trim"} <= said
        assert "as flown: crosses do not keep a constraint" in said
        hatched = [one for one in axes.collections if any(getattr(one, "hatches", None) or [])]
        assert len(hatched) == 2


def test_lines_are_named_at_their_ends() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        roll_plots.authority_curves(axes, roll())
        said = {text.get_text() for text in axes.texts}
        assert {"strongest pair", "both apart 20°", "port down 20°", "rotors"} <= said


def test_a_label_stands_where_its_line_leaves_the_axes() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        (line,) = axes.plot([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 2.0, 900.0])
        axes.set_ylim(0.0, 3.0)
        end_labels(axes, [(line, "steep")])
        (label,) = axes.texts
        assert label.xy == (2.0, 2.0)


def test_a_headline_breaks_no_number_from_its_half_width_and_unit() -> None:
    said = "Fastest with ferry: 32.0 ± 1.3 m/s; the hinge bears 7.8 ± 0.2 N m at most there."
    with plot_style() as plt:
        for columns in range(20, 80):
            figure = plt.figure()
            headline(figure, [said], "invented", columns)
            title = figure.get_suptitle()
            assert " ".join(title.split("\n")[:-1]).startswith(said[:30])
            assert "32.0 ± 1.3 m/s" in title
            assert "7.8 ± 0.2 N m" in title
            plt.close(figure)


def test_labels_kept_within_are_inside_and_apart() -> None:
    random = np.random.default_rng(3)
    for count in (1, 4, 9) * 10:
        places = spread_apart(random.uniform(-10.0, 110.0, count).tolist(), 10.0)
        kept = kept_within(places, 10.0, (0.0, 100.0))
        assert kept.min() >= 0.0
        assert kept.max() <= 100.0
        assert count == 1 or np.diff(np.sort(kept)).min() >= 10.0 - 1e-9
    assert kept_within(np.array([30.0, 60.0]), 10.0, (0.0, 100.0)).tolist() == [30.0, 60.0]


def test_words_of_a_narrow_picture_of_differences_stay_within_the_axes() -> None:
    """Airspeeds of near crossings below one another, and how high a peak goes."""
    document = power()
    document["differences"][0]["difference_percent"][2] = 249.0
    near = [document["crossings"][0] | {"airspeed_m_s": at} for at in (8.0, 9.0, 10.0)]
    document["crossings"] = near
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(3.4, 2.6), layout="constrained")
        power_plots.difference_axes(axes, document)
        figure.canvas.draw()
        words = [one for one in axes.texts if "m/s" in one.get_text()]
        assert len(words) == 4
        frame = axes.get_window_extent()
        for one in words:
            box = one.get_window_extent()
            assert box.y0 >= frame.y0, one.get_text()
            assert box.x1 <= figure.bbox.x1, one.get_text()


def test_crossings_are_marked_with_their_interval() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        power_plots.difference_axes(axes, power())
        marks = [line for line in axes.lines if line.get_marker() == "D"]
        assert [(line.get_xdata()[0], line.get_ydata()[0]) for line in marks] == [(10.0, 0.0)]
        spans = [line.get_xdata() for line in axes.lines]
        assert any(list(span) == [9.0, 11.5] for span in spans)
        assert "10 m/s" in {text.get_text() for text in axes.texts}


def test_the_worst_moment_has_its_error_as_a_band() -> None:
    rows = hinge().known_moments
    own = [row for row in rows if (row.load_factor, row.airspeed_m_s) == (1.0, 13.0)]
    with plot_style() as plt:
        _, axes = plt.subplots()
        hinge_plots.moment_parts(axes, hinge(), 1.0, 13.0)
        (band,) = [one for one in axes.collections if len(one.get_paths()[0].vertices) > 4]
        corners = band.get_paths()[0].vertices
        for row in own:
            heights = corners[np.isclose(corners[:, 0], row.fold_deg), 1]
            width = 2.0 * row.hinge("upper_right").half_width_N_m
            assert np.ptp(heights) == pytest.approx(width, rel=1e-6)
    assert {row.fold_deg for row in own} == {*FOLDS}


def test_shear_has_a_gap_at_a_folded_hinge_and_none_at_a_flat_one() -> None:
    """It is across the wing, and the wing turns there."""
    halves = [row.halves for row in hinge().wings if row.halves and row.load_factor == 1.0]
    place = next(half for half in halves[0] if half.wing == "upper").hinge_distance_m
    with plot_style() as plt:
        _, axes = plt.subplots()
        hinge_plots.wing_loads(axes, hinge(), hinge_plots.SHEAR)
        drawn = [line for line in axes.lines if line.get_linestyle() == "-" and line.get_marker()]
    by_fold = {line.get_label(): line for line in drawn}
    for fold, gaps in (("60 deg", 1), ("-60 deg", 1), ("0 deg", 0)):
        line = by_fold[fold]
        broken = np.isnan(line.get_ydata())
        assert int(broken.sum()) == gaps
        assert line.get_xdata()[broken].tolist() == pytest.approx([place] * gaps)


def test_derivatives_in_level_flight_have_error_bands() -> None:
    levels = [level for _, level, _ in lateral().level_flights]
    with plot_style() as plt:
        _, axes = plt.subplots()
        lateral_plots.derivative_curves(axes, lateral())
        known = [
            name
            for name in ("Cn_beta", "Cn_r", "Cl_r", "Cn_p", "Cl_p")
            if all(np.isfinite((level.errors or {}).get(name, np.nan)) for level in levels)
        ]
        assert known
        assert len(axes.collections) == len(known)


def test_bars_of_the_dihedral_effect_hold_error_and_spread() -> None:
    levels = [level for _, level, _ in lateral().level_flights]
    with plot_style() as plt:
        _, axes = plt.subplots()
        lateral_plots.dihedral_curves(axes, lateral())
        (bars,) = axes.containers[0].lines[2]
        drawn = [float(np.ptp(segment[:, 1])) for segment in bars.get_segments()]
    wanted = [2.0 * (one.errors["Cl_beta"] + one.spread["Cl_beta"]) for one in levels]
    assert drawn == pytest.approx(wanted)


def test_the_legend_of_the_parts_covers_no_bar() -> None:
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(2.6, 3.6), layout="constrained")
        lateral_plots.share_bars(axes, lateral())
        figure.canvas.draw()
    legend = axes.get_legend().get_window_extent()
    assert not [bar for bar in axes.patches if bar.get_window_extent().overlaps(legend)]


def test_mission_bars_add_up_and_carry_their_interval() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        mission_plots.mission_axes(axes, mission())
        ends = sorted(bar.get_x() + bar.get_width() for bar in axes.patches)
        assert ends[-1] == pytest.approx(9.0)
        assert any(list(line.get_xdata()) == pytest.approx([7.2, 9.6]) for line in axes.lines)
        assert "usable battery" in {text.get_text() for text in axes.texts}


STUDIES = {
    "hinge": lambda path: hinge_plots.save_hinge_picture(hinge(), path),
    "lateral": lambda path: lateral_plots.save_lateral_picture(lateral(), path),
    "roll": lambda path: roll_plots.save_roll_picture(roll(), path),
    "schedule": lambda path: schedule_plots.save_schedule_picture(schedule(), path),
    "mission": lambda path: mission_plots.save_mission_picture(mission(), path),
}


@pytest.mark.parametrize("name", STUDIES)
def test_texts_of_a_whole_picture_stand_apart(name: str, drawn, tmp_path) -> None:
    STUDIES[name](tmp_path / "picture.png")
    assert drawn == [[]]


def test_the_title_of_loads_of_joined_wings_is_no_wider_than_its_panel() -> None:
    """Of a joint it has more to say; a longer line would leave the picture on its right."""
    wings = tuple(replace(row, joined=True) for row in hinge().wings)
    with plot_style() as plt:
        _, axes = plt.subplots()
        hinge_plots.wing_loads(axes, replace(hinge(), wings=wings), hinge_plots.SHEAR)
        lines = axes.get_title(loc="left").split("\n")
    assert any("joined" in line for line in lines)
    assert max(map(len, lines)) <= hinge_plots.LINE


def test_what_folding_saves_is_drawn_with_its_interval_and_its_sign() -> None:
    """The paired difference: hollow where it reaches over zero."""
    document = mission()
    document["held"].append(
        document["held"][0]
        | {"name": "dash", "schedule_saves_Wh": 0.1, "schedule_saves_interval_Wh": [-0.2, 0.4]}
    )
    with plot_style() as plt:
        _, axes = plt.subplots()
        mission_plots.saving_axes(axes, document)
        points = {
            float(line.get_xdata()[0]): line.get_markerfacecolor()
            for line in axes.lines
            if line.get_marker() == "o"
        }
        assert set(points) == {1.0, 0.1}
        assert points[0.1] == "w"
        assert points[1.0] != "w"
        assert axes.get_xlim()[0] < 0.0 < axes.get_xlim()[1]


def test_curves_of_power_can_be_reported_apart_in_grey() -> None:
    """By marker, whatever the colour."""
    with plot_style() as plt:
        _, axes = plt.subplots()
        power_plots.power_axes(axes, power())
        marks = {line.get_marker() for line in axes.lines if len(line.get_xdata()) > 1}
    assert len(marks - {"None", None, ""}) == len(power()["configurations"])


def test_trims_stand_in_the_bands_of_their_intervals() -> None:
    """And a picture without any says so."""
    document, values = power(), [90.0, 60.0, 30.0, 8.0, 2.0]
    open_, dash = document["configurations"].values()
    open_ |= {"thrust_N": values, "thrust_N_low": [0.9 * v for v in values],
              "thrust_N_high": [1.2 * v for v in values]}  # fmt: skip
    dash |= {"thrust_N": values}
    with plot_style() as plt:
        axes = power_plots.trim_axes(plt.subplots()[1], document, "thrust_N")
        (band,) = axes.collections
        heights = band.get_paths()[0].vertices[:, 1]
    assert (heights.min(), heights.max()) == pytest.approx((1.8, 108.0))
    document |= {"uncertainty": None, "intervals_asked": True}
    assert "± not known" in power_plots._reading(document)


def test_a_power_curve_has_a_gap_between_two_branches() -> None:
    """The body turns by 40 degrees between 5 and 10 m/s, where both branches are known."""
    document = power()
    one = document["configurations"]["open"]
    one["body_angle_deg"] = [85.0, 60.0, 20.0, 8.0, 2.0]
    part = {"airspeed_m_s": [5.0, 9.0], "electrical_power_W": [105.0, 109.0]}
    one["branches"] = {
        "from_hover_up_to_m_s": 9.0, "from_cruise_down_to_m_s": 7.0, "from_hover": part,
        "from_cruise": part, "jump_up": None, "jump_down": None,
    }  # fmt: skip
    with plot_style() as plt:
        _, axes = plt.subplots()
        power_plots.power_axes(axes, document)
        curve = next(line for line in axes.lines if line.get_marker() == "o")
    assert curve.get_xdata().tolist() == [0.0, 5.0, 7.5, 10.0, 15.0, 20.0]
    assert np.isnan(curve.get_ydata()[2])
    assert np.isfinite(np.delete(curve.get_ydata(), 2)).all()


def test_the_hinge_s_moment_against_airspeed_keeps_its_sign() -> None:
    moments = {row.hinge("upper_right").steady_N_m for row in hinge().known_moments}
    with plot_style() as plt:
        _, axes = plt.subplots()
        hinge_plots.moment_against_airspeed(axes, hinge())
        drawn = {float(v) for line in axes.lines for v in line.get_ydata()}
        assert axes.get_yscale() == "linear"
    assert min(moments) in drawn or min(moments) > 0.0
    assert {value for value in drawn if value in moments}


def test_a_saving_without_an_interval_beside_others_is_hollow() -> None:
    """Its sign is not known; where no way has an interval nothing is hollow."""
    document = mission()
    bare = {**document["held"][0], "name": "tips 0.5 times as long",
            "schedule_saves_interval_Wh": None}  # fmt: skip
    document["other_tips"] = [bare]
    with plot_style() as plt:
        for percent, filled in ((90.0, [True, False]), (None, [True, True])):
            _, axes = plt.subplots()
            mission_plots.saving_axes(axes, document | {"interval_percent": percent})
            dots = [line for line in axes.lines if line.get_marker() == "o"]
            assert [dot.get_markerfacecolor() != "w" for dot in dots] == filled


def test_a_bar_of_a_sign_that_is_not_known_reaches_over_zero() -> None:
    """Alone the middle one would not: the sign rests on all speeds together."""
    rows = [(12.9, -13.9, 5.2, 7.2, "less"), (15.0, -5.8, 5.2, 7.1, "unknown"),
            (19.0, 0.3, 7.7, 11.0, "unknown")]  # fmt: skip
    bins = [
        SimpleNamespace(airspeed_m_s=speed, difference_W=value, first_draws=sign,
                        interval_W=(value - alone, value + alone), half_width_of_sign_W=together)
        for speed, value, alone, together, sign in rows
    ]  # fmt: skip
    item = SimpleNamespace(first="a", second="b", bins=bins, level=0.9, unknown_m_s=[])
    with plot_style() as plt:
        axes = log_plots.difference_bars(plt.subplots()[1], item)
        drawn = {
            round(float(x), 1): (min(y, top), max(y, top))
            for bars in axes.containers
            for (x, y), (_, top) in bars.lines[2][0].get_segments()
        }
    known = [sign != "unknown" for *_, sign in rows]
    assert [not low <= 0.0 <= high for low, high in (drawn[row[0]] for row in rows)] == known
    assert "all speeds together" in axes.get_title(loc="left")


def test_reasons_of_parts_too_small_to_hold_them_stand_below() -> None:
    document = schedule()
    speeds, folds = list(range(10, 20)), list(range(0, 100, 10))
    document["ideal"] = [{"airspeed_m_s": speed, "fold_deg": 25.0} for speed in speeds]
    document["map"] = {
        "fold_deg": folds, "airspeed_m_s": speeds, "joined": [False] * 10,
        "electrical_power_W": [[50.0 + fold for fold in folds] for _ in speeds],
        "forbidden_by": [["stall margin" if (i, j) == (0, 0) else "" for j in range(10)]
                         for i in range(10)],
    }  # fmt: skip
    with plot_style() as plt:
        axes = schedule_plots.schedule_axes(plt.subplots()[1], document)
    assert "small hatched parts: stall margin" in axes.get_xlabel()


def test_a_narrow_map_of_a_schedule_names_its_lines_in_a_legend() -> None:
    """In a report's figure names would lie over one another and over the reasons."""
    with plot_style() as plt:
        for wide, named in (
            (8.0, {"best fold", "as flown: crosses do not keep a constraint"}),
            (3.4, set()),
        ):
            figure, axes = plt.subplots(figsize=(wide, 3.0))
            schedule_plots.schedule_axes(axes, schedule())
            assert {text.get_text() for text in axes.texts} & {
                "best fold", "as flown: crosses do not keep a constraint"} == named  # fmt: skip
            assert (axes.get_legend() is None) is bool(named)
            reasons = {"not allowed: stall margin", "not allowed: no trim"}
            written = {text.get_text() for text in axes.texts}
            if axes.get_legend() is None:
                assert reasons <= written
            else:
                assert reasons <= {text.get_text() for text in axes.get_legend().get_texts()}
                assert not reasons & written
            assert figure.axes


def test_a_reason_stands_inside_the_map_of_a_schedule() -> None:
    """One that forbids folds at the lowest airspeed alone, where it would reach over the edge."""
    document, speeds, folds = schedule(), [10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 16.0], 4
    document["ideal"] = [{"airspeed_m_s": speed, "fold_deg": 25.0} for speed in speeds]
    document["map"] = {
        "fold_deg": [0.0, 10.0, 20.0, 30.0],
        "airspeed_m_s": speeds,
        "electrical_power_W": [[speed + fold for fold in range(folds)] for speed in speeds],
        "forbidden_by": [["stall margin"] * 3 + [""], *([""] * folds for _ in speeds[1:])],
        "joined": [False] * folds,
    }
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(8.0, 5.0))
        schedule_plots.schedule_axes(axes, document)
        figure.canvas.draw()
        (reason,) = [text for text in axes.texts if "stall margin" in text.get_text()]
        assert reason.get_window_extent().x0 >= axes.get_window_extent().x0


def test_a_line_s_value_never_reaches_over_the_rim_of_a_map() -> None:
    """A short line beside the rim bears none; the others do."""
    folds = np.linspace(-90.0, 90.0, 13)
    shares = (folds / 90.0) ** 2
    values = 2.05 * (shares[None, :] - 0.9 * shares[:, None])  # the line of 2 is short
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(4.0, 4.0))
        contour_map(axes, folds, folds, values, signed=True)
        figure.canvas.draw()
        rim = axes.get_window_extent()
        boxes = [text.get_window_extent() for text in axes.texts]
        assert len(boxes) >= 3
        assert all(rim.x0 <= box.x0 and box.x1 <= rim.x1 for box in boxes)
        assert all(rim.y0 <= box.y0 and box.y1 <= rim.y1 for box in boxes)


def test_a_line_s_value_never_reaches_over_the_rim_of_its_branch() -> None:
    """Where a tip touches beside it nothing is drawn, and letters would stand half on paper."""
    folds = np.linspace(-90.0, 90.0, 13)
    shares = (folds / 75.0) ** 2
    values = 2.05 * (shares[None, :] - 0.9 * shares[:, None])  # the line of 2 is short at -75
    touching = np.zeros(values.shape, dtype=int)
    touching[0] = touching[:, 0] = 1
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(4.0, 4.0))
        contour_map(axes, folds, folds, values, signed=True, branch=touching)
        figure.canvas.draw()
        left, bottom = axes.transData.transform((folds[1], folds[1]))
        boxes = [text.get_window_extent() for text in axes.texts]
    assert len(boxes) >= 3
    assert all(box.x0 >= left and box.y0 >= bottom for box in boxes)


@pytest.mark.parametrize("count", [4, 18])
def test_names_of_correlations_stand_apart(count: int) -> None:
    names = [f"uncertain_number_{i}" for i in range(count)]
    fit: Any = SimpleNamespace(estimates=[], names=names, correlation=np.eye(count))
    with plot_style() as plt:
        assert faults(log_plots._fit_figure(plt, None, fit)) == []


def test_a_difference_without_a_half_width_is_hollow_and_has_no_bar() -> None:
    """A bar of no width would say that it is exact."""

    def number(key: str, change: float, half_width: float | None) -> Any:
        values = (
            SimpleNamespace(value=10.0, half_width=0.1),
            SimpleNamespace(value=10.0 + change, half_width=0.1),
        )
        apart = SimpleNamespace(value=change, half_width=half_width)
        return SimpleNamespace(key=key, values=values, differences=(None, apart),
                               kind=SimpleNamespace(words=key))  # fmt: skip

    numbers = [number("lift_N", 1.0, 0.5), number("thrust_N", -2.0, None)]
    about_zero = number("hinge_moment_N_m", 90.0, 5.0)
    about_zero.values[0].half_width = 11.0  # per cent of what may be nothing
    numbers.append(about_zero)
    entries = [SimpleNamespace(name=name) for name in ("one", "other")]
    with plot_style() as plt:
        axes = compare_plots.difference_axes(
            plt.subplots()[1], SimpleNamespace(numbers=numbers, entries=entries)
        )
        (hollow,) = [line for line in axes.lines if line.get_markerfacecolor() == "w"]
        assert hollow.get_xdata().tolist() == [-20.0]
        (bars,) = axes.containers[0].lines[2]
        known = [part for part in bars.get_segments() if part.ndim == 2 and np.isfinite(part).all()]
        drawn = [part[:, 0].tolist() for part in known]
        assert drawn == [pytest.approx([5.0, 15.0])]
    assert "± not known" in axes.get_title(loc="left")


def test_a_picture_names_the_load_factor_that_is_reached() -> None:
    rows = [SimpleNamespace(load_factor=3.5, reached_load_factor=reached, airspeed_m_s=12.0)
            for reached in (1.23, 1.6)]  # fmt: skip
    assert hinge_plots.reached_words(rows) == "1.2 to 1.6 g at 12.0 m/s, 3.5 g asked"
    rows = [SimpleNamespace(load_factor=3.5, reached_load_factor=3.5, airspeed_m_s=speed)
            for speed in (18.0, 24.0)]  # fmt: skip
    assert hinge_plots.reached_words(rows) == "3.5 g at 18.0 to 24.0 m/s"


def test_a_motions_curves_stand_in_the_bands_of_their_half_widths() -> None:
    from vlm.show.plots.motion import panel

    times = np.linspace(0.0, 1.0, 5)
    study: Any = SimpleNamespace(
        history={"time_s": times, "bank_deg": 10.0 * times, "pitch_deg": times},
        widths={"bank_deg": 1.0 + times}, cut_off="", known_until_s=0.75,
    )  # fmt: skip
    with plot_style() as plt:
        axes = plt.subplots()[1]
        panel(axes, study, (("bank_deg", "bank"), ("pitch_deg", "pitch")), "[deg]", "")
        (band,) = axes.collections
        corners = band.get_paths()[0].vertices
        assert corners[:, 1].max() == 12.0
        assert corners[:, 1].min() == -1.0
        low, high = axes.get_ylim()
        assert low <= -1.0
        assert high >= 12.0
        # Where flights part the band has no end: the curves stay seen, to 10 and as far again.
        study.widths = {"bank_deg": 1e4 * times}
        axes = plt.subplots()[1]
        panel(axes, study, (("bank_deg", "bank"), ("pitch_deg", "pitch")), "[deg]", "")
        low, high = axes.get_ylim()
        assert -12.0 < low < -10.0
        assert 20.0 < high < 22.0
        assert [line.get_xdata()[0] for line in axes.lines if line.get_ls() == ":"] == [0.75]


def test_a_way_that_takes_the_same_has_no_colour_of_its_own() -> None:
    """Less than 0.01 Wh either way is neither saved nor spent; without an interval it is hollow."""
    document = mission()
    way = document["held"][0]
    document["held"] = [
        way | {"schedule_saves_Wh": 0.004, "schedule_saves_interval_Wh": [-0.003, 0.008]},
        way | {"schedule_saves_Wh": 1.0, "schedule_saves_interval_Wh": None},
        way | {"schedule_saves_Wh": 1.0, "schedule_saves_interval_Wh": [0.5, 1.5]},
    ]
    with plot_style() as plt:
        axes = mission_plots.saving_axes(plt.subplots()[1], document)
        points = [line for line in axes.lines if line.get_marker() == "o"]
        looks = [(line.get_color(), line.get_markerfacecolor()) for line in points]
    grey, gains = mission_plots.ALIKE, mission_plots.GAINS
    assert looks == [(grey, grey), (gains, "w"), (gains, gains)]
    assert "no interval" in axes.get_xlabel()


def test_a_comparison_of_many_stays_readable(drawn, tmp_path) -> None:
    """A sentence for each entry would fill the picture, and names as long as these meet."""
    craft = load_biplane("tideline")
    many = [
        Entry(f"arrangement.gap_m=0.{place}5, {fold:g} deg", craft, FoldAngles(fold, fold))
        for place in (3, 4) for fold in (0.0, -20.0, 15.0)
    ]  # fmt: skip
    found = compare_study(many, ComparePlan(grid=Grid(2, 8), power=False))
    line = tuple(None if u < 9.0 else 50.0 + u for u in range(8, 20))
    lines = tuple(PowerLine(one.name, tuple(map(float, range(8, 20))), line) for one in many)
    compare_plots.save_compare_picture(replace(found, power=lines), tmp_path / "a.png")
    assert drawn == [[]]


def test_the_battery_is_named_clear_of_the_bars_that_reach_over_it() -> None:
    document = mission() | {"battery_usable_Wh": 6.0, "findings": [{"code": "battery"}]}
    with plot_style() as plt:
        axes = mission_plots.mission_axes(plt.subplots()[1], document)
        axes.figure.canvas.draw()
        (name,) = [text for text in axes.texts if text.get_text() == "usable battery"]
        box = name.get_window_extent()
        bars = [bar.get_window_extent() for bar in axes.patches]
    assert len(bars) == 4
    assert any(bar.x0 < box.x0 < bar.x1 for bar in bars)
    assert not any(bar.overlaps(box) for bar in bars)
