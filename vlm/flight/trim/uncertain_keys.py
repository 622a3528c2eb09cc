"""What uncertain numbers of the file, of the geometry above all, do to trims.

Sections, masses and efficiencies scale parts of tabulated loads (:mod:`vlm.flight.trim.
power_samples`); a span or an incidence needs another lattice. So every trim is repeated with each
number a step up and a step down, and a polynomial of second order in each number, without their
products, stands in between. The step is the root of three standard deviations: so the polynomial
gives the mean and the variance that a normal distribution has over any polynomial of up to third
order (the nodes of Gauss and Hermite; M. Abramowitz and I. Stegun, 25.4.46, from memory).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.numbers import given_number, number_at
from vlm.description.overrides import as_overrides
from vlm.description.uncertainty import Uncertainty
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.flight.trim.power_book import POWER, direct_trim
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.power_samples import MEASURED, WIDEST, SampledCurve
from vlm.flight.trim.powered import PoweredCraft, powered_craft
from vlm.lattice.cellule import Grid

STEP = float(np.sqrt(3.0))
"""Step of a number, in standard deviations [1]."""
STREAM = 1
"""Second half of the seed of the keys' samples, so that those of the other inputs stay."""


@dataclass(frozen=True)
class UncertainKey:
    """A number of the file that is not known exactly.

    Attributes
    ----------
    name : its path
    spread : standard deviation, in the key's unit
    """

    name: str
    spread: float


def uncertain_keys(craft: Biplane) -> tuple[UncertainKey, ...]:
    """The keys of ``[uncertainty.keys]``.

    Raises
    ------
    InputRefused : one of them leads to no number that the file gives
    """
    if craft.uncertainty is None:
        return ()
    said = f"{craft.source_name}: uncertainty.keys"
    for name in craft.uncertainty.keys:
        given_number(craft, name, said)
    return tuple(UncertainKey(name, size) for name, size in craft.uncertainty.keys.items())


def key_samples(uncertainty: Uncertainty) -> Floats:
    """Deviations of the keys, shape (samples, keys), in standard deviations; normal, cut at three.

    The same seed gives the same samples.
    """
    random = np.random.default_rng([uncertainty.seed, STREAM])
    count = len(uncertainty.keys)
    normal = random.standard_normal((4 * uncertainty.samples, count))
    inside = normal[np.all(np.abs(normal) <= WIDEST, axis=1)]
    return np.asarray(inside[: uncertainty.samples])


def moved(craft: Biplane, keys: Sequence[UncertainKey], steps: Iterable[float]) -> Biplane:
    """A craft with its keys moved by steps in standard deviations; nothing else follows them.

    A key that the craft does not give, such as one of a mechanism taken out, is left out.
    """
    changes: dict[str, object] = {}
    for key, step in zip(keys, steps, strict=True):
        value = number_at(craft, key.name)
        if value is not None and step != 0.0:
            changes[key.name] = value + step * key.spread
    return craft.overridden(as_overrides(changes)) if changes else craft


@dataclass(frozen=True)
class Response:
    """Polynomials of second order in the keys, for some numbers.

    Attributes
    ----------
    slope, bend : shape (keys, numbers), first and second derivatives with each key's deviation
    """

    slope: Floats
    bend: Floats

    def at(self, shifts: Floats) -> Floats:
        """Changes of the numbers, (samples, numbers), at shifts (samples, keys)."""
        return np.asarray(shifts @ self.slope + 0.5 * shifts**2 @ self.bend)


def response(centre: Floats, up: Floats, down: Floats) -> Response:
    """Polynomials through values at no deviation and a step to either side.

    Where one side is NaN a straight line through the other stands in; NaN where both are.

    Parameters
    ----------
    centre : shape (numbers,)
    up, down : shape (keys, numbers)
    """
    rise, fall = (up - centre) / STEP, (centre - down) / STEP
    slope = np.where(np.isnan(rise), fall, np.where(np.isnan(fall), rise, 0.5 * (rise + fall)))
    bend = np.where(np.isnan(rise) | np.isnan(fall), 0.0, (rise - fall) / STEP)
    return Response(slope, bend)


class MovedCraft:
    """A craft at one fold setting with each key a step up and down, each built once.

    A key that can be moved to neither side, such as one that opens a closed box, has no effect
    here, and stands in ``left_out``: name, with the reason.

    Parameters
    ----------
    made : the craft as it stands
    grid : its lattice's; None for that of power curves
    """

    def __init__(self, made: PoweredCraft, keys: Sequence[UncertainKey], grid: Grid | None) -> None:
        self.sides: list[tuple[PoweredCraft | None, PoweredCraft | None]] = []
        self.left_out: dict[str, str] = {}
        for index, key in enumerate(keys):
            up: PoweredCraft | None = made
            down: PoweredCraft | None = made
            if number_at(made.craft, key.name) is not None:
                up, why = _built(made, keys, index, STEP, grid)
                down, _ = _built(made, keys, index, -STEP, grid)
                if up is None and down is None:
                    self.left_out[key.name] = why
                    up = down = made
            self.sides.append((up, down))

    def response(
        self, point: PowerPoint, climb_angle: float = 0.0, load_factor: float = 1.0
    ) -> Response:
        """Of the numbers of :data:`MEASURED`."""
        nothing = np.full(len(MEASURED), np.nan)

        def at(made: PoweredCraft | None) -> Floats:
            if made is None:
                return nothing
            return numbers_of(
                direct_trim(
                    made, point.speed, climb_angle=climb_angle, load_factor=load_factor, near=point
                )
            )

        sides = [(at(up), at(down)) for up, down in self.sides]
        up = np.array([side[0] for side in sides]).reshape(-1, len(MEASURED))
        down = np.array([side[1] for side in sides]).reshape(-1, len(MEASURED))
        return response(numbers_of(point), up, down)


def _built(
    made: PoweredCraft,
    keys: Sequence[UncertainKey],
    index: int,
    step: float,
    grid: Grid | None,
) -> tuple[PoweredCraft | None, str]:
    """The craft with one key moved, or why it cannot be built."""
    steps = np.zeros(len(keys))
    steps[index] = step
    try:
        craft = moved(made.craft, keys, steps)
        return powered_craft(craft, made.folds, air=made.air, grid=grid, wake=made.wake), ""
    except InputRefused as error:
        return None, str(error)


def numbers_of(point: PowerPoint) -> Floats:
    """Numbers of a trim in the order of :data:`MEASURED`; NaN without one."""
    stall = np.radians(point.value("stall_margin_deg"))
    # In hover there is no stall to speak of, and so nothing that a key could move.
    stall = 0.0 if point.trim is not None and point.speed == 0.0 else stall
    angle = np.radians(point.value("body_angle_deg"))
    carried = point.value("thrust_N"), point.value("wing_share")
    return np.array([point.value(POWER), stall, point.margin, angle, *carried])


def with_keys(
    sampled: SampledCurve, curve: PowerCurve, craft: MovedCraft, shifts: Floats
) -> SampledCurve:
    """A sampled curve with the effect of the keys added.

    Parameters
    ----------
    craft : of the curve
    shifts : shape (samples, keys), see :func:`key_samples`
    """
    if not craft.sides:
        return sampled
    added = np.zeros((len(MEASURED), *sampled.power.shape))
    for index, point in enumerate(curve.points):
        if point.trim is not None:
            added[:, :, index] = craft.response(point, curve.climb_angle).at(shifts).T
    moved = zip(MEASURED, added, strict=True)
    return SampledCurve(**{name: getattr(sampled, name) + more for name, more in moved})


def keys_left_out(crafts: Mapping[str, MovedCraft]) -> list[Finding]:
    """Findings of keys that are in no interval of a setting, by the settings' names."""
    return [
        Finding(
            f"key_left_out_{key}",
            f"{name}: {key} can be moved to neither side by {STEP:.2g} of its standard deviations,"
            f" and is left out of the ±: {why}",
            None, None, "1", "uncertainty.keys", "take its share of the ± as not known",
        )
        for name, craft in crafts.items()
        for key, why in craft.left_out.items()
    ]  # fmt: skip
