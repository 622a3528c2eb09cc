"""Where a power curve ends when no airspeeds are asked for."""

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.flight.trim.trim_measures import measured
from vlm.lattice.cellule import Grid
from vlm.study.power.study import SEARCH_STEP, top_speed


def test_the_end_lies_a_step_beyond_the_last_trim_within_limits() -> None:
    """A gap in the limits near stall does not end the search."""
    craft = powered_craft(load_biplane("tideline"), FoldAngles(), grid=Grid(3, 10))
    end = top_speed(craft)
    problem = trim_problem(craft)
    inside = measured(problem, trimmed(problem, end / SEARCH_STEP))
    assert inside.least_margin >= 0.0
    assert measured(problem, trimmed(problem, 1.1 * end)).least_margin < 0.0
    assert end > 20.0


def test_a_branch_that_ends_does_not_end_the_search() -> None:
    """Boxed on three of four rotors the steep trim ends at 11 m/s; the flat one goes on."""
    tables = load_biplane("tideline").model_dump(exclude_none=True)
    tables["rotors"] = [
        rotor | {"thrust_max_N": 12.0, "power_max_W": 200.0} for rotor in tables["rotors"][:3]
    ]
    craft = Biplane.model_validate(tables)
    made = powered_craft(craft, FoldAngles.symmetric(-90.0), grid=Grid(2, 8))
    end = top_speed(made)
    assert end > 19.0
    assert direct_trim(made, 0.95 * end / SEARCH_STEP).is_allowed
    assert not direct_trim(made, 1.1 * end).is_allowed


def test_a_setting_that_never_flies_has_no_end() -> None:
    """One tip down by 45 degrees: the rotors cannot hold it in wing-borne flight."""
    craft = powered_craft(load_biplane("tideline"), FoldAngles(0.0, -45.0), grid=Grid(3, 10))
    assert top_speed(craft) == 0.0
