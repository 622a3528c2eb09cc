"""Geometry files changed in place: only what differs is written again.

Source: the TOML specification (toml.io, version 1.0), by way of the standard library's reader, that
shares no code with the library that writes.
"""

import tomllib
from collections.abc import Mapping
from difflib import ndiff
from pathlib import Path
from typing import Any

import pytest

from vlm.description.editing import edited_toml, says_the_same
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.writing import as_tables
from vlm.study.design.report import _kept_text

CHANGES: dict[str, dict[str, Any]] = {
    "tideline": {"upper.tips.span_m": 0.4125, "arrangement.gap_m": 0.41, "rotors.1.radius_m": 0.1},
    "thistle": {"upper.root_chord_m": 0.21, "configurations.best.fold_deg": -31.5},
    "winnow": {"mass.body_kg": 6.5, "upper.incidence_deg": 1.25},
    "ellipse": {"upper.stations.1.chord_m": 0.19},
}


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    found = list(ndiff(before.splitlines(), after.splitlines()))
    return [d[2:] for d in found if d[:1] == "-"], [d[2:] for d in found if d[:1] == "+"]


@pytest.mark.parametrize("name", CHANGES)
def test_only_changed_lines_change_and_the_text_says_the_new_craft(name: str) -> None:
    was = load_biplane(name)
    becomes = was.overridden(CHANGES[name])
    text = edited_toml(was.source.text, was, becomes)
    gone, come = changed_lines(was.source.text, text)
    assert len(gone) <= len(CHANGES[name])
    assert len(come) <= len(CHANGES[name]) + 3
    assert [line for line in text.splitlines() if "#" in line] == [
        line for line in was.source.text.splitlines() if "#" in line
    ] or any("#" in line for line in gone)
    read = load_biplane_text(text, folder=was.folder)
    assert as_tables(read) == as_tables(becomes)
    assert says_the_same(text, becomes)
    assert not says_the_same(text, was)


def test_comments_beside_and_above_a_changed_value_stay() -> None:
    text = """# My craft, written by hand
title = "Hand-written"

[upper]
span_m = 1.0            # measured with a tape
root_chord_m = 0.2
# the tip is narrower
end_chord_m = 0.15      # to be settled
[mass]
body_kg = 1.50
body_centre_m = [0.05, 0.0, 0.0]
body_inertia_kg_m2 = [0.04, 0.03, 0.06]
"""
    was = load_biplane_text(text)
    becomes = was.overridden({"upper.end_chord_m": 0.17, "upper.washout_deg": 2.0})
    edited = edited_toml(text, was, becomes)
    assert "# the tip is narrower\nend_chord_m = 0.17      # to be settled\n" in edited
    assert "span_m = 1.0            # measured with a tape\n" in edited
    assert "body_kg = 1.50\n" in edited
    read: Mapping[str, Any] = tomllib.loads(edited)
    assert read["upper"]["washout_deg"] == 2.0
    assert read["upper"]["end_chord_m"] == 0.17


def test_the_file_of_a_design_keeps_the_users_comments(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("# only here\n" + load_biplane("plank").source.text)
    craft = load_biplane(own, ["upper.span_m=1.25"])
    made = craft.overridden({"upper.root_chord_m": 0.23})
    text = _kept_text(craft, made)
    assert text.startswith("# only here\n")
    read = tomllib.loads(text)
    assert (read["upper"]["span_m"], read["upper"]["root_chord_m"]) == (1.25, 0.23)
