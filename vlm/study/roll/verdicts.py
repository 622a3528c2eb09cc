"""What a study of rolling has to say: reversals, histories cut off, stall, limits reached."""

from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise

import numpy as np

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.flight.motion.roll_response import SLIP_REACHED, RollResponse
from vlm.sides import Side
from vlm.study.roll.results import (
    OTHER_WAY,
    AirspeedRow,
    Authority,
    BankHistory,
    HistoryRow,
    Reversal,
    YawAidRow,
)
from vlm.study.roll.reversal import reversal
from vlm.verdicts import SIGN_NOT_KNOWN, verdict

BANKS_DEG = (30.0, 45.0, 60.0)
SENSES = ("to starboard", "to port", "no roll")
STILL_DEG = 0.1
"""A bank smaller than this has no way yet."""
STALL_LIMIT = 0.1
AT_LIMIT = 0.999
COMMANDS = {
    "strongest": "strongest pair",
    "both_apart_20_deg": "both tips apart 20 deg",
    "port_down_20_deg": "port tip down 20 deg",
}


def reversals(
    rows: Sequence[AirspeedRow],
    moment: Callable[[str, float], float],
    width: Callable[[str, float], float],
) -> tuple[Reversal, ...]:
    """Airspeeds between rows at which a command's rolling moment changes its sign.

    Only where the signs on both sides are known; solved directly in between.

    Parameters
    ----------
    moment, width : rolling moment of a command, by its key, at an airspeed [m/s], and the
        half-width of its error; NaN where there is none [N m]
    """
    found = []
    for key, name in COMMANDS.items():
        known: list[tuple[float, Authority]] = [
            (row.airspeed_m_s, at) for row in rows if (at := getattr(row, key)) is not None
        ]
        known = [(speed, at) for speed, at in known if at.sense in OTHER_WAY]
        for (low, before), (high, after) in pairwise(known):
            if before.sense != after.sense:
                place, error = reversal(low, high, partial(moment, key), partial(width, key))
                error = min(error, max(place - low, high - place))  # the signs there are known
                found.append(Reversal(name, place, error, before.sense, after.sense))
    return tuple(found)


def ending(response: RollResponse) -> tuple[str, str]:
    """Way of the bank at the last instant, and why it ends early where it does."""
    final = float(np.degrees(response.bank[-1]))
    ends = SENSES[0] if final > STILL_DEG else SENSES[1] if final < -STILL_DEG else SENSES[2]
    return ends, response.cut_off


def history_row(
    name: str,
    response: RollResponse,
    moment: float,
    width: float,
    *,
    loads_hold: bool = True,
    rotors_decide: bool = False,
) -> HistoryRow:
    """One history with what happens in it.

    Parameters
    ----------
    moment : rolling moment with the tips at their ends, lift held, no sideslip: the command's
        own way [N m]
    width : half-width of its error [N m]
    loads_hold : whether the loads hold in its sideslip
    rotors_decide : whether it ends otherwise with another answer of the rotors
    """
    sense = 1.0 if moment >= 0.0 else -1.0
    bank = np.degrees(response.bank)
    final = float(bank[-1])
    is_sure = loads_hold and not rotors_decide
    ends = ending(response)[0] if is_sure else SIGN_NOT_KNOWN
    commanded = verdict(moment, width, *SENSES)
    known = is_sure and commanded != SIGN_NOT_KNOWN
    reverses = known and sense * final < -STILL_DEG
    wrong = 0.0 if reverses else float(max(0.0, np.max(-sense * bank)))
    return HistoryRow(
        name=name,
        time_s=response.times,
        bank_deg=bank,
        roll_rate_deg_s=np.degrees(response.roll_rate),
        yaw_rate_deg_s=np.degrees(response.yaw_rate),
        sideslip_deg=np.degrees(response.sideslip),
        fold_left_deg=np.degrees(response.folds[Side.PORT]),
        fold_right_deg=np.degrees(response.folds[Side.STARBOARD]),
        yaw_moment_N_m=response.yaw_moment,
        commanded=commanded,
        ends=ends,
        reverses=reverses,
        reversed_at_s=_last_crossing(response.times, sense * bank) if reverses else None,
        time_to_s={
            f"{angle:g}": response.time_to(float(np.radians(sense * angle))) for angle in BANKS_DEG
        },
        first_the_wrong_way_deg=wrong,
        peak_roll_rate_deg_s=float(np.degrees(np.max(np.abs(response.roll_rate)))),
        peak_sideslip_deg=peak_sideslip_deg(response),
        peak_stalled_share=float(np.max(response.stalled)),
        cut_off=response.cut_off,
        cut_off_at_s=float(response.times[-1]) if response.cut_off else None,
        departs=response.cut_off == SLIP_REACHED,
        loads_hold=loads_hold,
        rotors_decide=rotors_decide,
    )


def peak_sideslip_deg(response: RollResponse) -> float:
    """Largest sideslip either way [deg]."""
    return float(np.degrees(np.max(np.abs(response.sideslip))))


def _last_crossing(times: Floats, bank: Floats) -> float:
    """When the bank last leaves the way commanded; the start where it never went that way."""
    before = np.flatnonzero(bank >= 0.0)
    last = int(before[-1])
    if last + 1 >= len(times) or last == 0:
        return float(times[last])
    share = bank[last] / (bank[last] - bank[last + 1])
    return float(times[last] + share * (times[last + 1] - times[last]))


def roll_findings(
    duration: float, turned: Sequence[Reversal], history: BankHistory
) -> list[Finding]:
    """What a reader must not miss, as findings."""
    found = [
        Finding(
            "authority_reversal",
            f"{one.command} rolls {one.below} at lower and {one.above} at higher airspeed; they"
            " part at",
            one.airspeed_m_s,
            None,
            "m/s",
            "authority against airspeed",
            "do not steer with this command across this airspeed",
            half_width=one.half_width_m_s,
        )
        for one in turned
    ]
    for row in history.histories or ():
        found += _history_findings(duration, row, history.yaw_aid)
    return found


def _history_findings(duration: float, row: HistoryRow, aid: YawAidRow | None) -> list[Finding]:
    found = []
    if row.departs and row.cut_off_at_s is not None:
        may = "departs" if row.end_is_known else "may depart"
        found.append(
            Finding(
                "history_cut_off",
                f"bank history ({row.name}) cut off within its {duration:g} s: {row.cut_off}; time",
                row.cut_off_at_s,
                None,
                "s",
                "equations of motion",
                f"its last values are no peaks; the craft {may}, so hold yaw or command less",
            )
        )
    if row.reverses:
        found.append(
            Finding(
                "control_reversal",
                f"commanded {row.commanded}, the craft ({row.name}) ends {row.ends}; bank at the"
                " end",
                abs(float(row.bank_deg[-1])),
                None,
                "deg",
                "bank history",
                "hold the sideslip, or change the base fold",
            )
        )
    if row.peak_stalled_share > STALL_LIMIT:
        found.append(
            Finding(
                "history_stall",
                f"share of the wings past stall ({row.name})",
                row.peak_stalled_share,
                STALL_LIMIT,
                "1",
                "the file's sections",
                "fly faster, or command less",
            )
        )
    limits = [v for v in ((aid.lowest_N_m, aid.highest_N_m) if aid else ()) if v is not None]
    most = float(np.max(np.abs(row.yaw_moment_N_m)))
    least = min((abs(v) for v in limits if np.isfinite(v)), default=float("inf"))
    if most > AT_LIMIT * least:
        found.append(
            Finding(
                "yaw_at_limit",
                f"the rotors' yawing moment stands at its limit ({row.name})",
                most,
                least,
                "N m",
                "thrust and power limits of the rotors",
                "command less, or more slowly",
            )
        )
    return found
