"""Every code cell of the notebooks runs, in order, without a browser; pictures are drawn."""

import json
from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).parents[2] / "docs/notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_runs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import matplotlib.pyplot as plt

    monkeypatch.chdir(tmp_path)
    document = json.loads(path.read_text(encoding="utf-8"))
    names: dict[str, object] = {}
    try:
        for number, cell in enumerate(document["cells"]):
            if cell["cell_type"] == "code":
                exec(compile("".join(cell["source"]), f"{path.name}, cell {number}", "exec"), names)
        for figure in map(plt.figure, plt.get_fignums()):
            figure.draw_without_rendering()
            assert figure.axes
            assert all(axes.has_data() for axes in figure.axes)
        assert len(plt.get_fignums()) >= 3
    finally:
        plt.close("all")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_holds_no_output(path: Path) -> None:
    """Kept without output, so that nothing in it can be out of date."""
    document = json.loads(path.read_text(encoding="utf-8"))
    for cell in document["cells"]:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


def test_there_is_one() -> None:
    assert NOTEBOOKS
