"""Still pictures of a scene from named directions, and VTK files for other programs."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.disk import temporary_folder, write_whole
from vlm.errors import InputRefused
from vlm.show.scenes.scene import (
    LOAD,
    POSITIVE,
    PRESSURE,
    TITLES,
    Meshes,
    Scales,
    meshes,
    pyvista,
    surface_mesh,
)
from vlm.show.scenes.schemes import DARK_GROUND, DARK_INK, DRAWING
from vlm.show.style import DIVERGING
from vlm.show.words import hinge_lines, number_lines
from vlm.study.point.session import Scene

TEXT_SIZE, STILL_TEXT_SIZE, GROUND_OPACITY = 14, 15, 0.8
INK = "#1c2733"
HINGE = "#a0266b"
FORCE = "#c25400"
WAKE = "#8796a5"
BACKGROUND = "white"
SIZE = (1400, 900)
AXIS_NAMES, ALONG = ("x aft", "y starboard", "z up"), 0.99
# Where the craft stands beside its numbers, in half pictures to the left and up.
# Where the craft stands, and how much smaller, beside the numbers in the upper left corner.
ASIDE, SMALLER = (-0.22, 0.12), 0.87


@dataclass(frozen=True)
class Paper:
    """Colours of what is drawn on, of letters and outlines, hinge lines, and forces on tips."""

    ground: str
    ink: str
    hinge: str
    force: str


LIGHT = Paper(BACKGROUND, INK, HINGE, FORCE)
DARK = Paper(DARK_GROUND, DARK_INK, DRAWING[HINGE], DRAWING[FORCE])


@dataclass(frozen=True)
class Direction:
    """Where the viewer stands: unit vector from craft to eye, what is up, how it is said."""

    eye: tuple[float, float, float]
    up: tuple[float, float, float]
    words: str
    parallel: bool = True


DIRECTIONS: dict[str, Direction] = {
    "three-quarter": Direction((-1.0, 0.75, 0.6), (0, 0, 1), "from ahead, starboard, above", False),
    "front": Direction((-1.0, 0.0, 0.0), (0, 0, 1), "from ahead: starboard is on the left"),
    "rear": Direction((1.0, 0.0, 0.0), (0, 0, 1), "from behind: port is on the left"),
    "side": Direction((0.0, 1.0, 0.0), (0, 0, 1), "from starboard: the nose points right"),
    "top": Direction((0.0, 0.0, 1.0), (-1, 0, 0), "from above: the nose points up"),
}


def axis_names(direction: str) -> tuple[str, str, str]:
    """What stands at the ends of the axes; nothing at one that points along the view.

    Its end stands over the others' origin, and its name would stand over theirs.
    """
    eye = np.abs(DIRECTIONS[direction].eye) / np.linalg.norm(DIRECTIONS[direction].eye)
    x, y, z = (
        "" if along > ALONG else name for name, along in zip(AXIS_NAMES, eye.tolist(), strict=True)
    )
    return x, y, z


def aimed(plotter: Any, name: str, scene: Scene, reach: float = 0.74) -> None:
    """Look at a scene from a named direction; ``reach`` is half the picture's height in spans."""
    direction = DIRECTIONS[name]
    corners = np.concatenate([s.corners.reshape(-1, 3) for s in scene.surfaces])
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    eye = np.array(direction.eye) / np.linalg.norm(direction.eye)
    camera = plotter.camera
    camera.focal_point = tuple(middle)
    camera.up = direction.up
    if direction.parallel:
        camera.position = tuple(middle + 4.0 * scene.size * eye)
        plotter.enable_parallel_projection()
        camera.parallel_scale = reach * scene.size * 0.8
    else:
        plotter.disable_parallel_projection()
        camera.view_angle = 28.0
        camera.position = tuple(middle + 1.75 * scene.size * eye)
    plotter.reset_camera_clipping_range()


def add_surface(
    plotter: Any, mesh: Any, colouring: str, scales: Scales, paper: Paper = LIGHT
) -> Any:
    """The panels, coloured by one of their arrays, with a bar; returns the actor."""
    limit = scales.limits[colouring]
    return plotter.add_mesh(
        mesh, scalars=colouring, cmap=DIVERGING, clim=(-limit, limit), show_edges=True,
        edge_color="#5b6b7a", line_width=0.6, lighting=False, name="surface", copy_mesh=False,
        scalar_bar_args={
            "title": TITLES[colouring].replace(" [", "\n[") + "\n",
            "n_labels": 5, "fmt": "%.3g", "color": paper.ink,
            "vertical": True, "position_x": 0.9, "position_y": 0.05, "width": 0.055,
            "height": 0.42, "title_font_size": 15, "label_font_size": 14,
        },
    )  # fmt: skip


def add_lines(plotter: Any, parts: Meshes, paper: Paper = LIGHT) -> None:
    """Wake traces, loads along the span, hinge lines and the forces on the tips."""
    plotter.add_mesh(parts.wake, color=WAKE, opacity=0.5, line_width=1, name="wake")
    plotter.add_mesh(
        parts.load, color="#3b7dbf", opacity=0.16, lighting=False, name="load",
        show_scalar_bar=False,
    )  # fmt: skip
    plotter.add_mesh(parts.outline, color=paper.ink, line_width=1.5, name="outline")
    if parts.hinges.n_points:
        plotter.add_mesh(parts.hinges, color=paper.hinge, line_width=5, name="hinges")
        plotter.add_mesh(parts.forces, color=paper.force, line_width=3, name="forces")


def written(
    plotter: Any, text: str, corner: str, name: str, size: int = TEXT_SIZE, paper: Paper = LIGHT
) -> None:
    """Text in a corner on a ground of its own, so that the wake behind it leaves it readable.

    Lines at the right are padded to one width: they start below each other as at the left.
    """
    if corner.endswith("right"):
        widest = max(len(line) for line in text.splitlines())
        text = "\n".join(line.ljust(widest) for line in text.splitlines())
    from matplotlib.colors import to_rgb

    actor = plotter.add_text(
        text, position=corner, font="courier", color=paper.ink, name=name, render=False
    )
    actor.SetMinimumFontSize(size)
    actor.SetMaximumFontSize(size)
    ground = actor.GetTextProperty()
    ground.SetBackgroundColor(*to_rgb(paper.ground))
    ground.SetBackgroundOpacity(GROUND_OPACITY)


def caption(scene: Scene) -> str:
    """Title, setting and key numbers with their signs in words."""
    setting = scene.setting
    moments = {name: hinge.moment for name, hinge in scene.hinges.items()}
    lines = [
        scene.title,
        f"fold port {setting.left_deg:g}, starboard {setting.right_deg:g} deg",
        f"angle of attack {setting.alpha_deg:g}, sideslip {setting.beta_deg:g} deg,"
        f" {setting.airspeed_m_s:g} m/s",
        "",
        *number_lines(scene.numbers, scene.half_widths, scene.errors, scene.turned),
    ]
    if moments:
        lines += ["", "hinge moments", *hinge_lines(moments, scene.half_widths, scene.errors)]
    return "\n".join([*lines, *(f"warning: {text.partition(';')[0]}" for text in scene.warnings)])


def foot(scene: Scene, seen: str) -> str:
    """The line below a picture: from where it is seen, what is drawn, and the caution."""
    tips = "; orange: the air's force on each tip" if scene.hinges else ""
    return f"seen {seen}; loads {POSITIVE}{tips}. {SHORT_CAUTION.partition(':')[0]}"


def still(
    scene: Scene,
    direction: str = "three-quarter",
    colouring: str = PRESSURE,
    size: tuple[int, int] = SIZE,
    *,
    numbers: bool = True,
    paper: Paper = LIGHT,
) -> Any:
    """A picture of a scene without a window.

    Parameters
    ----------
    direction : one of :data:`DIRECTIONS`
    colouring : the array that colours the panels
    size : width and height [pixels]
    numbers : whether key numbers stand beside the craft
    paper : its colours

    Returns
    -------
    pixels, shape (height, width, 3)
    """
    pv = pyvista()
    scales = Scales.of(scene)
    parts = meshes(scene, scales)
    plotter = pv.Plotter(off_screen=True, window_size=list(size))
    try:
        plotter.set_background(paper.ground)
        plotter.enable_anti_aliasing("ssaa")
        add_surface(plotter, parts.surface, colouring, scales, paper)
        add_lines(plotter, parts, paper)
        x, y, z = axis_names(direction)
        plotter.add_axes(xlabel=x, ylabel=y, zlabel=z, color=paper.ink)
        if numbers:
            written(plotter, caption(scene), "upper_left", "numbers", STILL_TEXT_SIZE, paper)
        seen = foot(scene, DIRECTIONS[direction].words)
        plotter.add_text(seen, position="lower_left", font_size=8, color=paper.ink)
        aimed(plotter, direction, scene)
        if numbers:
            plotter.camera.SetWindowCenter(*ASIDE)
            plotter.camera.zoom(SMALLER)
        return plotter.screenshot(return_img=True)
    finally:
        plotter.close()


def picture_bytes(pixels: Any) -> bytes:
    """Pixels as a PNG file."""
    from io import BytesIO

    from matplotlib.image import imsave

    stream = BytesIO()
    imsave(stream, pixels, format="png")
    return stream.getvalue()


def save_polydata(scene: Scene, path: Path) -> None:
    """Write the panels as VTK PolyData (.vtp) or triangles (.stl, in metres), whole or not at all.

    Raises
    ------
    InputRefused : the extra is not installed
    """
    with temporary_folder() as folder:
        written = folder / f"panels{path.suffix}"
        mesh = surface_mesh(scene)
        (mesh.triangulate() if path.suffix == ".stl" else mesh).save(written)
        write_whole(path, written.read_bytes())


def checked_direction(name: str) -> str:
    """A known direction.

    Raises
    ------
    InputRefused : there is no such direction
    """
    if name not in DIRECTIONS:
        raise InputRefused(f"--from {name}; known are {', '.join(DIRECTIONS)}")
    return name


__all__ = ["DIRECTIONS", "LOAD", "PRESSURE", "picture_bytes", "save_polydata", "still"]
