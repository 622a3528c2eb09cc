"""What tests of pictures share."""

from typing import Any

import pytest
from picture_layout import faults


@pytest.fixture
def drawn(monkeypatch) -> list[Any]:
    """Faults of every figure that is saved, in the order of saving."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    found: list[Any] = []
    saving: list[Any] = []
    save, write = Figure.savefig, FigureCanvasSVG.print_svg

    def watched(figure: Any, *words: Any, **keys: Any) -> None:
        found.append(faults(figure))
        saving.append(figure)
        save(figure, *words, **keys)
        saving.pop()

    def written(canvas: Any, *words: Any, **keys: Any) -> None:
        if not saving:  # the report's, which are written without being saved
            FigureCanvasAgg(canvas.figure)  # boxes of texts need a canvas that draws
            found.append(faults(canvas.figure))
            canvas.figure.set_canvas(canvas)
        write(canvas, *words, **keys)

    monkeypatch.setattr(Figure, "savefig", watched)
    monkeypatch.setattr(FigureCanvasSVG, "print_svg", written)
    return found
