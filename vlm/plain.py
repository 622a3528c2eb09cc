"""Plain Python values, as JSON takes them, and text that a spreadsheet takes for text."""

import math
from typing import Any

import numpy as np


def without_nan(value: Any) -> Any:
    """Plain Python values, with None where there is no number."""
    if isinstance(value, dict):
        return {key: without_nan(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [without_nan(item) for item in value]
    if isinstance(value, np.ndarray):
        return [without_nan(item) for item in value.tolist()]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value


FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What makes a spreadsheet take a cell for a formula, which it would run."""


def plain_cell(value: Any) -> Any:
    """A cell of a CSV file that no spreadsheet takes for a formula: text gets a mark in front.

    Numbers are left alone.
    """
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return value
