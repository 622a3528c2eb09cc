"""Colours on light and dark ground, held against the contrasts that WCAG 2.2 asks for."""

import re

import pytest
from chromium import contrast as measured

from vlm.show.scenes.schemes import (
    DARK_GROUND,
    GROUND,
    channels,
    contrast,
    dark_colours,
    ink_over,
    on_dark,
    scheme_css,
    text_colour,
    themed,
)
from vlm.show.style import COLOURS, DIVERGING, MAP_INK, MAP_PAPER, SEQUENTIAL, scale_colours


def rgb(colour: str) -> str:
    return f"rgb{channels(colour)}"


def test_contrast_is_that_of_the_tests_own_formula() -> None:
    """And 21 to 1 for black on white (WCAG 2.2)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for colour in ("#0072b2", "#777777", "#12181f"):
        assert contrast(colour, "#ffffff") == pytest.approx(measured(rgb(colour), rgb("#ffffff")))


@pytest.mark.parametrize("colour", COLOURS)
def test_lines_stand_out_and_their_labels_are_readable(colour: str) -> None:
    """3 to 1 for what a picture draws, 4.5 to 1 for text (WCAG 2.2, 1.4.11 and 1.4.3)."""
    assert contrast(colour, GROUND) >= 3.0
    assert contrast(text_colour(colour), GROUND) >= 4.5
    light = on_dark(colour.lower())
    assert light is not None
    assert contrast(light, DARK_GROUND) >= 4.5
    label = on_dark(text_colour(colour))
    assert label is not None
    assert contrast(label, DARK_GROUND) >= 4.5


@pytest.mark.parametrize("scale", [DIVERGING, SEQUENTIAL])
def test_labels_over_maps_are_readable(scale: str) -> None:
    for colour in scale_colours(scale, 41):
        assert contrast(ink_over(colour), colour) >= 4.5


def test_inks_of_pictures_become_variables_that_the_page_sets() -> None:
    svg = (
        '<path style="fill: #ffffff; stroke: #0072b2"/><path style="fill: #e5e5e5"/>'
        f'<text style="fill: {MAP_INK}"/><path style="fill: #2d004b; stroke: {MAP_PAPER}"/>'
    )
    found = themed(svg)
    assert found.count("var(--c-") == 3
    assert "fill: var(--c-ffffff, #ffffff); stroke: var(--c-0072b2, #0072b2)" in found
    # Filled maps and what is written over them stay.
    assert f"fill: {MAP_INK}" in found
    assert "fill: #2d004b" in found
    css = scheme_css(found)
    assert css.startswith("@media screen and (prefers-color-scheme: dark)")
    assert set(re.findall(r"--c-([0-9a-f]{6}):", css)) == {"000000", "ffffff", "0072b2", "e5e5e5"}
    assert f"--c-ffffff: {DARK_GROUND}" in css


def test_no_two_lines_are_alike_on_dark_ground() -> None:
    lines = [dark_colours()[colour.lower()] for colour in COLOURS[:-1]]
    assert len(set(lines)) == len(lines)
