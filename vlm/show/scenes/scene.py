"""A scene as meshes: panels with their loads, wake traces, loads along the span, hinges.

Needs the extra ``view`` (pyvista). Every array of the meshes carries its unit in its name.
"""

import os
import sys
from dataclasses import dataclass
from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.constants import Floats
from vlm.errors import InputRefused
from vlm.sides import Side
from vlm.study.point.session import Scene, SurfaceView

PRESSURE = "pressure_difference_Pa"
LOAD = "strip_load_N_m"
TITLES = {PRESSURE: "pressure difference [Pa]", LOAD: "load across the wing [N/m]"}
POSITIVE = "positive toward the upper side"
COLOURINGS = {"pressure": PRESSURE, "load": LOAD}
WINGS = ("upper", "lower")
WAKE_SPANS = 0.6
LOAD_SPANS = 0.16
LEAST_SHOWN, MOST_SHOWN = 0.1, 1.6
"""Longest load over that which suits, beyond which it is drawn on another scale [1]."""
CLIPPED_PERCENT = 90.0


def pyvista() -> Any:
    """The library behind the pictures, set up for a machine without a screen.

    Raises
    ------
    InputRefused : the extra is not installed
    """
    headless = sys.platform.startswith("linux") and not os.environ.get("DISPLAY")
    if headless:
        # Without a screen VTK would first look for one, and say so on standard error.
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    try:
        import pyvista as library
    except ImportError:
        raise InputRefused("pictures need the extra: pip install 'foldspan[view]'") from None
    return library


@dataclass(frozen=True)
class Meshes:
    """What a picture is made of.

    Attributes
    ----------
    surface : panels, with pressure difference, strip load, wing and tip as cell data
    wake : straight traces of the trailing vortices
    load : ribbons from the quarter chord up by the load, with the load as point data
    outline : edges of the wings
    hinges : hinge lines
    forces : arrows of the air's force on each tip, from the middle of its hinge
    """

    surface: Any
    wake: Any
    load: Any
    outline: Any
    hinges: Any
    forces: Any


def meshes(scene: Scene, scales: "Scales | None" = None) -> Meshes:
    """All meshes of a scene; ``scales`` keeps lengths of arrows the same from scene to scene."""
    scales = scales or Scales.of(scene)
    return Meshes(
        surface=surface_mesh(scene),
        wake=_lines(wake_points(scene)),
        load=_load_mesh(scene, scales.metre_per_load),
        outline=_lines(outline_points(scene)),
        hinges=_lines(np.array([h.ends for h in scene.hinges.values()]).reshape(-1, 2, 3)),
        forces=_lines(force_points(scene, scales.metre_per_newton)),
    )


@dataclass(frozen=True)
class Scales:
    """How long a load and a force are drawn, and where colours end.

    Attributes
    ----------
    metre_per_load : [m / (N/m)]
    metre_per_newton : [m/N]
    limits : largest value of the colours by array name, smallest is its negative
    """

    metre_per_load: float
    metre_per_newton: float
    limits: dict[str, float]

    @classmethod
    def of(cls, scene: Scene) -> "Scales":
        """Scales that suit a scene."""
        loads = np.concatenate([np.abs(s.strip_load) for s in scene.surfaces])
        pressures = np.concatenate([np.abs(s.pressure).ravel() for s in scene.surfaces])
        forces = [float(np.linalg.norm(h.force)) for h in scene.hinges.values()]
        length = LOAD_SPANS * scene.size
        return cls(
            length / max(float(loads.max()), 1e-9),
            1.3 * length / max([*forces, 1e-9]),
            {
                PRESSURE: _rounded_up(float(np.percentile(pressures, CLIPPED_PERCENT))),
                LOAD: _rounded_up(float(loads.max())),
            },
        )

    def suit(self, scene: Scene) -> bool:
        """Whether a scene's loads stay inside the picture on these scales, and show."""
        longest = max(float(np.abs(s.strip_load).max()) for s in scene.surfaces)
        forces = [float(np.linalg.norm(hinge.force)) for hinge in scene.hinges.values()]
        room = LOAD_SPANS * scene.size
        load, force = longest * self.metre_per_load, max([*forces, 0.0]) * self.metre_per_newton
        return LEAST_SHOWN * room <= load <= MOST_SHOWN * room and force <= 1.3 * MOST_SHOWN * room


def _rounded_up(value: float) -> float:
    """The next of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten."""
    if value <= 1e-9:
        return 1.0
    power = 10.0 ** np.floor(np.log10(value))
    steps = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
    return float(next(s for s in steps if s * power >= value * (1.0 - 1e-12)) * power)


def surface_mesh(scene: Scene) -> Any:
    """Panels as polygons with cell data named with their units.

    Returns
    -------
    pyvista PolyData: cell data pressure_difference_Pa, strip_load_N_m, wing (0 upper, 1 lower, 2 a
    fin), side (0 port, 1 starboard), tip (0 or 1); field data: title, setting, caution.
    """
    pv = pyvista()
    points, faces, offset = [], [], 0
    data: dict[str, list[Floats]] = {name: [] for name in (PRESSURE, LOAD, "wing", "side", "tip")}
    for surface in scene.surfaces:
        rows, strips = surface.pressure.shape
        points.append(surface.corners.reshape(-1, 3))
        first = offset + np.arange(rows)[:, None] * (strips + 1) + np.arange(strips)
        quads = np.stack([first, first + 1, first + strips + 2, first + strips + 1], axis=-1)
        faces.append(np.insert(quads.reshape(-1, 4), 0, 4, axis=1))
        offset += (rows + 1) * (strips + 1)
        data[PRESSURE].append(surface.pressure.ravel())
        data[LOAD].append(np.tile(surface.strip_load, rows))
        wing = WINGS.index(surface.wing) if surface.part != "fin" else len(WINGS)
        marks = {"wing": wing, "side": int(surface.side is Side.STARBOARD),
                 "tip": int(surface.part == "tip")}  # fmt: skip
        for name, mark in marks.items():
            data[name].append(np.full(rows * strips, mark))
    mesh = pv.PolyData(np.concatenate(points), np.concatenate(faces).ravel())
    for name, parts in data.items():
        mesh.cell_data[name] = np.concatenate(parts)
    mesh.add_field_data([scene.title], "title")
    mesh.add_field_data([scene.setting.options()], "setting")
    mesh.add_field_data([SHORT_CAUTION], "caution")
    return mesh


def _lines(pieces: Floats) -> Any:
    """Polylines, shape (lines, points, 3)."""
    mesh = pyvista().PolyData()
    count, length = pieces.shape[:2]
    mesh.points = pieces.reshape(-1, 3)
    places = np.arange(count * length).reshape(count, length)
    mesh.lines = np.insert(places, 0, length, axis=1).ravel()
    return mesh


def wake_points(scene: Scene) -> Floats:
    """Both ends of every wake trace, shape (traces, 2, 3) [m]."""
    ends = scene.trailing + WAKE_SPANS * scene.size * scene.wake_direction
    return np.stack([scene.trailing, ends], axis=1)


def outline_points(scene: Scene) -> Floats:
    """Edges of all wings as short lines, shape (lines, 2, 3) [m]."""
    pieces: list[Floats] = []
    for surface in scene.surfaces:
        grid = surface.corners
        edges = (grid[0], grid[-1], grid[:, 0], grid[:, -1])
        pieces += [np.stack([edge[:-1], edge[1:]], axis=1) for edge in edges]
    return np.concatenate(pieces)


def force_points(scene: Scene, metre_per_newton: float) -> Floats:
    """Each force as an arrow of lines: a shaft and two barbs."""
    arrows = []
    for hinge in scene.hinges.values():
        start, shaft = hinge.ends.mean(axis=0), hinge.force * metre_per_newton
        end, along = start + shaft, hinge.ends[1] - hinge.ends[0]
        barb = 0.15 * np.linalg.norm(shaft) * along / np.linalg.norm(along)
        arrows.append([start, end, end - 0.2 * shaft + barb, end, end - 0.2 * shaft - barb])
    return np.array(arrows).reshape(-1, 5, 3)


def _load_mesh(scene: Scene, metre_per_load: float) -> Any:
    """A ribbon a surface, from the quarter chord out along the wing's normal by the load."""
    pv = pyvista()
    points, faces, loads, offset = [], [], [], 0
    for surface in scene.surfaces:
        base, load, normal = ribbon(surface)
        count = len(load)
        points += [base, base + load[:, None] * normal * metre_per_load]
        low = offset + np.arange(count - 1)
        faces.append(np.stack([0 * low + 4, low, low + 1, low + count + 1, low + count], axis=-1))
        loads += [load] * 2
        offset += 2 * count
    mesh = pv.PolyData(np.concatenate(points), np.concatenate(faces).ravel())
    mesh.point_data[LOAD] = np.concatenate(loads)
    return mesh


def ribbon(surface: SurfaceView) -> tuple[Floats, Floats, Floats]:
    """Quarter-chord points, load and normal at both edges and every strip's middle."""
    quarter = surface.corners[0] + 0.25 * (surface.corners[-1] - surface.corners[0])
    middles = 0.5 * (quarter[:-1] + quarter[1:])
    base = np.concatenate([quarter[:1], middles, quarter[-1:]])
    ends = np.r_[0, np.arange(len(middles)), len(middles) - 1]
    return base, surface.strip_load[ends], surface.strip_normal[ends]
