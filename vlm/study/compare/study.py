"""Craft and settings held against each other: the answer of ``foldspan compare``.

What two entries err by alike cancels in their difference. Its half-width is

    SAFETY |d_fine - d_coarse| / (r^p - 1) + max(floor) + |w_1 - w_2| + SHARED min(w_1, w_2) + c

with d the difference on the lattice and on the coarser one of equation (12), floors as there, w
what the wake leaves open in each (equation 16) and c the larger of what their corners leave open.
SHARED was measured on straight and relaxed wakes of shipped craft, changed and unchanged
(``benchmarks/compared_differences.py``): at most 0.16 of the smaller allowance was needed. Power is
compared over the same samples of [uncertainty].
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from vlm.air import sea_level_air
from vlm.constants import Floats
from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.description.writing import as_tables
from vlm.errors import ComputationFailed, FoldspanError, InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.craft.body_turning import volume_in_pitch, volume_in_yaw
from vlm.flight.motion.roll_authority import Air
from vlm.flight.trim.power_warnings import JUMP_DEG
from vlm.flight.trim.powered import POWER_GRID
from vlm.flight.trim.sampled_speeds import interval, interval_bands
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.state import FlightState
from vlm.progress import Progress, silent
from vlm.study.compare.numbers import (
    Entry,
    Sheet,
    folding_craft,
    lattice_sheet,
    strongest_roll,
)
from vlm.study.compare.results import (
    KINDS,
    ComparedNumber,
    Comparison,
    KeyDifference,
    Known,
    Named,
    NotFlown,
    PowerLine,
)
from vlm.study.kept_answers import kept_answer
from vlm.study.level_flights import stalled_findings
from vlm.study.mission.study import mission_study
from vlm.study.point.errors import coarser, half_widths
from vlm.study.point.validity import state_warnings
from vlm.study.power.best import LEFT_OPEN, difference_interval
from vlm.study.power.study import PowerPlan, PowerStudy, power_study, special_document
from vlm.verdicts import reach

SHARED = 0.2
"""Share of the smaller wake's allowance that does not cancel in a difference [1]."""
MOST_ENTRIES = 8
NOT_COMPARED = ("title", "log", "mission", "design", "configurations")
"""Blocks of the file that change no number that is compared."""
JOULES = 3600.0

ASSUMPTIONS = (
    "differences are from the first entry; what both err by alike cancels in them",
    "same angle of attack: the inviscid wing; level flight and roll: with the sections of the file,"
    " lift held; coefficients over each craft's own reference sizes",
    "static margin and neutral point hold the forces of rotors without thrust across their axes,"
    " derivatives with sideslip and growth those of level flight; half of them counts in the ±",
    "with a strip past its stall all that sections change in a number counts in its ±",
    "roll: the strongest of three settings, base fold and limits to either side",
)
ASSUMED_OF_POWER = (
    "power: full trim with rotors; its intervals come from [uncertainty], over the same samples for"
    " all entries, and a difference's ± holds what search and lattice leave open (0.5 %)"
)
ASSUMED_OF_MISSIONS = (
    "a mission is flown along each craft's own schedule, whatever fold its entry has here"
)


@dataclass(frozen=True)
class ComparePlan:
    """What ``compare`` is asked for.

    Attributes
    ----------
    alpha_deg : angle of attack of the first group [deg]
    air : airspeed and density of all but power and mission
    grid : the lattice
    power : whether power curves are compared, where the files allow it
    mission : legs to fly along each craft's schedule; none are flown where empty
    """

    alpha_deg: float = 4.0
    air: Air = field(default_factory=lambda: Air(12.0))
    grid: Grid = field(default_factory=Grid)
    power: bool = True
    mission: tuple[Leg, ...] = ()


def compare_study(
    entries: Sequence[Entry], plan: ComparePlan, progress: Progress = silent
) -> Comparison:
    """Compare entries with the first of them.

    Raises
    ------
    InputRefused : fewer than two entries, too many, two of one name, or a fold beyond its limits
    ComputationFailed : an entry cannot be computed at all
    """
    _refuse(entries)
    named = [(entry.name, entry.folds) for entry in entries]
    return kept_answer(
        Comparison, [entry.craft for entry in entries], ("compare", named, plan),
        lambda: _Comparing(entries, plan, progress).result(),
    )  # fmt: skip


def _refuse(entries: Sequence[Entry]) -> None:
    if not 2 <= len(entries) <= MOST_ENTRIES:
        raise InputRefused(
            f"{len(entries)} to compare; give 2 to {MOST_ENTRIES}: several files, or one with"
            " several folds, configurations or variants"
        )
    names = [entry.name for entry in entries]
    for name in names:
        if names.count(name) > 1:
            raise InputRefused(f"{name} is given more than once; there is nothing to compare")


def _with_bodies(number: ComparedNumber, fine: Sequence[Sheet]) -> ComparedNumber:
    """A number of stability with the volumes of bodies that may turn it; others as they are."""
    if number.key not in ("static_margin", "Cn_beta"):
        return number
    volumes: list[float | None] = []
    for one, sheet in zip(number.values, fine, strict=True):
        if one.value is None or one.half_width is None or sheet.reference is None:
            volumes.append(None)
        elif number.key == "Cn_beta":
            volumes.append(volume_in_yaw(one.value, one.half_width, sheet.reference))
        else:
            volumes.append(
                volume_in_pitch(one.value, one.half_width, sheet.lift_slope, sheet.reference)
            )
    return replace(number, body_turns_m3=tuple(volumes))


class _Comparing:
    """One comparison: sheets on two lattices, power and missions."""

    def __init__(self, entries: Sequence[Entry], plan: ComparePlan, progress: Progress) -> None:
        self.entries, self.plan, self.progress = entries, plan, progress
        self.state = FlightState(
            alpha=float(np.radians(plan.alpha_deg)),
            airspeed=plan.air.airspeed,
            density=plan.air.density,
        )
        self.missing: dict[str, list[str]] = {entry.name: [] for entry in entries}
        self.not_flown: list[NotFlown] = []

    def result(self) -> Comparison:
        fine, rough = zip(*(self.sheets(entry) for entry in self.entries), strict=True)
        studies = self.powers() if self.plan.power else {}
        samples = {name: _power_samples(study) for name, study in studies.items()}
        for name, found in self.missions().items():
            samples.setdefault(name, {}).update(found)
        numbers = []
        for kind in KINDS:
            number = self.of_lattice(kind.key, fine, rough) or sampled_number(
                kind.key, self.entries, samples
            )
            if number is not None:
                numbers.append(_with_bodies(number, fine))
        air = self.plan.air
        return Comparison(
            state={
                "alpha_deg": self.plan.alpha_deg,
                "airspeed_m_s": air.airspeed,
                "density_kg_m3": air.density,
            },
            entries=tuple(self.named(entry) for entry in self.entries),
            keys=key_differences([entry.craft for entry in self.entries]),
            numbers=tuple(numbers),
            power=tuple(_line(name, study) for name, study in studies.items()),
            missing={name: tuple(said) for name, said in self.missing.items() if said},
            assumptions=self.assumptions(studies),
            findings=tuple(self.findings(studies, fine)),
            not_flown=tuple(self.not_flown),
        )

    def assumptions(self, studies: Mapping[str, PowerStudy]) -> tuple[str, ...]:
        """What was assumed in what was compared."""
        found = [*ASSUMPTIONS, *([ASSUMED_OF_POWER] if studies else [])]
        found += [ASSUMED_OF_MISSIONS] if self.plan.mission else []
        return (*found, *self.lattices(studies))

    def lattices(self, studies: Mapping[str, PowerStudy]) -> list[str]:
        """Which lattices the numbers rest on."""
        own = grid_words(self.plan.grid)
        found = [f"lattice: {own} on each half, its error from a coarser one"]
        if studies:
            same = power_grid(self.plan.grid) == POWER_GRID
            default = ", that of the command power by default" if same else ""
            found.append(f"power's lattice: {grid_words(power_grid(self.plan.grid))}{default}")
        if self.plan.mission:
            found.append(f"the mission's lattice: {grid_words(POWER_GRID)}")
        return found

    def named(self, entry: Entry) -> Named:
        reference = build_lattice(entry.craft, entry.folds, self.plan.grid).reference
        return Named(
            entry.name,
            entry.craft.title,
            entry.craft.source_name,
            entry.folds.left_deg,
            entry.folds.right_deg,
            reference.area,
            reference.span,
            reference.chord,
        )

    def sheets(self, entry: Entry) -> tuple[Sheet, Sheet]:
        """Numbers on the lattice asked for and on the coarser one, the same setting rolling."""
        self.progress(entry.name)
        air, grid = self.plan.air, self.plan.grid
        fine, rough = folding_craft(entry.craft, grid), folding_craft(entry.craft, coarser(grid))
        rolled = None if fine is None else strongest_roll(entry, fine, air)
        both = (
            lattice_sheet(entry, self.state, air, grid, rolled, fine),
            lattice_sheet(entry, self.state, air, coarser(grid), rolled, rough),
        )
        self.missing[entry.name] += both[0].missing
        return both

    def of_lattice(
        self, key: str, fine: Sequence[Sheet], rough: Sequence[Sheet]
    ) -> ComparedNumber | None:
        """One number of all entries, from the sheets; None where no entry has it."""
        if not any(key in sheet.values for sheet in fine):
            return None
        values = [self.one(key, a, b) for a, b in zip(fine, rough, strict=True)]
        apart = [
            self.apart(key, (fine[0], rough[0]), (a, b)) for a, b in zip(fine, rough, strict=True)
        ]
        return ComparedNumber(key, tuple(values), tuple(apart))

    def one(self, key: str, fine: Sheet, rough: Sheet) -> Known:
        if key not in fine.values or key not in rough.values:
            return Known(fine.values.get(key), None)
        width = self.width(key, fine.values[key], rough.values[key], fine.floors[key])
        return Known(fine.values[key], width + fine.wake[key] + fine.corner.get(key, 0.0))

    def apart(self, key: str, first: tuple[Sheet, Sheet], other: tuple[Sheet, Sheet]) -> Known:
        """Difference from the first entry, with what does not cancel."""
        if any(key not in sheet.values for sheet in (*first, *other)):
            return Known(None, None)
        if first[0] is other[0]:
            return Known(0.0, 0.0)
        fine, rough = (b.values[key] - a.values[key] for a, b in zip(first, other, strict=True))
        if fine == 0.0 and rough == 0.0:  # the same lattice and loads: nothing can differ
            return Known(0.0, 0.0)
        floor = max(first[0].floors[key], other[0].floors[key])
        wakes = sorted((first[0].wake[key], other[0].wake[key]))
        corner = max(first[0].corner.get(key, 0.0), other[0].corner.get(key, 0.0))
        open_to = wakes[1] - wakes[0] + SHARED * wakes[0] + corner
        return Known(fine, self.width(key, fine, rough, floor) + open_to)

    def width(self, key: str, fine: float, rough: float, floor: float) -> float:
        return float(half_widths({key: fine}, {key: rough}, {key: floor}, self.plan.grid)[key])

    def powers(self) -> dict[str, PowerStudy]:
        """Power of every entry that has what it takes, over airspeeds of their own."""
        air, found = self.plan.air, {}
        for entry in self.entries:
            craft = entry.craft
            if craft.mass is None or not craft.rotors or craft.propulsion is None:
                self.missing[entry.name].append("power: [mass], [[rotors]] or [propulsion] missing")
                continue
            self.progress(f"{entry.name}, power")
            plan = PowerPlan(
                {entry.name: entry.folds}, air=sea_level_air(air.density),
                grid=power_grid(self.plan.grid),
            )  # fmt: skip
            try:
                found[entry.name] = power_study(craft, plan)
            except ComputationFailed as error:
                self.missing[entry.name].append(f"power: {error}")
        return found

    def missions(self) -> dict[str, dict[str, "Sampled"]]:
        """Energy along the schedule of every craft."""
        found: dict[str, dict[str, Sampled]] = {}
        flown: list[tuple[Biplane, Sampled | FoldspanError]] = []
        for entry in self.entries if self.plan.mission else ():
            # Entries that differ in their fold alone fly one mission.
            known = next((answer for craft, answer in flown if craft is entry.craft), None)
            if known is None:
                self.progress(f"{entry.name}, mission")
                known = self.mission_energy(entry.craft)
                flown.append((entry.craft, known))
            if isinstance(known, FoldspanError):
                cannot = isinstance(known, ComputationFailed)
                self.not_flown.append(NotFlown(entry.name, cannot, str(known)))
            else:
                found[entry.name] = {"mission_energy_Wh": known}
        return found

    def mission_energy(self, craft: Biplane) -> "Sampled | FoldspanError":
        """Energy along a craft's schedule, or why there is none."""
        try:
            study = mission_study(
                craft, self.plan.mission, air=sea_level_air(self.plan.air.density)
            )
        except FoldspanError as error:
            return error
        samples = study.schedule.samples
        return Sampled(
            study.schedule.energy / JOULES,
            None if samples is None else samples / JOULES,
            _percent(craft),
        )

    def findings(self, studies: Mapping[str, PowerStudy], sheets: Sequence[Sheet]) -> list[Finding]:
        found: list[Finding] = []
        for entry in self.entries:
            found += lattice_warnings(build_lattice(entry.craft, entry.folds, self.plan.grid))
        found += state_warnings(self.state)
        pairs = zip(self.entries, sheets, strict=True)
        found += stalled_findings(
            {entry.name: sheet.values.get("stall_margin_deg") for entry, sheet in pairs}
        )
        for study in studies.values():
            found += study.findings
        return gathered(found)


def power_grid(grid: Grid) -> Grid:
    """The lattice of power curves beside that of all else: half the rows, four fifths of strips."""
    return Grid(max(2, grid.rows // 2), max(8, 4 * grid.strips // 5))


def grid_words(grid: Grid) -> str:
    """A lattice in words."""
    return f"{grid.rows} rows x {grid.strips} strips"


@dataclass(frozen=True)
class Sampled:
    """A number, what it is for samples of the inputs, None without, and their interval [%]."""

    value: float
    samples: Floats | None
    percent: float

    def known(self) -> Known:
        """The number with a half-width that reaches over the whole interval."""
        if not np.isfinite(self.value):
            return Known(None, None)
        return Known(self.value, None if self.samples is None else self._half(self.samples))

    def less(self, first: "Sampled", *, paired: bool) -> Known:
        """This less the first; over the same samples where they are of the same inputs.

        Decided as between the settings of one craft (:mod:`vlm.study.power.best`): the half-width
        reaches over the whole interval, and over what search and lattice leave open.
        """
        apart = self.value - first.value
        if not np.isfinite(apart):
            return Known(None, None)
        if self.samples is None or first.samples is None:
            return Known(apart, None)
        left_open = LEFT_OPEN * abs(first.value)
        if not paired or self.samples.shape != first.samples.shape:
            width = float(np.hypot(self._half(self.samples), first._half(first.samples)))
            return Known(apart, max(left_open, width))
        drawn = self.samples - first.samples
        if apart == 0.0 and not drawn[np.isfinite(drawn)].any():
            return Known(0.0, 0.0)
        ends = difference_interval(drawn, apart, self.percent)
        if ends is None:
            return Known(apart, None)
        return Known(apart, max(left_open, reach(apart, ends)))

    def _half(self, samples: Floats) -> float:
        return reach(self.value, interval(samples, self.percent))


def sampled_number(
    key: str, entries: Sequence[Entry], samples: Mapping[str, Mapping[str, Sampled]]
) -> ComparedNumber | None:
    """One number of all entries, from samples of the inputs; None where no entry has it."""
    rows = [samples.get(entry.name, {}).get(key) for entry in entries]
    if not any(rows):
        return None
    stated = entries[0].craft.uncertainty
    values = tuple(Known(None, None) if row is None else row.known() for row in rows)
    first = rows[0]
    apart = [Known(0.0, 0.0)]
    for entry, row in zip(entries[1:], rows[1:], strict=True):
        if first is None or row is None:
            apart.append(Known(None, None))
        else:
            apart.append(row.less(first, paired=entry.craft.uncertainty == stated))
    return ComparedNumber(key, values, tuple(apart))


def _power_samples(study: PowerStudy) -> dict[str, Sampled]:
    """The speeds that matter of a study of one setting."""
    (name,) = study.curves
    nominal: Mapping[str, Any] = special_document(study, name)
    samples = study.special_samples(name) if study.sampled else {}
    keys = [kind.key for kind in KINDS if kind.key in nominal]
    percent = _percent(study.craft)
    return {key: Sampled(float(nominal[key]), samples.get(key), percent) for key in keys}


def _percent(craft: Biplane) -> float:
    """Share of the samples that an interval holds [%]."""
    return 0.0 if craft.uncertainty is None else craft.uncertainty.interval_percent


def _line(name: str, study: PowerStudy) -> PowerLine:
    ((setting, curve),) = study.curves.items()
    rows = [curve.values("electrical_power_W")]
    if study.sampled:
        rows += interval_bands(study.sampled[setting].power, _percent(study.craft))
    known = [
        tuple(float(p) if ok and np.isfinite(p) else None
              for p, ok in zip(row, curve.allowed, strict=True))
        for row in rows
    ]  # fmt: skip
    turns = np.abs(np.diff(curve.values("body_angle_deg")))
    leaps = tuple(int(i) + 1 for i in np.flatnonzero(turns > JUMP_DEG))
    return PowerLine(name, tuple(float(u) for u in study.speeds), known[0], leaps, *known[1:])


def key_differences(crafts: Sequence[Biplane]) -> tuple[KeyDifference, ...]:
    """Keys of the geometry files that are not the same in all, blocks without numbers left out."""
    flat = [dict(_flat(as_tables(craft), "")) for craft in crafts]
    keys = list(dict.fromkeys(key for tables in flat for key in tables))
    found = []
    for key in keys:
        values = tuple(tables.get(key) for tables in flat)
        if key.split(".")[0] not in NOT_COMPARED and any(v != values[0] for v in values[1:]):
            found.append(KeyDifference(key, values))
    return tuple(found)


def _flat(value: object, path: str) -> list[tuple[str, object]]:
    """Every number and text of nested tables, by its path; lists of numbers stay whole."""
    if isinstance(value, dict):
        items = [(f"{path}.{key}" if path else str(key), item) for key, item in value.items()]
    elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
        items = [(f"{path}.{number}", item) for number, item in enumerate(value)]
    else:
        return [(path, value)]
    return [pair for place, item in items for pair in _flat(item, place)]
