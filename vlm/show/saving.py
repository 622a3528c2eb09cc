"""Pictures written whole or not at all."""

import io
from pathlib import Path
from typing import TYPE_CHECKING

from vlm.disk import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def save_figure(figure: "Figure", path: Path) -> None:
    """Write a figure in the form that the path's ending names; a stopped run leaves no half.

    Raises
    ------
    OSError : the folder or the disk does not take it
    """
    stream = io.BytesIO()
    figure.savefig(stream, format=path.suffix.removeprefix("."))
    write_whole(path, stream.getvalue())
