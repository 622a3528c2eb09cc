"""Where a power curve ends when no airspeeds are asked for."""

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.flight.trim.trim_measures import measured
from vlm.lattice.cellule import Grid
from vlm.study.power_study import SEARCH_STEP, top_speed


def test_the_end_lies_a_step_beyond_the_last_trim_within_limits() -> None:
    """A gap in the limits near stall does not end the search."""
    craft = powered_craft(load_biplane("tideline"), FoldAngles(), grid=Grid(3, 10))
    end = top_speed(craft)
    problem = trim_problem(craft)
    inside = measured(problem, trimmed(problem, end / SEARCH_STEP))
    assert inside.least_margin >= 0.0
    assert measured(problem, trimmed(problem, 1.1 * end)).least_margin < 0.0
    assert end > 20.0


def test_a_setting_that_never_flies_has_no_end() -> None:
    """One tip down by 45 degrees: the rotors cannot hold it in wing-borne flight."""
    craft = powered_craft(load_biplane("tideline"), FoldAngles(0.0, -45.0), grid=Grid(3, 10))
    assert top_speed(craft) == 0.0
