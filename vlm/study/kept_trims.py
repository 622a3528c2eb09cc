"""Finished power curves of a study on disk, so that a stopped study goes on where it was."""

import hashlib
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

import vlm
from vlm.air import Air
from vlm.description.files import read_text
from vlm.description.models import Biplane
from vlm.flight.trim.kept_curves import Arrays
from vlm.lattice.cellule import Grid
from vlm.study.store import ChunkStore
from vlm.study.sweep.plan import mean_lines


class KeptTrims:
    """Finished curves in a folder, each there whole or not at all.

    Parameters
    ----------
    folder : where they stand
    digest : fingerprint of what all of them depend on, see :func:`input_digest`

    Raises
    ------
    InputRefused : the folder belongs to another craft, air, lattice or version
    """

    def __init__(self, folder: Path, digest: str) -> None:
        self._store = ChunkStore(folder, digest)
        self.recalled = 0

    def load(self, name: str) -> Arrays | None:
        """Arrays kept under a name; None where there are none."""
        found = self._store.load(numbered(name))
        if found is None:
            return None
        self.recalled += 1
        return {key: np.asarray(value, float) for key, value in found[0].items()}

    def keep(self, name: str, arrays: Arrays) -> None:
        """Keep arrays under a name."""
        self._store.keep(numbered(name), [dict(arrays)])


def numbered(name: str) -> int:
    """A number for a name, for the names of files."""
    return int(hashlib.sha256(name.encode()).hexdigest()[:12], 16)


def kept_trims(
    folder: Path | None, craft: Biplane, air: Air | None, grid: Grid | None
) -> KeptTrims | None:
    """Where a study keeps its curves; None for no folder.

    Raises
    ------
    InputRefused : the folder belongs to another craft, air, lattice or version
    """
    return None if folder is None else KeptTrims(folder, input_digest(craft, air, grid))


def input_digest(craft: Biplane, air: Air | None, grid: Grid | None, *more: object) -> str:
    """Fingerprint of craft, the tables it names, air, lattice and version, and of more values.

    The blocks [design] and [[mission]] are not in it: trims do not depend on them.
    """
    text = json.dumps(
        {
            "craft": craft.model_copy(update={"design": None, "mission": ()}).to_toml(),
            **read_beside(craft),
            "air": None if air is None else asdict(air),
            "grid": None if grid is None else asdict(grid),
            "version": vlm.__version__,
            "more": more,
        },
        sort_keys=True,
    )
    return hashlib.sha256(text.encode()).hexdigest()


def read_beside(craft: Biplane) -> dict[str, list[Any]]:
    """What a craft's file names and other files hold: mean lines, and texts of tables."""
    tables = [s.table for s in craft.sections.values()] + [r.table for r in craft.rotors]
    folder = craft.folder or Path()
    return {
        "mean_lines": [asdict(line) for line in mean_lines(craft)],
        "tables": [read_text(folder / name) for name in tables if name],
    }
