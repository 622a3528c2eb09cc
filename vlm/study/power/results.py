"""Results of a power study as a labelled dataset and as a JSON document."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from itertools import combinations
from typing import TYPE_CHECKING, Annotated, Any, NotRequired, TypedDict

import numpy as np

import vlm
from vlm.cautions import SHORT_CAUTION
from vlm.constants import Floats
from vlm.findings import Finding
from vlm.flight.trim.power_samples import INPUTS
from vlm.flight.trim.sampled_speeds import interval, interval_bands
from vlm.plain import Shown, without_nan
from vlm.power.propulsion import endurance
from vlm.quantities import QUANTITIES
from vlm.study.point.document import ReferenceDocument, reference_document
from vlm.study.power.best import SpeedDifference, speed_differences
from vlm.study.power.branches import BranchesDocument, branches_document
from vlm.study.power.breakdown import ROTOR_KEYS
from vlm.study.power.crossings import Crossing
from vlm.study.power.study import PowerStudy, SpeedsDocument, special_document
from vlm.study.sensitivity import Sensitivity, SensitivityDocument, sensitivity_document

if TYPE_CHECKING:
    import xarray as xr

KEYS = ("electrical_power_W", "shaft_power_W", "body_angle_deg", "lean_deg", "alpha_deg",
        "thrust_N", "wing_share", "stall_margin_deg", "stalled_share", "consumption_Wh_km",
        "pitch_margin_N_m", "limit_margin", "rotor_roll_N_m", "rotor_pitch_N_m", "rotor_yaw_N_m",
        "trim_residual", "strip_residual", "strip_iterations")  # fmt: skip
"""What is reported about every speed of every setting."""
POWER = "electrical_power_W"
BANDS = {
    POWER: "power", "limit_margin": "margin", "body_angle_deg": "body_angle",
    "stall_margin_deg": "stall_margin", "thrust_N": "thrust", "wing_share": "wing_share",
}  # fmt: skip
"""What has intervals, by its name over the samples."""
ROTOR_WORDS = {
    "thrust_N": ("thrust", "N"), "speed_rpm": ("speed of rotation", "rpm"),
    "torque_N_m": ("torque at the shaft", "N m"), "shaft_power_W": ("power at the shaft", "W"),
}  # fmt: skip


def power_dataset(study: PowerStudy) -> "xr.Dataset":
    """Dimensions configuration and airspeed_m_s; intervals as ``_low`` and ``_high``.

    Where a craft cannot be flown, ``limit`` says why; without any trim the numbers are NaN.
    """
    import xarray as xr

    dims = ("configuration", "airspeed_m_s")
    curves = study.curves
    data: dict[str, Any] = {
        key: (dims, np.stack([c.values(key) for c in curves.values()]), QUANTITIES[key].attributes)
        for key in KEYS
    }
    data["trims"] = (
        dims, np.array([[p.trims for p in c.points] for c in curves.values()]),
        QUANTITIES["trims"].attributes,
    )  # fmt: skip
    data |= _taken_apart(study, dims)
    limits = np.array([[p.limit for p in c.points] for c in curves.values()], dtype=str)
    data["limit"] = (dims, limits, {"long_name": "what forbids this speed; empty where allowed"})
    if study.sampled:
        data |= _bands(study, dims)
    folds = list(study.plan.settings.values())
    coordinates = {
        "configuration": ("configuration", list(curves)),
        "airspeed_m_s": ("airspeed_m_s", study.speeds, QUANTITIES["airspeed_m_s"].attributes),
        "fold_left_deg": ("configuration", [f.left_deg for f in folds],
                          QUANTITIES["fold_left_deg"].attributes),
        "fold_right_deg": ("configuration", [f.right_deg for f in folds],
                           QUANTITIES["fold_right_deg"].attributes),
    }  # fmt: skip
    return xr.Dataset(data, coordinates, _attributes(study))


def _taken_apart(study: PowerStudy, dims: tuple[str, str]) -> dict[str, Any]:
    """Parts of the power and every rotor's numbers; rotors by their number in the file, from 1."""
    parts = [study.breakdowns[name] for name in study.curves]
    data: dict[str, Any] = {
        key: (dims, np.stack([part.values[key] for part in parts]), QUANTITIES[key].attributes)
        for key in parts[0].values
    }
    for number, rotor in enumerate(parts[0].rotors, start=1):
        for key in ROTOR_KEYS:
            values = np.stack([part.rotors[rotor][key] for part in parts])
            words, unit = ROTOR_WORDS[key]
            about = {"units": unit, "long_name": f"{words} of rotor {rotor}"}
            data[f"rotor_{number}_{key}"] = (dims, values, about)
    nearest = np.array([part.nearest_limit for part in parts], dtype=str)
    driven = np.array([["; ".join(names) for names in part.driven] for part in parts], dtype=str)
    data["nearest_limit"] = (dims, nearest, {"long_name": "limit with the least margin"})
    data["driven_rotors"] = (dims, driven, {"long_name": "rotors that the air drives"})
    return data


def _bands(study: PowerStudy, dims: tuple[str, str]) -> dict[str, Any]:
    percent = _percent(study)
    ends = [interval_bands(s.power, percent) for s in study.sampled.values()]
    words = QUANTITIES[POWER].long_name
    return {
        f"{POWER}_{side}": (
            dims, np.stack([end[i] for end in ends]),
            {"units": "W", "long_name": f"{name} end of the {percent:g} % interval of: {words}"},
        )
        for i, (side, name) in enumerate((("low", "lower"), ("high", "upper")))
    }  # fmt: skip


def _percent(study: PowerStudy) -> float:
    assert study.craft.uncertainty is not None
    return study.craft.uncertainty.interval_percent


def _attributes(study: PowerStudy) -> dict[str, Any]:
    first = next(iter(study.curves.values())).problem.craft
    reference = first.model.lattice.reference
    return {
        "title": study.craft.title,
        "source": f"foldspan {vlm.__version__}",
        "caution": SHORT_CAUTION,
        "geometry": study.craft.to_toml(),
        "assumptions": json.dumps(study.plan.assumptions),
        "findings": json.dumps([asdict(finding) for finding in study.findings]),
        "reference_area_m2": reference.area,
        "reference_span_m": reference.span,
        "reference_chord_m": reference.chord,
        "moment_point_m": [float(v) for v in reference.moment_point],
        "wake": study.plan.wake,
        "density_kg_m3": study.plan.air.density_kg_m3,
        "climb_angle_deg": study.plan.climb_angle_deg,
        "mass_kg": first.masses.mass,
    }


class AirDocument(TypedDict):
    """The air."""

    density_kg_m3: float
    temperature_K: float


class PowerLattice(TypedDict):
    """The lattice behind the trims."""

    panels: int
    rows: int
    strips: int


class RotorLine(TypedDict):
    """One rotor over airspeed; null without a trim."""

    thrust_N: Floats
    speed_rpm: Floats
    torque_N_m: Floats
    shaft_power_W: Floats


class PowerConfiguration(TypedDict):
    """One setting over airspeed; null without a trim.

    Attributes
    ----------
    endurance_min : of the usable battery; null where the file names none [min]
    rotor_thrust_N : by airspeed, of every rotor in the order of the file; null without a trim [N]
    rotors : by name
    driven_rotors : by airspeed, rotors that the air drives
    nearest_limit : by airspeed, the limit with the least margin
    trims : found at each airspeed
    limit : by airspeed, what forbids it; empty where allowed
    branches : two trims at one airspeed; null where there is one
    speeds, speed_intervals : the speeds that matter, and their intervals
    speeds_at_body_angle_m_s : airspeeds at each body angle asked for [m/s]
    """

    fold_left_deg: float
    fold_right_deg: float
    electrical_power_W: Floats
    shaft_power_W: Floats
    body_angle_deg: Floats
    lean_deg: Floats
    alpha_deg: Floats
    thrust_N: Floats
    wing_share: Floats
    stall_margin_deg: Floats
    stalled_share: Floats
    consumption_Wh_km: Floats
    pitch_margin_N_m: Floats
    limit_margin: Floats
    rotor_roll_N_m: Floats
    rotor_pitch_N_m: Floats
    rotor_yaw_N_m: Floats
    trim_residual: Floats
    strip_residual: Floats
    strip_iterations: Floats
    endurance_min: Floats
    power_induced_W: Floats
    power_profile_W: Floats
    power_body_W: Floats
    power_slipstream_W: Floats
    power_climb_W: Floats
    power_rotor_induced_W: Floats
    power_rotor_blades_W: Floats
    power_motors_W: Floats
    power_fixed_load_W: Floats
    drag_induced_N: Floats
    drag_profile_N: Floats
    drag_body_N: Floats
    drag_slipstream_N: Floats
    pitch_trim_W: Floats
    rotor_thrust_N: list[Floats | None]
    rotors: dict[str, RotorLine]
    driven_rotors: list[list[str]]
    nearest_limit: list[str]
    trims: list[int]
    limit: list[str]
    branches: BranchesDocument | None
    speeds: SpeedsDocument
    speeds_at_body_angle_m_s: list[list[float]]
    electrical_power_W_low: NotRequired[Floats]
    electrical_power_W_high: NotRequired[Floats]
    limit_margin_low: NotRequired[Floats]
    limit_margin_high: NotRequired[Floats]
    body_angle_deg_low: NotRequired[Floats]
    body_angle_deg_high: NotRequired[Floats]
    stall_margin_deg_low: NotRequired[Floats]
    stall_margin_deg_high: NotRequired[Floats]
    thrust_N_low: NotRequired[Floats]
    thrust_N_high: NotRequired[Floats]
    wing_share_low: NotRequired[Floats]
    wing_share_high: NotRequired[Floats]
    speed_intervals: NotRequired[dict[str, tuple[float, float]]]


class PowerDifference(TypedDict):
    """Power of the second setting less that of the first; null where one is not allowed."""

    first: str
    second: str
    difference_W: Floats
    difference_percent: Floats
    difference_W_low: NotRequired[Floats]
    difference_W_high: NotRequired[Floats]
    difference_percent_low: NotRequired[Floats]
    difference_percent_high: NotRequired[Floats]


class CrossingDocument(TypedDict):
    """An airspeed at which another setting draws less.

    Attributes
    ----------
    interval_m_s : null without [uncertainty], and where it is not known [m/s]
    stall_left_open : whether strips are past stall there, with no uncertainty.post_stall_percent,
        or stand at more than 25 deg to the air
    is_jump : whether a setting jumps there, rather than that powers are equal
    noise_W : difference that the trims leave open [W]
    less_above : the setting that draws less above that airspeed, up to the next crossing; null
        where it does not at all of these; just below it the other does
    """

    first: str
    second: str
    airspeed_m_s: float
    interval_m_s: tuple[float, float] | None
    stall_left_open: bool
    is_jump: bool
    noise_W: float
    less_above: str | None


class UncertaintyDocument(TypedDict):
    """What the intervals rest on."""

    interval_percent: float
    samples: int
    standard_deviation_percent: dict[str, float]
    standard_deviation_of_keys: dict[str, Any]
    share_of_samples_trimmed: float


class PowerDocument(TypedDict):
    """Electrical power against airspeed, with trim, for several settings.

    Attributes
    ----------
    wake : "stream" or "craft"
    configurations : by name
    uncertainty : null without intervals
    uncertain_inputs : shares of the intervals, where asked for
    """

    title: str
    air: AirDocument
    climb_angle_deg: float
    mass_kg: float
    reference: ReferenceDocument
    lattice: PowerLattice
    wake: str
    airspeed_m_s: Floats
    body_angles_asked_deg: list[float]
    configurations: dict[str, Annotated[dict[str, Any], Shown(PowerConfiguration)]]
    differences: list[Annotated[dict[str, Any], Shown(PowerDifference)]]
    speed_differences: list[Annotated[dict[str, Any], Shown(SpeedDifference)]]
    crossings: list[CrossingDocument]
    uncertainty: UncertaintyDocument | None
    intervals_asked: bool
    uncertain_inputs: SensitivityDocument | None
    assumptions: list[str]
    findings: list[Annotated[dict[str, Any], Shown(Finding)]]


def power_document(study: PowerStudy, sensitivity: Sensitivity | None = None) -> PowerDocument:
    """The study as a JSON document: plain floats, null for no value.

    Parameters
    ----------
    sensitivity : what the intervals are made of, where that was asked for
    """
    first = next(iter(study.curves.values())).problem.craft
    specials = {name: special_document(study, name) for name in study.curves}
    samples = {name: study.special_samples(name) for name in study.sampled}
    document: PowerDocument = {
        "title": study.craft.title,
        "air": {
            "density_kg_m3": study.plan.air.density_kg_m3,
            "temperature_K": study.plan.air.temperature_K,
        },
        "climb_angle_deg": study.plan.climb_angle_deg,
        "mass_kg": first.masses.mass,
        "reference": reference_document(first.model.lattice),
        "lattice": {
            "panels": first.model.lattice.panels,
            "rows": study.plan.grid.rows,
            "strips": study.plan.grid.strips,
        },
        "wake": study.plan.wake,
        "airspeed_m_s": study.speeds,
        "body_angles_asked_deg": list(study.plan.body_angles_deg),
        "configurations": {
            name: _configuration(study, name, specials[name], samples.get(name))
            for name in study.curves
        },
        "differences": [_difference(study, a, b) for a, b in combinations(study.curves, 2)],
        "speed_differences": speed_differences(
            specials, samples, _percent(study) if samples else None
        ),
        "crossings": [_crossing(study, crossing) for crossing in study.crossings],
        "uncertainty": _uncertainty(study),
        "intervals_asked": study.plan.intervals,
        "uncertain_inputs": sensitivity_document(sensitivity),
        "assumptions": study.plan.assumptions,
        "findings": [asdict(finding) for finding in study.findings],
    }
    return without_nan(document)


def _configuration(
    study: PowerStudy,
    name: str,
    special: Mapping[str, Any],
    samples: Mapping[str, Floats] | None,
) -> dict[str, Any]:
    curve, folds = study.curves[name], study.plan.settings[name]
    power, parts = curve.values(POWER), study.breakdowns[name]
    result: dict[str, Any] = {
        "fold_left_deg": folds.left_deg,
        "fold_right_deg": folds.right_deg,
        **{key: curve.values(key) for key in KEYS},
        "endurance_min": endurance(curve.problem.craft.propulsion, power) / 60.0,
        **parts.values,
        "rotor_thrust_N": [None if p.trim is None else p.trim.thrusts for p in curve.points],
        "rotors": {name: dict(values) for name, values in parts.rotors.items()},
        "driven_rotors": [list(names) for names in parts.driven],
        "nearest_limit": list(parts.nearest_limit),
        "trims": [p.trims for p in curve.points],
        "limit": [p.limit for p in curve.points],
        "branches": branches_document(study.branches[name]),
        "speeds": special,
        "speeds_at_body_angle_m_s": [
            list(study.at_body_angles[name][angle]) for angle in study.plan.body_angles_deg
        ],
    }
    if samples is not None:
        percent = _percent(study)
        for key, own in BANDS.items():
            draws = getattr(study.sampled[name], own)
            draws = np.degrees(draws) if key.endswith("_deg") else draws
            # In hover there is no stall to speak of.
            low, high = interval_bands(np.where(np.isnan(result[key]), np.nan, draws), percent)
            result |= {f"{key}_low": low, f"{key}_high": high}
        result["speed_intervals"] = {
            key: interval(values, percent) for key, values in samples.items()
        }
    return result


def _difference(study: PowerStudy, first: str, second: str) -> dict[str, Any]:
    """Power of the second setting less that of the first, in watts and in per cent of it."""
    a, b = study.curves[first], study.curves[second]
    allowed = np.logical_and(a.allowed, b.allowed)
    apart = np.where(allowed, b.values(POWER) - a.values(POWER), np.nan)
    result: dict[str, Any] = {
        "first": first,
        "second": second,
        "difference_W": apart,
        "difference_percent": 100.0 * apart / a.values(POWER),
    }
    if study.sampled:
        change = study.sampled[second].power - study.sampled[first].power
        for unit, values in (
            ("W", change),
            ("percent", 100.0 * change / study.sampled[first].power),
        ):
            low, high = interval_bands(np.where(allowed, values, np.nan), _percent(study))
            result |= {f"difference_{unit}_low": low, f"difference_{unit}_high": high}
    return result


def _crossing(study: PowerStudy, crossing: Crossing) -> CrossingDocument:
    ends = None if crossing.samples is None else crossing.interval(_percent(study))
    return {
        "first": crossing.first,
        "second": crossing.second,
        "airspeed_m_s": crossing.speed,
        "interval_m_s": ends,
        "stall_left_open": crossing.stall_left_open,
        "is_jump": crossing.is_jump,
        "noise_W": crossing.noise,
        "less_above": crossing.less_above,
    }


def _uncertainty(study: PowerStudy) -> UncertaintyDocument | None:
    if study.draws is None:
        return None
    assert study.craft.uncertainty is not None
    known = [np.mean(np.isfinite(s.power)) for s in study.sampled.values()]
    return {
        "interval_percent": _percent(study),
        "samples": len(study.draws.factors),
        "standard_deviation_percent": {
            name: getattr(study.craft.uncertainty, f"{name}_percent") for name in INPUTS
        },
        "standard_deviation_of_keys": dict(study.craft.uncertainty.keys),
        "share_of_samples_trimmed": float(np.mean(known)),
    }
