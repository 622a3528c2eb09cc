"""One setting, everything known about it: the answer of ``foldspan point``."""

from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.corners import other_corners
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.loads.bending import incidence_step
from vlm.loads.coefficients import Coefficients, coefficients, derivatives, neutral_point
from vlm.loads.craft_loads import CraftLoads, craft_loads, loads_of_state
from vlm.loads.parts import (
    FinLoad,
    HingeLoad,
    StripLoad,
    WingLoad,
    fin_loads,
    hinge_loads,
    strip_loads,
    wing_loads,
)
from vlm.loads.relaxed_loads import RelaxedLoads, relaxed_loads
from vlm.loads.soundness import checked_residual
from vlm.loads.state import FlightState, WakeKind
from vlm.plain import plus_minus
from vlm.study.point.errors import ESTIMATED, coarser, error_floors, half_widths
from vlm.study.point.evaluation import evaluated
from vlm.study.point.model_spread import model_spread
from vlm.study.point.sizes import fin_areas, surface_areas, tip_sizes, wing_areas
from vlm.study.point.slipstream import SlipstreamRow, Thrust, check_thrust
from vlm.study.point.validity import (
    condition_findings,
    craft_warnings,
    setting_findings,
    state_warnings,
    value_findings,
)

NOTHING = 1e-12
"""Below this a number is zero by symmetry [1]."""


def _rounded(value: float, width: float) -> str:
    return "0" if abs(value) < NOTHING else plus_minus(value, width if width > NOTHING else 0.0)


@dataclass(frozen=True)
class BodyVolumes:
    """Least volumes of a body that may turn a stable sign; None where it is not stable [m^3]."""

    pitch_m3: float | None = None
    yaw_m3: float | None = None


@dataclass(frozen=True, repr=False)
class PointReport:
    """What is known about a craft at one fold setting and flight state."""

    folds: FoldAngles
    state: FlightState
    loads: CraftLoads
    coefficients: Coefficients
    derivatives: dict[str, dict[str, float]]
    neutral_point: float
    static_margin: float
    wings: dict[str, WingLoad]
    fins: dict[str, FinLoad]
    hinges: dict[str, HingeLoad]
    strips: list[StripLoad]
    error_estimate: dict[str, float] | None
    model_spread: dict[str, float] | None
    findings: list[Finding]
    slipstream: SlipstreamRow | None = None
    body_turns: BodyVolumes = BodyVolumes()

    @property
    def half_widths(self) -> dict[str, float]:
        """What is printed behind ±: error of the lattice and spread of the model together."""
        spread = self.model_spread or {}
        return {n: w + spread.get(n, 0.0) for n, w in (self.error_estimate or {}).items()}

    def __repr__(self) -> str:
        """One line: the setting, and the main numbers with what is printed behind ±."""
        left, right = self.folds.left_deg, self.folds.right_deg
        fold = f"fold {left:g}" if left == right else f"folds {left:g} and {right:g}"
        widths = self.half_widths
        numbers = [
            f"{name} {_rounded(getattr(self.coefficients, name), widths.get(name, 0.0))}"
            for name in ("CL", "CDi", "Cl", "Cm", "Cn")
        ]
        alpha, beta = np.degrees(self.state.alpha), np.degrees(self.state.beta)
        return (
            f"<point: {fold} deg, alpha {alpha:g} deg, beta {beta:g} deg:"
            f" {', '.join(numbers)}; warnings: {len(self.findings)}>"
        )

    @property
    def lattice(self) -> Lattice:
        """The lattice behind the numbers."""
        return self.loads.lattice


def solved(lattice: Lattice, state: FlightState, wake: WakeKind, *, fold_rates: bool) -> CraftLoads:
    """Loads with the wake along the craft's axis, along the stream of one state, or relaxed."""
    if wake == "relaxed":
        return relaxed_loads(lattice, state)
    if wake == "stream":
        return loads_of_state(lattice, state, fold_rates=fold_rates)
    return craft_loads(lattice, fold_rates=fold_rates)


def solve_point(
    craft: Biplane,
    folds: FoldAngles,
    state: FlightState,
    *,
    grid: Grid | None = None,
    wake: WakeKind = "stream",
    errors: bool = True,
    thrust: Thrust = None,
    weigh_slipstream: bool = False,
) -> PointReport:
    """Loads, derivatives, hinge moments and strips of one setting, with their errors.

    Parameters
    ----------
    craft : the description
    folds : commanded fold of each side
    state : one flight state
    grid : rows, strips and spacing laws
    wake : along the stream, along the craft's axis, or relaxed
    errors : whether a second, coarser lattice is solved for the error estimate
    thrust : whose slipstream blows over the wings
    weigh_slipstream : whether a slipstream left out is warned of where it matters

    Raises
    ------
    InputRefused : the geometry or the fold cannot be built
    ComputationFailed : the system cannot be solved
    """
    grid = grid or Grid()
    check_thrust(craft, thrust)
    lattice = build_lattice(craft, folds, grid)
    loads = solved(lattice, state, wake, fold_rates=True)
    checked_residual(loads)
    slopes = derivatives(loads, state)
    point, margin = neutral_point(loads, slopes["body"])
    cellule = build_cellule(craft, grid)
    estimate = spread = None
    if errors:
        rough = solved(build_lattice(craft, folds, coarser(grid)), state, wake, fold_rates=True)
        sizes = surface_areas(cellule), tip_sizes(cellule)
        values = evaluated(loads, state, *sizes)
        if wake != "relaxed":
            spread = point_spread(craft, folds, state, loads, values)
        estimate = half_widths(
            values,
            evaluated(rough, state, *sizes),
            error_floors(loads, state, values, *sizes),
            grid,
            loads.reference.chord,
        )
    report = PointReport(
        folds=folds,
        state=state,
        loads=loads,
        coefficients=coefficients(loads, state),
        derivatives=slopes,
        neutral_point=point,
        static_margin=margin,
        wings=wing_loads(loads, state, wing_areas(cellule)),
        fins=fin_loads(loads, state, fin_areas(cellule)),
        hinges=hinge_loads(loads, state, tip_sizes(cellule)),
        strips=strip_loads(loads, state),
        error_estimate=estimate,
        model_spread=spread,
        findings=setting_findings(lattice, state, wake)
        + craft_warnings(cellule)
        + state_warnings(state)
        + wake_warnings(loads)
        + condition_findings(loads),
    )
    report = with_value_findings(report)
    if errors:
        from vlm.study.point.rotors_across import idle_rotors, rotors_across

        rotors = idle_rotors(craft, report)
        report = replace(report, findings=report.findings + rotors_across(report, rotors))
    if thrust is not None or weigh_slipstream:
        from vlm.study.point.blown import blown_report, slipstream_left_out

        if thrust is not None:
            report = blown_report(craft, report, thrust)
        else:
            left_out = slipstream_left_out(craft, report)
            report = replace(report, findings=report.findings + left_out)
    if errors:
        from vlm.study.point.bodies_left_out import body_volumes

        report = replace(report, body_turns=body_volumes(report, rotors))
    return report


def with_value_findings(report: PointReport) -> PointReport:
    """The report with the warnings that follow from its values and half-widths, made afresh."""
    known = key_numbers(report.loads, report.state)
    ratio, step = report.loads.reference.aspect_ratio, incidence_step(report.lattice)
    fresh = value_findings(known, report.half_widths, ratio, step)
    codes = {"negative_drag", *(f"half_width: {name}" for name in known)}
    kept = [finding for finding in report.findings if finding.code not in codes]
    return replace(report, findings=kept + fresh)


def point_spread(
    craft: Biplane, folds: FoldAngles, state: FlightState, loads: CraftLoads, values: dict[str, Any]
) -> dict[str, float]:
    """What the model leaves open; beside a wake along the craft's axis, the stream's too."""

    def numbers(other: Biplane, lattice: Lattice) -> dict[str, Any]:
        cellule = build_cellule(other, lattice.grid)
        along = loads_of_state(lattice, state)
        return evaluated(along, state, surface_areas(cellule), tip_sizes(cellule))

    others = []
    if loads.kind == "craft":
        others.append(numbers(craft, loads.lattice))
    for other in other_corners(craft, loads.lattice):
        try:
            others.append(numbers(other, build_lattice(other, folds, loads.lattice.grid)))
        except FoldspanError:
            continue  # its tips would not pass
    return model_spread(loads, state, values, others)


def wake_warnings(loads: CraftLoads) -> list[Finding]:
    """A relaxed wake that did not settle."""
    if not isinstance(loads, RelaxedLoads) or loads.converged:
        return []
    return [
        Finding(
            "relaxed_wake",
            "the relaxed wake has not converged; largest last change of a circulation",
            loads.changes[-1],
            loads.sizes.tolerance,
            "1",
            "docs, theory",
            "use --wake stream, or fewer strips",
        )
    ]


def key_numbers(loads: CraftLoads, state: FlightState) -> dict[str, Any]:
    """The quantities that get an error estimate, see :data:`vlm.study.point.errors.ESTIMATED`."""
    values = coefficients(loads, state)
    slopes = derivatives(loads, state)["body"]
    known = asdict(values) | slopes
    return {name: known[name] for name in ESTIMATED}
