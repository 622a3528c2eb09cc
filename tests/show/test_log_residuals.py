"""The table of measured less predicted power: every column is explained below it. No source."""

import re
from dataclasses import replace

import numpy as np

from vlm.log.residuals import Residuals
from vlm.show.tables.log import RESIDUAL_NOTE, UNPREDICTED_NOTE, _against


class Against:
    """A comparison of one configuration, before and after a fit; numbers are invented."""

    residuals = (Residuals("loiter", *(np.array([10.0, 12.0]),) * 6, 28.0, 14.0, 17.0, 0.29,
                           0.15, 5.48, 2, 0),)  # fmt: skip
    fitted_residuals = residuals


def test_columns_are_explained_below_the_table() -> None:
    for missed in (0, 3):
        against = Against()
        against.residuals = [replace(one, unpredicted=missed) for one in against.residuals]
        against.fitted_residuals = against.residuals
        lines = _against(against).splitlines()  # type: ignore[arg-type]
        rows = [line for line in lines if line.startswith("loiter")]
        last = "3" if missed else "2"  # of so many bins
        assert rows[0].split()[-1] == rows[1].split()[-1] == last
        note = " ".join(lines[lines.index(rows[1]) + 1 :])
        assert note == RESIDUAL_NOTE + (UNPREDICTED_NOTE if missed else "")
        heads = [one for one in re.split(r"  +", lines[0]) if one.strip()]
        assert [head for head in heads if f"{head}: " not in note and f"{head}, " not in note] == []
