"""What the straight wake leaves open: allowances for the wake's direction and roll-up.

A wake that follows the flow (:mod:`vlm.loads.relaxed_loads`) moves every number a little. How much,
to no more than its size, is known beforehand: the displacement goes with the load over the aspect
ratio, its effect with the quantity's natural size (:mod:`vlm.loads.sizes`), and folded tips meet
each other's and the other wing's wake more closely,

    allowance = SHARE size (load / A) (1 + FOLDED (1 - cos phi)),                            (16)

with the load 2 sum |Gamma| ds / (U S), every strip counted as positive, A the reference aspect
ratio and phi the largest fold of a tip. The neutral point's size is the reference chord; that of a
hinge moment's coefficient is one.

SHARE was fitted to the differences between straight and relaxed wakes of 280 random craft, folds
and states so that about 97 of 100 lie within (``benchmarks/model_spread.py``; seeds 0 to 159 on
6 x 14, 1000 to 1119 on 8 x 20); ``tests/loads/test_model_spread.py`` holds the coverage on others.
What thickness, viscosity and the inside of a tip's vortex add is not in it, nor what an open or
closed corner leaves open.
"""

from typing import Any

import numpy as np

from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import Loads
from vlm.loads.parts import strip_circulations
from vlm.loads.sizes import natural_sizes, span_efficiency_size
from vlm.loads.state import FlightState

FOLDED = 2.0
HINGE = "hinge_moment_coefficient"
SHARE: dict[str, float] = {
    "CL": 0.032,
    "CDi": 0.07,
    "Cl": 0.115,
    "Cm": 0.0092,
    "Cn": 0.13,
    "Cl_beta": 0.19,
    "Cn_beta": 0.23,
    "span_efficiency": 0.06,
    "neutral_point_m": 0.028,
    HINGE: 0.025,
}

ALONG_WINGS: dict[str, float] = {
    "root_shear": 0.035,
    "root_bending": 0.03,
    "hinge_bending": 0.065,
}
"""The same for shear and bending at a wing's root and bending at its hinge. Their size is the sum
over the strips without signs, and the largest of any half wing's added, as the other wing's load
moves a wing's. Fitted to seeds 0 to 159 on 6 x 14: 97 of 100; of seeds 2000 to 2099 100, 100 and 98
of 100 lie within, of 1000 to 1119 on 8 x 20 98, 98 and 96."""


def wake_spread(loads: Loads, state: FlightState) -> dict[str, Any]:
    """Half-width of what the wake's direction and roll-up leave open, equation (16).

    Parameters
    ----------
    loads : with the wake along the stream
    state : one flight state or many

    Returns
    -------
    Arrays of the state's shape by name; ``hinge_moment_coefficient`` for every hinge alike
    """
    scale, sizes = spread_scale(loads, state), spread_sizes(loads, state)
    return {name: share * scale * sizes[name] for name, share in SHARE.items()}


def spread_scale(loads: Loads, state: FlightState) -> Any:
    """Equation (16) without SHARE and size [1]."""
    reference, lattice = loads.reference, loads.lattice
    widths = np.concatenate([patch.width for patch in lattice.patches])
    load = 2.0 * np.abs(strip_circulations(loads, state)) @ widths / reference.area
    largest = max((abs(angle) for angle in lattice.folds.values()), default=0.0)
    return load / reference.aspect_ratio * (1.0 + FOLDED * (1.0 - np.cos(largest)))


def spread_sizes(loads: Loads, state: FlightState) -> dict[str, Any]:
    """The sizes of equation (16), arrays of the state's shape."""
    sizes = natural_sizes(loads, state)
    values = coefficients(loads, state)
    known = {"CL": values.CL, "CDi": values.CDi, "span_efficiency": values.span_efficiency}
    sizes["span_efficiency"] = span_efficiency_size(known, sizes)
    sizes["neutral_point_m"] = np.full(state.shape, loads.reference.chord)
    sizes[HINGE] = np.ones(state.shape)
    return {name: np.asarray(sizes[name]) for name in SHARE}
