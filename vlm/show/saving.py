"""Pictures written whole or not at all, the same bytes for the same figure."""

import io
from pathlib import Path
from typing import TYPE_CHECKING

from vlm.disk import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

UNDATED = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}


def save_figure(figure: "Figure", path: Path) -> None:
    """Write a figure in the form that the path's ending names; a stopped run leaves no half.

    The file holds no date and no names drawn at random, so that the same command writes it again.

    Raises
    ------
    OSError : the folder or the disk does not take it
    """
    import matplotlib

    form = path.suffix.removeprefix(".")
    stream = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "foldspan"}):
        figure.savefig(stream, format=form, metadata=UNDATED.get(form))
    write_whole(path, stream.getvalue())
