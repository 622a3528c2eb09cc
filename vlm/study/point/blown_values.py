"""What the rotors' slipstream changes in every number of a fold setting.

The lattice alone, as ``point`` and ``sweep`` print it, is blown on: the change is that of the same
lattice with thin sections, with and without the slipstream
(:mod:`vlm.flight.craft.section_change`, equation (2)), so that without thrust nothing changes.
Derivatives are central differences with the thrusts held.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flight.craft.section_change import SECTION_GRID, BlownStrips, SectionStrips
from vlm.lattice.cellule import Grid, build_cellule
from vlm.loads.coefficients import named_coefficients
from vlm.loads.parts import FIN_PREFIX
from vlm.loads.state import FlightState
from vlm.sides import Side, wing_and_side

STEP = 1e-4
"""Step of angles [rad] and of reduced rates [1]."""
FOLD_STEP_DEG = 0.25
STEPPED = ("alpha", "beta", "p_hat", "q_hat", "r_hat")
UNKNOWN = ("span_efficiency", "best_span_efficiency")
"""What has no value in a slipstream, as the wings' shares in the far-field drag: all of them
compare with wings in an even stream."""
Values = dict[str, Any]


@dataclass(frozen=True)
class BlownSetting:
    """A craft at one fold setting with its rotors at given thrusts.

    Attributes
    ----------
    craft, folds, grid : what is blown on
    thrusts : by rotor, shape (rotors,) [N]
    """

    craft: Biplane
    folds: FoldAngles
    grid: Grid
    thrusts: Floats

    def strips(self, folds: FoldAngles | None = None, grid: Grid | None = None) -> SectionStrips:
        """The strips of the lattice, at other folds or on another grid where they are given."""
        cellule = build_cellule(self.craft, grid or self.grid)
        return SectionStrips(self.craft, folds or self.folds, cellule, sections=False)

    def blown(self, strips: SectionStrips, state: FlightState) -> BlownStrips:
        """The change strip by strip in states of shape (states,)."""
        lattice = strips.model.lattice
        amounts = state.airspeed * state.amounts(lattice.reference, 6 + len(lattice.bodies))
        return strips.blown_strips(amounts, float(state.density), self.thrusts)

    def changes(
        self, state: FlightState, areas: Mapping[str, float],
        tips: Mapping[str, tuple[float, float]],
    ) -> Values:  # fmt: skip
        """Change of every number of :func:`vlm.study.point.evaluation.evaluated`, in its names.

        NaN where a number has no value in a slipstream. Neutral point and static margin are not
        among them, they follow from others.

        Parameters
        ----------
        state : arrays of any one shape; airspeed and density are single numbers
        areas, tips : as of :func:`vlm.study.point.evaluation.evaluated`
        """
        flat = _flat(state)
        strips = self.strips()
        around = _around(flat)
        blown = self.blown(strips, around)
        count = len(flat.alpha)
        values = self._coefficients(strips, around, blown)
        found = {name: value[:count] for name, value in values.items()}
        found |= self._wings(strips, flat, blown, areas) | _hinges(flat, blown, tips)
        found |= _turned_rates(_slopes(values, count), flat.alpha)
        found |= self._fold_slopes(flat)
        unknown = [*UNKNOWN, *(f"CDi_share_{wing}" for wing in areas)]
        found |= dict.fromkeys(unknown, np.full(count, np.nan if self.thrusts.any() else 0.0))
        return {name: value.reshape(state.shape) for name, value in found.items()}

    def _coefficients(
        self, strips: SectionStrips, state: FlightState, blown: BlownStrips
    ) -> Values:
        force, moment = blown.force.sum(axis=1), blown.moment.sum(axis=1)
        scale = float(state.density) * float(state.airspeed) ** 2
        wrench = np.concatenate([force, moment], axis=1) / scale
        reference = strips.model.lattice.reference
        values = named_coefficients(wrench, state, reference)
        far = np.sum((force + blown.correction) * state.wind(), axis=1)
        values["CDi"] = 2.0 * far / (scale * reference.area)
        return {name: np.asarray(value) for name, value in values.items()}

    def _wings(
        self, strips: SectionStrips, state: FlightState, blown: BlownStrips,
        areas: Mapping[str, float],
    ) -> Values:  # fmt: skip
        lattice, count = strips.model.lattice, len(state.alpha)
        wing_of = np.array([patch.wing for patch in lattice.patches])[strips.model.strips.patch]
        found = {}
        for wing, area in areas.items():
            own = wing_of == wing.removeprefix(FIN_PREFIX)
            force = blown.force[:count, own].sum(axis=1)
            lift = np.sum(force * state.lift_direction(), axis=1)
            found[f"CL_{wing}"] = lift / (state.dynamic_pressure * area)
            if wing.startswith(FIN_PREFIX):
                found[f"CY_{wing}"] = force[:, 1] / (state.dynamic_pressure * area)
        return found

    def _fold_slopes(self, state: FlightState) -> Values:
        """Derivatives with the commanded fold of each side, on the strips' own lattice [1/rad]."""
        found: Values = {}
        for side in Side:
            ends = []
            for step in (FOLD_STEP_DEG, -FOLD_STEP_DEG):
                turned = replace(
                    self.folds,
                    **{f"{side}_deg": getattr(self.folds, f"{side}_deg") + step},
                )
                try:
                    strips = self.strips(turned, SECTION_GRID)
                except InputRefused:
                    continue
                ends.append(self._coefficients(strips, state, self.blown(strips, state)))
            for name in ("CL", "Cl", "Cn", "Cl_stability", "Cn_stability"):
                axes = "_stability" if name.endswith("_stability") else ""
                plain = name.removesuffix("_stability")
                slope = np.full(len(state.alpha), np.nan)
                if len(ends) == 2:
                    slope = (ends[0][name] - ends[1][name]) / np.radians(2.0 * FOLD_STEP_DEG)
                found[f"{plain}_fold_{side}{axes}"] = slope
        return found


def _flat(state: FlightState) -> FlightState:
    columns = {
        name: np.broadcast_to(np.asarray(getattr(state, name), dtype=float), state.shape).ravel()
        for name in STEPPED
    }
    return FlightState(**columns, airspeed=state.airspeed, density=state.density)


def _around(state: FlightState) -> FlightState:
    """The states, then each with a step up and down of every angle and rate."""
    columns = {name: [getattr(state, name)] for name in STEPPED}
    for stepped in STEPPED:
        for step in (STEP, -STEP):
            for name in STEPPED:
                value = getattr(state, name)
                columns[name].append(value + step if name == stepped else value)
    joined = {name: np.concatenate(parts) for name, parts in columns.items()}
    return replace(state, **joined)


def _slopes(values: Values, count: int) -> Values:
    """Derivatives per radian and per reduced rate; in stability axes where these differ."""
    found: Values = {}
    for index, name in enumerate(STEPPED):
        motion = name.removesuffix("_hat")
        up = slice((1 + 2 * index) * count, (2 + 2 * index) * count)
        down = slice((2 + 2 * index) * count, (3 + 2 * index) * count)
        of = ("CL", "Cm") if motion in ("alpha", "q") else ("CY", "Cl", "Cn")
        for force in of:
            found[f"{force}_{motion}"] = (values[force][up] - values[force][down]) / (2.0 * STEP)
        if motion in ("beta", "p", "r"):
            for force in ("Cl", "Cn"):
                stable = values[f"{force}_stability"]
                found[f"{force}_{motion}_stability"] = (stable[up] - stable[down]) / (2.0 * STEP)
    return found


def _turned_rates(found: Values, alpha: Floats) -> Values:
    """Derivatives in stability axes with the rates about those axes, see conventions."""
    sine, cosine = np.sin(alpha), np.cos(alpha)
    turned = dict(found)
    for force in ("Cl", "Cn"):
        roll, yaw = found[f"{force}_p_stability"], found[f"{force}_r_stability"]
        turned[f"{force}_p_stability"] = cosine * roll + sine * yaw
        turned[f"{force}_r_stability"] = cosine * yaw - sine * roll
    turned["CY_p_stability"] = cosine * found["CY_p"] + sine * found["CY_r"]
    turned["CY_r_stability"] = cosine * found["CY_r"] - sine * found["CY_p"]
    return turned


def _hinges(
    state: FlightState, blown: BlownStrips, tips: Mapping[str, tuple[float, float]]
) -> Values:
    found = {}
    for body, moments in blown.hinges.items():
        moment = moments[: len(state.alpha)]
        area, span = tips[wing_and_side(body)[0]]
        found[f"hinge_moment_{body}_N_m"] = moment
        found[f"hinge_moment_coefficient_{body}"] = moment / (state.dynamic_pressure * area * span)
    return found


def with_changes(values: Values, changes: Values, chord: float, moment_point_x: float) -> Values:
    """Numbers of a setting with the slipstream's changes, static margin and neutral point too.

    Parameters
    ----------
    values : as of :func:`vlm.study.point.evaluation.evaluated`
    chord, moment_point_x : of the reference [m]
    """
    found = values | {
        name: values[name] + change for name, change in changes.items() if name in values
    }
    margin = -found["Cm_alpha"] / found["CL_alpha"]
    return found | {
        "static_margin": margin, "neutral_point_m": moment_point_x + margin * chord
    }  # fmt: skip
