"""On dark ground a dark version of each figure stands in for the light one.

That of a kept figure is made from it when the docs are built, that of a picture of the gallery with
it; both are put on the page, and the theme shows the one that suits its scheme.
"""

from pathlib import Path

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.transforms import SphinxTransform

DOCS = Path(__file__).parents[1]
FIGURES, DARK, GALLERY = DOCS / "figures", DOCS / "generated/dark", DOCS / "generated/gallery"


def setup(app: Sphinx) -> dict[str, bool]:
    """Make the dark versions, and look through every page once it is read."""
    app.connect("config-inited", lambda _app, _config: make_dark())
    app.add_transform(DarkFigures)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def make_dark() -> None:
    """Write the dark version of every drawn figure."""
    from vlm.show.scenes.schemes import darkened

    DARK.mkdir(parents=True, exist_ok=True)
    for light in FIGURES.glob("*.svg"):
        text = darkened(light.read_text(encoding="utf-8"))
        (DARK / f"{light.stem}-dark.svg").write_text(text, encoding="utf-8")


class DarkFigures(SphinxTransform):
    """Put the dark version beside each figure that has one."""

    default_priority = 200

    def apply(self, **_: object) -> None:
        """Double the images of one page."""
        folders = {"figures": ("dark", DARK), "gallery": ("gallery", GALLERY)}
        for image in list(self.document.findall(nodes.image)):
            light = Path(image["uri"])
            name = f"{light.stem}-dark{light.suffix}"
            made, folder = folders.get(light.parent.name, ("", None))
            if folder is None or not (folder / name).is_file():
                continue
            other = image.deepcopy()
            other["uri"] = f"/generated/{made}/{name}"
            image["classes"].append("only-light")
            other["classes"].append("only-dark")
            image.parent.insert(image.parent.index(image) + 1, other)
