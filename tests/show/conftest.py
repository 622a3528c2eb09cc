"""What tests of pictures share."""

from typing import Any

import pytest
from picture_layout import faults


@pytest.fixture
def drawn(monkeypatch) -> list[Any]:
    """Faults of every figure that is saved, in the order of saving."""
    from matplotlib.figure import Figure

    found: list[Any] = []
    save = Figure.savefig

    def watched(figure: Any, *words: Any, **keys: Any) -> None:
        found.append(faults(figure))
        save(figure, *words, **keys)

    monkeypatch.setattr(Figure, "savefig", watched)
    return found
