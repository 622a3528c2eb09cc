"""Canonical TOML: what is written reads back to an equal description."""

import pickle
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from vlm.description import Biplane, Wing, load_biplane, load_biplane_text
from vlm.description.models import Source

LENGTHS = st.floats(1e-6, 1e6)
ANGLES = st.floats(-60.0, 60.0)
MEAN_LINES = st.sampled_from(["flat", "2412", "0012", "6309"])


def table(needed: dict[str, Any], optional: dict[str, Any]):
    return st.fixed_dictionaries(needed, optional=optional)


@st.composite
def stations(draw, first_chord=None):
    count = draw(st.integers(2, 4))
    steps = draw(st.lists(st.floats(0.01, 1.0), min_size=count - 1, max_size=count - 1))
    rows = [{"y_m": 0, "x_m": 0.0, "chord_m": first_chord or draw(LENGTHS)}]
    for step in steps:
        row = {"y_m": rows[-1]["y_m"] + step, "x_m": draw(ANGLES), "chord_m": draw(LENGTHS)}
        more = table({}, {"z_m": ANGLES, "twist_deg": ANGLES, "corner": st.booleans()})
        rows.append(row | draw(more))
    return rows


@st.composite
def tips(draw, hinge_chord):
    common = {
        "flare_deg": ANGLES,
        "fold_min_deg": st.floats(-179.0, 0.0),
        "fold_max_deg": st.floats(0.0, 179.0),
        "linkage": st.sampled_from([1, -1.0, 0.5]),
        "camber": MEAN_LINES,
    }
    if draw(st.booleans()):
        return draw(table({}, common)) | {"stations": draw(stations(hinge_chord))}
    needed = {"span_m": LENGTHS, "end_chord_m": LENGTHS}
    return draw(table(needed, {"sweep_deg": ANGLES, "washout_deg": ANGLES} | common))


@st.composite
def wings(draw):
    common = {"incidence_deg": ANGLES, "camber": MEAN_LINES}
    if draw(st.booleans()):
        wing = draw(table({}, common)) | {"stations": draw(stations())}
        hinge_chord = wing["stations"][-1]["chord_m"]
    else:
        needed = {"span_m": LENGTHS, "root_chord_m": LENGTHS, "end_chord_m": LENGTHS}
        optional = {"sweep_deg": ANGLES, "dihedral_deg": ANGLES, "washout_deg": ANGLES}
        wing = draw(table(needed, optional | common))
        hinge_chord = wing["end_chord_m"]
    if draw(st.booleans()):
        wing["tips"] = draw(tips(hinge_chord))
    return wing


@st.composite
def crafts(draw):
    names = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=8)
    craft: dict[str, Any] = {"title": draw(names), "upper": draw(wings())}
    if draw(st.booleans()):
        craft["lower"] = draw(wings())
        craft["arrangement"] = draw(table({"gap_m": LENGTHS}, {"stagger_m": ANGLES}))
    point = st.tuples(ANGLES, ANGLES, ANGLES)
    references = {"area_m2": LENGTHS, "span_m": LENGTHS, "moment_point_m": point}
    craft["reference"] = draw(table({}, references))
    flat = st.sampled_from([{"fold_deg": 0}, {"left_deg": 0.0, "right_deg": -0.0}])
    craft["configurations"] = draw(st.dictionaries(names, flat, max_size=2))
    return craft


@given(crafts())
def test_written_and_read_again_is_equal(data):
    craft = Biplane.model_validate(data)
    text = craft.to_toml()
    again = load_biplane_text(text)
    assert again == craft
    assert again.to_toml() == text
    assert hash(again) == hash(craft)


@given(crafts())
def test_every_number_written_is_the_number_given(data):
    """Held against Python's own TOML reader, key by key."""
    written = tomllib.loads(Biplane.model_validate(data).to_toml())

    def compare(given_value, found, path):
        if isinstance(given_value, dict):
            for key, value in given_value.items():
                if value != {}:
                    compare(value, found[key], f"{path}.{key}")
        elif isinstance(given_value, list | tuple):
            for i, value in enumerate(given_value):
                compare(value, found[i], f"{path}.{i}")
        else:
            assert found == given_value, path

    compare(data, written, "")


def test_canonical_text_of_a_small_craft():
    """Every key that has a value is written, in the order of the models, numbers as floats."""
    text = (
        'configurations = { b = { fold_deg = 0 } }\ntitle = "x"\n'
        "upper = { end_chord_m = 1, root_chord_m = 2, span_m = 3 }"
    )
    assert load_biplane_text(text).to_toml() == (
        'title = "x"\n\n[upper]\nspan_m = 3.0\nroot_chord_m = 2.0\nend_chord_m = 1.0\n'
        "sweep_deg = 0.0\ndihedral_deg = 0.0\nincidence_deg = 0.0\nwashout_deg = 0.0\n"
        'camber = "flat"\n\n[configurations.b]\nfold_deg = 0.0\n'
    )


def test_left_out_and_written_defaults_are_equal():
    plain = "{ span_m = 3, root_chord_m = 2, end_chord_m = 1 }"
    full = "{ span_m = 3, root_chord_m = 2, end_chord_m = 1, sweep_deg = 0, camber = 'flat' }"
    texts = [f"title = 'x'\nupper = {upper}" for upper in (plain, full)]
    assert load_biplane_text(texts[0]) == load_biplane_text(texts[1])
    assert load_biplane_text(texts[0]).upper == Wing(span_m=3, root_chord_m=2, end_chord_m=1)


def test_equality_is_that_of_the_craft_not_of_its_file():
    craft = load_biplane("tideline")
    moved = craft.from_source(Source("elsewhere.toml", "other text"))
    assert moved == craft
    assert moved.source_name == "elsewhere.toml"
    assert craft.source_name != "elsewhere.toml"
    assert craft.overridden(["title=Other"]) != craft
    assert craft != "tideline"


def test_a_craft_made_in_python_has_its_canonical_text_as_source():
    craft = Biplane(title="x", upper=Wing(span_m=3, root_chord_m=2, end_chord_m=1))
    assert craft.source_text == craft.to_toml()
    assert craft.folder is None


def test_copies_for_other_processes_keep_their_source():
    craft = load_biplane("tideline", ["arrangement.gap_m=0.4"])
    copy = pickle.loads(pickle.dumps(craft))
    assert copy == craft
    assert copy.source == craft.source


def test_a_description_cannot_be_changed():
    craft = load_biplane("tideline")
    with pytest.raises(ValidationError, match="frozen"):
        craft.upper.span_m = 2.0
    with pytest.raises(ValidationError, match="frozen"):
        craft.title = "x"
