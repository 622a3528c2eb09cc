"""Energy of a flown mission for many samples of its uncertain inputs.

Folds, airspeeds and times stay as flown: near an optimum that changes the energy only to second
order. All flights share the samples, so that a difference between two is known better than either.
"""

import numpy as np

from vlm.constants import Floats
from vlm.flight.plan.mission import FlownPiece, MissionFlight
from vlm.flight.trim.power_curve import PowerCurve
from vlm.flight.trim.power_samples import INPUTS, load_table, other_sections, sampled_point


def sampled_energy(flight: MissionFlight, factors: Floats) -> Floats:
    """Energy of every sample, shape (samples,), NaN without a trim [J].

    Parameters
    ----------
    factors : shape (samples, inputs), see :func:`vlm.flight.trim.power_samples.input_samples`
    """
    total = np.zeros(len(factors))
    for leg in flight.legs:
        total += leg.folding + leg.holding
        for piece in leg.pieces:
            total += piece.piece.seconds * _piece_power(piece, factors)
    return total


def _piece_power(flown: FlownPiece, factors: Floats) -> Floats:
    made = flown.problem.craft
    curve = PowerCurve(flown.problem, flown.piece.climb_angle, (), (flown.point,))
    return sampled_point(load_table(curve, flown.point, other_sections(made)), factors).power


def energy_over_mass(flight: MissionFlight, mass_kg: float, changes_kg: Floats) -> Floats:
    """Energy with a mass added at the centre of gravity, shape (changes,) [J].

    Parameters
    ----------
    mass_kg : mass of the craft as flown [kg]
    changes_kg : masses added, negative where taken away, shape (changes,) [kg]
    """
    factors = np.ones((len(changes_kg), len(INPUTS)))
    factors[:, INPUTS.index("mass")] = 1.0 + changes_kg / mass_kg
    return sampled_energy(flight, factors)
