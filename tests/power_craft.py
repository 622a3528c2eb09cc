"""Craft for the tests of power and trim: a shipped one, and a plain one made of numbers."""

from functools import cache
from typing import Any

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.models import Biplane
from vlm.flight.trim.powered import PoweredCraft, powered_craft
from vlm.lattice.cellule import Grid

SMALL = Grid(rows=3, strips=8)

# A long, lightly loaded wing that flies at small angles, with large rotors far from it.
GLIDER = """
title = "Glider of the tests, invented"
[upper]
span_m = 3.0
root_chord_m = 0.2
end_chord_m = 0.2
incidence_deg = 4.0
section = "s"
[sections.s]
form = "thin"
cd_least = 0.02
[mass]
body_kg = 2.0
body_centre_m = [0.05, 0.0, 0.0]
body_inertia_kg_m2 = [0.3, 0.1, 0.3]
[[rotors]]
name = "above"
position_m = [-0.5, 0.0, 0.8]
radius_m = 20.0
spin = "right"
form = "blades"
solidity = 0.05
pitch_m = 40.0
blade_drag = 0.0
blade_drag_rise = 0.0
induced_power_factor = 1.0
thrust_min_N = -100.0
[[rotors]]
name = "below"
position_m = [-0.5, 0.0, -0.8]
radius_m = 20.0
spin = "left"
form = "blades"
solidity = 0.05
pitch_m = 40.0
blade_drag = 0.0
blade_drag_rise = 0.0
induced_power_factor = 1.0
thrust_min_N = -100.0
[propulsion]
motor_efficiency = 1.0
controller_efficiency = 1.0
slipstream = false
"""


def glider(*overrides: str) -> Biplane:
    return load_biplane_text(GLIDER, "glider.toml", overrides)


@cache
def powered(
    name: str, left: float = 0.0, right: float | None = None, *overrides: Any
) -> PoweredCraft:
    """A shipped craft, ready for trim on a small lattice."""
    folds = FoldAngles(left, left if right is None else right)
    return powered_craft(load_biplane(name, overrides), folds, grid=SMALL)
