"""The table of measured less predicted power: every column is explained below it. No source."""

import re

import numpy as np

from vlm.log.residuals import Residuals
from vlm.show.tables.log import RESIDUAL_NOTE, _against


class Against:
    """A comparison of one configuration, before and after a fit; numbers are invented."""

    residuals = (Residuals("loiter", *(np.array([10.0, 12.0]),) * 6, 28.0, 14.0, 17.0, 0.29,
                           0.15, 5.48, 2, 0),)  # fmt: skip
    fitted_residuals = residuals


def test_columns_are_explained_below_the_table() -> None:
    lines = _against(Against()).splitlines()  # type: ignore[arg-type]
    rows = [line for line in lines if line.startswith("loiter")]
    assert rows[0].split()[-1] == rows[1].split()[-1] == "0"
    note = " ".join(lines[lines.index(rows[1]) + 1 :])
    assert note == RESIDUAL_NOTE
    heads = [one for one in re.split(r"  +", lines[0]) if one.strip()]
    assert [head for head in heads if f"{head}: " not in note and f"{head}, " not in note] == []
