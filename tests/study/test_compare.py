"""Differences between craft: known better than the numbers, and zero where nothing differs.

A difference is confirmed by a direct computation on a much finer lattice. Weight and lift balance
by statics: in level flight a heavier craft's lift is larger in proportion (equation 1 of
vlm/flight/craft/level.py is not used here).
"""

import json
from dataclasses import replace
from math import log
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.cli.main import main
from vlm.description import FoldAngles, load_biplane
from vlm.description.mission_file import load_mission
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.progress import silent
from vlm.show.plots.compare import save_compare_picture
from vlm.show.tables.compare import compare_answer, compare_table
from vlm.study.compare import study as compare_module
from vlm.study.compare.numbers import Entry, Sheet, angle_numbers
from vlm.study.compare.results import ComparedNumber, Comparison, Known
from vlm.study.compare.study import (
    ComparePlan,
    Sampled,
    compare_study,
    key_differences,
    sampled_number,
)
from vlm.study.power.study import PowerPlan

COARSE = ComparePlan(grid=Grid(3, 10), power=False)
COARSEST = replace(COARSE, grid=Grid(2, 8))
FLAT = FoldAngles()


def entry(name: str, *changes: str, file: str = "tideline", fold: float = 0.0) -> Entry:
    return Entry(name, load_biplane(file, changes), FoldAngles.symmetric(fold))


def by_key(comparison: Comparison) -> dict[str, ComparedNumber]:
    return {one.key: one for one in comparison.numbers}


@pytest.fixture(scope="module")
def wider() -> Comparison:
    both = [entry("tideline"), entry("wider", "arrangement.gap_m=0.45")]
    return compare_study(both, COARSE)


@pytest.fixture(scope="module")
def finer() -> list[Sheet]:
    """The same on a lattice of eleven times the panels."""
    state = FlightState(alpha=float(np.radians(4.0)), airspeed=12.0)
    sheets = []
    for changes in ((), ("arrangement.gap_m=0.45",)):
        sheets.append(Sheet())
        angle_numbers(entry("", *changes), state, Grid(10, 34), sheets[-1])
    return sheets


@pytest.mark.parametrize("key", ["lift_N", "induced_drag_N", "span_efficiency", "static_margin"])
def test_a_difference_holds_on_a_much_finer_lattice(
    key: str, wider: Comparison, finer: list[Sheet]
) -> None:
    apart = by_key(wider)[key].differences[1]
    true = finer[1].values[key] - finer[0].values[key]
    assert apart.value is not None
    assert apart.half_width is not None
    assert abs(true - apart.value) <= apart.half_width


def test_common_errors_cancel(wider: Comparison) -> None:
    """Known to a fraction of what the two numbers' own half-widths would leave."""
    for key in ("lift_N", "induced_drag_N", "thrust_N", "Cl_beta", "rolling_moment_N_m"):
        one = by_key(wider)[key]
        widths = [known.half_width for known in one.values]
        assert one.differences[1].half_width < 0.6 * sum(widths), key


def test_the_other_way_round_is_the_same_with_the_other_sign(wider: Comparison) -> None:
    swapped = compare_study([entry("wider", "arrangement.gap_m=0.45"), entry("tideline")], COARSE)
    for key, one in by_key(wider).items():
        back = by_key(swapped)[key].differences[1]
        assert back.value == pytest.approx(-one.differences[1].value, rel=1e-9, abs=1e-12)
        assert back.half_width == pytest.approx(one.differences[1].half_width, rel=1e-9)


def test_the_answer_opens_with_how_soon_motions_double(wider: Comparison) -> None:
    """A rate of growth of ln 2 a second doubles in one second (exponential growth, from memory)."""

    def opening(first: Known, other: Known, apart: Known) -> list[str]:
        numbers = []
        for one in wider.numbers:
            if one.key == "pitch_growth_1_s":
                one = replace(one, values=(first, other), differences=(Known(0.0, 0.0), apart))
            numbers.append(one)
        said = compare_answer(replace(wider, numbers=tuple(numbers)))
        return [line for line in said if line.startswith("Pitch, level flight")]

    doubles, slower = Known(log(2.0), 0.01), Known(0.5 * log(2.0), 0.01)
    start = "Pitch, level flight, controls fixed: doubles in 1.000 ± 0.014 s in tideline"
    assert opening(doubles, slower, Known(-0.35, 0.02)) == [
        f"{start}, doubles in 2.000 ± 0.058 s in wider."
    ]
    assert opening(doubles, doubles, Known(0.0, 0.02)) == [
        f"{start}, no difference known from wider."
    ]
    decays, open_ = Known(-1.0, 0.1), Known(0.05, 0.1)
    assert opening(doubles, decays, Known(-1.7, 0.1)) == [f"{start}, decays in wider."]
    assert opening(doubles, open_, Known(-0.6, 0.1)) == [
        f"{start}, not known whether it grows in wider."
    ]
    assert opening(decays, decays, Known(0.0, 0.1)) == []


def test_of_several_others_each_number_says_who_has_more(wider: Comparison) -> None:
    """By hand: 2 N more and 1 N less than 4 N, 50 and 25 %; exactly as much; not known apart."""
    first, other = wider.entries
    names = ("more", "less", "alike", "open", "none")
    entries = (first, *(replace(other, name=name) for name in names))
    apart = (Known(0.0, 0.0), Known(2.0, 0.1), Known(-1.0, 0.1), Known(0.0, 0.0), Known(0.05, 0.1),
             Known(None, None))  # fmt: skip
    [lift] = [one for one in wider.numbers if one.key == "lift_N"]
    [margin] = [one for one in wider.numbers if one.key == "static_margin"]
    [growth] = [one for one in wider.numbers if one.key == "pitch_growth_1_s"]
    signs = [Known(value, 0.02) for value in (0.1, -0.1, 0.1, 0.01, -0.1, 0.1)]
    lift = replace(lift, values=(Known(4.0, 0.1),) * 6, differences=apart)
    margin = replace(margin, values=tuple(signs), differences=(Known(0.0, None),) * 6,
                     body_turns_m3=(1e-3, None, 2e-3, None, None, 3e-3))  # fmt: skip
    growth = replace(growth, values=tuple(signs), differences=(Known(0.0, 0.1),) * 6)
    found = compare_answer(replace(wider, entries=entries, numbers=(lift, margin, growth)))
    assert found == [
        "Pitch, level flight, controls fixed: doubles in 6.9 ± 1.4 s in tideline, less and none;"
        " decays in more and open; not known whether it grows in alike.",
        "Static stability in pitch: stable in tideline (without a round body of more than 1.0"
        " litres), less (without a round body of more than 2.0 litres) and none (without a round"
        " body of more than 3.0 litres); unstable in more and open; sign not known in alike.",
        "Lift, against tideline: more in more (50 %); less in less (25 %); the same in alike; no"
        " difference known in open.",
    ]


def test_the_same_craft_does_not_differ() -> None:
    found = compare_study([entry("one"), entry("two", 'title="Two"')], COARSEST)
    assert found.keys == ()
    for one in found.numbers:
        assert one.differences[1] == Known(0.0, 0.0)
    text = " ".join(compare_table(found).split())
    assert "two: the same lift, induced drag, static margin," in text
    assert "no difference that is known" not in text


def test_mass_alone_changes_no_lift_at_one_angle_but_the_level_angle() -> None:
    heavier = [entry("light"), entry("heavy", "mass.body_kg=2.2")]
    found = by_key(compare_study(heavier, replace(COARSEST, air=Air(13.0))))
    assert found["lift_N"].differences[1] == Known(0.0, 0.0)
    assert found["level_alpha_deg"].differences[1].sign == 1
    assert found["thrust_N"].differences[1].sign == 1


def test_only_what_changes_numbers_is_named() -> None:
    crafts = [load_biplane("tideline"), load_biplane("tideline", ("arrangement.gap_m=0.4",))]
    (only,) = key_differences(crafts)
    assert (only.key, only.values) == ("arrangement.gap_m", (0.36, 0.4))


def test_a_craft_without_masses_is_compared_by_the_lattice_alone() -> None:
    found = compare_study(
        [entry("a", file="plank"), entry("b", "upper.sweep_deg=10", file="plank")], COARSE
    )
    assert {"lift_N", "Cl_beta"} <= by_key(found).keys()
    assert "thrust_N" not in by_key(found)
    assert found.missing["a"] == ("level flight, roll: [mass] is missing",)


def test_too_few_and_two_of_one_name_are_refused() -> None:
    with pytest.raises(InputRefused, match="1 to compare; give 2 to 8"):
        compare_study([entry("a")], COARSE)
    with pytest.raises(InputRefused, match="a is given more than once"):
        compare_study([entry("a"), entry("a")], COARSE)


def test_samples_are_paired_where_they_are_of_the_same_inputs() -> None:
    """By hand: 2 x + 1 less x varies as x does; unpaired, by Pythagoras, as the root of 5."""
    x = np.linspace(-1.0, 1.0, 2001)
    first, other = Sampled(0.0, x, 50.0), Sampled(1.0, 2.0 * x + 1.0, 50.0)
    assert other.less(first, paired=True).half_width == pytest.approx(0.5, rel=1e-3)
    assert other.less(first, paired=False).half_width == pytest.approx(0.5 * 5**0.5, rel=1e-3)
    assert other.less(first, paired=True).value == 1.0


@pytest.mark.parametrize(("mass", "half_width"), [(1.0, 0.5), (2.0, 0.5 * 5**0.5)])
def test_samples_are_paired_where_the_files_state_the_same(mass: float, half_width: float) -> None:
    """Half-widths as in the test above; two files that state other uncertainties share none."""
    x = np.linspace(-1.0, 1.0, 2001)
    stated = ("uncertainty.mass_percent=1.0",)
    entries = [entry("a", *stated), entry("b", f"uncertainty.mass_percent={mass}")]
    samples = {
        "a": {"least_power_W": Sampled(0.0, x, 50.0)},
        "b": {"least_power_W": Sampled(1.0, 2.0 * x + 1.0, 50.0)},
    }
    found = sampled_number("least_power_W", entries, samples)
    assert found is not None
    assert found.differences[1].value == 1.0
    assert found.differences[1].half_width == pytest.approx(half_width, rel=1e-3)
    assert sampled_number("fastest_m_s", entries, samples) is None


@pytest.mark.slow
def test_power_is_compared_over_the_same_samples(tmp_path, capsys) -> None:
    """The craft's common unknowns cancel: the interval of the difference is the smaller."""
    picture = tmp_path / "compared.png"
    words = ["compare", "tideline", "--variant", "drag_areas.0.area_m2=0.004", "--rows", "2"]
    assert main([*words, "--strips", "8", "--json", "--plot", str(picture)]) == 0
    document = json.loads(capsys.readouterr().out)
    numbers = {one["key"]: one for one in document["numbers"]}
    power = numbers["least_power_W"]
    first, other = power["values"]
    apart = power["differences"][1]
    assert apart["value"] == pytest.approx(other["value"] - first["value"])
    assert apart["half_width"] < 0.5 * (first["half_width"] + other["half_width"])
    assert picture.stat().st_size > 10_000


def test_powers_lattice_is_coarser_than_the_loads_and_never_below_that_of_power(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two rows and eight strips are the least that trims are compared on."""
    asked: list[Grid] = []

    def refused(_craft: object, plan: PowerPlan) -> None:
        asked.append(plan.grid)
        raise ComputationFailed("not here")

    monkeypatch.setattr(compare_module, "power_study", refused)
    for grid in (Grid(2, 8), Grid(3, 10), Grid(8, 30)):
        plan = replace(COARSE, grid=grid, power=True)
        assert compare_module._Comparing([entry("tideline")], plan, silent).powers() == {}
    assert [(grid.rows, grid.strips) for grid in asked] == [(2, 8), (2, 8), (4, 24)]


def test_several_settings_of_one_file(capsys, tmp_path) -> None:
    words = ["compare", "tideline", "--fold", "0", "--fold", "-45", "--no-power"]
    assert main([*words, "--rows", "2", "--strips", "8", "--full"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("-45 deg against 0 deg\n")
    assert "Dihedral effect: " in text
    assert "only the folds differ" in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["tideline", "--fold", "0"], "1 to compare"),
        (["tideline", "--variant", "arrangement.gab_m=1"], "did you mean gap_m"),
        (["tideline", "thistle", "--fold", "90"], "fold_max_deg"),
        (["tideline", "tideline"], "the same name"),
        (["tideline", "plank", "--mission"], "[[mission]] is missing"),
    ],
)
def test_what_cannot_be_compared_is_refused(words, said, capsys) -> None:
    assert main(["compare", *words, "--no-power", "--rows", "2", "--strips", "8"]) == 2
    assert said in capsys.readouterr().err


def test_the_picture_stands_by_itself(wider: Comparison, tmp_path) -> None:
    save_compare_picture(wider, tmp_path / "a.svg")
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "wider against tideline" in text
    assert "rolling moment by folding" in text


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ComputationFailed("the schedule cannot fly the mission: dash: at 19 m/s: power"),
         "wider: the schedule cannot fly the mission: dash: at 19 m/s: power."),
        (InputRefused("[schedule] is missing"),
         "wider: whether it can fly the mission is not known: [schedule] is missing."),
    ],
)  # fmt: skip
def test_who_does_not_fly_the_mission_is_said_first(error, said, monkeypatch) -> None:
    def flown(craft, legs, air):
        if craft.arrangement.gap_m > 0.4:
            raise error
        return SimpleNamespace(schedule=SimpleNamespace(samples=None, energy=36000.0))

    monkeypatch.setattr(compare_module, "mission_study", flown)
    monkeypatch.setattr(compare_module, "kept_answer", lambda kind, crafts, asked, made: made())
    both = [entry("tideline"), entry("wider", "arrangement.gap_m=0.45")]
    found = compare_study(both, replace(COARSEST, mission=load_mission("long_survey").mission))
    text = compare_table(found)
    answer = text.split("\n\n")[1]
    assert " ".join(answer.split()).startswith(said)
    assert "Not compared" not in text
    said = " ".join(text.split())
    assert "-: one of both has no such speed" in said
    assert "or does not fly the mission (see the answer)" in said
    energy = by_key(found)["mission_energy_Wh"]
    assert [known.value for known in energy.values] == [10.0, None]
    (row,) = [one for one in text.splitlines() if one.startswith("  energy along the schedule")]
    assert row.split()[-5:] == ["10.0", "±", "not", "known", "-"]


def test_one_craft_at_several_folds_flies_its_mission_once(monkeypatch) -> None:
    flown = []

    def mission(craft, legs, air):
        flown.append(craft)
        return SimpleNamespace(schedule=SimpleNamespace(samples=None, energy=36000.0))

    monkeypatch.setattr(compare_module, "mission_study", mission)
    craft, wider = load_biplane("tideline"), entry("wider", "arrangement.gap_m=0.45")
    three = [
        Entry("flat", craft, FoldAngles()),
        Entry("low", craft, FoldAngles(-20.0, -20.0)),
        wider,
    ]
    plan = replace(COARSEST, mission=load_mission("long_survey").mission)
    found = compare_module._Comparing(three, plan, silent).missions()
    assert [one.arrangement.gap_m for one in flown] == [0.36, 0.45]
    assert [found[one.name]["mission_energy_Wh"].value for one in three] == [10.0] * 3


@pytest.mark.parametrize(
    ("grid", "power", "said"),
    [(Grid(8, 20), "4 rows x 16 strips", True), (Grid(4, 20), "2 rows x 16 strips", False)],
)
def test_each_lattice_is_named(grid: Grid, power: str, said: bool) -> None:
    """That of power is the one of the command power where nothing else is asked for."""
    plan = replace(COARSE, grid=grid)
    own, other = compare_module._Comparing([entry("tideline")], plan, silent).lattices(
        {"one": None}
    )  # type: ignore[dict-item]
    assert f"{grid.rows} rows x {grid.strips} strips" in own
    assert power in other
    assert ("that of the command power" in other) is said


def test_keys_stand_once_for_each_craft() -> None:
    craft, wide = load_biplane("tideline"), entry("x", "arrangement.gap_m=0.45").craft
    many = [
        Entry(f"{name}, {fold:g} deg", one, FoldAngles(fold, fold))
        for name, one in (("narrow", craft), ("wide", wide))
        for fold in (0.0, 15.0)
    ]
    found = compare_study(many, COARSEST)
    text = compare_table(found)
    (head,) = [line for line in text.splitlines() if line.startswith("differs in the files")]
    assert head.split()[-2:] == ["narrow", "wide"]


def test_only_what_was_compared_is_assumed() -> None:
    one = [entry("tideline")]
    bare = compare_module._Comparing(one, COARSE, silent).assumptions({})
    plan = replace(COARSE, mission=load_mission("long_survey").mission)
    both = compare_module._Comparing(one, plan, silent).assumptions({"one": None})  # type: ignore[dict-item]
    assert not any("power" in text or "mission" in text for text in bare)
    for word in ("power: full trim", "power's lattice", "a mission is flown", "mission's lattice"):
        assert any(text.startswith((word, f"the {word}")) for text in both)
