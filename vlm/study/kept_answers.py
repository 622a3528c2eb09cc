"""Answers of studies kept on disk: the same question again is answered without working it out.

What is kept belongs to the question: every number of the craft and of the files that it names, the
plan, and the text of the whole package. A change of any of these finds nothing. What is asked of
an answer afterwards (a fuller table, JSON, a picture) is no part of the question.
"""

import platform
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
import scipy

from vlm.air import Air, standard_air
from vlm.chart.kept_arrays import users_cache
from vlm.description.models import Biplane
from vlm.fingerprints import fingerprint, fingerprint_of_code
from vlm.flight.trim.powered import POWER_GRID
from vlm.lattice.cellule import Grid
from vlm.loads.fold_engine import is_every_fold_solved
from vlm.study.answer_form import NoPlainForm, read_back, written
from vlm.study.kept_trims import read_beside

A = TypeVar("A")
NUMBERS = "numbers"


@dataclass(frozen=True)
class TrimTable:
    """A table of trims over fold and airspeed.

    Attributes
    ----------
    folds : how many it has, besides the flat and the named ones
    air : the air
    grid : the lattice
    """

    folds: int
    air: Air = field(default_factory=standard_air)
    grid: Grid = POWER_GRID


def kept_answer(
    kind: type[A], crafts: Sequence[Biplane], asked: object, work_out: Callable[[], A]
) -> A:
    """An answer that is kept, else one that is worked out now, and kept.

    Parameters
    ----------
    kind : class of the answer
    crafts : the craft that are asked about
    asked : everything else that the answer hangs on, its name included
    work_out : makes the answer
    """
    kept = users_cache()
    if kept is None:
        return work_out()
    key = _key(kind, crafts, asked)
    found = kept.load(key)
    if found is not None:
        arrays, words = found
        with suppress(NoPlainForm, LookupError):
            return read_back(kind, words, arrays[NUMBERS])
    answer = work_out()
    with suppress(NoPlainForm):
        words, numbers = written(kind, answer)
        kept.keep(key, {NUMBERS: numbers}, words)
    return answer


def _key(kind: type[object], crafts: Sequence[Biplane], asked: object) -> str:
    libraries = (platform.python_version(), np.__version__, scipy.__version__)
    return fingerprint(
        kind.__qualname__,
        fingerprint_of_code(),
        libraries,
        [(craft.source_name, craft.model_dump_json(), read_beside(craft)) for craft in crafts],
        asked,
        is_every_fold_solved(),
    )
