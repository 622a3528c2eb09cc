"""A section's tables in one folder: the same curves as in one table, refusals that name files."""

import json
from pathlib import Path

import pytest

from vlm.description.loading import load_biplane
from vlm.description.section_table import one_table, reynolds_of_name, section_curves
from vlm.errors import InputRefused
from vlm.study.sweep.carried_tables import carried_tables, rebuilt

# Invented numbers.
HEAD = "alpha_deg,cl,cd,cm\n"
SLOW = "-8,-0.7,0.05,0.0\n0,0.1,0.02,-0.02\n9,0.9,0.06,-0.01\n"
FAST = "-9,-0.8,0.03,0.0\n0,0.11,0.012,-0.02\n10,1.1,0.04,-0.01\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    tables = tmp_path / "polars"
    tables.mkdir()
    (tables / "slow_re_80k.csv").write_text(HEAD + SLOW)
    # Semicolons, decimal commas, and a name in another form.
    other = (HEAD + FAST).replace(",", ";").replace(".", ",")
    (tables / "Re2e5.txt").write_text(other)
    (tables / "notes.md").write_text("not a table")
    return tables


def test_a_folder_holds_the_curves_of_one_table(folder: Path, tmp_path: Path) -> None:
    rows = [f"{row},{re}" for re, text in ((80000, SLOW), (200000, FAST)) for row in text.split()]
    whole = tmp_path / "whole.csv"
    whole.write_text("alpha_deg,cl,cd,cm,reynolds\n" + "\n".join(rows) + "\n")
    expected = section_curves("whole.csv", tmp_path)
    assert section_curves("polars", tmp_path) == expected
    assert [curve.reynolds for curve in expected] == [80000.0, 200000.0]
    whole.write_text(one_table(folder))
    assert section_curves("whole.csv", tmp_path) == expected


@pytest.mark.parametrize(
    ("name", "reynolds"),
    [
        ("re100000.csv", 1e5), ("smooth_Re_2e5.csv", 2e5), ("re80k.txt", 8e4),
        ("RE-1.5e5.dat", 1.5e5),
        ("foil.csv", None), ("here100.csv", None), ("red5.csv", None), ("core_5.csv", None),
    ],
)  # fmt: skip
def test_reynolds_numbers_in_names(name: str, reynolds: float | None) -> None:
    assert reynolds_of_name(name) == reynolds


def test_refusals_name_the_file(folder: Path, tmp_path: Path) -> None:
    (folder / "re_80000.dat").write_text(HEAD + SLOW)
    with pytest.raises(InputRefused, match=r"reynolds = 80000 stands in re_80000\.dat too"):
        section_curves("polars", tmp_path)
    (folder / "re_80000.dat").unlink()
    (folder / "plain.csv").write_text(HEAD + SLOW)
    with pytest.raises(InputRefused, match=r"plain\.csv: no column reynolds"):
        section_curves("polars", tmp_path)
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputRefused, match="no table in this folder"):
        section_curves("empty", tmp_path)


def test_a_result_carries_the_folder(folder: Path, tmp_path: Path) -> None:
    text = load_biplane("plank").source.text.replace("[upper]", '[upper]\nsection = "own"', 1)
    own = tmp_path / "own.toml"
    own.write_text(text + '\n[sections.own]\nform = "table"\ntable = "polars"\n')
    craft = load_biplane(own)
    tables = json.loads(json.dumps(carried_tables(craft)))
    with rebuilt(craft.to_toml(), tables, "a result") as again:
        name = again.sections["own"].table
        assert name is not None
        assert section_curves(name, again.folder) == section_curves("polars", tmp_path)
