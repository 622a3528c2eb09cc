"""What the model leaves out, measured on the demo craft: differences beside the lattice's error.

    python benchmarks/model_limits.py [--quick]

Four tables: the direction of the wake's legs; a small gap where the tips meet the lower wing;
sections' thickness; tips that meet an end of another chord. Each difference stands beside the
half-width of the lattice's own error, so that the two can be distinguished.
"""

import argparse
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from vlm.air import standard_air
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.state import FlightState, WakeKind
from vlm.sections.coupling import couple_strips, strip_onset
from vlm.sections.sectioned import sectioned_lattice
from vlm.sections.strip_forces import strip_forces
from vlm.study.point.point import PointReport, solve_point

CRAFT = "tideline"
NAMES = ("CL", "CDi", "span_efficiency", "Cl_beta")
WAKE_ANGLES_DEG = (4.0, 8.0, 12.0)
WAKE_FOLDS_DEG = (-90.0, -45.0, 0.0, 30.0)
GAPS_MM = (0.01, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
OTHER_CHORDS_M = (0.17, 0.16, 0.15, 0.13)
THICKNESSES = (0.06, 0.09, 0.12, 0.15)
SPEED, STEP_DEG = 12.0, 1.0
CORNER = Grid(12, 40, span_law="graded")
"""Strips of hundredths of a millimetre at the corner, so that gaps of a tenth are resolved."""


@dataclass(frozen=True)
class Numbers:
    """Values of a setting and the half-widths of the lattice's error."""

    values: Mapping[str, float]
    widths: Mapping[str, float]


def changed(**paths: Any) -> Biplane:
    """The demo craft with values in place of its own: ``upper__tips__span_m=0.3``."""
    data = load_biplane(CRAFT).model_dump()
    for path, value in paths.items():
        *tables, key = path.split("__")
        place = data
        for table in tables:
            place = place[table]
        place[key] = value
    return Biplane.model_validate(data)


def numbers(
    craft: Biplane, fold: float, alpha: float, grid: Grid, wake: WakeKind = "stream"
) -> Numbers:
    """Key numbers of a symmetric fold, angles in degrees."""
    state = FlightState(np.radians(alpha))
    found = solve_point(craft, FoldAngles(fold, fold), state, grid=grid, wake=wake)
    return Numbers(key_values(found), found.error_estimate or {})


def key_values(report: PointReport) -> dict[str, float]:
    """The numbers that the tables show."""
    values = report.coefficients
    return {
        "CL": float(values.CL),
        "CDi": float(values.CDi),
        "span_efficiency": float(values.span_efficiency),
        "Cl_beta": float(report.derivatives["body"]["Cl_beta"]),
    }


def line(label: str, ours: Numbers, other: Numbers) -> str:
    """Difference of two settings in per cent (Cl_beta: as it is), half-widths in brackets."""
    cells = []
    for name in NAMES:
        difference, width = other.values[name] - ours.values[name], ours.widths[name]
        if name == "Cl_beta":
            cells.append(f"{difference:+9.4f} ({width:.4f})")
        else:
            scale = 100.0 / ours.values[name]
            cells.append(f"{scale * difference:+9.2f} ({abs(scale) * width:6.2f})")
    return f"  {label:>22}  " + "  ".join(f"{cell:>18}" for cell in cells)


HEADER = (
    f"  {'':>22}  {'CL [%]':>18}  {'CDi [%]':>18}  {'span efficiency [%]':>18}"
    f"  {'Cl_beta [1/rad]':>18}"
)


def wake_direction(grid: Grid, angles: tuple[float, ...]) -> None:
    """Legs along the stream against legs along the craft's axis."""
    print("\nWake along the stream less wake along the craft's axis (half-width of the lattice)")
    print(HEADER)
    craft = load_biplane(CRAFT)
    for fold in WAKE_FOLDS_DEG:
        for alpha in angles:
            ours, other = (numbers(craft, fold, alpha, grid, wake) for wake in ("craft", "stream"))
            print(line(f"fold {fold:g}, alpha {alpha:g} deg", ours, other))


def corner_gap(grid: Grid, gaps_mm: tuple[float, ...]) -> None:
    """Box at -90 degrees whose tips end so far above the lower wing, against the closed one."""
    print("\nGap left at the corner of the box, fold -90 deg, alpha 4 deg, less the closed box")
    print(HEADER)
    closed = numbers(load_biplane(CRAFT), -90.0, 4.0, grid)
    for gap in gaps_mm:
        craft = changed(arrangement__gap_m=0.36 + 1e-3 * gap)
        print(line(f"{gap:g} mm", closed, numbers(craft, -90.0, 4.0, grid)))


def other_chords(grid: Grid, chords: tuple[float, ...]) -> None:
    """Box whose tips taper to another chord than the lower wing's end: what the lattice adds."""
    print("\nTips that end in another chord, fold -90 deg, alpha 4 deg: twice the rows and strips,")
    print("less the default (half-width of the default)")
    print(HEADER)
    finer = Grid(2 * grid.rows, 2 * grid.strips)
    for chord in chords:
        craft = changed(upper__tips__end_chord_m=chord)
        ours, other = (numbers(craft, -90.0, 4.0, one) for one in (grid, finer))
        print(line(f"end chord {chord:g} m", ours, other))


def section_slope(thickness: float) -> float:
    """Lift slope of a symmetric Joukowski section without friction [1/rad], derived.

    The circle of radius (1 + e) round -e maps by z + 1/z to a section with a cusp at 2 and the
    nose at -(1 + 2e) - 1/(1 + 2e); Kutta's condition gives cl = 8 pi (1 + e) sin(alpha) / chord.
    """
    from scipy.optimize import brentq

    def shape(e: float) -> tuple[float, float]:
        z = -e + (1.0 + e) * np.exp(1j * np.linspace(0.0, np.pi, 2001))
        outline = z + 1.0 / z
        return float(np.ptp(outline.real)), 2.0 * float(outline.imag.max())

    def excess(e: float) -> float:
        chord, thick = shape(e)
        return thick / chord - thickness

    e = float(brentq(excess, 0.0, 0.5))
    return 8.0 * np.pi * (1.0 + e) / shape(e)[0]


def with_slope(slope: float) -> Biplane:
    """The demo craft with straight section lift of a slope."""
    section = {"form": "parametric", "zero_lift_deg": -2.1, "lift_slope_per_rad": slope,
               "cl_max": 4.0, "cl_min": -4.0}  # fmt: skip
    return changed(sections={"foil": section})


def section_numbers(slope: float, fold: float, grid: Grid) -> tuple[float, float, float]:
    """Lift slope [1/rad], CDi over CL^2 and Cl_beta [1/rad] with sections of a slope, at 4 deg."""
    craft = with_slope(slope)
    lattice = build_lattice(craft, FoldAngles(fold, fold), grid)
    model = sectioned_lattice(craft, lattice)
    angles = np.radians([4.0, 4.0 + STEP_DEG, 4.0, 4.0])
    slips = np.radians([0.0, 0.0, -STEP_DEG, STEP_DEG])
    stream = SPEED * np.array(FlightState(angles, slips).wind())
    wide = np.broadcast_to(stream[:, None, :], (4, lattice.panels, 3))
    coupled = couple_strips(model, strip_onset(model, wide, standard_air()))
    forces = strip_forces(model, coupled, stream)
    pressure = 0.5 * standard_air().density_kg_m3 * SPEED**2 * lattice.reference.area
    force, moment = (part / pressure for part in forces.total())
    lift = force[:, 2] * np.cos(angles) - force[:, 0] * np.sin(angles)
    drag = np.sum(force * stream, axis=1) / SPEED
    roll = -moment[:, 0] / lattice.reference.span
    step = np.radians(STEP_DEG)
    lift_slope = float(lift[1] - lift[0]) / step
    return lift_slope, float(drag[0] / lift[0] ** 2), float(roll[3] - roll[2]) / (2.0 * step)


def speed_between(thickness: float, chord: float, gap: float) -> float:
    """Rise of the speed at one wing by the other's thickness, as a share of the airspeed [1].

    Derived: an ellipse of this thickness ratio turns the stream like a doublet of its area times
    1 + t/c, whose sideways velocity at a distance h is area (1 + t/c) / (2 pi h^2).
    """
    area = 0.25 * np.pi * thickness * chord**2
    return float(area * (1.0 + thickness) / (2.0 * np.pi * gap**2))


def thickness_left_out(grid: Grid, thicknesses: tuple[float, ...]) -> None:
    """Sections of a thickness, without friction, against thin ones; and the wings' displacement."""
    craft = load_biplane(CRAFT)
    assert craft.lower is not None
    print("\nSections of thickness t/c without friction, less thin ones; alpha 4 deg")
    print("   t/c  section slope      fold  CL_alpha [%]  CDi/CL^2 [%]  Cl_beta [1/rad]  speed [%]")
    for fold in (0.0, -90.0):
        thin = section_numbers(2.0 * np.pi, fold, grid)
        for thickness in thicknesses:
            slope = section_slope(thickness)
            found = section_numbers(slope, fold, grid)
            change = [100.0 * (a / b - 1.0) for a, b in zip(found[:2], thin[:2], strict=True)]
            faster = 100.0 * speed_between(thickness, 0.17, 0.36)
            print(
                f"  {thickness:4.2f} {slope:9.3f} 1/rad  {fold:7.0f}  {change[0]:+12.2f}"
                f"  {change[1]:+12.2f}  {found[2] - thin[2]:+15.4f}  {faster:+9.2f}"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a small lattice and few cases")
    few = parser.parse_args().quick
    grid, some = (Grid(4, 10), slice(0, 2)) if few else (Grid(), slice(None))
    wake_direction(grid, WAKE_ANGLES_DEG[some])
    corner_gap(Grid(4, 10) if few else CORNER, GAPS_MM[some])
    thickness_left_out(grid, THICKNESSES[some])
    other_chords(grid, OTHER_CHORDS_M[some])


if __name__ == "__main__":
    main()
