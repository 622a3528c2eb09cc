"""Tables parted by commas, semicolons or tabs, with decimal points or commas, hold the same."""

from pathlib import Path

import pytest

from vlm.description.section_table import section_curves
from vlm.errors import InputRefused

ROWS = (("alpha_deg", "cl", "cd"), ("-8", "-0.75", "0.031"), ("0", "0.25", "0.012"),
        ("8", "1.05", "0.026"))  # fmt: skip


def written(folder: Path, mark: str, decimal: str) -> Path:
    path = folder / "polar.csv"
    lines = [mark.join(cell.replace(".", decimal) for cell in row) for row in ROWS]
    path.write_text("# a remark; with a semicolon\n" + "\n".join(lines) + "\n")
    return path


@pytest.mark.parametrize(
    ("mark", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")]
)
def test_the_same_numbers_however_they_are_written(tmp_path: Path, mark: str, decimal: str) -> None:
    (curve,) = section_curves(written(tmp_path, mark, decimal).name, tmp_path)
    assert curve.alpha_deg == (-8.0, 0.0, 8.0)
    assert curve.cl == (-0.75, 0.25, 1.05)
    assert curve.cd == (0.031, 0.012, 0.026)


def test_decimal_commas_between_commas_are_refused(tmp_path: Path) -> None:
    written(tmp_path, ",", ",")
    with pytest.raises(InputRefused, match="values; the columns named are"):
        section_curves("polar.csv", tmp_path)


def test_marks_of_thousands_are_refused(tmp_path: Path) -> None:
    path = written(tmp_path, ";", ",")
    path.write_text(path.read_text().replace("0,031", "1.000,5"))
    with pytest.raises(InputRefused, match="must be a finite number"):
        section_curves("polar.csv", tmp_path)
