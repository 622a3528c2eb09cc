"""What ``motion`` refuses is called what its user calls it: an option, or a key of the file."""

import re

import pytest

from vlm.cli.main import main
from vlm.cli.motion import KEYS, OPTIONS, command
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.study.motion.scenarios import scenario_of

BY_OPTION = [
    ("--jam right --jam-at-fold 200", "--jam-at-fold = 200; it must be less than 180 degrees"),
    ("--to dash --jam-at-fold 20", "--jam-at-fold is given without --jam; leave it out"),
    ("--jam left --at 2", "--at is given without --to, --to-left, --to-right; leave it out"),
    ("--to dash --speed-time 3", "--speed-time is given without --speed-to"),
    ("--to dash --gust-step", "--gust-step is given without --gust;"),
    ("--to dash --gust-speed 2", "--gust-speed is given without --gust;"),
    ("--to dash --gust-gradient 2", "--gust-gradient is given without --gust;"),
    ("--to dash --gust-at 2", "--gust-at is given without --gust;"),
    ("--to dash --let-go-at 1", "--let-go-at is given without --let-go"),
    ("--to dash --voltage-at 1", "--voltage-at is given without --voltage"),
    ("--to dash --lost-at 1", "--lost-at is given without --lost-rotor"),
    ("--to-left 200", "--to-left = 200"),
    ("--to-left 10 --at -1", "--at = -1; a time can't be negative"),
    ("--gust vertical", "--gust-speed = 0; it must be a speed"),
    ("--speed-to -1", "--speed-to = -1; it must be positive"),
    ("--speed-to 15 --speed-time -2", "--speed-time = -2"),
    ("--voltage 2", "--voltage = 2; it must be at most 1"),
    ("--to-left 10 --to dash", "either --to, a configuration, or --to-left and --to-right"),
    ("--follow 11:15", "--follow needs two airspeeds or more"),
    ("--follow 11:200,12:3", "--follow = 200"),
    ("--follow 11:15,12:3 --to dash", "either --follow or a command (--to, --to-left)"),
    ("--follow schedule --to dash", "(--follow schedule), or --follow, or a command (--to,"),
    ("--airspeed -3 --to dash", "--airspeed = -3; it must be positive"),
    ("--let-go left --let-go-at -1", "--let-go-at = -1"),
    ("--lost-rotor a --lost-at -1", "--lost-at = -1"),
    ("--gust side --gust-speed 2 --gust-gradient -1", "--gust-gradient = -1"),
]


@pytest.mark.parametrize(("words", "said"), BY_OPTION)
def test_a_refusal_names_the_option(
    capsys: pytest.CaptureFixture[str], words: str, said: str
) -> None:
    assert main(["motion", "tideline", *words.split()]) == 2
    told = capsys.readouterr().err
    assert said in told
    # None of the keys that it would be in a file, but for those that are words of the language.
    assert not set(re.findall(r"\w+", told)) & {key for key in KEYS.values() if "_" in key}


def test_a_refusal_names_the_key_of_the_file_where_that_is_wrong(
    capsys: pytest.CaptureFixture[str],
) -> None:
    # The scenario of the file names a configuration to go to; the option a fold of one side.
    assert main(["motion", "tideline", "--scenario", "dash", "--to-left", "10"]) == 2
    told = capsys.readouterr().err
    assert "give either to, a configuration, or --to-left and --to-right" in told


def test_from_python_it_names_keys() -> None:
    with pytest.raises(InputRefused, match=r"scenario\.jam_deg = 200; it must be less than 180"):
        scenario_of(load_biplane("tideline"), None, {"jam": "right", "jam_deg": 200.0})
    with pytest.raises(InputRefused, match="jam_deg is given without jam; leave it out"):
        scenario_of(load_biplane("tideline"), None, {"jam_deg": 20.0})


def test_options_are_those_of_the_command() -> None:
    known = {name for parameter in command.params for name in parameter.opts}
    assert {option.split()[0] for option in OPTIONS.values()} <= known
