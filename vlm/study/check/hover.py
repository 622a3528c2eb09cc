"""Whether the rotors can carry a craft at rest: their highest thrust with pitch balanced.

At rest, nose up, the wings carry nothing. Thrust is shared as in a trim: alike, with the difference
between the rotors that balances pitch about the centre of gravity, tips flat. All of it grows alike
up to the first limit: of a rotor's thrust or power, or of the electrical power of the craft.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY, Floats
from vlm.description.models import Biplane
from vlm.description.power import Propulsion, Rotor
from vlm.flight.craft.mass_properties import craft_mass_properties
from vlm.flight.trim.rotor_patterns import rotor_patterns
from vlm.lattice.cellule import Cellule
from vlm.power.propulsion import electrical_power
from vlm.power.rotor import disc_area, hover_state

MOST_THRUST = 1e5
LEAST_THRUST = 1e-6
LEFT_OPEN = 0.03
"""Share of the weight that is left open, as the rotors' wind pushes and pitches the wings: trims in
hover with it pass their limits within 1 % of this thrust on shipped craft [1]."""


@dataclass(frozen=True)
class Hover:
    """Whether the rotors can carry the craft at rest at sea level.

    Attributes
    ----------
    weight_N : [N]
    thrust_N : highest thrust at rest along the craft, pitch balanced; None where nothing
        limits it [N]
    limit : what ends it; None where nothing does
    disc_loading_N_m2 : weight over the area of all discs [N/m^2]
    """

    weight_N: float
    thrust_N: float | None
    limit: str | None
    disc_loading_N_m2: float

    @property
    def possible(self) -> bool | None:
        """Whether thrust exceeds weight; None where it has no limit, or both are too alike."""
        if self.thrust_N is None or abs(self.thrust_N / self.weight_N - 1.0) < LEFT_OPEN:
            return None
        return self.thrust_N > self.weight_N


def hover_of(craft: Biplane, cellule: Cellule) -> Hover | None:
    """Thrust at rest against weight; None without rotors or masses."""
    if craft.mass is None or not craft.rotors:
        return None
    centre = craft_mass_properties(craft, cellule, {}).centre
    limits = hover_limits(craft, balanced_shares(craft, centre))
    limit = min(limits, key=lambda name: limits[name]) if limits else None
    weight = craft.mass.total_kg * GRAVITY
    area = sum(disc_area(rotor) for rotor in craft.rotors)
    return Hover(weight, None if limit is None else limits[limit], limit, weight / area)


def balanced_shares(craft: Biplane, centre: Floats) -> Floats:
    """Thrust of each rotor over that along the craft, without pitching moment about a centre.

    Shape (rotors,). All alike where no difference of the rotors pitches the craft.
    """
    places = np.array([rotor.position_m for rotor in craft.rotors])
    axes = np.array([rotor.direction for rotor in craft.rotors])
    table = rotor_patterns(places, np.ones(len(places)), ("pitch",)).table
    lifting, pitching = -axes[:, 0], np.cross(places - centre, axes)[:, 1]
    rows = np.array([lifting @ table, pitching @ table])[: table.shape[1]]
    wanted = np.array([1.0, 0.0])[: table.shape[1]]
    amounts, *_ = np.linalg.lstsq(rows, wanted, rcond=None)
    return np.asarray(table @ amounts)


def hover_limits(craft: Biplane, shares: Floats) -> Mapping[str, float]:
    """Thrust along the craft at which each limit is reached, by its name [N].

    Parameters
    ----------
    shares : of each rotor in it
    """
    found = {}
    for rotor, share in zip(craft.rotors, shares, strict=True):
        if share < 0.0:
            found[f"lowest thrust of rotor {rotor.name}"] = rotor.thrust_min_N / share
        elif share > 0.0:
            if rotor.thrust_max_N is not None:
                found[f"highest thrust of rotor {rotor.name}"] = rotor.thrust_max_N / share
            if rotor.power_max_W is not None:
                most = _reached(partial(_power, craft, rotor), rotor.power_max_W)
                found[f"power of rotor {rotor.name}"] = most / share
    drive = craft.propulsion
    if drive is not None and drive.power_max_W is not None:
        whole = partial(_electrical, craft, drive, shares)
        found["electrical power"] = _reached(whole, drive.power_max_W)
    return {name: float(thrust) for name, thrust in found.items() if np.isfinite(thrust)}


def _electrical(craft: Biplane, drive: Propulsion, shares: Floats, thrust: float) -> float:
    """Electrical power at rest at a thrust along the craft [W]."""
    pairs = zip(craft.rotors, shares, strict=True)
    shafts = [_power(craft, rotor, share * thrust) for rotor, share in pairs]
    return float(electrical_power(drive, shafts))


def _power(craft: Biplane, rotor: Rotor, thrust: float) -> float:
    """Shaft power at rest at sea level; none where a rotor does not pull [W]."""
    if thrust <= 0.0:
        return 0.0
    with np.errstate(over="ignore"):  # a tiny disc asked for a large thrust
        state = hover_state(rotor, thrust, SEA_LEVEL_DENSITY, craft.folder)
    return float(np.squeeze(state.power))


def _reached(power: Callable[[float], float], limit: float) -> float:
    """Thrust at which a power reaches its limit; infinite far beyond any, 0 where it always does.

    Over the logarithm: a limit may stand far beyond what the power allows.
    """
    from scipy.optimize import brentq

    if power(MOST_THRUST) <= limit:
        return float("inf")
    if power(LEAST_THRUST) >= limit:
        return 0.0
    ends = np.log(LEAST_THRUST), np.log(MOST_THRUST)
    return float(np.exp(brentq(lambda t: power(float(np.exp(t))) - limit, *ends)))
