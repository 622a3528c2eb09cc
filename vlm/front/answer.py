"""What a study found, shown short, and as a table in a notebook."""

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, Literal, TypeVar

from vlm.cautions import SHORT_CAUTION
from vlm.errors import InputRefused, nearest_name
from vlm.findings import Finding
from vlm.front.values import one_of

if TYPE_CHECKING:
    import xarray as xr

    from vlm.study.point.session import Scene

T = TypeVar("T")
MOST_SHOWN = 230


@dataclass(frozen=True, repr=False)
class Answer(Generic[T]):
    """What a study found.

    Attributes
    ----------
    name, title : of the command that answers the same; of the craft
    result : the typed result
    document : the same as plain values, as the command's ``--json`` prints; ``answer["state"]``
        reads it
    text : the command's table
    dataset : labelled arrays, where the study has them
    """

    name: str
    title: str
    result: T
    document: Mapping[str, Any]
    text: str
    dataset: "xr.Dataset | None" = None

    def __getitem__(self, key: str) -> Any:
        """One part of the document.

        Raises
        ------
        InputRefused : there is no such part, with the nearest name
        """
        if key in self.document:
            return self.document[key]
        near = nearest_name(key, self.document)
        hint = f"did you mean {near}?" if near else f"there are {', '.join(self.document)}"
        raise InputRefused(f"{self.name} has no part {key!r}; {hint}")

    @property
    def answer(self) -> str:
        """What was found, in words: the first sentences below the head of the command's text."""
        paragraphs = [" ".join(part.split()) for part in self.text.split("\n\n")]
        return paragraphs[min(1, len(paragraphs) - 1)]

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """What is questionable about the numbers, each with its limit and remedy."""
        return tuple(Finding(**found) for found in self.document.get("findings", ()))

    def __repr__(self) -> str:
        """One line."""
        said = self.answer
        if len(said) > MOST_SHOWN:
            said = f"{said[:MOST_SHOWN].rpartition(' ')[0]} ..."
        return f"<{self.name} of {self.title}: {said} Warnings: {len(self.warnings)}.>"

    def _repr_html_(self) -> str:
        """The command's text, which holds its warnings, and the caution."""
        return f"<pre>{escape(self.text)}</pre><p>{escape(SHORT_CAUTION)}</p>"


@dataclass(frozen=True, repr=False)
class View:
    """A craft with its loads, shown in a notebook and written by :meth:`save`."""

    title: str
    scene: "Scene"

    def __repr__(self) -> str:
        """One line."""
        return f"<view of {self.title}>"

    def _repr_html_(self) -> str:
        """The page that is turned by drag, in a frame."""
        from vlm.show.scenes.scene_page import scene_page

        page = escape(scene_page(self.scene), quote=True)
        return f'<iframe srcdoc="{page}" title="{escape(self.title)}" width="100%" height="560">'

    def save(
        self,
        out: str | Path,
        *,
        direction: str = "three-quarter",
        colour: Literal["pressure", "load"] = "pressure",
        numbers: bool = True,
    ) -> Path:
        """Write a picture (.png), VTK PolyData (.vtp), triangles (.stl) or a page (.html).

        Returns its path.

        Raises
        ------
        InputRefused : another ending, direction or colour
        """
        from vlm.show.scenes.scene_files import save_scene

        one_of("colour", colour, ("pressure", "load"))
        save_scene(self.scene, Path(out), direction, colour, numbers=numbers)
        return Path(out)
