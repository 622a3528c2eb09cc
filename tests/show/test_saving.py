"""Pictures are written again byte for byte. No source but the promise itself."""

from pathlib import Path

import pytest
from matplotlib import figure

from vlm.show.saving import save_figure


@pytest.mark.parametrize("form", ["png", "svg", "pdf"])
def test_the_same_figure_gives_the_same_bytes(form: str, tmp_path: Path, monkeypatch) -> None:
    """On another day too: matplotlib takes the day from this variable where it is set."""
    written = []
    for day in ("86400", "1700000000"):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", day)
        drawn = figure.Figure()
        axes = drawn.subplots()
        axes.plot([0, 1], [1, 0], clip_path=None, marker="o")
        save_figure(drawn, tmp_path / f"{day}.{form}")
        written.append((tmp_path / f"{day}.{form}").read_bytes())
    assert written[0] == written[1]
