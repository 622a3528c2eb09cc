"""Tables and linear models of a craft for other people's simulators and controllers."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import vlm
from vlm.cautions import SHORT_CAUTION
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.disk import write_whole
from vlm.errors import InputRefused
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of, rotors_at
from vlm.flight.simulation.linear import STATES, LinearModel, linear_model
from vlm.flight.simulation.task import Task
from vlm.plain import without_nan
from vlm.progress import Progress, silent
from vlm.study.export.tables import DIMS, ExportPlan, export_tables
from vlm.study.motion.scenarios import SCHEDULE, schedule_of
from vlm.study.motion.schedule import read_breakpoints, worked_out
from vlm.study.point.errors import coarser
from vlm.study.sweep.dataset import as_netcdf, save_dataset

if TYPE_CHECKING:
    import xarray as xr

ASSUMPTIONS = (
    "body axes: x forward, y to starboard, z down; forces over q S, moments about the moment point"
    " over q S b (roll, yaw) and q S c (pitch), hinge moments over q S c, positive raising the tip",
    "rates p b/2U, q c/2U, r b/2U; derivatives with them at no rate, per unit, lattice alone",
    "quasi-steady air, rigid wings, rotors without thrust; a fold that closes a joint is taken as"
    " open",
    "slipstream: loads that each rotor's thrust adds, per newton, at no sideslip; they go with the"
    " thrust whatever the airspeed, so that the rotors' advance is no axis",
    "apparent_mass: forces and moments are minus it times the rates of (u, v, w, p, q, r, tips)",
    "half_width: the lattice's error, and in coefficients at no rate, CY apart, what the wake's"
    " direction and roll-up leave open; open or closed corners and the sections' own errors are not"
    " in it",
    "linear models: tips held at their folds, thrust and torque of the rotors at the airspeed of"
    " each point, states at the moment point; thrusts are inputs, so that A is that of thrust that"
    " stays as it is: what rotors damp by themselves is not in it",
)


def export_dataset(craft: Biplane, plan: ExportPlan, progress: Progress = silent) -> "xr.Dataset":
    """Tables over fold_left, fold_right, alpha and beta, and linear models over point.

    Raises
    ------
    InputRefused : a block or key that is missing, or a fold beyond its limits
    ComputationFailed : the wings cannot carry the craft at a point
    """
    import xarray as xr

    folding = folding_craft(craft, plan.modelled)
    tasks = [_task(point, plan) for point in plan.points]
    plant = plant_of(folding, tasks[0], plan.modelled, progress)
    models = []
    for task in tasks:
        progress(f"linear model at {task.airspeed:g} m/s")
        reference = folding.at(task.start).loads.reference
        rotors = rotors_at(folding, task, plan.modelled, reference.moment_point)
        folds = np.radians([task.start.left_deg, task.start.right_deg])
        models.append(linear_model(replace(plant, rotors=rotors), task.airspeed, folds))
    progress("again on a coarser lattice")
    rough = plant_of(folding_craft(craft, _coarse(plan)), tasks[0], _coarse(plan))
    data, coordinates = export_tables(folding, plant, rough, plan)
    linear, further = _linear(models)
    return xr.Dataset(data | linear, coordinates | further, _attributes(craft, folding, plan))


def trim_points(
    craft: Biplane, text: str, density: float, progress: Progress = silent
) -> list[tuple[float, float]]:
    """Airspeeds [m/s] and folds [deg] of the linear models.

    Parameters
    ----------
    text : SPEED:FOLD,..., a table that ``schedule --csv`` wrote, or the word schedule: every
        airspeed of the file's [schedule] at which a fold is allowed, slowing down
    density : of the air [kg/m^3]

    Raises
    ------
    InputRefused : not of that form, or the file has no [schedule]
    ComputationFailed : no schedule can be flown
    """
    if text.endswith(".csv"):
        return read_breakpoints(Path(text))
    if text != SCHEDULE:
        return schedule_of("--trims", text)
    flown, _ = worked_out(craft, density, progress)
    low, high = flown.valid
    return [
        (float(one.speed), float(one.slowing.fold_deg))
        for one in flown.states
        if low <= one.speed <= high and not one.is_between
    ]


def _coarse(plan: ExportPlan) -> Modelled:
    return replace(plan.modelled, grid=coarser(plan.modelled.grid))


def _task(point: tuple[float, float], plan: ExportPlan) -> Task:
    """A task that starts at a point and passes all folds of the tables."""
    speed, fold = point
    folds = [at for _, at in plan.points]
    low, high = plan.fold_range or (min(folds), max(folds))
    ends = np.radians([min(low, *folds), max(high, *folds)])
    return Task(
        "export", speed, 1.0, FoldAngles.symmetric(fold),
        schedule=(np.array([0.0, 1.0]), ends),
    )  # fmt: skip


def _linear(models: Sequence[LinearModel]) -> tuple[dict[str, Any], dict[str, Any]]:
    data: dict[str, Any] = {
        "A": (("point", "rate", "state"), np.array([one.a for one in models]), {}),
        "B": (("point", "rate", "input"), np.array([one.b for one in models]), {}),
        "C": (("point", "output", "state"), np.array([one.c for one in models]), {}),
        "D": (("point", "output", "input"), np.array([one.d for one in models]), {}),
        "trim_state": (("point", "state"), np.array([one.state for one in models]), {}),
        "trim_input": (
            ("point", "input"),
            np.array([np.concatenate([one.folds, one.trim.thrusts]) for one in models]),
            {},
        ),
        "trim_alpha_deg": (
            "point", np.degrees([one.trim.alpha for one in models]), {"units": "deg"},
        ),
        "trim_airspeed_m_s": ("point", [one.airspeed for one in models], {"units": "m/s"}),
    }  # fmt: skip
    names = list(STATES)
    coordinates: dict[str, Any] = {
        "point": ("point", np.arange(len(models)), {}),
        "state": ("state", names, {}),
        "rate": ("rate", [f"rate of {name}" for name in names], {}),
        "output": ("output", names, {}),
        "input": ("input", list(models[0].inputs), {}),
    }
    return data, coordinates


def _attributes(craft: Biplane, folding: FoldingCraft, plan: ExportPlan) -> dict[str, Any]:
    reference = folding.symmetric(0.0).loads.reference
    return {
        "title": craft.title,
        "source": f"foldspan {vlm.__version__}",
        "caution": SHORT_CAUTION,
        "assumptions": "; ".join(ASSUMPTIONS),
        "reference_area_m2": reference.area,
        "reference_span_m": reference.span,
        "reference_chord_m": reference.chord,
        "moment_point_m": [float(v) for v in reference.moment_point],
        "density_kg_m3": plan.modelled.density,
        "sections": "the file's" if folding.has_sections else "none: no stall, no profile drag",
        "mass_kg": folding.symmetric_masses.mass,
    }


def save_export(dataset: "xr.Dataset", path: Path) -> None:
    """Write it: all as .nc or .json, the tables alone as .csv.

    Raises
    ------
    InputRefused : another ending
    """
    if path.suffix == ".nc":
        write_whole(path, as_netcdf(dataset))
    elif path.suffix == ".json":
        write_whole(path, json.dumps(without_nan(dataset.to_dict()), indent=1).encode())
    elif path.suffix == ".csv":
        others = [name for name in dataset.variables if not set(dataset[name].dims) <= set(DIMS)]
        save_dataset(dataset.drop_vars(others), path)
    else:
        raise InputRefused(f"--out {path}; the ending must be .nc, .json or .csv")


def default_angles() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Angles of attack and sideslip of the tables [deg]."""
    alphas: Floats = np.linspace(-8.0, 16.0, 13)
    return tuple(float(a) for a in alphas), (-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 20.0)
