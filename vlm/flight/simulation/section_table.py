"""What the file's sections change in the loads, over folds, angle of attack, sideslip and roll.

The change (:mod:`vlm.flight.craft.section_change`: stall, lift slope, profile drag) is no form of
the motion. It is worked out at the airspeed of the scenario's start and at a few folds, in angle of
attack with sideslip, and in angle of attack with roll rate; both parts add up, and go with the
square of the airspeed. Left out: what pitch rate, yaw rate and the tips' rates change in it, how
sideslip and roll act together, and the Reynolds number of another airspeed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.chart.nodes import linear_weights
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.simulation.air_table import AirTable
from vlm.frames import GEOMETRY_TO_BODY
from vlm.progress import Progress, silent

ALPHAS = np.radians(np.linspace(-12.0, 24.0, 13))
BETAS = np.radians(np.linspace(-32.0, 32.0, 5))
ROLLS = np.linspace(-6.0, 6.0, 5)
MOST_FOLDS = 4
"""Folds of a side at which the change is worked out; straight lines between them."""


@dataclass(frozen=True)
class SectionTable:
    """The change of the loads by the sections.

    Attributes
    ----------
    points : folds of port and starboard [rad]
    slipping : over (settings, ALPHAS x BETAS x values) at no roll rate
    rolling : over (settings, ALPHAS x ROLLS x values), beyond no roll rate, at no sideslip
    airspeed : at which it was worked out [m/s]
    values : loads, margin to the stall [rad] and stalled share of the wings' area [1]
    agrees : whether strips and sections agreed everywhere
    """

    points: tuple[Floats, Floats]
    slipping: Floats
    rolling: Floats
    airspeed: float
    values: int
    agrees: bool

    def form(self, folds: Floats) -> tuple[Floats, Floats]:
        """Both tables at folds [rad], (ALPHAS, BETAS, values) and (ALPHAS, ROLLS, values)."""
        sides = [
            linear_weights(points, np.array([fold]))[0]
            for points, fold in zip(self.points, folds, strict=True)
        ]
        settings = np.multiply.outer(*sides).ravel()
        return (
            (settings @ self.slipping).reshape(len(ALPHAS), len(BETAS), self.values),
            (settings @ self.rolling).reshape(len(ALPHAS), len(ROLLS), self.values),
        )

    def values_at(
        self, form: tuple[Floats, Floats], alpha: float, beta: float, roll: float
    ) -> Floats:
        """All values at the table's airspeed, shape (values,).

        Parameters
        ----------
        form : from :meth:`form`
        roll : roll rate at which a tip moves as it would at the table's airspeed [rad/s]
        """
        along = smooth_weights(ALPHAS, alpha)
        slipping = np.multiply.outer(along, smooth_weights(BETAS, beta)).ravel()
        rolling = np.multiply.outer(along, smooth_weights(ROLLS, roll)).ravel()
        own = slipping @ form[0].reshape(-1, self.values)
        return np.asarray(own + rolling @ form[1].reshape(-1, self.values))


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
    progress: Progress = silent,
) -> SectionTable | None:
    """Work out the change at a few of the air table's folds; None without sections."""
    if not craft.has_sections:
        return None
    points = tuple(_fewer(side) for side in air.points)
    slipping, rolling, agrees = [], [], True
    total = len(points[0]) * len(points[1])
    known: dict[tuple[float, float], tuple[Floats, Floats, bool]] = {}
    for port in points[0]:
        for starboard in points[1]:
            folds = float(np.degrees(port)), float(np.degrees(starboard))
            twin = known.get((folds[1], folds[0])) if craft.is_symmetric else None
            found = (
                _mirrored(twin, air.bodies) if twin else _solved(craft, folds, airspeed, density)
            )
            known[folds] = found
            slipping.append(found[0].ravel())
            rolling.append(found[1].ravel())
            agrees = agrees and found[2]
            progress(f"sections at fold {len(slipping)} of {total}")
    return SectionTable(
        points=(points[0], points[1]),
        slipping=np.array(slipping),
        rolling=np.array(rolling),
        airspeed=airspeed,
        values=air.wide + 2,
        agrees=agrees,
    )


def _fewer(points: Floats) -> Floats:
    """At most a few of the points, both ends among them."""
    if len(points) <= MOST_FOLDS:
        return points
    chosen = np.unique(np.round(np.linspace(0, len(points) - 1, MOST_FOLDS)).astype(int))
    return np.asarray(points[chosen])


def _solved(
    craft: FoldingCraft, folds: tuple[float, float], airspeed: float, density: float
) -> tuple[Floats, Floats, bool]:
    at = craft.at(FoldAngles(*folds))
    alphas, betas = np.meshgrid(ALPHAS, BETAS, indexing="ij")
    slip, slip_agrees = _change(at, airspeed, alphas.ravel(), betas.ravel(), 0.0, density)
    alphas, rolls = np.meshgrid(ALPHAS, ROLLS[ROLLS != 0.0], indexing="ij")
    roll, roll_agrees = _change(at, airspeed, alphas.ravel(), 0.0, rolls.ravel(), density)
    slipping = slip.reshape(len(ALPHAS), len(BETAS), -1)
    still = slipping[:, len(BETAS) // 2]
    rolling = roll.reshape(len(ALPHAS), len(ROLLS) - 1, -1) - still[:, None]
    rolling = np.insert(rolling, len(ROLLS) // 2, 0.0, axis=1)
    return slipping, rolling, slip_agrees and roll_agrees


def _change(
    craft: FoldedCraft, airspeed: float, alpha: Floats, beta: Floats | float,
    roll: Floats | float, density: float,
) -> tuple[Floats, bool]:  # fmt: skip
    """Values of many states about the moment point, body axes, shape (states, values)."""
    amounts = np.zeros((len(alpha), craft.motions))
    ahead = airspeed * np.cos(beta)
    amounts[:, 0], amounts[:, 2] = ahead * np.cos(alpha), ahead * np.sin(alpha)
    amounts[:, 1] = airspeed * np.sin(beta)
    amounts[:, :3] = amounts[:, :3] @ -GEOMETRY_TO_BODY
    amounts[:, 3] = roll
    change = craft.strips().change(amounts, density)  # type: ignore[misc]
    columns = [
        change.wrench[:, :3] @ GEOMETRY_TO_BODY,
        change.wrench[:, 3:] @ GEOMETRY_TO_BODY,
        np.stack([change.hinges[body] for body in craft.bodies], axis=1),
        change.margin[:, None],
        change.stalled[:, None],
    ]
    return _nearest_known(np.concatenate(columns, axis=1), change.agrees), bool(change.agrees.all())


def _nearest_known(values: Floats, known: NDArray[np.bool_]) -> Floats:
    """States in which strips and sections do not agree take the nearest value that does."""
    places = np.flatnonzero(known)
    if len(places) in (0, len(values)):
        return values if len(places) else np.zeros_like(values)
    nearest = places[np.argmin(np.abs(np.arange(len(values))[:, None] - places), axis=1)]
    return np.asarray(values[nearest])


def _mirrored(
    found: tuple[Floats, Floats, bool], bodies: tuple[str, ...]
) -> tuple[Floats, Floats, bool]:
    """The same with port and starboard swapped: sideslip and roll change their sign."""
    other = {"left": "right", "right": "left"}
    names = [body.rsplit("_", 1) for body in bodies]
    swapped = [bodies.index(f"{wing}_{other[side]}") for wing, side in names]
    signs = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])

    def turned(values: Floats) -> Floats:
        back = values[:, ::-1].copy()
        hinges = back[..., 6 : 6 + len(bodies)][..., swapped]
        return np.concatenate(
            [back[..., :6] * signs, hinges, back[..., 6 + len(bodies) :]], axis=-1
        )

    return turned(found[0]), turned(found[1]), found[2]
