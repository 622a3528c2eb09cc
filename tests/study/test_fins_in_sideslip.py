"""Tables that know sideslip to first order do not hold where a wake swings across a fin.

The truth is a solve at the sideslip itself.
"""

from functools import cache

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients
from vlm.loads.state import FlightState
from vlm.progress import silent
from vlm.study.export.tables import holds_in_sideslip
from vlm.study.motion.judging import whether_within
from vlm.study.point.fin_validity import sideslip_findings
from vlm.study.point.point import solve_point
from vlm.study.roll import study
from vlm.study.roll.study import RollPlan, _Study
from vlm.verdicts import SIGN_NOT_KNOWN

GRID = Grid(3, 8)
ALPHA = float(np.radians(5.0))


@cache
def folding(name: str) -> FoldingCraft:
    return FoldingCraft(load_biplane(name), GRID, sections=False)


@pytest.mark.parametrize(
    ("name", "beta_deg", "warned"),
    [("teasel", 5.0, True), ("teasel", 0.5, False), ("tideline", 5.0, False)],
)
def test_a_craft_with_fins_is_warned_of_in_sideslip(
    name: str, beta_deg: float, warned: bool
) -> None:
    craft = folding(name)
    found = sideslip_findings(craft.craft, craft.symmetric(0.0).loads, ALPHA, beta_deg)
    assert bool(found) is warned
    assert holds_in_sideslip(craft, beta_deg) is not warned


def test_the_miss_is_that_against_a_point_in_sideslip() -> None:
    craft = folding("teasel")
    loads = craft.symmetric(0.0).loads
    state = FlightState(alpha=ALPHA, beta=float(np.radians(5.0)))
    truth = solve_point(craft.craft, FoldAngles(), state, grid=GRID, errors=False).coefficients
    read = coefficients(loads, state)
    missed = abs(float(read.Cl) - truth.Cl) + abs(float(read.Cn) - truth.Cn)
    (finding,) = sideslip_findings(craft.craft, loads, ALPHA, 5.0)
    assert finding.value == pytest.approx(missed / (abs(truth.Cl) + abs(truth.Cn)), rel=1e-6)


def test_no_limit_is_called_kept_where_the_tables_do_not_hold() -> None:
    craft = folding("teasel")
    found = sideslip_findings(craft.craft, craft.symmetric(0.0).loads, ALPHA, 5.0)
    assert whether_within((), "", found) is None
    assert whether_within((), "") is True


@pytest.mark.parametrize(("name", "holds"), [("teasel", False), ("tideline", True)])
def test_how_a_craft_with_fins_ends_in_sideslip_is_not_said(
    name: str, holds: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Held at zero its loads hold; left free it reaches sideslip that the tables miss."""
    monkeypatch.setattr(study, "FoldingCraft", lambda *_, **__: folding(name))
    plan = RollPlan(Air(12.0, 1.225), duration=0.6, grid=GRID)
    history = _Study(load_biplane(name), plan, silent).history(FoldAngles(0.0, -20.0))
    rows = {row.name: row for row in history.histories or ()}
    held, free = rows["sideslip held at zero"], rows["free in yaw"]
    assert (held.loads_hold, held.ends) == (True, "to starboard")
    assert free.peak_sideslip_deg > 1.0
    assert (free.loads_hold, free.ends == SIGN_NOT_KNOWN) == (holds, not holds)
