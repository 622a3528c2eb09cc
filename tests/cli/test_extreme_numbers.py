"""Numbers far from any craft: those of a file and of the air end in a result or a refusal.

No source but the promise itself: a result that is not a number is never printed as one, and a
number that can't be used is reported with one message, never with a warning of the arithmetic.
"""

import json

import pytest
from click.testing import CliRunner

from vlm.cli.main import foldspan, main
from vlm.description import keys
from vlm.description.loading import load_biplane

COARSE = ("--rows", "1", "--strips", "4", "--no-errors", "--json")
EXTREMES = ("1e300", "-1e300", "1e-300", "0")
GEOMETRY = ("upper", "upper.tips", "lower", "arrangement", "reference")


def numeric_keys() -> list[str]:
    """Keys of one number in the blocks that the loads depend on."""
    return [
        f"{block}.{key}"
        for block, key in keys.all_keys()
        if block in GEOMETRY
        and any(form.get("type") == "number" for form in keys.forms_at((*block.split("."), key)))
    ]


def test_the_walk_finds_the_keys() -> None:
    assert {"upper.span_m", "upper.tips.flare_deg", "reference.span_m"} <= set(numeric_keys())


@pytest.mark.parametrize("key", numeric_keys())
def test_every_number_of_the_geometry_at_its_ends(key: str, capsys) -> None:
    for value in EXTREMES:
        status = main(["point", "tideline", "--alpha", "4", "--set", f"{key}={value}", *COARSE])
        out, err = capsys.readouterr()
        assert status in (0, 2, 3), (value, err)
        if status == 0:
            found = json.loads(out)
            assert all(found["coefficients"][name] is not None for name in ("CL", "CDi", "Cl"))


@pytest.mark.parametrize("option", ["--airspeed", "--density", "--p-hat", "--q-hat", "--r-hat"])
@pytest.mark.parametrize("value", ["1e300", "1e155", "-1e300"])
def test_air_and_rates_far_beyond_flight_are_refused(option: str, value: str, capsys) -> None:
    assert main(["point", "tideline", "--alpha", "4", option, value, *COARSE]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"foldspan: {option} = ")


@pytest.mark.parametrize("command", ["roll", "lateral", "hinge", "power"])
def test_speeds_far_beyond_flight_are_refused(command: str, capsys) -> None:
    assert main([command, "tideline", "--airspeeds", "8,1e300"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "foldspan: --airspeeds" in err


def test_the_message_tells_the_largest_length() -> None:
    refused = CliRunner().invoke(foldspan, ["check", "tideline", "--set", "reference.span_m=1e300"])
    assert "reference.span_m = 1e+300; it must be at most 1e+09 metres" in str(refused.exception)


def test_lengths_a_millionth_and_a_million_are_numbers() -> None:
    for size in (1e-6, 1e6):
        assert load_biplane("plank", [f"upper.span_m={size}"]).upper.span_m == size
