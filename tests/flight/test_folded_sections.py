"""Sections in roll, lateral and hinge studies: nothing where they are thin, stall where it is."""

import numpy as np
import pytest
from flying_craft import round_body
from numpy.testing import assert_allclose

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.sections import Section
from vlm.flight.craft import level
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import highest_load_factor, level_flight
from vlm.flight.craft.section_change import SectionStrips, has_sections
from vlm.flight.craft.section_slopes import in_stability_axes, section_slopes
from vlm.flight.craft.steady_roll import steady_roll_rate
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import derivatives
from vlm.loads.state import FlightState

SMALL = Grid(4, 16)
FOLDS = FoldAngles(20.0, -40.0)


@pytest.fixture(scope="module")
def tideline() -> Biplane:
    return load_biplane("tideline")


def with_section(craft: Biplane, section: Section) -> Biplane:
    return craft.model_copy(update={"sections": {"foil": section}})


def test_thin_sections_without_drag_change_nothing_but_the_far_field_drag(
    tideline: Biplane,
) -> None:
    """The lattice itself stands for a thin section: all loads but the induced drag's correction
    stay, rates and swinging tips included."""
    thin = with_section(tideline, Section(form="thin", cd_least=0.0, cd_rise=0.0))
    assert not has_sections(thin)
    strips = SectionStrips(thin, FOLDS)
    amounts = np.array([[12.0, 0.5, 1.2, 0.4, 0.1, -0.2, 0.3, -0.5]])
    change = strips.change(amounts, 1.2)
    pull = change.wrench[0, :3]
    across = np.cross(pull, [12.0, 0.0, 1.2])
    size = 1.2 * 12.0**2
    assert np.abs(change.wrench[0, 3:]).max() < 1e-9 * size
    assert np.abs(across).max() < 1e-9 * size * 12.0
    assert all(abs(moment[0]) < 1e-9 * size for moment in change.hinges.values())
    assert np.isinf(change.margin[0])


def test_profile_drag_is_the_thrust_that_sections_add(tideline: Biplane) -> None:
    """Near its least drag a parametric section has cd = cd_least + cd_rise (cl - cl_0)^2: drag of
    all strips, as a sum by hand over both wings' area."""
    flat = with_section(
        tideline,
        tideline.sections["foil"].model_copy(
            update={"cd_rise": 0.0, "cd_least": 0.02, "reynolds_exponent": 0.0}
        ),
    )
    strips = SectionStrips(flat, FoldAngles())
    alpha, speed, density = np.radians(3.0), 14.0, 1.225
    wind = speed * np.array([np.cos(alpha), 0.0, np.sin(alpha)])
    amounts = np.zeros((1, 8))
    amounts[0, :3] = wind
    none = with_section(
        tideline,
        tideline.sections["foil"].model_copy(
            update={"cd_rise": 0.0, "cd_least": 0.0, "reynolds_exponent": 0.0}
        ),
    )
    both = [
        SectionStrips(craft, FoldAngles()).change(amounts, density).wrench[0, :3] @ wind / speed
        for craft in (flat, none)
    ]
    area = strips.model.strips.area.sum()
    expected = 0.5 * density * speed**2 * area * 0.02
    assert both[0] - both[1] == pytest.approx(expected, rel=0.02)


def test_wings_carry_no_more_than_their_sections_lift(tideline: Biplane) -> None:
    """cl_max of 1.15 on every strip bounds CL: at 8 m/s the craft needs 1.29 and does not fly; the
    inviscid wing would."""
    area = FoldingCraft(tideline, SMALL).symmetric(0.0).loads.reference.area
    mass = FoldingCraft(tideline, SMALL).symmetric(0.0).masses.mass
    needed = mass * GRAVITY / (0.5 * 1.225 * 8.0**2 * area)
    assert needed > 1.15
    craft, inviscid = FoldingCraft(tideline, SMALL), FoldingCraft(tideline, SMALL, sections=False)
    assert level_flight(craft.symmetric(0.0), 8.0, 1.225) is None
    assert level_flight(inviscid.symmetric(0.0), 8.0, 1.225) is not None


def test_the_highest_load_factor_lies_at_the_sections_lift(tideline: Biplane) -> None:
    """At 13 m/s the load factor is bounded by cl_max S q / W (all strips at their highest lift);
    with elliptic-like loading nine tenths of it are reached."""
    craft = FoldingCraft(tideline, SMALL).symmetric(0.0)
    flight = highest_load_factor(craft, 13.0, 1.225, 3.5)
    assert flight is not None
    most = 1.15 * 0.5 * 1.225 * 13.0**2 * craft.loads.reference.area
    bound = most / (craft.masses.mass * GRAVITY)
    assert 0.85 * bound < flight.load_factor < 1.05 * bound
    assert level_flight(craft, 13.0, 1.225, flight.load_factor + 0.05) is None
    quick = highest_load_factor(craft, 30.0, 1.225, 3.5)
    assert quick is not None
    assert quick.load_factor == 3.5


@pytest.mark.parametrize("deg", [-18.0, 3.75, 11.0])
def test_of_all_angles_that_carry_the_lowest_is_found(deg: float) -> None:
    """Lift that rises, falls and rises again every 20 degrees, as a sine."""

    def excess(alphas: np.ndarray) -> np.ndarray:
        return -np.sin(18.0 * (alphas - np.radians(deg)))

    lowest = deg - 20.0 if deg > -5.0 else deg
    found = level._first_crossing(excess)
    assert found is not None
    assert np.degrees(found) == pytest.approx(lowest, abs=1e-9)


def test_level_flight_with_sections_balances(tideline: Biplane) -> None:
    craft = FoldingCraft(tideline, SMALL, round_body(0.003)).at(FOLDS)
    flight = level_flight(craft, 12.0, 1.225)
    assert flight is not None
    weight = (
        craft.masses.mass * GRAVITY * np.array([-np.sin(flight.alpha), 0.0, np.cos(flight.alpha)])
    )
    total = craft.wrench(flight.motion, 1.225)[:3] + weight + [flight.thrust, 0.0, 0.0]
    assert_allclose(total[[0, 2]], 0.0, atol=1e-7)
    assert 0.0 < flight.stall_margin < np.radians(10.0)


def test_rates_are_differences_of_the_loads(tideline: Biplane) -> None:
    """Central differences of the whole wrench with another step."""
    craft = FoldingCraft(tideline, SMALL, round_body(0.003)).at(FOLDS)
    motion = craft.motion(12.0, np.radians(8.0), 0.02, np.array([0.3, 0.0, 0.1]))
    rates = craft.rates(motion, 1.225)
    for i in range(craft.motions):
        step = np.zeros(craft.motions)
        step[i] = 0.03
        plus, minus = (craft.wrench(motion + s * step, 1.225) for s in (1.0, -1.0))
        expected = (plus - minus) / 0.06
        assert_allclose(rates[:, i], expected, rtol=2e-3, atol=2e-3 * np.abs(rates).max())


def test_steady_roll_with_sections_leaves_no_moment(tideline: Biplane) -> None:
    craft = FoldingCraft(tideline, SMALL, round_body(0.003)).at(FOLDS)
    flight = level_flight(craft, 11.0, 1.225)
    assert flight is not None
    rate = steady_roll_rate(craft, flight)
    assert rate is not None
    axis = np.array([np.cos(flight.alpha), 0.0, np.sin(flight.alpha)])
    motion = flight.motion.copy()
    motion[3:6] = rate * axis
    moment = craft.wrench(motion, 1.225)[3:] @ axis
    assert abs(moment) < 1e-6 * abs(flight.wrench[3:] @ axis)
    assert np.sign(rate) == np.sign(flight.wrench[3:] @ axis)


def test_mirrored_folds_mirror_what_sections_change(tideline: Biplane) -> None:
    motions = np.array([12.0, 0.4, 1.5, 0.5, 0.0, -0.2, 0.0, 0.0])
    mirrored = motions * np.array([1, -1, 1, -1, 1, -1, 1, 1])
    one = FoldingCraft(tideline, SMALL).at(FOLDS).wrenches(motions[None], 1.2)[0]
    other = FoldingCraft(tideline, SMALL).at(FOLDS.mirrored()).wrenches(mirrored[None], 1.2)[0]
    assert_allclose(one, other * np.array([1, -1, 1, -1, 1, -1]), atol=1e-7)


def test_mirrored_folds_mirror_what_sections_change_about_the_hinges(tideline: Biplane) -> None:
    """Each hinge's own, and not nothing: symmetry alone is the source."""
    amounts = np.array([[12.0, 0.0, 1.8, 0.0, 0.1, 0.0, 0.0, 0.0]])
    changes = [
        SectionStrips(tideline, folds).change(amounts, 1.2).hinges
        for folds in (FOLDS, FOLDS.mirrored())
    ]
    for body, other in (("upper_left", "upper_right"), ("upper_right", "upper_left")):
        assert abs(changes[0][body][0]) > 1e-3
        assert_allclose(changes[0][body], changes[1][other], rtol=1e-8)


def test_stability_axes_are_those_of_the_lattice(tideline: Biplane) -> None:
    """The lattice's own change of axes, worked out elsewhere, for the inviscid derivatives."""
    loads = FoldingCraft(tideline, SMALL, sections=False).symmetric(30.0).loads
    alpha = np.radians(7.0)
    slopes = derivatives(loads, FlightState(alpha=alpha))
    found = in_stability_axes(slopes["body"], alpha)
    for name, value in found.items():
        assert value == pytest.approx(slopes["stability"][name], rel=1e-9, abs=1e-12)


def test_section_slopes_vanish_without_sections(tideline: Biplane) -> None:
    craft = FoldingCraft(tideline, SMALL, sections=False).symmetric(0.0)
    lift, slopes = section_slopes(craft, 0.1, 12.0, 1.225)
    assert lift == 0.0
    assert set(slopes.values()) == {0.0}
    flown = FoldingCraft(tideline, SMALL).symmetric(20.0)
    _, changed = section_slopes(flown, np.radians(6.0), 12.0, 1.225)
    assert abs(changed["Cl_p"]) > 1e-4
    assert abs(changed["Cl_beta"]) < 0.05
