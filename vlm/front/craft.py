"""The craft that questions are asked of, and how it is opened."""

from pathlib import Path

from vlm.description.loading import load_biplane, load_biplane_text
from vlm.errors import InputRefused
from vlm.front.loads import WithLoads
from vlm.front.motion import WithMotion
from vlm.front.plans import WithPlans
from vlm.front.values import plain


class Craft(WithLoads, WithMotion, WithPlans):
    """A craft that questions are asked of; made by :func:`open_craft`, never changed."""


def open_craft(source: str | Path | None = None, /, **tables: object) -> Craft:
    """Open a craft: by shipped name, by path of a geometry file, or by tables given as keywords.

    Lists, tuples and numpy arrays are alike in tables.

    Raises
    ------
    InputRefused : there is no such file, or it does not describe a craft that can be
    """
    if (source is None) is not bool(tables):
        raise InputRefused("give a name or path, or the tables of a geometry file as keywords")
    if source is not None:
        if not isinstance(source, str | Path):
            raise InputRefused(f"{source!r:.60} is no name or path of a geometry file")
        return Craft(load_biplane(source))
    import tomli_w

    try:
        text = tomli_w.dumps(plain(tables))
    except (TypeError, ValueError) as error:
        raise InputRefused(f"(keywords): {error}") from None
    return Craft(load_biplane_text(text, "(keywords)"))
