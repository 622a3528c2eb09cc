"""Surfaces that cross or lie on one another: refused, with the fold at which they meet."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import NoReturn

import numpy as np

from vlm.errors import InputRefused
from vlm.lattice.contact import CONTACT, found_joints
from vlm.lattice.outlines import outline, outlines_touch, pulled_in
from vlm.lattice.patches import Patch
from vlm.lattice.ways import Stop
from vlm.sides import wing_and_side

Placement = Callable[[Mapping[str, float]], tuple[Patch, ...]]
StopOf = Callable[[str, float], Stop | None]
STEP_RAD = float(np.radians(1.0))
HALVINGS = 20


@dataclass(frozen=True)
class Crossing:
    """Two surfaces that meet: the first one, its body ("fixed" or a tip), and the other."""

    surface: str
    body: str
    other: str


def refuse_collisions(
    placed: Placement,
    folds: Mapping[str, float],
    stop_of: StopOf,
    row_fraction: float,
) -> None:
    """Refuse surfaces that cross or lie on one another, at the folds asked for or on the way.

    Parameters
    ----------
    placed : makes all patches for given tip angles
    folds : angle of each tip [rad]
    stop_of : the fixed wing in a tip's way to an angle, see :mod:`vlm.lattice.ways`
    row_fraction : chord fraction of the first vortex row

    Raises
    ------
    InputRefused : names the surfaces and the fold angle at which they first meet
    """
    stops = {body: stop_of(body, angle) for body, angle in folds.items()}
    passed = {b: s for b, s in stops.items() if s is not None and abs(folds[b]) > abs(s.beyond)}
    if passed:
        body, stop = min(passed.items(), key=lambda item: item[1].contact / folds[item[0]])
        wing, side = wing_and_side(body)
        tip = f"{wing} {side.words} tip"
        _refuse(tip, stop.wing, folds[body], stop.contact)
    if collision(placed(folds), row_fraction) is None:
        return
    share, crossing = first_meeting(
        lambda share: collision(placed(_scaled(folds, share)), row_fraction),
        max((abs(angle) for angle in folds.values()), default=0.0),
    )
    if share == 0.0 or crossing.body not in folds:
        raise InputRefused(
            f"the {crossing.surface} meets the {crossing.other} with the tips flat;"
            f" {_remedy(crossing)}"
        )
    asked = folds[crossing.body]
    _refuse(crossing.surface, crossing.other, asked, share * asked)


def _remedy(crossing: Crossing) -> str:
    fins = [one.startswith("fin ") for one in (crossing.surface, crossing.other)]
    if all(fins):
        return "move one of them"
    if any(fins):
        return "move the fin, or let it stand on the wing (joined_to)"
    return "set a larger gap or another stagger"


def _refuse(surface: str, other: str, asked: float, contact: float) -> NoReturn:
    remedy = "move the fin" if other.startswith("fin ") else "widen the gap"
    raise InputRefused(
        f"the {surface} meets the {other}: on the way to a fold of {np.degrees(asked):.4g} degrees"
        f" they touch at {np.degrees(contact):.4g} degrees; stay inside that angle, shorten the tip"
        f" or {remedy}"
    )


def _scaled(folds: Mapping[str, float], share: float) -> dict[str, float]:
    return {body: share * angle for body, angle in folds.items()}


def first_meeting(
    meets: Callable[[float], Crossing | None], largest: float
) -> tuple[float, Crossing]:
    """The least share of the way at which surfaces meet, and which.

    Parameters
    ----------
    meets : what meets at a share of the way, 0 to 1; at 1 something does
    largest : largest angle turned on the whole way [rad]
    """
    low, high, found = 0.0, 0.0, meets(0.0)
    steps = max(1, int(np.ceil(largest / STEP_RAD)))
    for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
        if found is not None:
            break
        low, high, found = high, float(share), meets(float(share))
    assert found is not None
    for _ in range(HALVINGS if high > 0.0 else 0):
        middle = 0.5 * (low + high)
        nearer = meets(middle)
        if nearer is None:
            low = middle
        else:
            high, found = middle, nearer
    return high, found


def collision(patches: tuple[Patch, ...], first: float) -> Crossing | None:
    """The first two surfaces that cross or lie on one another, or None.

    Parameters
    ----------
    first : chord fraction of the first vortex row
    """
    joined = {m.index for m in found_joints(patches, first) if m.joint.closed}
    tables = [outline(patch, first) for patch in patches]
    for i, j in _candidate_pairs(patches):
        tolerance = CONTACT * float(patches[i].chord.max())
        own = tables[i]
        if patches[i].part == "tip":
            own = pulled_in(own, 3.0 * tolerance, outboard=i in joined)
        elif patches[i].stands_on:
            own = pulled_in(own, 3.0 * tolerance, outboard=len(patches[i].stands_on) > 1)
        if outlines_touch(own, tables[j], tolerance):
            return Crossing(patches[i].label, patches[i].body, patches[j].label)
    return None


def _candidate_pairs(patches: tuple[Patch, ...]) -> Iterator[tuple[int, int]]:
    """Pairs that can meet: every tip with every surface of another body that is not beside it."""
    for i, a in enumerate(patches):
        for j, b in enumerate(patches):
            if a.body == b.body == "fixed":
                if i < j and a.wing != b.wing and not _stand_together(a, b):
                    yield i, j
                continue
            beside = a.wing == b.wing and a.side == b.side
            if a.part != "tip" or a.body == b.body or beside or (b.part == "tip" and j < i):
                continue
            yield i, j


def _stand_together(one: Patch, two: Patch) -> bool:
    """Whether one of them is a fin that stands on the other."""
    return one.wing in two.stands_on or two.wing in one.stands_on
