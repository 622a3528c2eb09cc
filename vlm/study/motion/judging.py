"""How near a motion comes to its limits, and what is questionable about it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vlm.constants import GRAVITY
from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.simulation.air_table import miss_at
from vlm.flight.simulation.history import History
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.steady import SteadyState, beyond_limits
from vlm.flight.simulation.task import Task
from vlm.flight.trim.rotor_moments import thrust_range
from vlm.frames import wind_direction
from vlm.study.motion.results import LimitRow, PeakRow
from vlm.study.motion.settling import UPSET_GROWS
from vlm.study.point.fin_validity import OUTSIDE_TABLES, sideslip_findings

CUT_OFF_WITHIN = "cut-off-within-error"
"""Code of the finding that a history may be cut off."""
BEYOND_ROTORS = "thrust-beyond-rotor"
"""Code of the finding that a rotor gives what it cannot at the airspeed flown."""
NOT_TRUSTED = (OUTSIDE_TABLES, BEYOND_ROTORS)
"""Findings by which the numbers of the history do not hold."""
START_BEYOND, START_NOT_HELD = "start-beyond-rotors", "moment-not-held"
"""Codes of the findings that the rotors cannot hold the flight that it starts from."""
MAY_COME = (CUT_OFF_WITHIN, UPSET_GROWS, START_BEYOND, START_NOT_HELD)
"""Findings by which the craft may leave limits that it keeps in the history."""
NOT_KNOWN = (*NOT_TRUSTED, *MAY_COME)
"""Findings that leave it open whether limits are kept."""
LIKE_THE_START = 0.05
"""Airspeeds that differ by less from the start's have its limits of thrust [1]."""
LEAST_OVER = 0.01
"""Thrust over a limit that is reported [N]."""
CLOSED_MISS = 0.01
WIDEST_ROLL = 6.0


def limit_rows(
    craft: Biplane,
    peaks: Sequence[PeakRow],
    before_stall: Sequence[PeakRow] | None = None,
    before_cut: Sequence[PeakRow] | None = None,
) -> tuple[LimitRow, ...]:
    """Limits that the file states, with the worst value of the history.

    Parameters
    ----------
    before_stall : extremes until a strip first is past its stall; None where none is. From then on
        forces are those of a model of stalled sections, and it is not known what limits they keep
        or break; what was broken before stays so
    before_cut : extremes until a flight first is cut off; None where none is. A limit that is
        surely broken until then is broken, whatever comes later
    """
    if before_cut is not None:
        found = limit_rows(craft, before_cut, before_stall)
        broken = {_kind(row): row for row in found if row.kept is False}
        return tuple(broken.get(_kind(row), row) for row in limit_rows(craft, peaks, before_stall))
    rows = _load_rows(craft, peaks)
    if before_stall is not None:
        first = {_kind(row): row for row in _load_rows(craft, before_stall) if row.kept is False}
        rows = [first.get(_kind(row), replace(row, kept=None)) for row in rows]
    by_name = {row.name: row for row in peaks}
    if "stall_margin_deg" in by_name:
        row = by_name["stall_margin_deg"]
        kept = _sure(row.value - row.half_width > 0.0, row.value + row.half_width < 0.0)
        rows.append(
            LimitRow("margin to the stall", row.value, row.half_width, 0.0, "deg", row.at_s, kept)
        )
    return tuple(rows)


def _load_rows(craft: Biplane, peaks: Sequence[PeakRow]) -> list[LimitRow]:
    """Limits of hinges, servos and load factor, with the worst of each kind that has any."""
    drive = craft.actuator
    assert drive is not None
    limits = {
        "hinge": drive.hinge_moment_limit_N_m,
        "worm": drive.servo_stall_torque_N_m,
        "load": drive.load_factor_limit,
    }
    rows = []
    for kind, limit in limits.items():
        own = [row for row in peaks if row.name.partition("_")[0] == kind]
        if own and limit is not None:
            rows.append(_worst([_most(_limit_name(row), row, limit) for row in own]))
    return rows


def _limit_name(row: PeakRow) -> str:
    if row.name.startswith("hinge_"):
        body = row.name.removeprefix("hinge_").removesuffix("_N_m").replace("_", " ")
        return f"hinge moment, {body}"
    return "worm torque of one servo" if row.name.startswith("worm_") else "load factor"


def _kind(row: LimitRow) -> str:
    return row.name.partition(",")[0]


def _worst(rows: Sequence[LimitRow]) -> LimitRow:
    """One that surely breaks its limit, else one of no known reach, else that of the farthest."""
    return max(rows, key=lambda row: (row.kept is False, np.isnan(row.half_width), _reach(row)))


def _reach(row: LimitRow) -> float:
    return abs(row.value) + float(np.nan_to_num(row.half_width))


def _most(name: str, row: PeakRow, limit: float) -> LimitRow:
    size, width = abs(row.value), row.half_width
    kept = _sure(size + width <= limit, size - width > limit)
    return LimitRow(name, row.value, row.half_width, limit, row.unit, row.at_s, kept)


def _sure(kept: bool, broken: bool) -> bool | None:
    return True if kept else False if broken else None


def whether_within(
    limits: Sequence[LimitRow], cut_off: str, findings: Sequence[Finding] = ()
) -> bool | None:
    """All limits together; a history that is cut off is not within them.

    None where it is not known: at a limit, or where the tables do not hold. What other flights
    might do leaves a limit that is broken in this one broken.
    """
    codes = {finding.code for finding in findings}
    if codes.intersection(NOT_TRUSTED):
        return None
    if cut_off or any(row.kept is False for row in limits):
        return False
    if codes.intersection(MAY_COME):
        return None
    return None if any(row.kept is None for row in limits) else True


def findings_of(
    folding: FoldingCraft, plant: Plant, task: Task, start: SteadyState, history: History,
    density: float,
) -> list[Finding]:  # fmt: skip
    """What is questionable about a motion.

    Parameters
    ----------
    density : of the air [kg/m^3]
    """
    found = []
    said = beyond_limits(plant, start.thrusts)
    if said:
        found.append(_start_finding(plant, start, said))
    size = float(np.abs(start.held_moment).max())
    if size > 1e-3 and plant.rotors is not None:
        found.append(
            Finding(
                START_NOT_HELD,
                "the rotors' layout cannot make a moment that the start needs; it is taken as held",
                size,
                None,
                "N m",
                "rotors' places and spins",
                "trim the craft at the start",
            )
        )
    found += _closing(folding, plant, task, start)
    found += rotor_findings(folding, task, history, density)
    found += _tables(plant, history)
    found += _sideslip(folding, task, history)
    return found


def _sideslip(folding: FoldingCraft, task: Task, history: History) -> list[Finding]:
    """Where the craft slips most, whether its tables hold with fins."""
    place = int(np.argmax(np.abs(history.beta)))
    slipped = float(np.degrees(history.beta[place]))
    loads = folding.at(task.start).loads
    return sideslip_findings(folding.craft, loads, float(history.alpha[place]), slipped)


def _start_finding(plant: Plant, start: SteadyState, said: str) -> Finding:
    assert plant.rotors is not None
    over = start.thrusts - plant.rotors.high
    under = plant.rotors.low - start.thrusts
    place = int(np.argmax(np.maximum(over, under)))
    limit = plant.rotors.high if over[place] >= under[place] else plant.rotors.low
    return Finding(
        START_BEYOND, f"steady flight at the start: {said}",
        float(start.thrusts[place]), float(limit[place]), "N", "the rotor's limits",
        "start at another airspeed or fold, or change the rotor's thrust_min_N, thrust_max_N or"
        " power_max_W; foldspan check says where the craft balances on equal thrusts",
    )  # fmt: skip


def rotor_findings(
    folding: FoldingCraft, task: Task, history: History, density: float
) -> list[Finding]:
    """Rotors that give more than they can at the airspeed that is flown.

    The motion has the limits of the airspeed of the start; here they are worked out again at its
    lowest and its highest airspeed.
    """
    worst: tuple[float, str, float, float, float] | None = None
    for place in (int(np.argmin(history.airspeed)), int(np.argmax(history.airspeed))):
        speed = float(history.airspeed[place])
        if abs(speed / task.airspeed - 1.0) < LIKE_THE_START:
            continue
        wind = speed * np.asarray(
            wind_direction(float(history.alpha[place]), float(history.beta[place]))
        )
        near = np.abs(history.airspeed - speed) < LIKE_THE_START * task.airspeed
        for i, rotor in enumerate(folding.craft.rotors):
            given = float(history.thrusts[near, i].max())
            most = folding.symmetric_masses.mass * GRAVITY
            there = thrust_range(
                rotor, float(history.thrusts[0, i]), most, wind, density, folding.craft.folder
            )
            over = given - there.high
            if over > LEAST_OVER and (worst is None or over > worst[0]):
                worst = over, rotor.name, given, there.high, speed
    if worst is None:
        return []
    _, name, given, high, speed = worst
    return [
        Finding(
            BEYOND_ROTORS, f"rotor {name} gives more thrust than it can at {speed:.3g} m/s, where"
            " the motion takes its limit from the airspeed of the start", given, high, "N",
            "the rotor's model there", "start nearer to that airspeed",
        )
    ]  # fmt: skip


def _closing(folding: FoldingCraft, plant: Plant, task: Task, start: SteadyState) -> list[Finding]:
    """Where a commanded fold closes a joint, how far the open branch misses the closed one."""
    joined = [one for one in task.commanded if folding.at(one).loads.lattice.is_joined]
    if not joined:
        return []
    motion = np.zeros(plant.air.motions)
    motion[:3] = start.state[:3]
    force, _ = miss_at(folding, plant.air, (joined[0].left_deg, joined[0].right_deg), motion)
    return [
        Finding(
            "closed-joint",
            "the commanded fold closes a joint; the motion goes on with the open tip's loads, off"
            " by a share of the force",
            force,
            CLOSED_MISS,
            "1",
            "the closed lattice's own force",
            "take hinge and point for the closed shape",
        )
    ]


def _tables(plant: Plant, history: History) -> list[Finding]:
    rolls = float(np.abs(history.rates[:, 0]).max())
    found = []
    if plant.sections is not None:
        if not plant.sections.agrees:
            found.append(
                Finding(
                    "strips-disagree",
                    "strips and sections do not agree everywhere in the table",
                    None,
                    None,
                    "1",
                    "their coupling",
                    "take numbers near stall as rough",
                )
            )
        if rolls > WIDEST_ROLL:
            found.append(
                Finding(
                    "roll-beyond-table",
                    "roll rate beyond the table of the sections",
                    rolls,
                    WIDEST_ROLL,
                    "rad/s",
                    "the table",
                    "take the peak as rough",
                )
            )
    return found
