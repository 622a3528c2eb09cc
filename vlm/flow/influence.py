"""What rings do at points: the influence matrix, and velocities of rings of known strength."""

from collections.abc import Sequence

import numpy as np

from vlm.constants import Floats
from vlm.flow import kernel, kernel_rates
from vlm.flow.compiling import report_compiling
from vlm.flow.memory import refuse_too_large
from vlm.flow.wake import Wake, WakeRate
from vlm.lattice.patches import Patch

report_compiling()


def node_table(nodes: Floats) -> Floats:
    """Nodes of a grid as the kernel takes them, shape (3, rows of nodes x columns) [m]."""
    return np.ascontiguousarray(nodes.reshape(-1, 3).T)


def normalwash_of(
    points: Floats, normals: Floats, patch: Patch, nodes: Floats, direction: Floats
) -> Floats:
    """Velocity along the normals from each ring of a grid, shape (m, rings) [1/m].

    Parameters
    ----------
    nodes : of the grid: the patch's, its wake's, or both, shape (rows + 1, strips + 1, 3) [m]
    """
    table = np.empty((len(points), (len(nodes) - 1) * patch.strips))
    kernel.normalwash(
        solid(points), solid(normals), node_table(nodes), patch.strips + 1, solid(direction),
        patch.sense, table, 0,
    )  # fmt: skip
    return table


class WakeColumns:
    """What the wake of some patches does at control points, by strip.

    Attributes
    ----------
    plain : shape (m, strips), of unit circulation that does not change along the edge [1/m]
    shaped : shape (m, strips), of a unit dmu/dx at the edge, corrections left out [1]
    """

    def __init__(self, rows: int, strips: int) -> None:
        self.plain = np.empty((rows, strips))
        self.shaped = np.empty((rows, strips))

    def take(self, first: int, rings: Floats, shape: Floats) -> None:
        """Take up a patch's wake rings, (m, wake rows x strips), from column ``first`` on."""
        rows, strips = shape.shape
        own = slice(first, first + strips)
        grid = rings.reshape(len(rings), rows, strips)
        self.plain[:, own] = grid.sum(axis=1)
        self.shaped[:, own] = np.einsum("mrs,rs->ms", grid, shape)


def wake_columns(
    points: Floats, normals: Floats, wake: Wake, sources: Sequence[int]
) -> WakeColumns:
    """The wake of some patches at points, from the wake's rings alone."""
    patches = wake.shape.lattice.patches
    found = WakeColumns(len(points), sum(patches[i].strips for i in sources))
    first = 0
    for index in sources:
        patch, rows = patches[index], patches[index].rows
        rings = normalwash_of(points, normals, patch, wake.nodes[index][rows:], wake.direction)
        found.take(first, rings, wake.shape.ring_shapes[index])
        first += patch.strips
    return found


def ring_columns(
    points: Floats, normals: Floats, wake: Wake, sources: Sequence[int]
) -> tuple[Floats, WakeColumns]:
    """The rings of some patches, each closed at the trailing edge, and their wake, at points.

    Returns
    -------
    shape (m, panels of the sources), and the wake's columns
    """
    patches = wake.shape.lattice.patches
    wing = np.empty((len(points), sum(patches[i].panels for i in sources)))
    behind = WakeColumns(len(points), sum(patches[i].strips for i in sources))
    first = panel = 0
    for index in sources:
        patch = patches[index]
        rings = normalwash_of(points, normals, patch, wake.nodes[index], wake.direction)
        wing[:, panel : panel + patch.panels] = rings[:, : patch.panels]
        behind.take(first, rings[:, patch.panels :], wake.shape.ring_shapes[index])
        panel += patch.panels
        first += patch.strips
    return wing, behind


def influence_matrix(wake: Wake) -> Floats:
    """Velocity along each panel's normal from each ring with its wake, (panels, panels) [1/m].

    Raises
    ------
    ComputationFailed : the matrix does not fit into memory
    """
    lattice = wake.shape.lattice
    refuse_too_large(lattice.panels)
    everything = range(len(lattice.patches))
    matrix, behind = ring_columns(lattice.controls(), lattice.normals(), wake, everything)
    matrix[:, lattice.trailing_panels()] += whole_wake(wake, behind)
    return matrix


def whole_wake(wake: Wake, columns: WakeColumns) -> Floats:
    """Influence of each strip's circulation through the whole wake, shape (panels, strips)."""
    return np.asarray(columns.plain + columns.shaped @ wake.amplitudes + wake.correction_columns)


def half_wakes(wake: Wake, own: WakeColumns, other: WakeColumns) -> tuple[Floats, Floats]:
    """The same at starboard points for symmetric and for antisymmetric circulations.

    Parameters
    ----------
    own, other : columns of the starboard and of the port wake at starboard control points
    """
    panels, half = own.plain.shape
    beside, across = wake.amplitudes[:half, :half], wake.amplitudes[:half, half:]
    near, far = np.split(wake.correction_columns[:panels], 2, axis=1)
    even = own.plain + other.plain + (own.shaped + other.shaped) @ (beside + across) + near + far
    odd = own.plain - other.plain + (own.shaped - other.shaped) @ (beside - across) + near - far
    return even, odd


def velocities_from(points: Floats, wake: Wake, strengths: Sequence[Floats]) -> Floats:
    """Velocity at points from all rings, the wake's included; no table is stored.

    Parameters
    ----------
    points : shape (m, 3) [m]
    strengths : from :meth:`vlm.flow.wake.Wake.strengths` [m^2/s]

    Returns
    -------
    shape (m, 3, columns) [m/s]
    """
    result = np.zeros((len(points), 3, strengths[0].shape[1]))
    for patch, nodes, strength in zip(
        wake.shape.lattice.patches, wake.nodes, strengths, strict=True
    ):
        kernel.velocity_sum(
            solid(points), node_table(nodes), patch.strips + 1, solid(wake.direction),
            patch.sense, solid(strength.T), result,
        )  # fmt: skip
    return result


def velocity_rates_from(
    points: Floats,
    wakes: Sequence[Wake],
    rates: Sequence[WakeRate],
    strengths: Sequence[Sequence[Floats]],
) -> list[Floats]:
    """Rates of change of the velocities at fixed points while nodes and legs move, by wake.

    Strengths are held. Patches that rest, and whose wake rests, are left out; of those whose
    wake alone moves, only the wake is summed. What the rings of a patch do, which are the same
    whatever its wake, is summed for all wakes at once.

    Parameters
    ----------
    wakes : of one lattice
    rates : of each, in one motion
    strengths : of each, from :meth:`vlm.flow.wake.Wake.strengths` [m^2/s]

    Returns
    -------
    shape (m, 3, columns) each [m/s per unit]
    """
    points, rest = solid(points), np.zeros(points.shape)
    found = [np.zeros((len(points), 3, own[0].shape[1])) for own in strengths]
    ends = np.cumsum([own[0].shape[1] for own in strengths])
    for index, patch in enumerate(wakes[0].shape.lattice.patches):
        rows = patch.rows
        moving = bool(np.abs(rates[0].nodes[index][:rows]).max() > 0.0)
        shared = moving and len(wakes) > 1
        if shared:
            # One row of the wake closes the rings; its own ring has no strength.
            rings = [own[index][: patch.panels] for own in strengths]
            closed = np.pad(np.concatenate(rings, axis=1), ((0, patch.strips), (0, 0)))
            total = np.zeros((len(points), 3, ends[-1]))
            _add_rates(points, rest, wakes[0], rates[0], index, slice(0, rows + 2), closed, total)
            for result, part in zip(found, np.split(total, ends[:-1], axis=2), strict=True):
                result += part
        first = 0 if moving and not shared else rows
        for wake, rate, own, result in zip(wakes, rates, strengths, found, strict=True):
            still = bool(np.abs(rate.direction).max() <= STILL)
            if first and still and not rate.nodes[index].any():
                continue
            behind = own[index][first * patch.strips :]
            _add_rates(points, rest, wake, rate, index, slice(first, None), behind, result)
    return found


def _add_rates(
    points: Floats, rest: Floats, wake: Wake, rate: WakeRate, index: int, rows: slice,
    strengths: Floats, result: Floats,
) -> None:  # fmt: skip
    """Add the rates that some rows of a patch's nodes bring about."""
    patch = wake.shape.lattice.patches[index]
    kernel_rates.velocity_rate_sum(
        points, rest, node_table(wake.nodes[index][rows]), node_table(rate.nodes[index][rows]),
        patch.strips + 1, solid(wake.direction), rate.direction, patch.sense, solid(strengths.T),
        result,
    )  # fmt: skip


def velocities_behind(points: Floats, wake: Wake, strengths: Sequence[Floats]) -> Floats:
    """Velocity at points from the wake's rings alone, shape (m, 3, columns) [m/s].

    Parameters
    ----------
    strengths : by patch, of its wake's rings, shape (wake rings, columns) [m^2/s]
    """
    result = np.zeros((len(points), 3, strengths[0].shape[1]))
    for patch, nodes, strength in zip(
        wake.shape.lattice.patches, wake.nodes, strengths, strict=True
    ):
        if strength.any():
            kernel.velocity_sum(
                solid(points), node_table(nodes[patch.rows :]), patch.strips + 1,
                solid(wake.direction), patch.sense, solid(strength.T), result,
            )  # fmt: skip
    return result


STILL = 1e-14
"""Turns below this are none [1]."""


def solid(array: Floats) -> Floats:
    """A writable, C-ordered array: the kernel is compiled for no other."""
    return np.require(array, requirements=["C", "W"])
