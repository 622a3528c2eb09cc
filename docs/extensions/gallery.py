"""The gallery: pictures of the shipped craft, made from their files when the docs are built."""

from dataclasses import dataclass
from pathlib import Path

from vlm.description import load_biplane
from vlm.lattice.cellule import Grid
from vlm.show.scenes.pictures import DARK, LIGHT, picture_bytes, still
from vlm.show.scenes.scene import COLOURINGS
from vlm.show.scenes.scene_page import scene_page
from vlm.study.point.session import Session, Setting

GRID = Grid(6, 18)
SIZE = (1200, 760)


@dataclass(frozen=True)
class Picture:
    """One picture: which craft, how, from where, and what there is to see."""

    name: str
    craft: str
    setting: Setting
    direction: str
    colour: str
    words: str

    def command(self) -> str:
        """The command that makes it."""
        return (
            f"foldspan view {self.craft} {self.setting.options()} --from {self.direction}"
            f" --colour {self.colour} --rows {GRID.rows} --strips {GRID.strips} -o {self.name}.png"
        )


PICTURES = (
    Picture("tideline-loiter", "tideline", Setting(15.0, 15.0, 4.0), "three-quarter", "pressure",
            "Tideline with its tips raised by 15 degrees: the load runs on over the hinges."),
    Picture("tideline-box", "tideline", Setting(-90.0, -90.0, 6.0), "three-quarter", "pressure",
            "The same with its tips down by 90 degrees: they close a box and push outward."),
    Picture("tideline-roll", "tideline", Setting(30.0, -90.0, 6.0), "rear", "load",
            "One tip up, one down, from behind: the starboard wing has lost its tip's lift and goes"
            " down."),
    Picture("winnow-slip", "winnow", Setting(10.0, 10.0, 5.0, 8.0, 16.0), "three-quarter", "load",
            "Winnow, tapered, swept and staggered, in a sideslip of 8 degrees from starboard."),
    Picture("turnstone-scissors", "turnstone", Setting(40.0, 40.0, 5.0), "front", "load",
            "Turnstone has tips on both wings; a linkage lowers the lower ones as the upper rise."),
    Picture("ellipse-top", "ellipse", Setting(alpha_deg=5.0), "top", "pressure",
            "The elliptic wing from above: the pressure crowds at the leading edge."),
)  # fmt: skip


def make_gallery(generated: Path) -> None:
    """Write the pictures, the list that shows them, and a page to turn."""
    folder = generated / "gallery"
    folder.mkdir(parents=True, exist_ok=True)
    blocks = []
    for picture in PICTURES:
        scene = Session(load_biplane(picture.craft), GRID).scene_with_errors(picture.setting)
        for paper, ending in ((LIGHT, ""), (DARK, "-dark")):
            colours = COLOURINGS[picture.colour]
            pixels = still(scene, picture.direction, colours, SIZE, paper=paper)
            (folder / f"{picture.name}{ending}.png").write_bytes(picture_bytes(pixels))
        blocks.append(
            f"```{{figure}} generated/gallery/{picture.name}.png\n:alt: {picture.words}\n\n"
            f"{picture.words} `{picture.command()}`\n```\n"
        )
    (generated / "lists").mkdir(parents=True, exist_ok=True)
    (generated / "lists/gallery.md").write_text("\n".join(blocks), encoding="utf-8")
    extra = generated / "extra"
    extra.mkdir(parents=True, exist_ok=True)
    session = Session(load_biplane("tideline"), GRID)
    scene = session.scene_with_errors(Setting(30.0, -60.0, 5.0))
    (extra / "tideline-scene.html").write_text(scene_page(scene), encoding="utf-8")
