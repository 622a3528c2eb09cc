"""Best speeds and electric range of a craft with a parabolic polar and ideal rotors.

With D = q S cd0 + W^2 / (q pi b^2 e) and power D U / eta (classic theory, derived):

    U_md = sqrt(2 W / (rho S)) (pi A e cd0)^(-1/4),   (L/D)_max = sqrt(pi A e / cd0) / 2
    U_mp = 3^(-1/4) U_md,                             P_min = 2 3^(-3/4) W U_md / (eta (L/D)_max)
    range of an energy E:  R = E eta (L/D)_max / W    (the electric counterpart of Breguet's)

cd0 is written into the craft, e is that of the lattice's far field; what is held against them is
trimmed flight with sections and rotors, summed over strips and legs.
"""

from dataclasses import dataclass
from functools import cache
from math import pi, sqrt

import numpy as np
import pytest
from power_craft import GLIDER

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission import MissionFlyer
from vlm.flight.plan.mission_rules import FoldRule, flying_schedule, held
from vlm.flight.trim.power_book import power_book
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState
from vlm.study.fixed_craft import without_mechanism

ETA, WEIGHT, SPAN, CHORD, CD0 = 0.8, 2.0 * 9.80665, 3.0, 0.2, 0.02
AREA, ASPECT = SPAN * CHORD, SPAN / CHORD
GRID = Grid(rows=2, strips=12)


@cache
def flown() -> tuple[Biplane, FoldRule, MissionFlyer]:
    """The glider of the tests, its body about level at the speeds that matter."""
    craft = load_biplane_text(
        GLIDER, "glider.toml", ["upper.incidence_deg=12", f"propulsion.motor_efficiency={ETA}"]
    )
    speeds = np.concatenate([[0.0], np.linspace(4.5, 11.0, 14)])
    schedule = Schedule(airspeed_min_m_s=4.5, airspeed_max_m_s=11.0)
    book = power_book(craft, [0.0], speeds, grid=GRID)
    rule = held("flat", FoldTable.of(book, flying_schedule(schedule)), 0.0)
    return craft, rule, MissionFlyer(book)


@dataclass(frozen=True)
class Closed:
    """The closed forms."""

    e: float

    @property
    def glide(self) -> float:
        """(L/D)_max."""
        return 0.5 * sqrt(pi * ASPECT * self.e / CD0)

    @property
    def least_drag(self) -> float:
        """U_md."""
        return float(sqrt(2.0 * WEIGHT / (1.225 * AREA)) * (pi * ASPECT * self.e * CD0) ** -0.25)


@cache
def closed() -> Closed:
    craft, _, _ = flown()
    loads = craft_loads(build_lattice(craft, FoldAngles(), Grid(2, 24)), fold_rates=False)
    return Closed(float(coefficients(loads, FlightState(alpha=0.0)).span_efficiency))


def test_the_speed_of_least_power_and_that_power() -> None:
    """The wake turns with the stream and the span efficiency with it: 2.3 % from a parabola."""
    _, rule, _ = flown()
    form, found = closed(), rule.best_speed()
    assert found == pytest.approx(3.0**-0.25 * form.least_drag, rel=0.03)
    least = 2.0 * 3.0**-0.75 * WEIGHT * form.least_drag / (ETA * form.glide)
    assert rule.level_power(found) == pytest.approx(least, rel=0.02)


def test_the_speed_of_the_longest_range() -> None:
    _, rule, _ = flown()
    assert rule.best_speed(0.0) == pytest.approx(closed().least_drag, rel=0.02)


def test_the_electric_range() -> None:
    """A dash over a distance takes the energy that the range formula asks for."""
    _, rule, flyer = flown()
    distance = 20_000.0
    flight = flyer.flight(rule, [Leg(kind="dash", distance_m=distance)])
    assert not flight.reason
    assert flight.energy * ETA * closed().glide / WEIGHT == pytest.approx(distance, rel=0.015)


def test_the_longest_loiter() -> None:
    """An energy lasts E / P_min (derived)."""
    _, rule, flyer = flown()
    flight = flyer.flight(rule, [Leg(kind="loiter", time_s=3600.0)])
    form = closed()
    least = 2.0 * 3.0**-0.75 * WEIGHT * form.least_drag / (ETA * form.glide)
    assert flight.energy == pytest.approx(3600.0 * least, rel=0.02)


def test_a_mechanisms_drag_area_takes_its_drag_and_goes_with_it() -> None:
    """Drag q S_d times airspeed over the efficiencies (definition); gone without the mechanism."""
    area, speed = 5e-4, 16.0
    plain = load_biplane("tideline")
    dragging = load_biplane("tideline", [f"mass.mechanism.drag_area_m2={area}"])
    bare = without_mechanism(dragging)
    assert bare.all_drag_areas == without_mechanism(plain).all_drag_areas == plain.drag_areas

    def power(craft: Biplane) -> float:
        return float(power_book(craft, [0.0], [speed], grid=GRID).power[0, 0])

    more = power(dragging) - power(plain)
    own = 0.5 * 1.225 * speed**2 * 2.0 * area * speed
    # Motors 0.80 and controllers 0.95; the rotors' own efficiency lies between 0.5 and 1.
    assert own / (0.80 * 0.95) < more < 2.0 * own / (0.80 * 0.95)
    assert power(bare) == pytest.approx(power(without_mechanism(plain)), rel=1e-9)
