"""Power against airspeed over the values of one key of the geometry file."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypedDict

from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.findings import Finding, gathered
from vlm.progress import Progress, silent
from vlm.study.power.results import PowerDocument, power_dataset, power_document
from vlm.study.power.study import PowerPlan, PowerStudy, power_study
from vlm.study.sweep.naming import described
from vlm.study.sweep.plan import KeyAxis

if TYPE_CHECKING:
    import xarray as xr

MOST = 20
"""Values of the key: each is a whole study."""


@dataclass(frozen=True)
class PowerOver:
    """Studies of one craft at several values of a key, at the same airspeeds.

    Attributes
    ----------
    axis : the key and its values
    studies : one a value, in their order
    """

    axis: KeyAxis
    studies: tuple[PowerStudy, ...]

    @property
    def findings(self) -> list[Finding]:
        """Warnings of all studies, one a kind."""
        return gathered([finding for study in self.studies for finding in study.findings])


def power_over(
    craft: Biplane, plan: PowerPlan, axis: KeyAxis, progress: Progress = silent
) -> PowerOver:
    """Study a craft at every value of a key.

    Where no airspeeds are asked for, those chosen at the first value serve all.

    Raises
    ------
    InputRefused : more than :data:`MOST` values, a value that is not allowed, a block is missing
    ComputationFailed : a setting can be trimmed neither in hover nor at the highest speed
    """
    if len(axis.values) > MOST:
        raise InputRefused(f"--over {axis.key}: {len(axis.values)} values; at most {MOST}")
    variants = [craft.overridden({axis.key: value}) for value in axis.values]
    studies: list[PowerStudy] = []
    for variant in variants:
        studies.append(power_study(variant, plan, progress))
        plan = replace(plan, speeds=studies[0].plan.speeds)
    return PowerOver(axis, tuple(studies))


class OverDocument(TypedDict):
    """A key of the geometry file and the values it takes in turn."""

    key: str
    values: list[float]


class PowerOverDocument(TypedDict):
    """Power against airspeed at every value of a key.

    Attributes
    ----------
    studies : one a value, in their order
    """

    over: OverDocument
    studies: list[PowerDocument]


def over_document(over: PowerOver) -> PowerOverDocument:
    """All studies as one JSON document."""
    return {
        "over": {"key": over.axis.key, "values": list(over.axis.values)},
        "studies": [power_document(study) for study in over.studies],
    }


def over_dataset(over: PowerOver) -> "xr.Dataset":
    """The studies' datasets along one more dimension, named after the key."""
    import xarray as xr

    name = over.axis.name
    parts: Sequence[xr.Dataset] = [power_dataset(study) for study in over.studies]
    joined = xr.concat(
        parts, name, combine_attrs="override", data_vars="all", coords="minimal",
        compat="override", join="exact",
    )  # fmt: skip
    joined[name] = (name, list(over.axis.values), described(over.axis.key))
    return joined
