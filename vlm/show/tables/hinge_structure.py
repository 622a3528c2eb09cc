"""Tables of what a hinge study says of the structure: wing roots, free play, divergence."""

from collections.abc import Sequence

from vlm.show.text.layout import number, short, table, with_error
from vlm.sides import Side
from vlm.study.hinge.results import (
    BacklashRow,
    DivergenceRow,
    MomentRow,
    WingRow,
    stalls_first,
)


def factor_words(row: MomentRow | WingRow, stall: str) -> str:
    """The load factor; where the wings do not reach it, the one they reach.

    Parameters
    ----------
    stall : of :attr:`HingeStudy.stall_words`
    """
    if stalls_first(row):
        return f"{row.reached_load_factor:.2f} ({stall})"
    return f"{row.load_factor:.3g}"


def largest_words(row: MomentRow, stall: str) -> str:
    """The load factor at which the most loaded hinge's moment is largest, and up to which it was
    looked for where that is more; ``stall`` as :func:`factor_words`."""
    words = factor_words(row, stall)
    return f"{row.hinge().load_factor:.2f} of {words}" if is_on_the_way(row) else words


def is_on_the_way(row: MomentRow) -> bool:
    """Whether the most loaded hinge's moment is largest below the load factor reached, as shown."""
    reached = row.reached_load_factor
    return reached is not None and not row.hinge().load_factor > reached - 0.005


def wings_table(rows: Sequence[WingRow], stall: str) -> str:
    """Shear and bending of the starboard half wings, a row each; stall as :func:`factor_words`."""
    heads = ["fold [deg]", "load factor", "at [m/s]", "wing", "root shear [N]",
             "root bending [N m]", "bending at the hinge [N m]", "share of limit"]  # fmt: skip
    lines = []
    for row in rows:
        place = [f"{row.fold_deg:g}", f"{row.load_factor:g}"]
        if row.halves is None:
            lines.append([*place, "", short(row.reason or ""), "", "", "", ""])
            continue
        place = [place[0], factor_words(row, stall), number(row.airspeed_m_s, 3)]
        joined = " (joined: not determined by statics, ± not known)" if row.joined else ""
        joined += " (without the fins' loads)" if row.fins_left_out else ""
        for half in row.halves:
            if half.side != Side.STARBOARD:
                continue
            lines.append(
                [
                    *place,
                    half.wing + joined,
                    with_error(half.root_shear_N, half.root_shear_half_width_N),
                    with_error(half.root_bending_N_m, half.root_bending_half_width_N_m),
                    with_error(half.hinge_bending_N_m, half.hinge_bending_half_width_N_m),
                    number(row.share_of_root_limit, 2),
                ]
            )
    return table(heads, lines, left=0)


def backlash_table(rows: Sequence[BacklashRow]) -> str:
    """What free play rolls the craft with."""
    heads = ["fold, deg", "roll, N m", "yaw (+ proverse), N m", "Cl", "steady roll, deg/s"]
    lines = [
        [f"{row.fold_deg:g}", short(row.reason), "", "", ""]
        if row.reason is not None
        else [
            f"{row.fold_deg:g}",
            number(row.rolling_moment_N_m, 3),
            number(row.yawing_moment_N_m, 3),
            number(row.Cl, 3),
            number(row.roll_rate_deg_s, 3),
        ]
        for row in rows
    ]
    return table(heads, lines, left=0)


def divergence_table(rows: Sequence[DivergenceRow]) -> str:
    """Airspeeds at which the air turns the tips against their stiffness."""
    if not rows:
        return "the file names no hinge_stiffness_N_m_rad"
    heads = ["fold [deg]", "airspeed [m/s]", "tips move", "air's stiffness here [N m/rad]",
             "hinge's stiffness [N m/rad]"]  # fmt: skip
    lines = []
    for row in rows:
        if row.reason is not None:
            lines.append([f"{row.fold_deg:g}", short(row.reason), "", "", ""])
            continue
        speed = row.airspeed_m_s
        none = f"none up to {row.searched_to_m_s:.3g}"
        lines.append(
            [
                f"{row.fold_deg:g}",
                number(speed, 4) if speed is not None else none,
                row.tips_move or "",
                number(row.air_stiffness_N_m_rad, 3),
                number(row.hinge_stiffness_N_m_rad, 3),
            ]
        )
    return table(heads, lines, left=0) + "\nnegative air's stiffness: the air pushes the tip on"
