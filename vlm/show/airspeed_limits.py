"""Up to which airspeed servo and hinge do what they should, in words."""

from vlm.plain import joined
from vlm.show.text.layout import is_known, number, with_error
from vlm.study.hinge.results import Limits, LimitSpeed

MOVES = "the servo moves a tip", "the servo does not move a tip"
HOLDS = (
    "a tip is held in a rolling pull-up at limit load",
    "a tip is not held in a rolling pull-up at limit load",
)
"""What is done within a limit, and what is said beyond it."""


def limit_lines(limits: Limits) -> str:
    """Fastest airspeeds to move and to hold a tip, a line each."""
    lines = []
    for name, limit in limits.moved.items():
        stall = number(limits.moment_at_stall_N_m[name], 3)
        lines.append(f"With a {name} worm {limited(limit, *MOVES)}; it stalls at {stall} N m.")
    most = limits.hinge_moment_limit_N_m
    named = "no hinge limit in the file" if most is None else f"hinge limit {number(most, 3)} N m"
    held = limited(limits.held, *HOLDS)
    lines.append(
        f"{held[0].upper()}{held[1:]}; {named}, and the servo holds where the gear may not lock."
    )
    return "\n".join(lines)


def limited(limit: LimitSpeed, does: str, fails: str) -> str:
    """What is done up to an airspeed, or is not; where the ± leaves it open, that it is not known.

    Parameters
    ----------
    does, fails : clauses for within the limit and for beyond it
    """
    unsure = limit.not_known_m_s
    fold = "" if limit.fold_deg is None else f" at fold {limit.fold_deg:g} deg"
    if limit.fails_already:
        said = f"{fails} even" if unsure is None else f"it is not known whether {does}"
        return f"{said} at the airspeed asked for,{fold}"
    but = ""
    if unsure is not None:
        low, high = (f"{end:.3g}" for end in unsure)
        but = f" (not known {f'at {low}' if low == high else f'from {low} to {high}'} m/s)"
    if limit.airspeed_m_s is None:
        return f"{does} at every airspeed up to {limit.searched_to_m_s:.3g} m/s{but}"
    return f"{does} up to {_speed(limit)} m/s{but}, failing{fold}"


def _speed(limit: LimitSpeed) -> str:
    speed, width = limit.airspeed_m_s, limit.half_width_m_s
    return with_error(speed, width) if is_known(width) else f"{number(speed, 3)} ± not known"


def servo_sentence(limits: Limits) -> str:
    """Up to which airspeed the servo moves a tip; empty where that is not limited."""
    found = {
        name: limit
        for name, limit in limits.moved.items()
        if limit.airspeed_m_s is not None or limit.not_known_m_s is not None
    }
    if not found:
        return ""
    if any(one.fails_already or one.not_known_m_s is not None for one in found.values()):
        said = "; ".join(
            f"with a {name} worm {limited(one, *MOVES)}" for name, one in found.items()
        )
        return f"{said[0].upper()}{said[1:]}.".replace(" deg", "°")
    moved = [f"{_speed(limit)} m/s with a {name} worm" for name, limit in found.items()]
    return f"The servo moves a tip up to {joined(moved)}."
