"""Colours on light and on dark ground: readable text, pictures that follow the reader's choice.

Contrast and its limits: WCAG 2.2, relative luminance, contrast ratio, criteria 1.4.3 and 1.4.11.
"""

import re
from functools import cache

from vlm.show.style import COLOURS, MAP_INK, MAP_PAPER

TEXT_CONTRAST = 4.5
GROUND, INK = "#ffffff", "#000000"
DARK_GROUND, DARK_INK = "#12181f", "#e6edf4"
# Colours of the drawings of the craft, and what stands for them on dark ground.
DRAWING = {
    "#1c2733": DARK_INK,
    "#6b7885": "#94a3b3",
    "#a0266b": "#ef8fc4",
    "#cfe0ee": "#2a4a66",
    "#f4dcc5": "#5c4428",
    "#f0d9e6": "#57304a",
    "#c25400": "#ffa35c",
    "#00795a": "#5fd3a5",
}
STEP = 0.02


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue of #rrggbb, 0 to 255."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb [1]."""
    parts = [value / 255.0 for value in channels(colour)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours #rrggbb, from 1 to 21."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def blended(colour: str, other: str, share: float) -> str:
    """A colour moved towards another by a share of the way."""
    mixed = (a + share * (b - a) for a, b in zip(channels(colour), channels(other), strict=True))
    return "#" + "".join(f"{round(value):02x}" for value in mixed)


def _readable(colour: str, ground: str, towards: str) -> str:
    share = 0.0
    while contrast(found := blended(colour, towards, share), ground) < TEXT_CONTRAST:
        share += STEP
    return found


def text_colour(colour: str) -> str:
    """A line's colour #rrggbb, darkened where text in it would not be readable on white.

    The shade is at least 4.5 to 1 on white (criterion 1.4.3).
    """
    return _readable(colour.lower(), GROUND, INK)


def ink_over(colour: str) -> str:
    """What to write with on a filled map of one colour, in either scheme."""
    return max((MAP_INK, MAP_PAPER), key=lambda ink: contrast(ink, colour))


@cache
def dark_colours() -> dict[str, str]:
    """What stands on dark ground for each colour of lines, their labels and drawings."""
    found = dict(DRAWING)
    for colour in COLOURS[:-1]:
        light = _readable(colour.lower(), DARK_GROUND, DARK_INK)
        found |= {colour.lower(): light, text_colour(colour): light}
    return found


def on_dark(colour: str) -> str | None:
    """What stands for a colour #rrggbb on dark ground; None where it stays, as in filled maps."""
    if colour in (MAP_INK, MAP_PAPER):
        return None
    red, green, blue = channels(colour)
    if red == green == blue:
        return blended(DARK_INK, DARK_GROUND, red / 255.0)
    return dark_colours().get(colour)


def themed(svg: str) -> str:
    """SVG whose inks and grounds are variables of the page, with their light colours to fall on."""

    def variable(found: re.Match[str]) -> str:
        colour = found[2]
        if on_dark(colour) is None:
            return found[0]
        return f"{found[1]}: var(--c-{colour[1:]}, {colour})"

    return re.sub(r"\b(fill|stroke): (#[0-9a-f]{6})\b", variable, svg)


def darkened(svg: str) -> str:
    """SVG for dark ground: inks and grounds replaced, what has no colour of its own light.

    Colours of filled maps stay.
    """
    found = re.sub(
        r"\b(fill|stroke): (#[0-9a-f]{6})\b",
        lambda one: f"{one[1]}: {on_dark(one[2]) or one[2]}",
        svg,
    )
    return found.replace("<svg ", f'<svg fill="{DARK_INK}" ', 1)


def scheme_css(page: str) -> str:
    """Values of all variables that a page's pictures use, for screens of the dark scheme."""
    names = sorted({"000000", *re.findall(r"var\(--c-([0-9a-f]{6}),", page)})
    values = " ".join(f"--c-{name}: {on_dark('#' + name)};" for name in names)
    return f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {values} }} }}"
