"""Loads of a setting solved for all states, as plain tables: mirrored and kept without a solve.

What :func:`vlm.loads.many_wakes.stream_loads` solves stands here as arrays over the wake's angles.
They are kept on disk (:mod:`vlm.chart.kept_arrays`) under a hash of everything that they hang on:
every number of the lattice, the wake's angles, what was asked for, and the text of the code that
solves. So what does not change the lattice (a battery, a rotor) finds the same tables, and any
change of a number or of the method finds none.
"""

from collections.abc import Callable, Mapping
from functools import cache, cached_property

import numpy as np

import vlm
from vlm.chart.kept_arrays import KeptArrays
from vlm.constants import Floats
from vlm.fingerprints import fingerprint, fingerprint_of_code
from vlm.flow.wake import Wake
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.lattice import Lattice, mirrored_lattice
from vlm.loads.angles import ANGLES, AngledTable
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.farfield import wake_trace
from vlm.loads.many_wakes import AngledLoads, StreamLoads, direction_of_angle, stream_loads
from vlm.loads.misses import angle_misses
from vlm.loads.surface import (
    SurfaceTables,
    motion_basis,
    reflected_columns,
    reflected_tables,
)
from vlm.sides import Side, across

FORMAT = 1
"""Of the arrays that are kept; another number makes all kept ones foreign."""
CODE = ("frames.py", "archive.py", "fingerprints.py", "lattice", "flow", "loads", "chart")
"""Files and rooms that solve: a change in them makes what was kept foreign."""
ASIDE, FOLD = " aside", "fold "


class StreamTables(AngledLoads):
    """Loads solved at the wake's angles, as arrays.

    Parameters
    ----------
    lattice : of the setting
    arrays : by name, the wake's angles in front: "wrench", "drag", "circulation", "best" and
        "condition"; rates with the wake's turn with sideslip, "wrench aside" and "circulation
        aside"; rates with the fold of a side, "fold left" and "fold right", where there are any
    errors : see :class:`vlm.loads.craft_loads.Loads`
    turned : solves the setting for what sideslip changes; None where the arrays hold it
    """

    def __init__(
        self,
        lattice: Lattice,
        arrays: Mapping[str, Floats],
        errors: Mapping[str, float],
        turned: "Callable[[], StreamTables] | None" = None,
    ) -> None:
        self.lattice, self.arrays, self.errors = lattice, dict(arrays), errors
        self._turned = turned
        self.wrench = self._table("wrench")
        self.circulation = self._table("circulation")
        self.drag, self.best = AngledTable(arrays["drag"]), AngledTable(arrays["best"])
        self.folds = {
            side: AngledTable(arrays[FOLD + side]) for side in Side if FOLD + side in arrays
        }

    @classmethod
    def of(cls, loads: StreamLoads, turned: "Callable[[], StreamTables] | None") -> "StreamTables":
        """The tables of loads that were solved."""
        arrays: dict[str, Floats] = {
            "wrench": loads.wrench.nodes,
            "drag": loads.drag.nodes,
            "circulation": loads.circulation.nodes,
            "best": loads.best.nodes,
            "condition": np.array([node.condition for node in loads.solutions]),
        }
        if turned is None:
            for name in ("wrench", "circulation"):
                aside = getattr(loads, name).aside
                assert aside is not None
                arrays[name + ASIDE] = aside
        arrays |= {FOLD + side: table.nodes for side, table in loads.folds.items()}
        return cls(loads.lattice, arrays, loads.errors, turned)

    def _table(self, name: str) -> AngledTable:
        def aside() -> Floats:
            source = self if self._turned is None else self._turned()
            return source.arrays[name + ASIDE]

        return AngledTable(self.arrays[name], aside)

    @cached_property
    def shape(self) -> WakeShape:  # type: ignore[override]
        """Its wake but for the direction."""
        return WakeShape(self.lattice)

    @cached_property
    def solutions(self) -> tuple[CraftLoads, ...]:  # type: ignore[override]
        """The solves that the tables rest on, without their rates."""
        found = []
        for i, angle in enumerate(ANGLES):
            wake = Wake(self.shape, direction_of_angle(float(angle)))
            surface = SurfaceTables(self.arrays["wrench"][i], motion_basis(self.lattice), {}, {})
            found.append(
                CraftLoads(
                    self.lattice,
                    self.arrays["circulation"][i],
                    surface,
                    wake,
                    wake_trace(self.lattice, wake.direction, wake.leg_starts),
                    self.arrays["drag"][i],
                    float(self.arrays["condition"][i]),
                    "stream",
                )
            )
        return tuple(found)

    @property
    def condition(self) -> float:
        """Largest condition number of the matrices [1]."""
        return float(self.arrays["condition"].max())

    @property
    def can_be_mirrored(self) -> bool:
        """Whether :meth:`mirrored` is the same craft: moments about a point in its middle plane."""
        return float(self.reference.moment_point[1]) == 0.0

    def mirrored(self) -> "StreamTables":
        """Loads of the mirror image: port and starboard folds exchanged, nothing solved again.

        Raises
        ------
        ValueError : the moment point lies off the plane of symmetry
        """
        if not self.can_be_mirrored:
            raise ValueError("a craft with its moment point off the middle has no mirror image")
        turned = self._turned
        return StreamTables(
            mirrored_lattice(self.lattice),
            {_image_name(name): self._image(name) for name in self.arrays},
            {across(name): error for name, error in self.errors.items()},
            None if turned is None else lambda: turned().mirrored(),
        )

    def _image(self, name: str) -> Floats:
        array, lattice = self.arrays[name], self.lattice
        if array.ndim == 1:
            return array
        if name.startswith("circulation"):
            image = np.array([reflected_columns(lattice, one) for one in array])
        elif name == "drag":
            # A drag goes with a force along the stream, which keeps its sign.
            along = np.zeros((*array.shape, 6))
            along[..., 0] = array
            image = self._other_patches(along)[..., 0]
        else:
            image = self._other_patches(array)
        return -image if name.endswith(ASIDE) else image

    def _other_patches(self, tables: Floats) -> Floats:
        """Images of tables by angle and patch, in the order of the patches."""
        flat = reflected_tables(self.lattice, tables.reshape(-1, *tables.shape[2:]))
        return np.roll(flat.reshape(tables.shape), tables.shape[1] // 2, axis=1)


def _image_name(name: str) -> str:
    return across(name) if name.startswith(FOLD) else name


def stream_tables(
    lattice: Lattice, kept: KeptArrays | None, *, fold_rates: bool, sideslip: bool
) -> StreamTables:
    """Loads of a lattice for all states: those that are kept, else solved now, and kept.

    Parameters
    ----------
    kept : where they are kept; None keeps nothing
    fold_rates, sideslip : see :func:`vlm.loads.many_wakes.stream_loads`

    Raises
    ------
    ComputationFailed : as :func:`vlm.loads.many_wakes.stream_loads`
    """

    @cache
    def turned() -> StreamTables:
        return stream_tables(lattice, kept, fold_rates=False, sideslip=True)

    later = None if sideslip else turned
    asked = {sideslip: later}
    if later is not None and not lattice.has_fins:
        # One that knows more serves too; with fins what it is known to miss would be more.
        asked[True] = None
    keys: dict[bool, str] = {}
    if kept is not None:
        for aside, then in asked.items():
            keys[aside] = _key(lattice, fold_rates=fold_rates, sideslip=aside)
            shapes = _shapes(lattice, fold_rates=fold_rates, sideslip=aside)
            known = kept.load(keys[aside], shapes)
            if known is not None and _are_errors(known[1]):
                return StreamTables(lattice, known[0], known[1], then)
    solved = stream_loads(lattice, fold_rates=fold_rates, sideslip=sideslip)
    if lattice.has_fins:
        solved.errors = angle_misses(solved, sideslip=sideslip)
    found = StreamTables.of(solved, later)
    if kept is not None:
        kept.keep(keys[sideslip], found.arrays, dict(found.errors))
    return found


def _are_errors(words: object) -> bool:
    return isinstance(words, dict) and all(
        isinstance(value, float) and 0.0 <= value < float("inf") for value in words.values()
    )


def _shapes(lattice: Lattice, *, fold_rates: bool, sideslip: bool) -> dict[str, tuple[int, ...]]:
    """Shapes of all arrays of a setting by name."""
    columns, patches, angles = 6 + len(lattice.bodies), len(lattice.patches), len(ANGLES)
    wrench = (angles, patches, columns, columns, 6)
    circulation = (angles, lattice.panels, columns)
    found: dict[str, tuple[int, ...]] = {
        "wrench": wrench,
        "drag": wrench[:-1],
        "circulation": circulation,
        "best": (angles,),
        "condition": (angles,),
    }
    if sideslip:
        found |= {"wrench" + ASIDE: wrench, "circulation" + ASIDE: circulation}
    if fold_rates and lattice.bodies and not lattice.is_joined:
        found |= {FOLD + side: wrench for side in Side}
    return found


def _key(lattice: Lattice, *, fold_rates: bool, sideslip: bool) -> str:
    code = fingerprint_of_code(*CODE)
    asked = (FORMAT, vlm.__version__, code, tuple(ANGLES), fold_rates, sideslip)
    return fingerprint(asked, lattice)
