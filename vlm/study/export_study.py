"""Tables and linear models of a craft for other people's simulators and controllers."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
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
from vlm.flight.craft.folded_craft import FoldingCraft
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of, rotors_at
from vlm.flight.simulation.linear import STATES, LinearModel, linear_model
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.task import Task
from vlm.lattice.cellule import Grid
from vlm.plain import without_nan
from vlm.progress import Progress, silent
from vlm.study.dataset import as_netcdf, save_dataset
from vlm.study.fin_validity import sideslip_findings

if TYPE_CHECKING:
    import xarray as xr

FORCES = ("CX", "CY", "CZ", "Cl", "Cm", "Cn")
RATES = ("p_hat", "q_hat", "r_hat")
STALLED = "stalled_share"

ASSUMPTIONS = (
    "body axes: x forward, y to starboard, z down; forces over q S, moments about the moment point"
    " over q S b (roll, yaw) and q S c (pitch), hinge moments over q S c, positive raising the tip",
    "rates p b/2U, q c/2U, r b/2U; derivatives with them at no rate, per unit, lattice alone",
    "quasi-steady air, rigid wings, no slipstream; a fold that closes a joint is taken as open",
    "linear models: tips held at their folds, thrust and torque of the rotors at the airspeed of"
    " each point, states at the moment point",
)


@dataclass(frozen=True)
class ExportPlan:
    """What ``export`` is asked for.

    Attributes
    ----------
    points : airspeeds [m/s] and symmetric folds [deg] of the linear models
    alphas, betas : of the tables [deg]
    fold_range : lowest and highest fold of the tables [deg]; those of the points if None
    modelled : how; without lag
    """

    points: tuple[tuple[float, float], ...]
    alphas: tuple[float, ...]
    betas: tuple[float, ...]
    fold_range: tuple[float, float] | None = None
    modelled: Modelled = field(default_factory=lambda: Modelled(Grid(), lagged=False))


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
    data, coordinates = _tables(folding, plant, plan)
    linear, further = _linear(models)
    return xr.Dataset(data | linear, coordinates | further, _attributes(craft, folding, plan))


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


def _holds_in_sideslip(folding: FoldingCraft, beta_deg: float) -> bool:
    """Whether the tables of a craft with fins hold at a sideslip, tips flat, near level flight."""
    loads = folding.symmetric(0.0).loads
    return not sideslip_findings(folding.craft, loads, float(np.radians(4.0)), beta_deg)


def _tables(
    folding: FoldingCraft, plant: Plant, plan: ExportPlan
) -> tuple[dict[str, Any], dict[str, Any]]:
    reference = folding.symmetric(0.0).loads.reference
    area, span, chord = reference.area, reference.span, reference.chord
    lengths = np.array([1.0, 1.0, 1.0, span, chord, span] + [chord] * len(plant.bodies.tips))
    scales = np.array([0.5 * span, 0.5 * chord, 0.5 * span])
    speed = plan.points[0][0]
    shape = (len(plant.air.points[0]), len(plant.air.points[1]), len(plan.alphas), len(plan.betas))
    found = np.zeros((*shape, plant.air.wide))
    slopes = np.zeros((*shape, 3, plant.air.wide))
    stalled = np.zeros(shape)
    for place in np.ndindex(*shape):
        folds = np.array([plant.air.points[0][place[0]], plant.air.points[1][place[1]]])
        alpha, beta = np.radians([plan.alphas[place[2]], plan.betas[place[3]]])
        speeds = np.zeros(8)
        speeds[:3] = speed * np.array(
            [np.cos(alpha) * np.cos(beta), np.sin(beta), np.sin(alpha) * np.cos(beta)]
        )
        air = plant.air_loads(plant.posed(folds), speeds, np.zeros(3), np.zeros(plant.thrusts))
        pressure = 0.5 * plant.density * speed**2 * area
        found[place] = air.loads / (pressure * lengths)
        stalled[place] = air.stalled
        motion = np.append(speeds[:6], np.zeros(len(plant.bodies.tips)))
        for axis in range(3):
            step = np.zeros_like(motion)
            step[3 + axis] = speed / scales[axis]
            change = plant.air.loads(folds, motion + step, plant.density)
            change = change - plant.air.loads(folds, motion - step, plant.density)
            slopes[(*place, axis)] = 0.5 * change / (pressure * lengths)
    dims = ("fold_left", "fold_right", "alpha", "beta")
    names = [*FORCES, *(f"Ch_{tip.body}" for tip in plant.bodies.tips)]
    data: dict[str, Any] = {
        name: (dims, found[..., i], {"units": "1", "long_name": _words(name)})
        for i, name in enumerate(names)
    }
    data |= {
        f"{name}_{rate}": (
            dims, slopes[..., axis, i],
            {"units": "1", "long_name": f"rate of {_words(name)} with {rate}"},
        )
        for i, name in enumerate(names)
        for axis, rate in enumerate(RATES)
    }  # fmt: skip
    data[STALLED] = (dims, stalled, {"units": "1", "long_name": "stalled share of the wings' area"})
    valid = (stalled < 0.05) & (np.abs(np.array(plan.alphas))[:, None] <= 18.0)
    holds = {size: _holds_in_sideslip(folding, size) for size in {abs(b) for b in plan.betas}}
    valid &= np.array([holds[abs(beta)] for beta in plan.betas])
    data["valid"] = (
        dims, valid.astype(np.int8),
        {"units": "1", "long_name": "1 where less than a twentieth of the wings is stalled and the"
         " angle of attack is at most 18 deg; with fins, where the sideslip lets the tables hold"},
    )  # fmt: skip
    coordinates: dict[str, Any] = {
        "fold_left": ("fold_left", np.degrees(plant.air.points[0]), {"units": "deg"}),
        "fold_right": ("fold_right", np.degrees(plant.air.points[1]), {"units": "deg"}),
        "alpha": ("alpha", list(plan.alphas), {"units": "deg"}),
        "beta": ("beta", list(plan.betas), {"units": "deg"}),
    }
    return data, coordinates


def _words(name: str) -> str:
    if name.startswith("Ch_"):
        return f"air's moment about the hinge, {name[3:].replace('_', ' ')}"
    return f"coefficient {name}, body axes"


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
        "half_width": "not worked out; compare exports with other --rows and --strips",
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
        linear = [name for name in dataset.variables if {"point", "state", "rate", "output",
                  "input"} & set(dataset[name].dims)]  # fmt: skip
        save_dataset(dataset.drop_vars(linear), path)
    else:
        raise InputRefused(f"--out {path}; the ending must be .nc, .json or .csv")


def default_angles() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Angles of attack and sideslip of the tables [deg]."""
    alphas: Floats = np.linspace(-8.0, 16.0, 13)
    return tuple(float(a) for a in alphas), (-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 20.0)
