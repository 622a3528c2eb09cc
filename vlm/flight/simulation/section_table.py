"""What sections and slipstream change in the loads, over folds, angles, rates and thrusts.

The change (:mod:`vlm.flight.craft.section_change`: stall, lift slope, profile drag) is no form of
the motion. It is worked out at the airspeed of the scenario's start and at a few folds, in angle of
attack with sideslip, and in angle of attack with roll rate; pitch and yaw rate count to first order
at each angle of attack. All parts add up, and go with the square of the airspeed. Left out: what
the tips' rates change in it, how sideslip and rates act together, and the Reynolds number of
another airspeed.

The rotors' slipstream is in it at thrusts T_0 near those of the start. What another thrust changes
is taken as a straight line, from none to T_0, of each rotor by itself and without sideslip. The
slipstream's pressure goes with the thrust over the disc (momentum theory), whatever the airspeed V:

    loads = (V / V_0)^2 (C_0 - sum R_i T_0i) + sum R_i T_i,   R_i = (C_0 - C_0 without i) / T_0i (1)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vlm.chart.nodes import linear_weights
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.power import Rotor
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.section_change import SectionStrips, nearest_known
from vlm.flight.simulation.air_table import MIRROR, AirTable, mirrored_tips
from vlm.frames import GEOMETRY_TO_BODY
from vlm.progress import Progress, silent

ALPHAS = np.radians(np.linspace(-24.0, 24.0, 17))
BETAS = np.radians(np.linspace(-32.0, 32.0, 9))
"""Close enough for fins: over 16 degrees between them a keel counted for twice as much [rad]."""
ROLLS = np.linspace(-6.0, 6.0, 5)
TURN = 1.0
"""Pitch and yaw rate either way from which their first order is taken [rad/s]."""
MOST_FOLDS = 4
"""Folds of a side at which the change is worked out; straight lines between them."""


class SectionForm(NamedTuple):
    """The tables of a :class:`SectionTable` at one setting of the folds.

    Shapes (ALPHAS, BETAS, values), (ALPHAS, ROLLS, values), (ALPHAS, 2, values), (ALPHAS, rotors,
    values).
    """

    slipping: Floats
    rolling: Floats
    turning: Floats
    blowing: Floats


@dataclass(frozen=True)
class SectionTable:
    """The change of the loads by the sections.

    Attributes
    ----------
    points : folds of port and starboard [rad]
    slipping : over (settings, ALPHAS x BETAS x values) at no roll rate
    rolling : over (settings, ALPHAS x ROLLS x values), beyond no roll rate, at no sideslip
    turning : rates with pitch rate and yaw rate, over (settings, ALPHAS x 2 x values), at no
        sideslip
    blowing : R of equation (1), over (settings, ALPHAS x rotors x values), at no sideslip
    airspeed : at which it was worked out [m/s]
    thrusts : T_0 of the rotors that blow, shape (rotors,); none without slipstream [N]
    stalls : whether the file's sections act, so that margin and share are known
    values : loads, margin to the stall [rad] and stalled share of the wings' area [1]
    agrees : whether strips and sections agreed everywhere
    """

    points: tuple[Floats, Floats]
    slipping: Floats
    rolling: Floats
    turning: Floats
    blowing: Floats
    airspeed: float
    thrusts: Floats
    stalls: bool
    values: int
    agrees: bool

    def form(self, folds: Floats) -> SectionForm:
        """The tables at folds [rad]."""
        sides = [
            linear_weights(points, np.array([fold]))[0]
            for points, fold in zip(self.points, folds, strict=True)
        ]
        settings = np.multiply.outer(*sides).ravel()
        return SectionForm(
            (settings @ self.slipping).reshape(len(ALPHAS), len(BETAS), self.values),
            (settings @ self.rolling).reshape(len(ALPHAS), len(ROLLS), self.values),
            (settings @ self.turning).reshape(len(ALPHAS), 2, self.values),
            (settings @ self.blowing).reshape(len(ALPHAS), len(self.thrusts), self.values),
        )

    def values_at(
        self, form: SectionForm, alpha: float, beta: float, rates: Floats, thrusts: Floats
    ) -> Floats:
        """All values at the table's airspeed, shape (values,).

        Parameters
        ----------
        form : from :meth:`form`
        rates : of roll, pitch and yaw at which a tip moves as it would at the table's airspeed,
            shape (3,) [rad/s]
        thrusts : that blow as they would at the table's airspeed, shape (rotors,) [N]
        """
        along = smooth_weights(ALPHAS, alpha)
        slipping = np.multiply.outer(along, smooth_weights(BETAS, beta)).ravel()
        rolling = np.multiply.outer(along, smooth_weights(ROLLS, float(rates[0]))).ravel()
        own = slipping @ form.slipping.reshape(-1, self.values)
        own = own + rolling @ form.rolling.reshape(-1, self.values)
        own = own + rates[1:] @ np.tensordot(along, form.turning, axes=1)
        if len(self.thrusts):
            own = own + (thrusts - self.thrusts) @ np.tensordot(along, form.blowing, axes=1)
        return np.asarray(own)


def smooth_weights(points: Floats, place: float) -> Floats:
    """Weights of even points for a curve with an even slope through them, shape (points,) [1].

    Cubic pieces whose slopes at the points are those of the neighbours (Catmull and Rom); beyond
    the ends the end's value holds.
    """
    step = points[1] - points[0]
    at = (min(max(place, points[0]), points[-1]) - points[0]) / step
    left = min(int(at), len(points) - 2)
    t = at - left
    pieces = (
        0.5 * (-t + 2.0 * t**2 - t**3),
        0.5 * (2.0 - 5.0 * t**2 + 3.0 * t**3),
        0.5 * (t + 4.0 * t**2 - 3.0 * t**3),
        0.5 * (t**3 - t**2),
    )
    weights = np.zeros(len(points))
    last = len(points) - 1
    for shift, piece in zip((-1, 0, 1, 2), pieces, strict=True):
        place_of = left + shift
        # Beyond an end the line through the last two points goes on.
        if place_of < 0:
            weights[0] += 2.0 * piece
            weights[1] -= piece
        elif place_of > last:
            weights[last] += 2.0 * piece
            weights[last - 1] -= piece
        else:
            weights[place_of] += piece
    return weights


def section_table(
    craft: FoldingCraft,
    air: AirTable,
    airspeed: float,
    density: float,
    thrusts: Floats,
    progress: Progress = silent,
) -> SectionTable | None:
    """Work out the change at a few of the air table's folds.

    None without sections and without slipstream.

    Parameters
    ----------
    thrusts : T_0 of equation (1), shape (rotors,); empty without slipstream [N]
    """
    if not craft.has_sections and not len(thrusts):
        return None
    points = tuple(_fewer(side) for side in air.points)
    slipping, rolling, turning, blowing, agrees = [], [], [], [], True
    settings = list(product(*points))
    swapped = mirrored_rotors(craft.craft.rotors) if len(thrusts) else np.zeros(0, dtype=np.intp)
    known: dict[tuple[float, float], _Found] = {}
    for setting in settings:
        port, starboard = np.degrees(setting).tolist()
        other = known.get((starboard, port)) if craft.is_symmetric else None
        if other is None or swapped is None:
            found = _solved(craft, (port, starboard), airspeed, density, thrusts)
        else:
            found = _mirrored(other, air.bodies, swapped)
        known[port, starboard] = found
        slipping.append(found.slipping.ravel())
        rolling.append(found.rolling.ravel())
        turning.append(found.turning.ravel())
        blowing.append(found.blowing.ravel())
        agrees = agrees and found.agrees
        progress(f"sections at fold {len(slipping)} of {len(settings)}")
    return SectionTable(
        points=(points[0], points[1]),
        slipping=np.array(slipping),
        rolling=np.array(rolling),
        turning=np.array(turning),
        blowing=np.array(blowing),
        airspeed=airspeed,
        thrusts=thrusts,
        stalls=craft.has_sections,
        values=air.wide + 2,
        agrees=agrees,
    )


def _fewer(points: Floats) -> Floats:
    """At most a few of the points, both ends among them."""
    if len(points) <= MOST_FOLDS:
        return points
    chosen = np.unique(np.round(np.linspace(0, len(points) - 1, MOST_FOLDS)).astype(int))
    return np.asarray(points[chosen])


@dataclass(frozen=True)
class _Found:
    """The tables of one setting, as in :class:`SectionTable`, states apart."""

    slipping: Floats
    rolling: Floats
    turning: Floats
    blowing: Floats
    agrees: bool


def _solved(
    craft: FoldingCraft, folds: tuple[float, float], airspeed: float, density: float,
    thrusts: Floats,
) -> _Found:  # fmt: skip
    at = craft.at(FoldAngles(*folds))
    strips = craft.strips_at(FoldAngles(*folds))
    tried: list[bool] = []

    def change(alpha: Floats, beta: Floats | float, rates: Floats, blown: Floats) -> Floats:
        values, agree = _change(at, strips, airspeed, (alpha, beta, rates), density, blown)
        tried.append(agree)
        return values

    roll, pitch, yaw = np.eye(3)
    alphas, betas = np.meshgrid(ALPHAS, BETAS, indexing="ij")
    slipping = change(alphas.ravel(), betas.ravel(), np.zeros(3), thrusts)
    slipping = slipping.reshape(len(ALPHAS), len(BETAS), -1)
    still = slipping[:, len(BETAS) // 2]
    alphas, rolls = np.meshgrid(ALPHAS, ROLLS[ROLLS != 0.0], indexing="ij")
    rolling = change(alphas.ravel(), 0.0, np.outer(rolls.ravel(), roll), thrusts)
    rolling = rolling.reshape(len(ALPHAS), len(ROLLS) - 1, -1) - still[:, None]
    rolling = np.insert(rolling, len(ROLLS) // 2, 0.0, axis=1)
    turning = np.stack(
        [
            change(ALPHAS, 0.0, TURN * axis, thrusts) - change(ALPHAS, 0.0, -TURN * axis, thrusts)
            for axis in (pitch, yaw)
        ],
        axis=1,
    ) / (2.0 * TURN)
    blowing = np.zeros((len(ALPHAS), len(thrusts), still.shape[1]))
    for i, thrust in enumerate(thrusts):
        without = np.where(np.arange(len(thrusts)) == i, 0.0, thrusts)
        blowing[:, i] = (still - change(ALPHAS, 0.0, np.zeros(3), without)) / thrust
    return _Found(slipping, rolling, turning, blowing, all(tried))


def _change(
    craft: FoldedCraft, strips: SectionStrips, airspeed: float,
    states: tuple[Floats, Floats | float, Floats], density: float, thrusts: Floats,
) -> tuple[Floats, bool]:  # fmt: skip
    """Values of many states about the moment point, body axes, shape (states, values).

    Parameters
    ----------
    states : angles of attack and sideslip [rad], rates of roll, pitch and yaw, shape (3,) or
        (states, 3) [rad/s]
    """
    alpha, beta, rates = states
    amounts = np.zeros((len(alpha), craft.motions))
    ahead = airspeed * np.cos(beta)
    amounts[:, 0], amounts[:, 2] = ahead * np.cos(alpha), ahead * np.sin(alpha)
    amounts[:, 1] = airspeed * np.sin(beta)
    amounts[:, :3] = amounts[:, :3] @ -GEOMETRY_TO_BODY
    amounts[:, 3:6] = rates
    change = strips.change(amounts, density, thrusts if len(thrusts) else None)
    columns = [
        change.wrench[:, :3] @ GEOMETRY_TO_BODY,
        change.wrench[:, 3:] @ GEOMETRY_TO_BODY,
        np.stack([change.hinges[body] for body in craft.bodies], axis=1),
        np.where(np.isfinite(change.margin), change.margin, 0.0)[:, None],
        change.stalled[:, None],
    ]
    return nearest_known(np.concatenate(columns, axis=1), change.agrees), bool(change.agrees.all())


def mirrored_rotors(rotors: Sequence[Rotor]) -> NDArray[np.intp] | None:
    """Place of each rotor's mirror image; None where one has none."""
    found = []
    for rotor in rotors:
        (x, y, z), (a, b, c) = rotor.position_m, rotor.axis
        other = "left" if rotor.spin == "right" else "right"
        image = {"position_m": (x, -y, z), "axis": (a, -b, c), "spin": other, "name": ""}
        turned = rotor.model_copy(update=image)
        named = [one.model_copy(update={"name": ""}) for one in rotors]
        places = [i for i, one in enumerate(named) if one == turned]
        if not places:
            return None
        found.append(places[0])
    return np.array(found, dtype=np.intp)


def _mirrored(found: _Found, bodies: tuple[str, ...], rotors: NDArray[np.intp]) -> _Found:
    """The same with port and starboard swapped: sideslip, roll and yaw change their sign."""
    swapped = mirrored_tips(bodies)

    def turned(values: Floats) -> Floats:
        hinges = values[..., 6 : 6 + len(bodies)][..., swapped]
        return np.concatenate(
            [values[..., :6] * MIRROR, hinges, values[..., 6 + len(bodies) :]], axis=-1
        )

    return _Found(
        slipping=turned(found.slipping[:, ::-1]),
        rolling=turned(found.rolling[:, ::-1]),
        turning=turned(found.turning) * np.array([1.0, -1.0])[:, None],
        blowing=turned(found.blowing[:, rotors]),
        agrees=found.agrees,
    )
