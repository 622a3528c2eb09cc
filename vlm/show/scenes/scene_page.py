"""A scene as one page for a browser: offline, turned by drag, drawn on a plain canvas."""

from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.constants import Floats
from vlm.show.page import embedded_json, escaped, filled, part
from vlm.show.scenes.pictures import DIRECTIONS
from vlm.show.scenes.scene import (
    LOAD,
    PRESSURE,
    TITLES,
    Scales,
    force_points,
    outline_points,
    ribbon,
    wake_points,
)
from vlm.show.style import DIVERGING, scale_colours
from vlm.show.words import hinge_lines, number_lines
from vlm.study.point.session import Scene, SurfaceView

COLOURS = 41
DIGITS = 5


def scene_page(scene: Scene) -> str:
    """The whole page as text."""
    setting = scene.setting
    moments = {name: hinge.moment for name, hinge in scene.hinges.items()}
    numbers = number_lines(scene.numbers, scene.half_widths, scene.errors, scene.turned)
    if moments:
        numbers += ["", "hinge moments", *hinge_lines(moments, scene.half_widths, scene.errors)]
    words = (
        f"fold port {setting.left_deg:g}°, starboard {setting.right_deg:g}°;"
        f" angle of attack {setting.alpha_deg:g}°, sideslip {setting.beta_deg:g}°;"
        f" {setting.airspeed_m_s:g} m/s at {setting.density_kg_m3:g} kg/m³"
    )
    return filled(
        part("scene.html"),
        {
            "title": escaped(scene.title),
            "setting": escaped(words),
            "look": part("look.css"),
            "stage": part("stage.css"),
            "numbers": escaped("\n".join([*numbers, *scene.warnings])),
            "caution": escaped(SHORT_CAUTION),
            "data": embedded_json(scene_document(scene)),
            "script": part("scene.js"),
        },
    )


def scene_document(scene: Scene) -> dict[str, Any]:
    """What the page's script draws: polygons and lines in geometry axes [m], and their values."""
    scales = Scales.of(scene)
    corners = np.concatenate([s.corners.reshape(-1, 3) for s in scene.surfaces])
    values = {
        PRESSURE: np.concatenate([s.pressure.ravel() for s in scene.surfaces]),
        LOAD: np.concatenate([np.tile(s.strip_load, len(s.pressure)) for s in scene.surfaces]),
    }
    return {
        "size": scene.size,
        "middle": _rounded(0.5 * (corners.min(axis=0) + corners.max(axis=0))),
        "colours": scale_colours(DIVERGING, COLOURS),
        "colourings": {
            name: {
                "title": TITLES[name],
                "limit": scales.limits[name],
                "values": [float(f"{v:.4g}") for v in values[name]],
            }
            for name in (PRESSURE, LOAD)
        },
        "directions": {name: list(direction.eye) for name, direction in DIRECTIONS.items()},
        "panels": _rounded(np.concatenate([_panels(s) for s in scene.surfaces])),
        "ribbons": _rounded(
            np.concatenate([_ribbons(s, scales.metre_per_load) for s in scene.surfaces])
        ),
        "wake": _rounded(wake_points(scene)),
        "outline": _rounded(outline_points(scene)),
        "hinges": _rounded(np.array([h.ends for h in scene.hinges.values()])),
        "forces": _rounded(force_points(scene, scales.metre_per_newton)),
    }


def _panels(surface: SurfaceView) -> Floats:
    grid = surface.corners
    quads = [grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]]
    return np.stack(quads, axis=2).reshape(-1, 4, 3)


def _ribbons(surface: SurfaceView, metre_per_load: float) -> Floats:
    base, load, normal = ribbon(surface)
    top = base + load[:, None] * normal * metre_per_load
    return np.stack([base[:-1], base[1:], top[1:], top[:-1]], axis=1)


def _rounded(values: Floats) -> Any:
    return np.round(values, DIGITS).tolist()
