"""On dark ground the dark version of a figure stands in for the light one.

For FIGURE.svg with a FIGURE-dark.svg beside it both are put on the page; the theme shows the one
that suits its scheme.
"""

from pathlib import Path

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.transforms import SphinxTransform


def setup(app: Sphinx) -> dict[str, bool]:
    """Look through every page once it is read."""
    app.add_transform(DarkFigures)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


class DarkFigures(SphinxTransform):
    """Put the dark version beside each figure that has one."""

    default_priority = 200

    def apply(self, **_: object) -> None:
        """Double the images of one page."""
        folder = Path(self.document["source"]).parent
        for image in list(self.document.findall(nodes.image)):
            light = folder / image["uri"]
            dark = light.with_name(f"{light.stem}-dark{light.suffix}")
            if light.suffix != ".svg" or not dark.is_file():
                continue
            other = image.deepcopy()
            other["uri"] = str(Path(image["uri"]).with_name(dark.name))
            image["classes"].append("only-light")
            other["classes"].append("only-dark")
            place = image.parent.index(image)
            image.parent.insert(place + 1, other)
