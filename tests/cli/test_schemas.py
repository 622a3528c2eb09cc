"""What commands print with --json is as the published schemas say.

The checks are jsonschema's, a general library for the open standard (json-schema.org, draft
2020-12). Whatever any test prints is held against its schema too: see tests/conftest.py.
"""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from document_schemas import held_against_schema
from jsonschema import Draft202012Validator, ValidationError

from vlm.cli.commands import COMMANDS
from vlm.cli.main import main
from vlm.errors import InputRefused
from vlm.study.schemas import DOCUMENTS, document_schema

COARSE = ("--rows", "2", "--strips", "8")
CHEAP: dict[str, tuple[str, ...]] = {
    "check": ("check", "winnow"),
    "check, one wing": ("check", "plank"),
    "point": ("point", "tideline", "--alpha", "4", *COARSE),
    "point, relaxed": (
        "point", "plank", "--alpha", "4", "--wake", "relaxed", "--rows", "2", "--strips", "4",
    ),
    "point, no errors": ("point", "plank", "--alpha", "4", "--no-errors", *COARSE),
    "converge": ("converge", "plank", "--rows", "4", "--strips", "16"),
    "converge, within": ("converge", "plank", "--within", "20%"),
    "compare": ("compare", "tideline", "--fold", "0", "--fold", "15", "--no-power", *COARSE),
    "log": ("log", "tideline", "tideline-invented.csv", "--no-prediction"),
    "log-check": ("log", "tideline", "tideline-invented.csv", "--check"),
    "power-over": (
        "power", "tideline", "--configuration", "loiter", "--airspeeds", "12", "--no-intervals",
        "--over", "mass.body_kg=1.4,1.6", *COARSE,
    ),
    "design": (
        "design", "tideline", "--goal", "span efficiency", "--key", "arrangement.gap_m=0.3:0.4",
        "--starts", "1", *COARSE,
    ),
}  # fmt: skip
LONG: dict[str, tuple[str, ...]] = {
    "hinge": (
        "hinge",
        "tideline",
        "--folds",
        "-90,15",
        "--airspeeds",
        "4,12",
        "--gust-speed",
        "5",
        *COARSE,
    ),
    "roll": ("roll", "tideline", "--step", "60", *COARSE),
    "lateral": ("lateral", "tideline", "--folds", "0", *COARSE),
    "motion": ("motion", "tideline", "--to", "dash", *COARSE),
    "power": ("power", "tideline", "--airspeeds", "10,14,18", "--sensitivity", *COARSE),
    "schedule": ("schedule", "tideline", "--fold-count", "3", *COARSE),
    "mission": ("mission", "tideline", "--legs", "long_survey", "--fold-count", "3", *COARSE),
    "log": ("log", "tideline", "tideline-invented.csv", "--fit", "drag_area_m2"),
}


@pytest.mark.parametrize("name", CHEAP)
def test_cheap_documents(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*CHEAP[name], "--json"]) == 0
    held_against_schema(CHEAP[name][0], json.loads(capsys.readouterr().out))


def test_a_sweep_and_its_repetition(tmp_path: Any, capsys: pytest.CaptureFixture[str]) -> None:
    saved = str(tmp_path / "saved.nc")
    assert main(["sweep", "tideline", "--folds", "-30,0", "--out", saved, *COARSE, "--json"]) == 0
    held_against_schema("sweep", json.loads(capsys.readouterr().out))
    assert main(["rerun", saved, "--json"]) == 0
    held_against_schema("rerun", json.loads(capsys.readouterr().out))


@pytest.mark.slow
@pytest.mark.parametrize("name", LONG)
def test_long_documents(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*LONG[name], "--json"]) == 0
    held_against_schema(name, json.loads(capsys.readouterr().out))


def test_every_command_that_prints_json_has_a_schema() -> None:
    from vlm.cli.commands import load_command

    with_json = {
        name
        for name in COMMANDS
        if any(option.name == "as_json" for option in load_command(name).params)
    }
    assert with_json == set(DOCUMENTS) - {"log-check", "power-over"}
    assert {name.partition(",")[0] for name in CHEAP | LONG} | {"sweep", "rerun"} == set(DOCUMENTS)


def parts(schema: Any, name: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property of a schema, with its key."""
    if isinstance(schema, list):
        for item in schema:
            yield from parts(item)
    elif isinstance(schema, dict):
        for key, inner in schema.get("properties", {}).items():
            yield key, inner
        for key, inner in schema.items():
            yield from parts(inner, key)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_schemas_are_schemas_and_say_units(name: str) -> None:
    """Units by hand, from what the words of a key mean."""
    endings = {
        "airspeed_m_s": "m/s", "moment_N_m": "N m", "mass_kg": "kg", "fold_deg": "deg",
        "alpha_deg": "deg", "power_W": "W", "density_kg_m3": "kg/m^3", "span_m": "m",
        "damping_N_m_s": "N m s", "slope_N_m_deg": "N m/deg", "roll_rate_deg_s": "deg/s",
        "energy_Wh": "W h", "stiffness_N_m_rad": "N m/rad", "real_1_s": "1/s",
    }  # fmt: skip
    schema = document_schema(name)
    Draft202012Validator.check_schema(schema)
    defined = set(schema["$defs"])
    referred = set(json.dumps(schema).split("#/$defs/")[1:])
    assert {text.partition('"')[0] for text in referred} == defined
    for key, part in parts(schema):
        for ending, unit in endings.items():
            if key.endswith(ending) and "number" in json.dumps(part):
                assert part["unit"] == unit, key


def test_a_document_that_is_not_as_its_schema_says_is_noticed(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main([*CHEAP["point, no errors"], "--json"]) == 0
    good = json.loads(capsys.readouterr().out)
    assert good["error_estimate"] is None
    without = {key: part for key, part in good.items() if key != "state"}
    state = good["state"]
    for bad in (
        without,
        good | {"more": 1},
        good | {"state": state | {"alpha_deg": "4"}},
        good | {"strips": {}},
        good | {"wings": {"upper": {"CL": 0.4}}},
    ):
        with pytest.raises(ValidationError):
            held_against_schema("point", bad)


def test_a_row_without_numbers_says_why() -> None:
    """A row of hinge moments has all of its numbers, or a reason."""
    row = document_schema("hinge")["$defs"]["MomentRow"]
    checker = Draft202012Validator({**row, "$defs": document_schema("hinge")["$defs"]})
    asked = {"fold_deg": 0.0, "airspeed_m_s": 4.0, "load_factor": 1.0}
    assert not checker.is_valid(asked)
    assert checker.is_valid(asked | {"reason": "too slow"})


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "--of", "hinge"]) == 0
    assert json.loads(capsys.readouterr().out) == document_schema("hinge")
    assert main(["schema", "--of", "hinges"]) == 2
    assert "did you mean hinge?" in capsys.readouterr().err
    assert main(["schema", "--of", "nothing"]) == 2
    assert "a document nothing; there are" in capsys.readouterr().err
    with pytest.raises(InputRefused, match="no command prints a document view"):
        document_schema("view")
