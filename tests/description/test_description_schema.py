"""The JSON Schema and the input reference: complete, true to the models, with units."""

import json
import re
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from vlm.description import keys, load_biplane, load_biplane_text
from vlm.description.reference_page import input_reference_markdown
from vlm.description.schema import biplane_json_schema
from vlm.errors import InputRefused

SUFFIXES = {
    "_N_s_m": "N s/m", "_rad_s_m": "rad s/m", "_rad_m": "rad/m",
    "_deg_s": "deg/s", "_m_s2": "m/s^2", "_m_s": "m/s", "_kg_m3": "kg/m^3", "_kg_m2": "kg m^2",
    "_N_m": "N m", "_deg": "deg", "_kg": "kg", "_m2": "m^2", "_Pa": "Pa", "_m": "m", "_s": "s",
    "_W": "W", "_A": "A", "_V": "V",
}  # fmt: skip
ALL_KEYS = sorted(set(keys.all_keys()))


SHIPPED = sorted((Path(__file__).parents[2] / "geometries").glob("*.toml"))
VALIDATOR = Draft202012Validator(biplane_json_schema())
SMALL = "title = 'x'\n[upper]\nspan_m = 3\nroot_chord_m = 2\nend_chord_m = 1\n"


def test_it_is_a_json_schema_and_plain_json():
    schema = biplane_json_schema()
    Draft202012Validator.check_schema(schema)
    assert json.loads(json.dumps(schema, allow_nan=False)) == schema
    assert "null" not in json.dumps(schema)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_and_canonical_files_keep_to_the_schema(path):
    text = path.read_text(encoding="utf-8")
    assert list(VALIDATOR.iter_errors(tomllib.loads(text))) == []
    canonical = load_biplane(path).to_toml()
    assert list(VALIDATOR.iter_errors(tomllib.loads(canonical))) == []


@pytest.mark.parametrize(
    "text",
    [
        "",
        SMALL.replace("span_m = 3", "span = 3"),
        SMALL.replace("span_m = 3", "span_m = -3"),
        SMALL.replace("span_m = 3", "span_m = '3'"),
        SMALL.replace("span_m = 3\n", ""),
        SMALL.replace("span_m = 3", "stations = []"),
        f"{SMALL}sweep_deg = 90",
        f"{SMALL}[lower]",
        f"{SMALL}[reference]\nmoment_point_m = [1, 2]",
        f"{SMALL}[reference]\nmoment_point_m = 'cg'",
        f"{SMALL}[configurations]\na = {{ left_deg = 3 }}",
        f"{SMALL}[configurations]\na = {{ fold_deg = 0, left_deg = 0 }}",
        f"{SMALL}[configurations]\na = {{ fold_deg = 180 }}",
    ],
)
def test_what_the_schema_refuses_the_program_refuses(text):
    assert list(VALIDATOR.iter_errors(tomllib.loads(text)))
    with pytest.raises(InputRefused):
        load_biplane_text(text)


def test_a_minimal_file_passes_both():
    assert list(VALIDATOR.iter_errors(tomllib.loads(SMALL))) == []
    assert load_biplane_text(SMALL).upper.span_m == 3.0


@pytest.mark.parametrize(("block", "key"), ALL_KEYS, ids=lambda part: part or "top")
def test_every_key_is_described_with_its_unit(block, key):
    """The unit in brackets ends the description, and agrees with the key's suffix."""
    path = [*filter(None, block.split(".")), key]
    assert keys.unit_at(path), f"the description of {block}.{key} does not end in [unit]"
    suffix = next((s for s in SUFFIXES if key.endswith(s)), None)
    if suffix is not None and not key.endswith("_N_m_rad"):
        assert keys.unit_at(path) == SUFFIXES[suffix]


def test_the_reference_page_has_a_row_for_every_key():
    page = input_reference_markdown()
    sections = re.split(r"^## ", page, flags=re.M)[1:]
    assert len(sections) > 5
    for block, key in ALL_KEYS:
        heading = f"`[{block}]`" if block else "The top of the file"
        section = next(text for text in sections if heading in text.splitlines()[0])
        assert f"| `{key}` |" in section


def test_the_reference_page_tells_defaults_bounds_and_forms():
    page = input_reference_markdown()
    rows: dict[str, str] = {}
    for line in page.splitlines():
        if line.startswith("| `"):
            rows.setdefault(line.split("`")[1], line)
    assert "| deg | `179.0` | number, > -180, < 180 |" in rows["fold_max_deg"]
    assert "| m | needed | number, > 0 |" in rows["gap_m"]
    assert '| list of 3: number, or `"centre of gravity"` |' in rows["moment_point_m"]
    assert "| needed without `stations` |" in rows["root_chord_m"]
    assert "``" not in page
    columns = {line.count(" | ") for line in page.splitlines() if line.startswith("| `")}
    assert columns == {4}
