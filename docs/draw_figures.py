"""Draws the figures of the docs, which are kept in docs/figures/.

``python docs/draw_figures.py`` draws all of them, ``python docs/draw_figures.py NAME ...`` some. A
figure is kept, so that its page can be read where nothing is built; tests/pages/test_figures.py
draws them again and holds them to what is kept.
"""

import importlib
import re
import sys
from io import StringIO
from pathlib import Path
from typing import Any

FIGURES = Path(__file__).parent / "figures"
HELPERS = {"drawing"}


def names() -> list[str]:
    """Figures that have a script: each has ``drawn()``, which returns a figure."""
    return sorted(path.stem for path in FIGURES.glob("*.py") if path.stem not in HELPERS)


def drawn(name: str) -> str:
    """One figure as SVG."""
    from vlm.show.style import plot_style

    if str(FIGURES) not in sys.path:
        sys.path.insert(0, str(FIGURES))
    with plot_style():
        return as_svg(importlib.import_module(name).drawn(), bbox_inches="tight")


def as_svg(figure: Any, **options: Any) -> str:
    """A figure as SVG; text as outlines, to look alike whichever fonts its reader has."""
    import matplotlib as mpl

    stream = StringIO()
    with mpl.rc_context({"svg.fonttype": "path"}):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, **options)
    # Places to a hundredth of a point: a third less to keep.
    text = re.sub(r"(?<=[ \"(,ML])(-?\d+\.\d{3,})(?=[ \",)\n])", _rounded, stream.getvalue())
    return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"


def _rounded(found: re.Match[str]) -> str:
    value = float(found[1])
    if abs(value) < 1.0:
        return found[1]  # may be a scale
    return f"{value:.2f}".rstrip("0").rstrip(".")


def main(asked: list[str]) -> None:
    """Draw what is asked for, or all."""
    for name in asked or names():
        (FIGURES / f"{name}.svg").write_text(drawn(name), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
