"""Tips against rotors: who is the stronger, where that is known, and where both are equal."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.sections import Section
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.modelling import Modelling
from vlm.flight.motion.roll_contest import Contest, stronger_words
from vlm.flight.trim.condition import FlightConditions
from vlm.flight.trim.powered import flight_loads, powered_craft
from vlm.lattice.cellule import Grid
from vlm.show.tables.roll import rotor_lines
from vlm.study.roll.results import Equal, Rotors
from vlm.study.roll.tips_against_rotors import TipsAgainstRotors

SMALL = Grid(3, 8)


@pytest.fixture(scope="module")
def tideline() -> Biplane:
    return load_biplane("tideline")


def against(craft: Biplane, port: float, starboard: float) -> TipsAgainstRotors:
    command = FoldAngles(port, starboard)
    wings = FoldingCraft(craft, SMALL).at(command)
    return TipsAgainstRotors(FlightConditions(craft), FoldAngles(), command, wings)


@dataclass(frozen=True)
class Given(TipsAgainstRotors):
    """With a lead and a half-width known in closed form, the rotors' moment 5 N m."""

    lead: Callable[[float], float] = lambda _: 0.0
    width: Callable[[float], float] = lambda _: 0.0

    def at(self, airspeed: float, *, sure: bool = True) -> Contest:
        lead, width = self.lead(airspeed), self.width(airspeed)
        if np.isnan(lead):
            return Contest(airspeed)
        return Contest(
            airspeed,
            tips_N_m=5.0 + lead,
            tips_half_width_N_m=width if sure else None,
            rotors_N_m=5.0,
        )


def given(lead: Callable[[float], float], width: float) -> Given:
    none: dict[str, object] = dict.fromkeys(("conditions", "base", "command", "wings"))
    return Given(**none, lead=lead, width=lambda _: width)  # type: ignore[arg-type]


def test_an_equal_airspeed_is_solved_and_lies_between_airspeeds_where_it_is_known() -> None:
    """u^2 / 20 - 2 vanishes at the root of 40; it passes 1.5 in size below 3.2 and above 8.4."""
    both = given(lambda u: u * u / 20.0 - 2.0, 1.5)
    [found] = both.equal([both.at(float(u)) for u in range(12)])
    assert found.airspeed_m_s == pytest.approx(np.sqrt(40.0), abs=1e-3)
    assert (found.above_m_s, found.below_m_s) == (3.0, 9.0)


def test_an_equal_airspeed_without_a_known_end_says_so() -> None:
    both = given(lambda u: u - 2.5, 10.0)
    assert both.equal([both.at(float(u)) for u in range(6)]) == [
        Equal(pytest.approx(2.5, abs=1e-3), None, None)
    ]
    broken = given(lambda u: float("nan") if 2.1 < u < 2.9 else u - 2.5, 0.1)
    assert broken.equal([broken.at(float(u)) for u in range(6)]) == [Equal(None, 2.0, 3.0)]
    assert given(lambda u: u + 1.0, 0.1).equal([Contest(0.0), Contest(1.0)]) == []


def test_who_is_the_stronger_is_reported_by_runs_and_left_open_within_the_error() -> None:
    """Rotors that win again at high speed are not said to win in between."""
    leads = [-2.0, -1.0, 0.1, 2.0, 2.0, -3.0]
    found = [
        Contest(float(u), tips_N_m=-5.0 - lead, tips_half_width_N_m=0.5, rotors_N_m=5.0)
        for u, lead in enumerate(leads)
    ]
    assert stronger_words([*found[:2], Contest(1.5), *found[2:]]) == (
        "the rotors are the stronger from 0 to 1 m/s; not known at 2 m/s;"
        " the tips are the stronger from 3 to 4 m/s; the rotors are the stronger at 5 m/s"
    )
    assert stronger_words([Contest(1.0)]) == "no airspeed has a trim"
    assert replace(found[0], tips_half_width_N_m=None).stronger == "sign not known"
    sure = Contest(1.0, tips_N_m=1.0, tips_half_width_N_m=0.2, rotors_N_m=0.5)
    assert sure.stronger == "the tips"
    assert replace(sure, rotors_half_width_N_m=0.2).stronger == "the tips"
    assert replace(sure, rotors_half_width_N_m=0.4).stronger == "sign not known"


def test_the_table_gives_yawing_moments_their_half_widths() -> None:
    row = Contest(
        12.0, 5.8, 1.6, 1.76, 0.14, 0.135, 0.065, 1.23, "lowest thrust", 0.018,
        tips_yawing_half_width_N_m=0.015, rotors_yawing_half_width_N_m=1e-7,
    )  # fmt: skip
    text = rotor_lines(Rotors("full", 15.0, -80.0, (), "words", (row,)))
    assert "0.065 ± 0.015" in text
    assert "0.135 ± 0.018" in text
    assert "1.23 ±" not in text  # a thrust of the file ends it
    assert "1.23 ± 0.21" in rotor_lines(
        Rotors("full", 15.0, -80.0, (), "w", (replace(row, rotors_yawing_half_width_N_m=0.21),))
    )


def test_the_table_says_between_which_airspeeds_both_are_equal() -> None:
    row = Contest(4.0, 60.0, 12.0, 0.39, 0.39, 0.25)
    rotors = Rotors("full", 15.0, -80.0, (Equal(3.298, 2.0, 10.0),), "words", (row,))
    text = rotor_lines(rotors)
    assert "equal at 3.3 m/s, surely above 2 m/s and\nbelow 10 m/s; words" in text
    assert "0.39 ± 0.39" in text
    assert "equal where is not known" in rotor_lines(
        replace(rotors, equal=(Equal(None, None, None),))
    )
    assert "equal at no airspeed" in rotor_lines(replace(rotors, equal=()))


def test_like_folds_do_not_roll_and_mirrored_commands_roll_the_other_way(
    tideline: Biplane,
) -> None:
    for airspeed in (0.0, 12.0):
        rest, one, other = (
            against(tideline, *folds).at(airspeed)
            for folds in ((0.0, 0.0), (10.0, -60.0), (-60.0, 10.0))
        )
        assert rest.tips_N_m == pytest.approx(0.0, abs=1e-6)
        assert one.tips_N_m is not None
        assert other.tips_N_m is not None
        assert one.tips_N_m == pytest.approx(-other.tips_N_m, rel=1e-5, abs=1e-6)
        assert one.tips_half_width_N_m == pytest.approx(other.tips_half_width_N_m, rel=1e-3)
        assert one.tips_yawing_N_m == pytest.approx(-other.tips_yawing_N_m, rel=1e-5, abs=1e-6)
        assert one.tips_yawing_half_width_N_m > 0.0
        assert one.tips_yawing_half_width_N_m == pytest.approx(
            other.tips_yawing_half_width_N_m, rel=1e-3
        )
        assert one.rotors_N_m == pytest.approx(other.rotors_N_m)
    assert one.tips_N_m > 0.5


def test_rotors_are_stronger_in_hover_and_tips_in_cruise_and_between_it_is_not_known(
    tideline: Biplane,
) -> None:
    """Between, the wings are stalled: thin sections in the file's place change the winner."""
    both = against(tideline, 15.0, -80.0)
    hover, steep, cruise = (both.at(airspeed) for airspeed in (0.0, 6.0, 14.0))
    assert [one.stronger for one in (hover, steep, cruise)] == [
        "the rotors", "sign not known", "the tips",
    ]  # fmt: skip
    weight = FoldingCraft(tideline, SMALL).symmetric(0.0).masses.mass * GRAVITY
    assert hover.thrust_N == pytest.approx(weight, rel=0.03)


@pytest.mark.parametrize(("airspeed", "is_stalled"), [(6.0, True), (14.0, False)])
def test_the_half_width_holds_what_thin_sections_and_a_finer_lattice_give(
    tideline: Biplane, airspeed: float, is_stalled: bool
) -> None:
    """A file with thin sections in place of its own, and a lattice twice as fine each way."""
    both = against(tideline, 15.0, -80.0)
    found = both.at(airspeed)
    trim = both.conditions.at(both.base, airspeed, Modelling.ROTORS)
    assert trim is not None
    assert found.tips_N_m is not None
    assert found.tips_half_width_N_m is not None

    def moment(craft: Biplane, grid: Grid | None) -> float:
        made = powered_craft(
            craft, both.command, air=both.conditions.powered(both.base).air, grid=grid
        )
        loads = flight_loads(
            made, np.array([airspeed]), np.array([trim.alpha]), np.array([trim.thrusts])
        )
        _, moments = loads.wings()
        return -float(moments[0, 0])

    others = [moment(tideline, Grid(8, 32))]
    thin = tideline.model_copy(
        update={"sections": {name: Section(form="thin") for name in tideline.sections}}
    )
    if is_stalled:
        others.append(moment(thin, None))
    for other in others:
        assert abs(other - found.tips_N_m) <= found.tips_half_width_N_m
    if is_stalled:  # and no less than it must
        assert found.tips_half_width_N_m == pytest.approx(abs(others[1] - found.tips_N_m), rel=0.3)
    else:
        assert found.tips_half_width_N_m < 0.1 * abs(found.tips_N_m)
