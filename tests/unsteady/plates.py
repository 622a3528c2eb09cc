"""Flat wings and motions that the checks of the unsteady lattice share."""

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.unsteady.course import Course
from vlm.unsteady.forces import load_history
from vlm.unsteady.march import march

CHORD = 2.0  # semi-chord 1 m, so that one second at 1 m/s is one semi-chord
STREAM = np.array([1.0, 0.0, 0.0])
SECTION_SLOPE = 2.0 * np.pi


def rectangle(aspect_ratio: float, grid: Grid) -> Lattice:
    wing = {
        "span_m": aspect_ratio * CHORD,
        "root_chord_m": CHORD,
        "end_chord_m": CHORD,
        "camber": "flat",
    }
    return lattice_of({"title": "plate", "upper": wing}, grid)


def ellipse(aspect_ratio: float, grid: Grid) -> Lattice:
    """An elliptic wing whose root chord is 2 m, straight mid-chord line."""
    span = 0.25 * np.pi * aspect_ratio * CHORD
    angles = 0.5 * np.pi * np.arange(97) / 96
    chords = CHORD * np.maximum(np.cos(angles), 1e-3)
    stations = [
        {"y_m": 0.5 * span * np.sin(t), "x_m": 0.5 * (CHORD - c), "chord_m": c}
        for t, c in zip(angles, chords, strict=True)
    ]
    return lattice_of({"title": "ellipse", "upper": {"stations": stations}}, grid)


def lattice_of(described: dict[str, object], grid: Grid, fold: float = 0.0) -> Lattice:
    return build_lattice(Biplane.model_validate(described), FoldAngles(fold, fold), grid)


def heave(lattice: Lattice, upwash) -> Course:  # type: ignore[no-untyped-def]
    """The whole wing in an upwash that depends on time alone [m/s]."""

    def gust(time: float, points: Floats) -> Floats:
        return np.tile([0.0, 0.0, upwash(time)], (len(points), 1))

    return Course(lattice=lattice, stream=STREAM, gust=gust, density=1.0)


def sudden_start(lattice: Lattice, step: float, end: float) -> tuple[Floats, Floats]:
    """Times past the impulse, and the lift over that of the section of infinite span."""
    loads = load_history(
        march(heave(lattice, lambda t: 1.0), step, round(end / step), from_steady=False)
    )
    area = lattice.reference.area
    return loads.times[1:], loads.force()[1:, 2] / (0.5 * area * SECTION_SLOPE)


def middle_strip(lattice: Lattice, forces: Floats) -> Floats:
    """Lift per span of the strip next to the middle [N/m], from forces of strips."""
    return np.asarray(forces[:, 0, 2] / lattice.patches[0].width[0])


def amplitude(times: Floats, values: Floats, frequency: float) -> complex:
    """Complex amplitude of exp(i frequency t) over the last period."""
    waves = np.stack([np.cos(frequency * times), -np.sin(frequency * times)], axis=1)
    last = times > times[-1] - 2.0 * np.pi / frequency
    return complex(*np.linalg.lstsq(waves[last], values[last], rcond=None)[0])
