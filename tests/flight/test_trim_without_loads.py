"""Loads that are no numbers end a trim with a message. No source but the promise itself."""

from typing import Any

import numpy as np
import pytest

from vlm.errors import ComputationFailed
from vlm.flight.trim import trim as module


def test_loads_that_are_no_numbers_end_a_trim(monkeypatch: Any) -> None:
    class Problem:
        """As much of a trim problem as is asked for before any loads."""

        equations = (0, 1)
        unknowns = 2
        leans = False

        class craft:
            rotors = (None,)

    def nothing(*_arguments: Any) -> Any:
        return np.full((3, 2), np.nan), None

    monkeypatch.setattr(module, "_with_differences", nothing)
    with pytest.raises(ComputationFailed, match="at 12 m/s are no numbers"):
        module.trimmed(Problem(), 12.0)  # type: ignore[arg-type]
