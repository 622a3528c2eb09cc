"""What the ± of an answer is made of: the share of each uncertain input.

The draws that give an answer its interval are taken apart by least squares: the answer against
every input, straight and squared (Hermite's polynomials of the first and second order, which are
uncorrelated for normal inputs, so that the variance of the answer is the sum of their squares;
polynomial chaos, N. Wiener 1938, from memory; for these the shares are those of the first order of
I. Sobol 1993, from memory). What is left is the joint effect of several inputs, and what no
polynomial of second order follows.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.uncertainty import Uncertainty
from vlm.errors import InputRefused
from vlm.flight.trim.power_samples import INPUTS, input_samples
from vlm.flight.trim.sampled_speeds import interval
from vlm.flight.trim.uncertain_keys import UncertainKey, key_samples, uncertain_keys
from vlm.verdicts import reach

GAINED = "best design less others"
"""Group of the differences to what a design is held against."""
CHECKED = 4
"""Draws that are trimmed directly as well."""
FEWEST = 20
"""Draws with a value below which an answer is not taken apart."""
WORDS = {
    "mass": "mass",
    "profile_drag": "drag of the sections",
    "lift_maximum": "highest lift of the sections",
    "drag_area": "drag areas",
    "efficiency": "efficiency of motors and controllers",
    "rotor_power": "power of the rotors",
    "fixed_load": "fixed load",
    "post_stall": "sections past stall",
}
"""The inputs in words."""


@dataclass(frozen=True)
class UncertainInput:
    """One uncertain input.

    Attributes
    ----------
    name : key in ``[uncertainty]``, or the path of a further key
    words : what it is
    spread : standard deviation
    unit : of the spread; empty for a key, whose path ends in its unit
    """

    name: str
    words: str
    spread: float
    unit: str


@dataclass(frozen=True)
class Draws:
    """Draws of all uncertain inputs.

    Attributes
    ----------
    inputs : those with a spread
    normal : shape (draws, inputs), deviations in standard deviations
    factors : shape (draws, 8), see :func:`vlm.flight.trim.power_samples.input_samples`
    keys : numbers of the file
    shifts : shape (draws, keys), in standard deviations
    percent : share of the draws inside an interval [%]
    """

    inputs: tuple[UncertainInput, ...]
    normal: Floats
    factors: Floats
    keys: tuple[UncertainKey, ...]
    shifts: Floats
    percent: float


def draws_of(craft: Biplane) -> Draws:
    """The draws that ``[uncertainty]`` of a craft asks for.

    Raises
    ------
    InputRefused : a key of ``[uncertainty.keys]`` leads to no number
    """
    stated = craft.uncertainty or Uncertainty()
    factors, keys, shifts = input_samples(stated), uncertain_keys(craft), key_samples(stated)
    inputs, columns = [], []
    for column, name in enumerate(INPUTS):
        spread = float(getattr(stated, f"{name}_percent"))
        if spread > 0.0:
            inputs.append(UncertainInput(f"{name}_percent", WORDS[name], spread, "%"))
            columns.append((factors[:, column] - 1.0) * 100.0 / spread)
    for column, key in enumerate(keys):
        inputs.append(UncertainInput(key.name, key.name, key.spread, ""))
        columns.append(shifts[:, column])
    normal = np.stack(columns, axis=1) if columns else np.zeros((len(factors), 0))
    return Draws(tuple(inputs), normal, factors, keys, shifts, stated.interval_percent)


def check_uncertainty(craft: Biplane) -> None:
    """Refuse a craft whose file states nothing that could be taken apart.

    Raises
    ------
    InputRefused : ``[uncertainty]`` is missing or all zero, or names a key that leads to no number
    """
    if not draws_of(craft).inputs:
        raise InputRefused(
            f"{craft.source_name}: [uncertainty] states no deviation; --sensitivity shares out what"
            " it states"
        )


@dataclass(frozen=True)
class Answer:
    """An answer taken apart.

    Attributes
    ----------
    group, name, unit : what it belongs to, what it is, and its unit
    value : as printed
    half_width : to the farther end of the interval
    ends : of the interval
    shares : shape (inputs,), of the variance, NaN where not known [1]
    slopes : shape (inputs,), change of the answer with one standard deviation
    together : share of the variance that no input alone explains [1]
    missing : share of the draws that have no value [1]
    """

    group: str
    name: str
    unit: str
    value: float
    half_width: float
    ends: tuple[float, float]
    shares: Floats
    slopes: Floats
    together: float
    missing: float


def taken_apart(
    draws: Draws,
    group: str,
    name: str,
    unit: str,
    value: float,
    values: Floats,
    left_out: Sequence[str] = (),
) -> Answer | None:
    """Shares of the inputs in the spread of an answer; None with too few values, or no spread.

    Parameters
    ----------
    value : as printed
    values : of every draw, NaN where a draw has none, shape (draws,)
    left_out : inputs whose effect is not known; their shares are NaN
    """
    known = np.isfinite(values)
    if known.sum() < max(FEWEST, 3 * (1 + 2 * len(draws.inputs))) or not np.isfinite(value):
        return None
    normal, found = draws.normal[known], values[known]
    spread = float(found.var())
    if not spread > (1e-9 * abs(value)) ** 2:
        return None
    columns = [np.ones((len(found), 1)), normal, (normal**2 - 1.0) / np.sqrt(2.0)]
    fit, *_ = np.linalg.lstsq(np.concatenate(columns, axis=1), found, rcond=None)
    count = len(draws.inputs)
    straight, squared = fit[1 : count + 1], fit[count + 1 :]
    left = found - np.concatenate(columns, axis=1) @ fit
    together = float(left.var()) / spread
    unknown = np.array([one.name in left_out for one in draws.inputs], dtype=bool)
    parts = np.where(unknown, 0.0, straight**2 + squared**2)
    low, high = interval(found, draws.percent)
    # The polynomials are uncorrelated but for chance, which is shared out as the parts are.
    shares = parts / parts.sum() * (1.0 - together) if parts.sum() > 0.0 else parts
    return Answer(
        group, name, unit, value, reach(value, (low, high)), (low, high),
        np.where(unknown, np.nan, shares),
        np.where(unknown, np.nan, straight), together, float(np.mean(~known)),
    )  # fmt: skip


@dataclass(frozen=True)
class Check:
    """Draws trimmed directly, against the tables that stand for them.

    Attributes
    ----------
    what : what was trimmed
    unit : of the values
    value, half_width : of the answer without any deviation, and to the farther end of its interval
    tabled, direct : shape (draws,)
    """

    what: str
    unit: str
    value: float
    half_width: float
    tabled: Floats
    direct: Floats

    @property
    def worst(self) -> float:
        """Largest difference; NaN where no draw could be trimmed."""
        apart = np.abs(self.tabled - self.direct)
        return float(np.nanmax(apart)) if np.isfinite(apart).any() else float("nan")


@dataclass(frozen=True)
class Sensitivity:
    """Answers taken apart, and the check on the tables that gave them.

    Attributes
    ----------
    draws : of the inputs
    answers : in the order in which they are printed
    checks : direct trims of a few draws
    """

    draws: Draws
    answers: tuple[Answer, ...]
    checks: tuple[Check, ...]


METHOD = (
    "polynomials of second order around every trim stand for the trims of the draws: in body angle,"
    " thrusts and the inputs that scale loads, and for each number of the file through direct"
    " trims a step of 1.73 standard deviations up and down, without products of such numbers;"
    " a number of the file moves alone, nothing follows it"
)


class InputDocument(TypedDict):
    """One uncertain input; unit of its standard deviation."""

    name: str
    words: str
    standard_deviation: float
    unit: str


class AnswerDocument(TypedDict):
    """What the uncertain inputs do to one answer, in the unit that it names.

    Attributes
    ----------
    share_percent : of the variance, by input [%]
    change_per_standard_deviation : of the answer, by input
    together_percent : of the variance, from several inputs together [%]
    draws_without_value_percent : draws in which the answer has no value [%]
    """

    group: str
    name: str
    unit: str
    value: float
    half_width: float
    share_percent: dict[str, float | None]
    change_per_standard_deviation: dict[str, float]
    together_percent: float
    draws_without_value_percent: float


class CheckOfDraws(TypedDict):
    """Draws trimmed directly as well, against the polynomials that stand for them."""

    what: str
    unit: str
    value: float
    half_width: float
    tabled: Floats
    direct: Floats
    worst: float | None


class SensitivityDocument(TypedDict):
    """What the ± of an answer is made of."""

    draws: int
    interval_percent: float
    inputs: list[InputDocument]
    answers: list[AnswerDocument]
    checks: list[CheckOfDraws]
    method: str


def sensitivity_document(found: Sensitivity | None) -> SensitivityDocument | None:
    """The shares as plain values."""
    if found is None:
        return None
    draws = found.draws
    return {
        "draws": len(draws.normal),
        "interval_percent": draws.percent,
        "inputs": [
            {"name": i.name, "words": i.words, "standard_deviation": i.spread, "unit": i.unit}
            for i in draws.inputs
        ],
        "answers": [_answer(draws, answer) for answer in found.answers],
        "checks": [
            {
                "what": check.what,
                "unit": check.unit,
                "value": check.value,
                "half_width": check.half_width,
                "tabled": check.tabled,
                "direct": check.direct,
                "worst": check.worst,
            }
            for check in found.checks
        ],
        "method": METHOD,
    }


def _answer(draws: Draws, answer: Answer) -> AnswerDocument:
    names = [one.name for one in draws.inputs]
    return {
        "group": answer.group,
        "name": answer.name,
        "unit": answer.unit,
        "value": answer.value,
        "half_width": answer.half_width,
        "share_percent": dict(zip(names, 100.0 * answer.shares, strict=True)),
        "change_per_standard_deviation": dict(zip(names, answer.slopes, strict=True)),
        "together_percent": 100.0 * answer.together,
        "draws_without_value_percent": 100.0 * answer.missing,
    }


def known_answers(answers: Sequence[Answer | None]) -> tuple[Answer, ...]:
    """Those that could be taken apart."""
    return tuple(answer for answer in answers if answer is not None)
