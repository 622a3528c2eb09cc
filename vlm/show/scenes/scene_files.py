"""A scene written to a file: picture, VTK PolyData, triangles, or page for a browser."""

from pathlib import Path

from vlm.disk import write_whole
from vlm.errors import InputRefused
from vlm.study.point.session import Scene

ENDINGS = (".png", ".svg", ".vtp", ".stl", ".html")


def checked_file(path: Path) -> None:
    """Refuse a name that cannot be written.

    Raises
    ------
    InputRefused : another ending
    """
    if path.suffix not in ENDINGS:
        raise InputRefused(f"--out {path}; the ending must be .png, .svg, .vtp, .stl or .html")


def save_scene(
    scene: Scene, path: Path, direction: str, colour: str, *, numbers: bool = True
) -> None:
    """Write a scene, whole; the ending says as what.

    Raises
    ------
    InputRefused : another ending, or pictures without the extra 'view'
    """
    checked_file(path)
    from vlm.show.scenes import pictures
    from vlm.show.scenes.scene import COLOURINGS

    if path.suffix in (".vtp", ".stl"):
        pictures.save_polydata(scene, path)
    elif path.suffix == ".html":
        from vlm.show.scenes.scene_page import scene_page

        write_whole(path, scene_page(scene).encode())
    elif path.suffix == ".svg":
        from vlm.show.scenes.drawing import save_drawing

        save_drawing(scene, path, direction, COLOURINGS[colour], numbers=numbers)
    else:
        pixels = pictures.still(scene, direction, COLOURINGS[colour], numbers=numbers)
        write_whole(path, pictures.picture_bytes(pixels))
