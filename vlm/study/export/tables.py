"""Aerodynamic tables of an export: coefficients over folds and angles, with their half-widths."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.simulation.building import Modelled
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.section_table import ALPHAS, SectionForm, smooth_weights
from vlm.lattice.cellule import Grid
from vlm.loads.model_spread import HINGE, wake_spread
from vlm.loads.state import FlightState
from vlm.study.point.errors import half_width
from vlm.study.point.fin_validity import sideslip_findings
from vlm.study.point.sizes import tip_sizes

FORCES = ("CX", "CY", "CZ", "Cl", "Cm", "Cn")
LOADS = ("X", "Y", "Z", "L", "M", "N")
RATES = ("p_hat", "q_hat", "r_hat")
STALLED = "stalled_share"
FOLD_DECIMALS = 9
"""Decimals of the folds of the tables, so that they hold the ends as asked for [1]."""
DIMS = ("fold_left", "fold_right", "alpha", "beta")
MOST_STALLED, MOST_ALPHA_DEG = 0.05, 18.0

Variables = dict[str, Any]


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


@dataclass(frozen=True)
class _Table:
    """Coefficients, their rates and the stalled share, over folds and angles."""

    values: Floats
    slopes: Floats
    stalled: Floats


def export_tables(
    folding: FoldingCraft, plant: Plant, rough: Plant, plan: ExportPlan
) -> tuple[Variables, Variables]:
    """Variables and coordinates of the tables.

    Parameters
    ----------
    rough : the plant on a coarser lattice
    """
    own, other = _table(folding, plant, plan), _table(folding, rough, plan)
    grid = plan.modelled.grid
    names = [*FORCES, *(f"Ch_{tip.body}" for tip in plant.bodies.tips)]
    widths = half_width(own.values, other.values, _sizes(own.values), grid)
    widths = widths + _model_widths(folding, plant, plan)
    slope_widths = half_width(own.slopes, other.slopes, _sizes(own.slopes), grid)
    data: Variables = {}
    for i, name in enumerate(names):
        words = _words(name)
        data[name] = _variable(own.values[..., i], words)
        data[f"{name}_half_width"] = _variable(widths[..., i], f"half-width of {words}")
        for axis, rate in enumerate(RATES):
            rising = f"rate of {words} with {rate}"
            data[f"{name}_{rate}"] = _variable(own.slopes[..., axis, i], rising)
            data[f"{name}_{rate}_half_width"] = _variable(
                slope_widths[..., axis, i], f"half-width of {rising}"
            )
    data[STALLED] = _variable(own.stalled, "stalled share of the wings' area")
    data["valid"] = _variable(
        _valid(folding, own.stalled, plan).astype(np.int8),
        "1 where less than a twentieth of the wings is stalled and the angle of attack is at most"
        " 18 deg; with fins, where the sideslip lets the tables hold",
    )
    # Back from radians, an end may lie a rounding inside the fold that was asked for.
    left, right = (np.round(np.degrees(side), FOLD_DECIMALS) for side in plant.air.points)
    coordinates: Variables = {
        "fold_left": ("fold_left", left, {"units": "deg"}),
        "fold_right": ("fold_right", right, {"units": "deg"}),
        "alpha": ("alpha", list(plan.alphas), {"units": "deg"}),
        "beta": ("beta", list(plan.betas), {"units": "deg"}),
    }
    further, more = _physical(plant, plan)
    return data | further, coordinates | more


def _variable(values: Any, words: str) -> tuple[Any, ...]:
    return (DIMS, values, {"units": "1", "long_name": words})


def _sizes(values: Floats) -> Floats:
    """Natural size of each coefficient: its largest value in the table."""
    flat = np.abs(values).reshape(-1, values.shape[-1])
    return np.asarray(flat.max(axis=0))


def _table(folding: FoldingCraft, plant: Plant, plan: ExportPlan) -> _Table:
    reference = folding.symmetric(0.0).loads.reference
    area, span, chord = reference.area, reference.span, reference.chord
    lengths = np.array([1.0, 1.0, 1.0, span, chord, span] + [chord] * len(plant.bodies.tips))
    scales = np.array([0.5 * span, 0.5 * chord, 0.5 * span])
    speed, still = plan.points[0][0], np.zeros(plant.thrusts)
    shape = (*(len(side) for side in plant.air.points), len(plan.alphas), len(plan.betas))
    found = _Table(
        np.zeros((*shape, plant.air.wide)), np.zeros((*shape, 3, plant.air.wide)), np.zeros(shape)
    )
    pressure = 0.5 * plant.density * speed**2 * area
    for place in np.ndindex(*shape):
        folds = np.array([plant.air.points[0][place[0]], plant.air.points[1][place[1]]])
        alpha, beta = np.radians([plan.alphas[place[2]], plan.betas[place[3]]])
        speeds = np.zeros(8)
        speeds[:3] = speed * np.array(
            [np.cos(alpha) * np.cos(beta), np.sin(beta), np.sin(alpha) * np.cos(beta)]
        )
        air = plant.air_loads(plant.posed(folds), speeds, np.zeros(3), still)
        found.values[place] = air.loads / (pressure * lengths)
        found.stalled[place] = air.stalled
        motion = np.append(speeds[:6], np.zeros(len(plant.bodies.tips)))
        for axis in range(3):
            step = np.zeros_like(motion)
            step[3 + axis] = speed / scales[axis]
            change = plant.air.loads(folds, motion + step, plant.density)
            change = change - plant.air.loads(folds, motion - step, plant.density)
            found.slopes[(*place, axis)] = 0.5 * change / (pressure * lengths)
    return found


def _model_widths(folding: FoldingCraft, plant: Plant, plan: ExportPlan) -> Floats:
    """What the wake leaves open in the coefficients; none is known of the side force."""
    alphas, betas = np.meshgrid(np.radians(plan.alphas), np.radians(plan.betas), indexing="ij")
    state = FlightState(alpha=alphas.ravel(), beta=betas.ravel())
    reference, sizes = folding.symmetric(0.0).loads.reference, tip_sizes(folding.engine.cellule)
    volume = reference.area * reference.chord
    tips = [float(np.prod(sizes[tip.body.split("_")[0]])) / volume for tip in plant.bodies.tips]
    shape = tuple(len(side) for side in plant.air.points)
    found = np.zeros((*shape, *alphas.shape, plant.air.wide))
    for place in np.ndindex(*shape):
        folds = np.degrees([side[i] for side, i in zip(plant.air.points, place, strict=True)])
        loads = folding.at(FoldAngles(float(folds[0]), float(folds[1]))).loads
        spread = wake_spread(loads, state)
        found[place] = _of_state(spread, state.alpha, tips).reshape(*alphas.shape, -1)
    return found


def _of_state(spread: Mapping[str, Any], alpha: Floats, tips: list[float]) -> Floats:
    """Half-widths in the order of the coefficients, body axes, shape (states, 6 + tips)."""
    lift, drag = np.asarray(spread["CL"]), np.asarray(spread["CDi"])
    columns = [
        drag * np.cos(alpha) + lift * np.abs(np.sin(alpha)),
        np.zeros_like(lift),
        lift * np.cos(alpha) + drag * np.abs(np.sin(alpha)),
        *(np.asarray(spread[name]) for name in ("Cl", "Cm", "Cn")),
        *(share * np.asarray(spread[HINGE]) for share in tips),
    ]
    return np.stack(columns, axis=-1)


def _valid(folding: FoldingCraft, stalled: Floats, plan: ExportPlan) -> Any:
    valid = stalled < MOST_STALLED
    valid &= (np.abs(np.array(plan.alphas)) <= MOST_ALPHA_DEG)[:, None]
    holds = {size: holds_in_sideslip(folding, size) for size in {abs(b) for b in plan.betas}}
    return valid & np.array([holds[abs(beta)] for beta in plan.betas])


def holds_in_sideslip(folding: FoldingCraft, beta_deg: float) -> bool:
    """Whether the tables of a craft with fins hold at a sideslip, tips flat, near level flight."""
    loads = folding.symmetric(0.0).loads
    return not sideslip_findings(folding.craft, loads, float(np.radians(4.0)), beta_deg)


def _physical(plant: Plant, plan: ExportPlan) -> tuple[Variables, Variables]:
    """Slipstream's loads per newton of thrust, and apparent masses, where they are known."""
    data: Variables = {}
    tips = [tip.body for tip in plant.bodies.tips]
    coordinates: Variables = {}
    shape = tuple(len(side) for side in plant.air.points)
    poses = [
        plant.posed(np.array([plant.air.points[0][i], plant.air.points[1][j]]))
        for i, j in np.ndindex(*shape)
    ]
    sections = plant.sections
    if sections is not None and plant.rotors is not None and len(sections.thrusts):
        weights = np.array([smooth_weights(ALPHAS, float(a)) for a in np.radians(plan.alphas)])
        tables = np.array([np.tensordot(weights, _blowing(pose.change), axes=1) for pose in poses])
        tables = np.moveaxis(tables.reshape(*shape, *tables.shape[1:])[..., :-2], 3, 0)
        data["slipstream"] = (
            ("rotor", "fold_left", "fold_right", "alpha", "load"), tables,
            {"long_name": "load that a rotor's slipstream adds, over its thrust, body axes",
             "units": "N/N or N m/N"},
        )  # fmt: skip
        coordinates["rotor"] = ("rotor", list(plant.rotors.names), {})
        coordinates["load"] = ("load", [*LOADS, *(f"hinge {body}" for body in tips)], {})
    if plant.apparent is not None:
        names = ["u", "v", "w", "p", "q", "r", *(f"tip {body}" for body in tips)]
        values = plant.density * plant.apparent.reshape(*shape, len(names), len(names))
        data["apparent_mass"] = (
            ("fold_left", "fold_right", "motion", "rate_of"), values,
            {"long_name": "apparent mass of the air, body axes about the moment point",
             "units": "kg, kg m or kg m^2"},
        )  # fmt: skip
        coordinates["motion"] = ("motion", names, {})
        coordinates["rate_of"] = ("rate_of", names, {})
    return data, coordinates


def _blowing(change: SectionForm | None) -> Floats:
    assert change is not None
    return change.blowing


def _words(name: str) -> str:
    if name.startswith("Ch_"):
        return f"air's moment about the hinge, {name[3:].replace('_', ' ')}"
    return f"coefficient {name}, body axes"
