"""The interval of what folding saves, against draws that are built and trimmed one by one.

No source but that; the craft is invented.
"""

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.schedule import SchedulePoint
from vlm.flight.trim.drawn_craft import drawn_craft, drawn_power
from vlm.flight.trim.power_book import power_book
from vlm.flight.trim.power_samples import INPUTS
from vlm.lattice.cellule import Grid
from vlm.study.schedule.saving import largest_saving, with_interval
from vlm.study.sensitivity import draws_of

GRID = Grid(2, 6)
DRAWS = 40


def test_the_interval_of_a_saving_is_that_of_draws_trimmed_directly() -> None:
    """40 draws tell the middle 90 % of a normal spread to a third or so of its half."""
    craft = load_biplane("thistle")
    book = power_book(craft, [-80.0, 0.0, 10.0], np.array([10.0, 13.0]), grid=GRID)
    assert craft.schedule is not None
    table = FoldTable.of(book, craft.schedule)
    best = table.setting(-80.0, 13.0)
    saving = largest_saving([SchedulePoint(13.0, best)], table)
    assert saving is not None
    assert saving.share == pytest.approx(1.0 - best.power / table.setting(0.0, 13.0).power)
    found = with_interval(saving, table).interval
    assert found is not None
    draws, scale, drawn = draws_of(craft), INPUTS.index("rotor_power"), []
    for factors, shifts in zip(draws.factors[:DRAWS], draws.shifts[:DRAWS], strict=True):
        powers = []
        for setting in (saving.flat, best):
            made = table.craft_at(setting.fold_deg)
            assert made is not None
            own = drawn_craft(made, factors, draws.keys, shifts, GRID)
            powers.append(drawn_power(own, setting.point, float(factors[scale])))
        drawn.append(powers[0] - powers[1])
    half = 0.5 * (found[1] - found[0])
    assert 1.645 * np.std(drawn) == pytest.approx(half, rel=0.3)
    assert np.mean(drawn) == pytest.approx(0.5 * (found[0] + found[1]), abs=0.4 * half)
    assert found[0] < saving.flat.power - best.power < found[1]
