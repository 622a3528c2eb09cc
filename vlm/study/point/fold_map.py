"""Everything over port and starboard folds, tabulated for a page that interpolates in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.rotor_slopes import idle_slopes, slopes_over
from vlm.lattice.lattice import folded
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.parts import strip_circulations
from vlm.loads.state import FlightState
from vlm.study.point.contact import Flags, touching_folds
from vlm.study.point.evaluation import evaluated
from vlm.study.point.session import Session
from vlm.study.point.sizes import surface_areas, tip_sizes

NAMES = ("CL", "CDi", "span_efficiency", "CY", "Cl", "Cm", "Cn", "Cl_beta", "Cn_beta", "Cl_p")
CHECKED = ("CL", "CDi", "Cl", "Cn", "Cl_beta")
MOST_CHECKS = 8


@dataclass(frozen=True)
class FoldMap:
    """Values over port and starboard folds and angles of attack, without sideslip or rates.

    Attributes
    ----------
    folds_deg : shape (n,), of either side [deg]
    alphas_deg : shape (a,) [deg]
    values : by name, shape (n, n, a): port, starboard, angle of attack; NaN where there is none.
        Names are those of the quantity table, and hinge_moment_coefficient_TIP.
    circulation : shape (n, n, a, strips), of each strip over the airspeed [m]
    failures : why a pair of folds has no values, by (port, starboard) [deg]
    check : by name, largest error of the interpolation found midway between nodes
    joined : shape (n, n), whether a tip touches a wing there; nothing lies between it and others
    rotors : what rotors without thrust add to "Cl_beta" and "Cn_beta" at all folds, which are of
        wings and fins alone, with half-widths, shape (a, 2) [1/rad]; NaN where that is not known,
        empty for a craft without rotors
    """

    folds_deg: Floats
    alphas_deg: Floats
    values: Mapping[str, Floats]
    circulation: Floats
    failures: Mapping[tuple[float, float], str]
    check: Mapping[str, float]
    joined: Flags
    rotors: Mapping[str, Floats] = field(default_factory=dict)

    @property
    def touching(self) -> tuple[Flags, Flags]:
        """Folds at which the port and the starboard tip touch, each of shape (n,)."""
        return touching_folds(self.joined, np.isfinite(self.values["CL"][:, :, 0]))

    def at(self, name: str, alpha_deg: float) -> Floats:
        """One quantity over port (first axis) and starboard folds, at the nearest angle."""
        index = int(np.argmin(np.abs(self.alphas_deg - alpha_deg)))
        return np.asarray(self.values[name][:, :, index])


def line_weights(nodes: Floats, place: float, most: int = 4) -> tuple[int, Floats]:
    """First node and weights of a polynomial through the ``most`` nodes around a place.

    Lagrange's form (Abramowitz & Stegun 1964, 25.2.1, from memory).
    """
    count = min(most, len(nodes))
    cell = int(np.clip(np.searchsorted(nodes, place, side="right") - 1, 0, max(len(nodes) - 2, 0)))
    first = int(np.clip(cell - (count - 1) // 2, 0, len(nodes) - count))
    near = nodes[first : first + count]
    weights = np.ones(count)
    for k in range(count):
        others = np.delete(near, k)
        weights[k] = np.prod((place - others) / (near[k] - others))
    return first, weights


def branch_weights(
    nodes: Floats, touching: Flags, place: float, most: int
) -> tuple[int, Floats] | None:
    """:func:`line_weights` that never reach across contact; None between contact and the next node.

    Parameters
    ----------
    touching : shape (n,), nodes at which a tip touches: each has its own value and no neighbour
    """
    here = np.flatnonzero(np.isclose(nodes, place, rtol=0.0, atol=1e-9))
    if here.size and touching[here[0]]:
        return int(here[0]), np.ones(1)
    cell = int(np.clip(np.searchsorted(nodes, place, side="right") - 1, 0, max(len(nodes) - 2, 0)))
    low = high = int(here[0]) if here.size else cell
    high += 0 if here.size else 1
    if touching[low : high + 1].any():
        return None
    while low > 0 and not touching[low - 1]:
        low -= 1
    while high < len(nodes) - 1 and not touching[high + 1]:
        high += 1
    first, weights = line_weights(nodes[low : high + 1], place, most)
    return low + first, weights


def interpolated(
    nodes: Floats,
    table: Floats,
    port: float,
    starboard: float,
    touching: tuple[Flags, Flags] | None = None,
) -> Floats:
    """A table over port and starboard folds at a place between its nodes.

    Cubic in each direction; linear where a node of the cubic has no value, and NaN where the cell
    itself has a corner without one, or contact on one side alone. The page of the report does the
    same.

    Parameters
    ----------
    nodes : shape (n,) [deg]
    table : shape (n, n, ...)
    port, starboard : [deg]
    touching : nodes at which the port and the starboard tip touch, each of shape (n,); none if
        left out
    """
    none = np.zeros(len(nodes), dtype=bool)
    sides = touching or (none, none)
    for most in (4, 2):
        rows = branch_weights(nodes, sides[0], port, most)
        columns = branch_weights(nodes, sides[1], starboard, most)
        if rows is None or columns is None:
            break
        (i, across), (j, along) = rows, columns
        block = table[i : i + len(across), j : j + len(along)]
        if np.all(np.isfinite(block)):
            return np.asarray(np.einsum("i,j,ij...->...", across, along, block))
    return np.full(table.shape[2:], np.nan)


class _Solver:
    """Values of one pair of folds, all angles of attack at once."""

    def __init__(self, session: Session, alphas_deg: Floats) -> None:
        self.session = session
        self.state = FlightState(alpha=np.radians(alphas_deg))
        cellule = session.cellule
        self.areas, self.tips = surface_areas(cellule), tip_sizes(cellule)
        hinges = [f"hinge_moment_coefficient_{tip}" for tip in cellule.hinges]
        self.names = (*NAMES, *hinges)

    def numbers(self, loads: GeneralLoads) -> dict[str, Floats]:
        """By name, shape (a,)."""
        found = evaluated(loads, self.state, self.areas, self.tips)
        return {name: np.asarray(found[name]) for name in self.names}

    def strips(self, loads: GeneralLoads) -> Floats:
        """Circulation over airspeed, shape (a, strips) [m]."""
        return strip_circulations(loads, self.state)


def fold_map(
    session: Session,
    folds_deg: Sequence[float],
    alphas_deg: Sequence[float],
) -> FoldMap:
    """Solve all pairs of folds; a mirrored pair comes from its mirror image.

    Parameters
    ----------
    session : the craft held ready
    folds_deg : of either side, rising [deg]
    alphas_deg : rising [deg]
    """
    folds, alphas = np.array(folds_deg, dtype=float), np.array(alphas_deg, dtype=float)
    solver = _Solver(session, alphas)
    shape = (len(folds), len(folds), len(alphas))
    values = {name: np.full(shape, np.nan) for name in solver.names}
    circulation: Floats | None = None
    failures: dict[tuple[float, float], str] = {}
    joined = np.zeros(shape[:2], dtype=bool)
    for i, j in pairs_of(len(folds)):
        for place, loads in _solved(session, folds, i, j, failures):
            joined[place] = loads.lattice.is_joined
            for name, found in solver.numbers(loads).items():
                values[name][place] = found
            strips = solver.strips(loads)
            if circulation is None:
                circulation = np.full((*shape, strips.shape[1]), np.nan)
            circulation[place] = strips
    if circulation is None:
        circulation = np.full((*shape, 0), np.nan)
    rotors = _rotors(session, solver.state)
    made = FoldMap(folds, alphas, values, circulation, failures, {}, joined, rotors)
    return replace(made, check=_checked(solver, made))


def _rotors(session: Session, state: FlightState) -> dict[str, Floats]:
    """``FoldMap.rotors`` at every angle of attack of a state."""
    if not session.craft.rotors:
        return {}
    air = float(state.airspeed), float(state.density)
    reference = session.cellule.reference
    each = [idle_slopes(session.craft, reference, float(a), *air) for a in np.ravel(state.alpha)]
    return {name: slopes_over(each, name) for name in ("Cl_beta", "Cn_beta")}


def approached(session: Session, folds_deg: Sequence[float], step: float) -> tuple[float, ...]:
    """Folds with one more beside an end at which a tip touches, so that the map reaches near it.

    Parameters
    ----------
    folds_deg : of either side, rising [deg]
    step : from the end to the further fold [deg]
    """
    more = []
    for end, inward in ((folds_deg[0], step), (folds_deg[-1], -step)):
        try:
            lattice = folded(session.cellule, session.craft, FoldAngles.symmetric(end))
        except FoldspanError:
            continue
        beside = end + inward
        free = min(abs(beside - fold) for fold in folds_deg) >= 0.5 * step
        if lattice.is_joined and free and folds_deg[0] < beside < folds_deg[-1]:
            more.append(beside)
    return tuple(sorted({*folds_deg, *more}))


def pairs_of(count: int) -> list[tuple[int, int]]:
    """Pairs of places that a map solves: each with its mirror image once."""
    return [(i, j) for i in range(count) for j in range(i + 1)]


def _solved(
    session: Session, folds: Floats, i: int, j: int, failures: dict[tuple[float, float], str]
) -> list[tuple[tuple[int, int], GeneralLoads]]:
    """Loads of a pair and of its mirror image, with their places."""
    port, starboard = float(folds[i]), float(folds[j])
    try:
        loads = session.loads(FoldAngles(port, starboard))
        if i == j:
            return [((i, i), loads)]
        if loads.can_be_mirrored:
            return [((i, j), loads), ((j, i), loads.mirrored())]
        return [((i, j), loads), ((j, i), session.loads(FoldAngles(starboard, port)))]
    except FoldspanError as error:
        failures[port, starboard] = failures[starboard, port] = str(error)
        return []


def _checked(solver: _Solver, made: FoldMap) -> dict[str, float]:
    """Largest interpolation errors midway between nodes, at a few places over the map."""
    folds, touching = made.folds_deg, made.touching
    cells = [(i, j) for i, j in pairs_of(len(folds) - 1)]
    shown = cells[:: max(1, -(-len(cells) // MOST_CHECKS))]
    worst = dict.fromkeys(CHECKED, 0.0)
    for i, j in shown:
        middle = FoldAngles(*(float(0.5 * (folds[k] + folds[k + 1])) for k in (i, j)))
        try:
            loads = solver.session.loads(middle)
            found = solver.numbers(loads)
        except FoldspanError:
            continue
        for name in CHECKED:
            places = (middle.left_deg, middle.right_deg)
            guess = interpolated(folds, made.values[name], *places, touching)
            error = float(np.max(np.abs(found[name] - guess))) + loads.errors.get(name, 0.0)
            if np.isfinite(error):
                worst[name] = max(worst[name], error)
    return worst
