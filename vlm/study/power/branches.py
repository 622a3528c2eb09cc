"""What a study of power says where a craft has several trims at one speed."""

from collections.abc import Sequence
from typing import TypedDict

from vlm.findings import Finding
from vlm.flight.trim.branches import FlownBranches
from vlm.flight.trim.power_book import POWER
from vlm.flight.trim.power_curve import PowerPoint

ANGLE = "body_angle_deg"


def two_branches(name: str, found: FlownBranches) -> Finding:
    """Which trim of a setting is flown from hover, and which from cruise."""
    return Finding(
        f"branches_{name}",
        f"{name}: {branch_sentence(found)}; the trim turns there by",
        _turn(found), None, "deg", "stall",
        "cross these speeds with care; which trim is flown depends on how they are reached",
    )  # fmt: skip


def branch_sentence(found: FlownBranches) -> str:
    """Both branches in words."""
    hover, cruise = found.from_hover[-1], found.from_cruise[0]
    return (
        f"coming from hover it flies its steep trim up to {found.highest:.3g} m/s"
        f" ({hover.value(ANGLE):.0f} deg, {hover.value(POWER):.3g} W{_after(found.up)}), coming"
        f" from cruise its flat one down to {found.lowest:.3g} m/s"
        f" ({cruise.value(ANGLE):.0f} deg, {cruise.value(POWER):.3g} W{_after(found.down)})"
    )


def _after(jump: tuple[PowerPoint, PowerPoint] | None) -> str:
    if jump is None:
        return ", and finds no other there"
    return f", then {jump[1].value(ANGLE):.0f} deg, {jump[1].value(POWER):.3g} W"


def _turn(found: FlownBranches) -> float:
    jumps = [jump for jump in (found.up, found.down) if jump is not None]
    turns = [abs(after.value(ANGLE) - before.value(ANGLE)) for before, after in jumps]
    ends = found.from_hover[-1].value(ANGLE) - found.from_cruise[0].value(ANGLE)
    return max(turns, default=abs(ends))


class BranchPoints(TypedDict):
    """Trims along one branch."""

    airspeed_m_s: list[float]
    electrical_power_W: list[float]
    body_angle_deg: list[float]


class BranchesDocument(TypedDict):
    """Which trim is flown coming from hover, and which coming from cruise.

    Attributes
    ----------
    jump_up, jump_down : trims before and after the jump; null where there is no other trim
    """

    from_hover_up_to_m_s: float
    from_cruise_down_to_m_s: float
    from_hover: BranchPoints
    from_cruise: BranchPoints
    jump_up: BranchPoints | None
    jump_down: BranchPoints | None
    words: str


def branches_document(found: FlownBranches | None) -> BranchesDocument | None:
    """Both branches as plain values."""
    if found is None:
        return None
    return {
        "from_hover_up_to_m_s": found.highest,
        "from_cruise_down_to_m_s": found.lowest,
        "from_hover": _points(found.from_hover),
        "from_cruise": _points(found.from_cruise),
        "jump_up": None if found.up is None else _points(found.up),
        "jump_down": None if found.down is None else _points(found.down),
        "words": branch_sentence(found),
    }


def _points(points: Sequence[PowerPoint]) -> BranchPoints:
    return {
        "airspeed_m_s": [p.speed for p in points],
        "electrical_power_W": [p.value(POWER) for p in points],
        "body_angle_deg": [p.value(ANGLE) for p in points],
    }
