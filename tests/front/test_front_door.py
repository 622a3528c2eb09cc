"""The front door answers what the command answers, in degrees, from lists and arrays alike."""

import inspect
import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import vlm
from vlm.cli.commands import load_command
from vlm.front.datasets import fold_map_dataset

PROJECT = Path(__file__).parents[2]
COARSE = {"rows": 2, "strips": 8}
ASKED = {
    "roll",
    "lateral",
    "hinge",
    "power",
    "schedule",
    "mission",
    "point",
    "sweep",
    "view",
    "compare",
    "motion",
}
UNLIKE = {
    "fold",
    "folds",
    "airspeeds",
    "alphas",
    "shares",
    "load_factors",
    "out",
    "over",
    "betas",
    "legs",
}
"""Parameters that the command takes as text or under several options."""


@pytest.fixture(scope="module")
def craft() -> vlm.Craft:
    return vlm.open_craft("tideline")


def test_the_doors_are_named_and_nothing_else_is_there() -> None:
    assert {"open_craft", "Craft", "Answer", "InputRefused", "ComputationFailed"} <= set(dir(vlm))
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        vlm.nothing  # noqa: B018


def test_a_point_is_what_the_command_prints(craft: vlm.Craft, run_foldspan) -> None:
    """Alpha in degrees: taken as radians, the lift would be another."""
    run = run_foldspan(
        "point", "tideline", "--alpha", "4", "--beta", "3", "--fold-left", "20", "--fold-right",
        "-10", "--rows", "2", "--strips", "8", "--json",
    )  # fmt: skip
    point = craft.point(alpha=4, beta=3, fold=(20, -10), **COARSE)
    printed = json.loads(run.stdout)
    assert point["reference"] == printed["reference"]
    for part in ("state", "coefficients", "error_estimate"):
        assert point[part] == pytest.approx(printed[part], rel=1e-9, abs=1e-12)
    assert point["derivatives"]["body"] == pytest.approx(
        printed["derivatives"]["body"], rel=1e-9, abs=1e-12
    )
    assert point.dataset is not None
    assert point.dataset["cl"].values == pytest.approx([strip["cl"] for strip in printed["strips"]])
    assert point.dataset["circulation_m2_s"].attrs["units"] == "m^2/s"


@pytest.mark.parametrize("name", sorted(ASKED))
def test_defaults_are_those_of_the_command(name: str) -> None:
    options = {option.name: option for option in load_command(name).params}
    taken = inspect.signature(getattr(vlm.Craft, name)).parameters
    compared = 0
    for parameter in taken.values():
        if parameter.name in UNLIKE | {"self"} or parameter.name not in options:
            continue
        default = options[parameter.name].to_info_dict()["default"]
        if parameter.default is inspect.Parameter.empty or default is None:
            continue
        assert parameter.default == default, parameter.name
        compared += 1
    assert compared >= 3


@pytest.mark.parametrize("kind", [list, tuple, np.array])
def test_a_sweep_takes_lists_tuples_and_arrays(craft: vlm.Craft, kind) -> None:
    data = craft.sweep(folds=kind([-30, 0]), alphas=kind([0.0, 4.0]), **COARSE)
    assert dict(data.sizes) == {"fold": 2, "alpha": 2, "beta": 1}
    point = craft.point(alpha=4, fold=-30, errors=False, **COARSE)
    swept = data["CL"].sel(fold=-30, alpha=4, beta=0).item()
    assert swept == pytest.approx(point["coefficients"]["CL"], rel=1e-9)


def test_a_fold_may_be_named(craft: vlm.Craft) -> None:
    named = craft.point(alpha=4, fold="loiter", errors=False, **COARSE)
    assert named["state"]["fold_left_deg"] == 15.0
    assert craft.fold_settings([0, "dash", (10, -10)]).keys() == {"0 deg", "dash", "10, -10 deg"}


def test_a_comparison_is_what_the_command_prints(craft: vlm.Craft, run_foldspan) -> None:
    run = run_foldspan(
        "compare", "tideline", "--fold", "0", "--fold", "15", "--no-power", "--rows", "2",
        "--strips", "8", "--json",
    )  # fmt: skip
    numbers = {one["key"]: one for one in json.loads(run.stdout)["numbers"]}
    data = craft.compare(folds=[0, 15], power=False, **COARSE).dataset
    assert data is not None
    lift = data["difference_lift_N"].sel(entry="15 deg")
    half = data["difference_half_width_lift_N"].sel(entry="15 deg")
    printed = numbers["lift_N"]["differences"][1]
    assert lift.item() == pytest.approx(printed["value"], rel=1e-9)
    assert half.item() == pytest.approx(printed["half_width"], rel=1e-9)
    assert data["Cl_beta"].attrs["units"] == "1/rad"


def test_changed_gives_a_copy(craft: vlm.Craft) -> None:
    wider = craft.changed({"arrangement.gap_m": np.float64(0.5)})
    assert wider.description.arrangement.gap_m == 0.5
    assert craft.description.arrangement.gap_m == 0.36


def test_a_craft_of_keywords_is_the_craft_of_the_file() -> None:
    plank = vlm.open_craft(
        title="Plank",
        upper={"span_m": 1.2, "root_chord_m": np.float64(0.2), "end_chord_m": 0.2},
    )
    one, other = (c.point(alpha=4, **COARSE) for c in (plank, vlm.open_craft("plank")))
    assert one["coefficients"]["CL"] == pytest.approx(other["coefficients"]["CL"], rel=1e-12)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda c: c.point(alpha="four"), "alpha = 'four'; a number from -180 to 180 is allowed"),
        (lambda c: c.point(alpha=float("nan")), "alpha = nan"),
        (lambda c: c.point(alpha=4, fold="dsh"), "fold = 'dsh'; did you mean dash?"),
        (lambda c: c.point(alpha=4, fold=(1, 2, 3)), "give one number, or port and starboard"),
        (lambda c: c.point(alpha=4, rows=2.5), "rows = 2.5; a whole number is needed"),
        (lambda c: c.point(alpha=4, wake="streams"), "wake = 'streams'; did you mean stream?"),
        (lambda c: c.sweep(folds=[0, 0]), "folds; 0 stands there more than once"),
        (lambda c: c.sweep(folds=[[0.0], [1.0, 2.0]]), "folds must hold at least one number"),
        (lambda c: c.sweep(folds=0, over={"arrangement.gab_m": [1]}), "did you mean gap_m?"),
        (lambda c: c.changed({"arrangement.gab_m": 1}), "did you mean gap_m?"),
        (lambda c: c.changed("arrangement.gap_m=1"), "give values by key path"),
        (lambda c: c.report("page.pdf"), "the ending must be .html"),
        (lambda c: c.power(airspeeds=[3]), "give at least two"),
        (lambda c: c.view(fold=500), "fold = 500; a number from -180 to 180 is allowed"),
        (lambda c: c.view(**COARSE).save("craft.jpg"), "the ending must be"),
        (lambda c: c.compare(c), "two of the craft have the same name"),
        (lambda c: c.compare(folds=[0]), "1 to compare; give 2 to 8"),
        (lambda c: c.compare(mission=True), "[[mission]] is missing"),
        (lambda c: c.motion(), "nothing happens"),
        (lambda c: c.motion("dahs"), "did you mean dash?"),
        (
            lambda c: c.motion(to="dash", duration=1.0),
            "scenario.duration is not a known key; did you mean duration_s?",
        ),
        (lambda c: c.report("page.html", legs="long_surwey"), "did you mean long_survey?"),
        (lambda c: c.report("page.html", log="nowhere.csv"), "nowhere.csv"),
        (lambda _: vlm.open_craft("tidelin"), "did you mean tideline?"),
        (lambda _: vlm.open_craft(), "give a name or path"),
        (lambda _: vlm.open_craft(3), "is no name or path"),
        (lambda _: vlm.open_craft(upper=object()), "(keywords)"),
        (lambda _: vlm.open_craft(title="x", upper={"span_m": -1.0}), "upper.span_m = -1"),
    ],
)
def test_wrong_input_is_refused_with_one_clear_message(craft: vlm.Craft, asked, said: str) -> None:
    with pytest.raises(vlm.InputRefused) as refused:
        asked(craft)
    assert said in str(refused.value)


def test_what_is_shown_is_short_and_marked_up(craft: vlm.Craft) -> None:
    point = craft.point(alpha=4, fold=15, **COARSE)
    assert len(repr(craft)) < 200
    assert re.search(r"Tips at 15 deg, .*CL 0\.44\d* ± 0\.0\d+, .*Warnings: \d", repr(point))
    assert re.search(r"CL 0\.44\d* ± 0\.0\d+, .*Cl 0, .*Cn 0;", repr(point.result))
    assert len(repr(point)) < 400
    assert len(repr(point.result)) < 300
    assert "<pre>Tideline, a shore-survey biplane: one setting\n" in point._repr_html_()
    assert "not a flight clearance" in point._repr_html_()
    with pytest.raises(vlm.InputRefused, match="did you mean coefficients"):
        point["coefficient"]
    assert craft.view(**COARSE)._repr_html_().startswith("<iframe srcdoc=")


def test_the_notebook_needs_no_inner_room() -> None:
    for path in (PROJECT / "docs/notebooks").glob("*.ipynb"):
        text = path.read_text(encoding="utf-8")
        assert "import vlm" in text
        assert not re.search(r"from vlm|import vlm\.|\.result\b", text)


@pytest.mark.slow
def test_all_examples_of_the_page_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Those too that the quick run leaves out."""
    monkeypatch.chdir(tmp_path)
    page = (PROJECT / "docs/api.md").read_text(encoding="utf-8")
    names: dict[str, object] = {}
    blocks = re.findall(r"^```python\n(.*?)^```$", page, re.M | re.S)
    assert len(blocks) >= 7
    for block in blocks:
        exec(block, names)
    for name in ("roll", "lateral", "hinge", "power", "schedule", "motion", "apart"):
        answer = names[name]
        assert isinstance(answer, vlm.Answer)
        assert answer.dataset is not None
        assert answer.dataset.attrs["caution"] or name == "power"
        assert len(repr(answer)) < 400
    assert (tmp_path / "report.html").stat().st_size > 10_000


def test_a_map_with_pairs_that_failed_becomes_a_dataset() -> None:
    """A value that is not there is NaN; contact stays true or false; reasons stay behind."""
    found = fold_map_dataset(
        {
            "left_deg": [-90.0, 0.0],
            "right_deg": [-90.0, 0.0],
            "Cl": [[None, 0.1], [-0.1, 0.0]],
            "joined": [[True, True], [True, False]],
            "failures": [{"left_deg": -90.0, "right_deg": -90.0, "reason": "surfaces cross"}],
        }
    )
    assert set(found.data_vars) == {"Cl", "joined"}
    assert np.isnan(found["Cl"].values[0, 0])
    assert found["Cl"].values[1, 0] == -0.1
    assert found["joined"].dtype == bool


def test_a_point_s_line_rounds_half_widths_as_its_table_does():
    result = vlm.open_craft("plank").point(alpha=4, rows=2, strips=8).result
    half = replace(result, error_estimate={"CL": 0.0996}, model_spread=None)
    assert re.search(r"CL -?\d\.\d\d ± 0\.10,", repr(half))
