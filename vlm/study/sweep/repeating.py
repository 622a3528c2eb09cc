"""A sweep's result computed again from what it carries, and compared in all that it holds."""

import io
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict

import vlm
from vlm.description.files import cut_path
from vlm.description.models import Biplane
from vlm.description.names import cut
from vlm.errors import InputRefused
from vlm.plain import without_nan
from vlm.progress import Counted
from vlm.study.sweep.carried_tables import rebuilt, tables_in
from vlm.study.sweep.dataset import as_netcdf, sweep_dataset
from vlm.study.sweep.differences import Difference, compared
from vlm.study.sweep.foreign import HeldDataset, held, held_in
from vlm.study.sweep.plan import SweepPlan, plan_from
from vlm.study.sweep.running import run_plan

SAME_VERSION = 1e-12
OTHER_VERSION = 1e-9
MEASURES = ("units", "_m", "_m2", "_m3", "_m_s")
"""Ends of the names of attributes that numbers hang on, which every version has written."""
NEEDED = ("plan", "geometry", "source", "digest")


@dataclass(frozen=True)
class Repetition:
    """How far a repeated result lies from the first.

    Attributes
    ----------
    worst : by variable, largest difference over the variable's largest value [1]
    version : the version that made the first result, as the file says
    limit : the difference that is allowed
    differences : everything that is not the same
    notes : what only another version words otherwise, or adds
    """

    worst: dict[str, float]
    version: str
    limit: float
    differences: tuple[Difference, ...]
    notes: tuple[Difference, ...]

    @property
    def agrees(self) -> bool:
        """Whether everything agrees within the limit."""
        return not self.differences


class RerunDocument(TypedDict):
    """A saved sweep computed again.

    Attributes
    ----------
    limit : difference that is allowed, over a variable's largest value [1]
    worst : by variable, largest difference; null where it cannot be compared [1]
    differences, notes : what is not the same; what only another version words otherwise, or adds
    """

    version: str
    limit: float
    agrees: bool
    worst: dict[str, float]
    differences: list[str]
    notes: list[str]


def rerun_document(found: Repetition) -> RerunDocument:
    """A repetition as plain values."""
    document: RerunDocument = {
        "version": found.version,
        "limit": found.limit,
        "agrees": found.agrees,
        "worst": dict(found.worst),
        "differences": [one.sentence() for one in found.differences],
        "notes": [one.sentence() for one in found.notes],
    }
    return without_nan(document)


def repeated(path: Path, *, workers: int = 1, report: Counted | None = None) -> Repetition:
    """Compute a saved sweep again and compare everything that the file holds.

    Raises
    ------
    InputRefused : the file was not written by a sweep, or was changed since
    """
    first = held_in(path)
    name = cut_path(path)
    for key in NEEDED:
        if not first.text(key):
            raise InputRefused(f"{name}: not written by foldspan sweep (no text {key!r} in it)")
    version = _version(first.text("source"), name)
    plan = _plan(first.text("plan"), name)
    tables = tables_in(first.attributes.get("tables"), name)
    with rebuilt(first.text("geometry"), tables, f"geometry in {name}") as craft:
        if version == vlm.__version__:
            _check_digest(first, craft, plan, name)
        results, _ = run_plan(craft, plan, workers=workers, report=report)
        content = as_netcdf(sweep_dataset(craft, plan, results))
    second = held(io.BytesIO(content), "the repeated sweep")
    same = version == vlm.__version__
    limit = SAME_VERSION if same else OTHER_VERSION
    found = compared(first, second, limit)
    notes = () if same else tuple(d for d in found.differences if _is_note(d))
    differences = tuple(d for d in found.differences if d not in notes)
    return Repetition(found.worst, version, limit, differences, notes)


def _version(source: str, name: str) -> str:
    found = re.fullmatch(r"foldspan (\d[\w.+]{0,40})", source)
    if found is None:
        raise InputRefused(f'{name}: its source is "{cut(source)}", no version of foldspan')
    return found[1]


def _plan(text: str, name: str) -> SweepPlan:
    try:
        return plan_from(json.loads(text))
    except (ValueError, RecursionError):
        raise InputRefused(f"{name}: its plan is not JSON") from None
    except InputRefused as error:
        raise InputRefused(f"{name}: {error}") from None


def _check_digest(first: HeldDataset, craft: Biplane, plan: SweepPlan, name: str) -> None:
    if plan.digest(craft, first.text("geometry")) != first.text("digest"):
        raise InputRefused(
            f"{name}: its geometry, a mean line or its plan is not the one it was computed from"
        )


def _is_note(found: Difference) -> bool:
    """Whether another version may differ so: in wording, or by what an older one did not hold."""
    added = found.what == "missing" and not found.place.endswith(MEASURES)
    return found.words_only or added
