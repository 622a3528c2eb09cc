"""The figures that the docs keep are those that their scripts draw, and can be read on dark ground.

Figures are kept so that a page can be read on a code host; docs/draw_figures.py draws them again.
"""

import importlib
import re
import sys
from pathlib import Path

import pytest

from vlm.show.scenes.schemes import DARK_GROUND, GROUND, contrast, darkened, luminance
from vlm.show.style import MAP_INK, MAP_PAPER

DOCS = Path(__file__).parents[2] / "docs"
sys.path.insert(0, str(DOCS))

from draw_figures import FIGURES, drawn, names  # noqa: E402 - a script of the docs

QUICK = ["conventions", "hinge_signs"]
NUMBER = re.compile(r"(?<![\w#])-?\d+\.?\d*(?![\w.])")
"""A number, not the digits of a name."""
LINES = re.compile(r"stroke: (#[0-9a-f]{6})")
LETTERS = re.compile(r"<text[^>]*fill: (#[0-9a-f]{6})")
OVER_MAPS = {MAP_INK, MAP_PAPER}


def alike(kept: str, new: str) -> bool:
    """Whether two pictures differ by rounding alone."""
    if NUMBER.sub("#", kept) != NUMBER.sub("#", new):
        return False
    pairs = zip(NUMBER.findall(kept), NUMBER.findall(new), strict=True)
    return all(abs(float(a) - float(b)) < 0.06 for a, b in pairs)


def kept(name: str) -> str:
    return (FIGURES / f"{name}.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=[] if n in QUICK else [pytest.mark.slow]) for n in names()]
)
def test_a_kept_figure_is_what_its_script_draws(name: str) -> None:
    assert alike(kept(name), drawn(name)), f"run python docs/draw_figures.py {name}"


@pytest.mark.parametrize("name", sorted(path.stem for path in FIGURES.glob("*.svg")))
def test_lines_and_letters_stand_out_on_dark_ground(name: str) -> None:
    """What reads on white reads on dark: lines 3 to 1 (WCAG 2.2, 1.4.11), letters 4.5 (1.4.3).

    But for what is drawn over filled maps, which keep their colours.
    """
    light, dark = kept(name), darkened(kept(name))
    for found, least in ((LINES, 3.0), (LETTERS, 4.5)):
        pairs = set(zip(found.findall(light), found.findall(dark), strict=True))
        inks = {
            pair for pair in pairs if pair[0] not in OVER_MAPS and contrast(pair[0], GROUND) >= 3.0
        }
        faint = {pair for pair in inks if contrast(pair[1], DARK_GROUND) < least}
        assert not faint
    root = re.search(r'<svg fill="(#[0-9a-f]{6})"', dark)
    assert root, "letters without a colour of their own would be black"
    assert contrast(root[1], DARK_GROUND) >= 4.5


@pytest.mark.parametrize(
    "name", ["architecture", "conventions", "hinge_signs", "lateral_signs", "roll_signs"]
)
def test_no_area_of_a_sketch_stays_pale_on_dark_ground(name: str) -> None:
    """An area a tenth as bright as white or more would glare, and light ink be lost in it."""
    areas = re.compile(r'<path [^>]*style="fill: (#[0-9a-f]{6})[^"]*stroke: ')
    pairs = zip(areas.findall(kept(name)), areas.findall(darkened(kept(name))), strict=True)
    pale = {pair for pair in pairs if luminance(pair[0]) > 0.5}
    assert not {pair for pair in pale if luminance(pair[1]) > 0.1}


def test_pictures_that_differ_are_reported_apart() -> None:
    assert alike("M 1.00 2", "M 1.01 2")
    assert not alike("M 1.00 2", "M 1.2 2")
    assert not alike("M 1.00 2", "L 1.00 2")


def test_every_figure_of_a_page_is_kept() -> None:
    pages = [*DOCS.glob("*.md"), *DOCS.glob("tutorials/*.md")]
    shown = [
        (page, name)
        for page in pages
        for name in re.findall(r"(?:\{figure\} |\]\()(\S*figures/[^\s)]+)", page.read_text())
    ]
    assert len(shown) > 20
    assert [(p.name, n) for p, n in shown if not (p.parent / n).is_file()] == []
    # Others would stand as white blocks on dark ground.
    assert [(p.name, n) for p, n in shown if not n.endswith(".svg")] == []


def test_every_script_of_a_figure_finds_what_it_imports() -> None:
    """Drawing takes minutes and is left to the slow tests; a name that moved is seen at once."""
    sys.path.insert(0, str(FIGURES))
    for name in names():
        importlib.import_module(name)
