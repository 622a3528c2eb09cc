"""Pictures that commands write are pictures, whatever they have to show.

PNG: eight bytes of signature at the start, the chunk IEND at the end (ISO/IEC 15948).
"""

from pathlib import Path

import pytest
from matplotlib.figure import Figure

from vlm.cli.main import main

GRID = ("--rows", "2", "--strips", "6")
START, END = b"\x89PNG\r\n\x1a\n", b"IEND\xaeB`\x82"


def is_picture(path: Path) -> bool:
    data = path.read_bytes()
    return data.startswith(START) and data.endswith(END) and len(data) > 10_000


def test_a_sweep_over_a_key_has_a_curve_for_each_value(tmp_path: Path) -> None:
    out = tmp_path / "spans.png"
    words = ["sweep", "plank", "--folds", "0", "--over", "upper.span_m=1.0:1.4:3", *GRID]
    assert main([*words, "--out", str(tmp_path / "o.nc"), "--plot", str(out)]) == 0
    assert is_picture(out)


@pytest.mark.parametrize("fit", [(), ("--fit", "drag_area_m2")])
def test_a_log_held_against_the_prediction_is_drawn(tmp_path: Path, fit: tuple[str, ...]) -> None:
    folder = tmp_path / "pictures"
    words = ["log", "tideline", "tideline-invented.csv", *GRID, "--plots", str(folder)]
    assert main([*words, *fit]) == 0
    drawn = sorted(folder.iterdir())
    assert len(drawn) >= 3
    assert all(is_picture(path) for path in drawn)


@pytest.mark.parametrize("name", ["tideline", "teasel"])
def test_no_dimension_s_number_hides_a_folded_tip(name: str, tmp_path: Path, monkeypatch) -> None:
    """Its box, which is filled, against every dashed line from behind; by the boxes alone."""
    figures = []
    save = Figure.savefig
    monkeypatch.setattr(
        Figure, "savefig", lambda one, *w, **k: (figures.append(one), save(one, *w, **k))
    )
    assert main(["check", name, "--plot", str(tmp_path / "views.png")]) == 0
    (figure,) = figures
    behind = figure.axes[0]
    folded = [line for line in behind.lines if line.get_linestyle() == "--"]
    numbers = [text for text in behind.texts if text.get_text().startswith(("span", "tip"))]
    assert len(numbers) == 2
    assert len(folded) >= 4
    for text in numbers:
        box = text.get_window_extent()
        for line in folded:
            assert (
                not line.get_path()
                .transformed(line.get_transform())
                .intersects_bbox(box, filled=False)
            ), text.get_text()
