"""Options say the same in every command: lists are plural, numbers have units, words are shared.

A pass over all commands as somebody new to them reads ``--help``.
"""

import re
from collections.abc import Iterator

import click
import pytest
from click.testing import CliRunner

from vlm.cli.commands import COMMANDS, load_command
from vlm.cli.main import foldspan
from vlm.cli.parameters import InputFile, OutputFile, OutputFolder
from vlm.show.tables.power import power_table

LISTS = "START:STOP:COUNT|A,B,C"
# One name, one meaning, one text; what a command says of its own stands here with the reason.
OWN_WORDS = {
    ("converge", "rows"): "the most of a study over lattices",
    ("converge", "strips"): "the most of a study over lattices",
    ("converge", "within"): "sought among the lattices studied",
    ("hinge", "gust-speed"): "of a sudden gust, upward alone",
    ("log", "rows"): "of the prediction alone",
    ("log", "strips"): "of the prediction alone",
    ("report", "alpha"): "of maps and tables, beside a sweep",
    ("lateral", "alphas"): "of the derivatives, beside level flight",
    ("power", "wake"): "without a wake that moves with the flow",
    ("power", "over"): "a table for each value",
    ("power", "configuration"): "may be repeated",
    ("power", "density"): "instead of the altitude's",
    ("schedule", "density"): "instead of the altitude's",
    ("mission", "density"): "instead of the altitude's",
    ("design", "density"): "instead of the altitude's",
    ("compare", "set"): "of all files",
    ("compare", "configuration"): "of every file",
    ("compare", "alpha"): "of one block of numbers",
    ("design", "airspeed"): "instead of the file's",
    ("design", "fold"): "instead of the file's",
    ("motion", "airspeed"): "instead of the scenario's",
    ("motion", "to-left"): "of any scenario, not of a roll",
    ("motion", "to-right"): "of any scenario, not of a roll",
    ("motion", "duration"): "of the scenario",
}
OWN_WORDS |= {
    (name, "airspeed"): "of level flight, within the file's range"
    for name in ("roll", "lateral", "hinge", "compare", "report")
}
OF_ITS_OWN = {"out", "folds", "airspeeds", "fold-count"}
PURE_NUMBERS = {"level", "p-hat", "q-hat", "r-hat"}


def options() -> Iterator[tuple[str, click.Option]]:
    """Every option of every command, with the command's name."""
    for name in COMMANDS:
        for parameter in load_command(name).params:
            if isinstance(parameter, click.Option):
                yield name, parameter


def long_name(option: click.Option) -> str:
    return next(text for text in option.opts if text.startswith("--")).removeprefix("--")


def test_a_list_has_a_plural_name() -> None:
    found = [(name, long_name(option)) for name, option in options() if option.metavar == LISTS]
    assert len(found) > 10
    wrong = [where for where in found if not where[1].endswith("s")]
    assert wrong == []


def test_one_number_has_a_singular_name() -> None:
    wrong = [
        (name, long_name(option))
        for name, option in options()
        if isinstance(option.type, click.types.FloatParamType)
        and long_name(option).endswith("s")
        and not long_name(option).endswith(("mass", "radius"))
    ]
    assert wrong == []


def test_numbers_tell_their_unit() -> None:
    wrong = [
        (name, long_name(option))
        for name, option in options()
        if isinstance(option.type, click.types.FloatParamType)
        and long_name(option) not in PURE_NUMBERS
        and not re.search(r"\[[^\]]+\]", option.help or "")
    ]
    assert wrong == []


def test_every_option_says_what_it_does_in_a_sentence() -> None:
    wrong = [
        (name, long_name(option), option.help)
        for name, option in options()
        if not re.search(r"\.( +\[.*\])?$", option.help or "")
        or not (option.help or "")[:1].isupper()
    ]
    assert wrong == []


def test_every_path_option_goes_through_the_reader_or_the_writer() -> None:
    """What is written is refused before any work where it cannot be (vlm/disk.py)."""
    ours = (OutputFile, OutputFolder, InputFile)
    for name in COMMANDS:
        for parameter in load_command(name).params:
            if isinstance(parameter, click.Option) and isinstance(parameter.type, click.Path):
                assert isinstance(parameter.type, ours), f"{name} --{parameter.name}"


def test_the_same_option_says_the_same() -> None:
    said: dict[str, dict[str, list[str]]] = {}
    for name, option in options():
        own = long_name(option)
        if own not in OF_ITS_OWN and (name, own) not in OWN_WORDS:
            said.setdefault(own, {}).setdefault(option.help or "", []).append(name)
    assert {own: texts for own, texts in said.items() if len(texts) > 1} == {}


def test_a_list_of_folds_is_asked_for_alike() -> None:
    """By --folds or --fold, whichever command it is."""
    lists = [option for _, option in options() if "--folds" in option.opts]
    assert len(lists) >= 6
    assert all(option.opts[:2] == ["--folds", "--fold"] for option in lists)


def test_files_to_write_are_named_alike() -> None:
    for name, option in options():
        if long_name(option) == "out":
            assert option.opts == ["-o", "--out"], name


@pytest.mark.parametrize(
    "words",
    [
        ("check", "tideline", "--fold", "0"),
        ("check", "tideline", "--folds", "0"),
    ],
)
def test_lists_keep_their_earlier_name(words: tuple[str, ...]) -> None:
    done = CliRunner().invoke(foldspan, words)
    assert done.exit_code == 0
    assert "overall span" in done.output


def test_a_refused_list_is_reported_by_its_name() -> None:
    done = CliRunner().invoke(
        foldspan, ["sweep", "tideline", "--folds", "x", "-o", "a.nc"], standalone_mode=False
    )
    assert "--folds = x" in str(done.exception) + done.output


@pytest.mark.parametrize(("asked", "says"), [(True, "has no [uncertainty]"), (False, "as asked")])
def test_missing_intervals_say_why(asked: bool, says: str) -> None:
    document = {
        "title": "invented", "air": {"density_kg_m3": 1.2}, "climb_angle_deg": 0.0, "mass_kg": 2.0,
        "lattice": {"panels": 10}, "wake": "stream",
        "airspeed_m_s": [], "configurations": {}, "differences": [],
        "crossings": [], "uncertainty": None, "intervals_asked": asked, "assumptions": [],
        "body_angles_asked_deg": [], "findings": [],
    }  # fmt: skip
    words = " ".join(power_table(document).split())
    assert f"; no intervals: {'' if asked else 'left out '}" in words
    assert says in words
