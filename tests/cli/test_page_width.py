"""Every command's answer fits 80 columns, in one order: title, caution, answer, ..., what it
rests on, then the files written.

No source but the promise of docs/guide.md. Cases are cheap, not converged.
"""

import pytest

from vlm.cli.main import main
from vlm.show.text.answer import CAUTION
from vlm.show.text.layout import WIDTH, fitted, table

COARSE = ["--rows", "2", "--strips", "8"]
CHEAP = [
    ["point", "tideline", "--alpha", "4", "--fold", "-90", *COARSE],
    ["point", "thistle", "--alpha", "14", "--beta", "3", "--fold-left", "10", "--fold-right", "-30",
     *COARSE],
    ["point", "plank", "--alpha", "4", *COARSE],
    ["sweep", "tideline", "--fold", "-90:60:3", "--errors", *COARSE, "--out", "a.nc"],
    ["sweep", "thistle", "--fold", "-40:10:3", "--asymmetric", "--errors", *COARSE, "--out",
     "b.nc"],
    ["sweep", "plank", "--fold", "0", "--over", "upper.span_m=1:1.2:2", "--errors", *COARSE,
     "--out", "c.nc"],
    ["converge", "plank", "--rows", "4", "--strips", "16", "--within", "1%"],
    ["check", "winnow"],
    # Fins that meet at every fold, a tip that meets the other wing at one, a fin's long name.
    ["check", "teasel", "--set", "fins.2.x_m=0.46", "--set", "fins.2.z_m=-0.16"],
    ["check", "tideline", "--set", "arrangement.gap_m=0.2"],
    ["check", "teasel", "--set", 'fins.2.name="a-keel-with-a-name-that-no-column-holds"'],
    ["compare", "tideline", "thistle", "--no-power", *COARSE],
    ["compare", "tideline", "--variant", "arrangement.gap_m=0.41", "--variant",
     "mass.body_kg=2;arrangement.gap_m=0.4", "--no-power", *COARSE],
    ["power", "thistle", "--airspeeds", "9:15:3", "--no-intervals", *COARSE],
]  # fmt: skip
LONG = [
    ["roll", "tideline", "--step", "45", *COARSE],
    ["lateral", "winnow", *COARSE],
    ["hinge", "thistle", "--gust-speed", "5", *COARSE],
    ["power", "tideline", "--airspeeds", "9:27:5", *COARSE],
    ["schedule", "tideline", "--fold-count", "5", *COARSE],
    [
        "mission",
        "winnow",
        "--legs",
        "long_survey",
        "--fold-count",
        "3",
        "--set",
        "schedule.speeds=4",
        *COARSE,
    ],
    [
        "mission",
        "tideline",
        "--legs",
        "long_transit",
        "--fold-count",
        "3",
        "--set",
        "schedule.speeds=4",
        *COARSE,
    ],
    ["motion", "tideline", "--scenario", "side gust", *COARSE],
    ["log", "tideline", "tideline-invented.csv", *COARSE],
]


def full_name(words: list[str]) -> str:
    """Command, craft and what is set, in short."""
    return " ".join([*words[:2], *(word for word in words[2:] if "=" in word)])[:60]


def fits(words: list[str], capsys, monkeypatch, tmp_path) -> None:
    monkeypatch.chdir(tmp_path)
    status = main(words)
    said = capsys.readouterr()
    assert status in (0, 3), said.err
    lines = said.out.splitlines()
    wide = [line for line in lines if len(line) > WIDTH]
    assert wide == []
    assert CAUTION in lines[1:3]
    warned = [line for line in said.err.splitlines() if line.startswith("warning: ")]
    assert len(warned) == len(set(warned))
    last = [line for line in lines if line.startswith("Rests on: ")]
    assert len(last) == 1
    if "--out" in words:
        assert said.err.splitlines()[-1].startswith("wrote ")


@pytest.mark.parametrize("words", CHEAP, ids=full_name)
def test_an_answer_fits_the_page(words, capsys, monkeypatch, tmp_path) -> None:
    fits(words, capsys, monkeypatch, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("words", LONG, ids=full_name)
def test_a_long_study_s_answer_fits_the_page(words, capsys, monkeypatch, tmp_path) -> None:
    fits(words, capsys, monkeypatch, tmp_path)


def test_columns_that_do_not_fit_go_into_further_tables() -> None:
    heads = ["case", *(f"quantity {i}" for i in range(12))]
    rows = [[str(j), *(f"{i}.{j} ± 0.12" for i in range(12))] for j in range(3)]
    text = fitted(heads, rows)
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert all(head in text for head in heads)
    assert text.count("case") == len(text.split("\n\n")) > 1


def test_one_space_between_columns_where_two_are_too_many() -> None:
    cells = ["x" * 9] * 8  # 72 columns, with 7 gaps
    assert len(table(cells, [cells]).splitlines()[0]) == 79
