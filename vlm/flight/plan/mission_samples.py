"""Energy of a flown mission for many samples of its uncertain inputs.

Folds, airspeeds and times stay as flown: near an optimum that changes the energy only to second
order. All flights share the samples, so that a difference between two is known better than either.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from vlm.constants import Floats
from vlm.errors import InputRefused
from vlm.flight.plan.mission import FlownPiece, MissionFlight
from vlm.flight.trim.drawn_craft import drawn_craft, drawn_power
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.power_samples import INPUTS, load_table, other_sections, sampled_point
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.trim import TrimProblem
from vlm.flight.trim.uncertain_keys import MovedCraft, UncertainKey

LEAST_KNOWN = 0.3
"""Least share of samples with a trim from which those without are filled up [1]."""


def sampled_energies(
    flight: MissionFlight,
    factors: Floats,
    keys: Sequence[UncertainKey] = (),
    shifts: Floats | None = None,
    said: Callable[[MovedCraft], None] = lambda _: None,
) -> Floats:
    """Energy of every leg and sample, shape (legs, samples), NaN without a trim [J].

    Parameters
    ----------
    factors : shape (samples, inputs), see :func:`vlm.flight.trim.power_samples.input_samples`
    keys : uncertain numbers of the file
    shifts : shape (samples, keys), see :func:`vlm.flight.trim.uncertain_keys.key_samples`
    said : called with every craft that was built with its keys moved
    """
    found = _by_leg(flight, lambda piece: _piece_power(piece, factors), len(factors))
    if not keys or shifts is None:
        return found
    moved: dict[float, MovedCraft] = {}

    def response(piece: FlownPiece) -> Floats:
        state = piece.piece
        if state.fold_deg not in moved:
            moved[state.fold_deg] = MovedCraft(_unturned(piece), keys, flight.rule.book.grid)
            said(moved[state.fold_deg])
        found = moved[state.fold_deg].response(piece.point, state.climb_angle, state.load_factor)
        return np.asarray(found.at(shifts)[:, 0])

    resting = np.array([[leg.folding + leg.holding] for leg in flight.legs])
    return np.asarray(found + _by_leg(flight, response, len(factors)) - resting)


def _by_leg(flight: MissionFlight, power: Callable[[FlownPiece], Floats], samples: int) -> Floats:
    """Energy of the legs where pieces draw a power (samples,), each state worked out once [J]."""
    known: dict[tuple[float, ...], Floats] = {}
    found = np.zeros((len(flight.legs), samples))
    for leg, energy in zip(flight.legs, found, strict=True):
        energy += leg.folding + leg.holding
        for piece in leg.pieces:
            state = piece.piece
            key = (state.fold_deg, state.speed, state.climb_angle, state.load_factor)
            if key not in known:
                known[key] = power(piece)
            energy += state.seconds * known[key]
    return found


def _unturned(piece: FlownPiece) -> PoweredCraft:
    """The craft of a piece, without the weight that a turn adds."""
    made = piece.problem.craft
    if piece.piece.load_factor == 1.0:
        return made
    return replace(
        made, masses=replace(made.masses, mass=made.masses.mass / piece.piece.load_factor)
    )


def drawn_energy(
    flight: MissionFlight, factors: Floats, keys: Sequence[UncertainKey], shifts: Floats
) -> float:
    """Energy of one draw, every state trimmed directly [J]; NaN where it cannot be flown.

    Parameters
    ----------
    factors, shifts : of one draw, shape (inputs,) and (keys,)
    """
    made: dict[tuple[float, float], PoweredCraft] = {}

    def power(piece: FlownPiece) -> Floats:
        state = piece.piece
        key = (state.fold_deg, state.load_factor)
        if key not in made:
            own = piece.problem.craft
            made[key] = drawn_craft(own, factors, keys, shifts, flight.rule.book.grid)
        scale = float(factors[INPUTS.index("rotor_power")])
        return np.array([drawn_power(made[key], piece.point, scale, state.climb_angle)])

    try:
        return float(_by_leg(flight, power, 1).sum())
    except InputRefused:
        return float("nan")


def _piece_power(flown: FlownPiece, factors: Floats) -> Floats:
    return trim_powers(flown.problem, flown.point, factors, flown.piece.climb_angle)


def trim_powers(
    problem: TrimProblem, point: PowerPoint, factors: Floats, climb_angle: float = 0.0
) -> Floats:
    """Electrical power of a trim in every sample, shape (samples,); see :func:`filled` [W].

    Parameters
    ----------
    factors : shape (samples, inputs)
    climb_angle : [rad]
    """
    curve = PowerCurve(problem, climb_angle, (), (point,))
    power = sampled_point(load_table(curve, point, other_sections(problem.craft)), factors).power
    return filled(power, factors)


def filled(power: Floats, factors: Floats) -> Floats:
    """Powers with a straight line, through the others, where a sample found no trim on the tables.

    Near stall a transition's trims turn back, and a sample beyond the turn has none there. Samples
    without a trim would take the whole mission out of the interval, and not at random.

    Parameters
    ----------
    power : shape (samples,), NaN without a trim [W]
    factors : shape (samples, inputs)
    """
    known = np.isfinite(power)
    if known.all() or known.sum() < LEAST_KNOWN * len(power):
        return power
    columns = np.concatenate([np.ones((len(factors), 1)), factors - 1.0], axis=1)
    fit, *_ = np.linalg.lstsq(columns[known], power[known], rcond=None)
    return np.where(known, power, columns @ fit)
