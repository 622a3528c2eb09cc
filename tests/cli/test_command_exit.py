"""How ``foldspan`` ends: the exit status, and one clear line on standard error."""

import errno
import subprocess
import sys
from collections.abc import Mapping

import click
import pytest

import vlm
from vlm.cli import commands
from vlm.cli.commands import COMMANDS, CommandEntry, load_command
from vlm.cli.main import foldspan, main, status_of
from vlm.errors import ComputationFailed, InputRefused


def raiser(error: BaseException):
    def work() -> int:
        raise error

    return work


@pytest.mark.parametrize(
    ("error", "status", "line"),
    [
        (InputRefused("a.toml: gap_m = -1; wrong"), 2, "a.toml: gap_m = -1; wrong"),
        (ComputationFailed("the matrix is singular"), 3, "the matrix is singular"),
        (click.UsageError("No such option: --alfa"), 2, "No such option: --alfa"),
        (click.BadParameter("x is not a number"), 2, "Invalid value: x is not a number"),
        (click.FileError("a.nc", "no room"), 2, "Could not open file 'a.nc': no room"),
        (click.Abort(), 130, "interrupted"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (MemoryError(), 3, "out of memory"),
        (MemoryError("8 GiB"), 3, "out of memory: 8 GiB"),
        (PermissionError(errno.EACCES, "Permission denied", "a.nc"), 2, "a.nc: Permission denied"),
        (FileNotFoundError(errno.ENOENT, "No such file", "b"), 2, "b: No such file"),
    ],
)
def test_each_ending_has_its_status_and_one_line(
    error: BaseException, status: int, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert status_of(raiser(error)) == status
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == f"foldspan: {line}\n"


def test_a_full_disk_is_not_the_users_fault(command_environment: Mapping[str, str]) -> None:
    """In a process of its own, since standard output is closed on the way."""
    script = (
        "import sys; from vlm.cli.main import status_of\n"
        "def work():\n"
        f"    raise OSError({errno.ENOSPC}, 'No space left on device', 'sweep.nc')\n"
        "sys.exit(status_of(work))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script],
        env=dict(command_environment),
        capture_output=True,
        text=True,
    )
    assert run.returncode == 3
    assert run.stderr == "foldspan: sweep.nc: No space left on device\n"


def test_a_bug_shows_where_and_asks_for_a_report(capsys: pytest.CaptureFixture[str]) -> None:
    assert status_of(raiser(ZeroDivisionError("here"))) == 1
    printed = capsys.readouterr().err
    assert "ZeroDivisionError: here" in printed
    assert "this is a bug in foldspan" in printed.splitlines()[-1]


def test_an_interrupt_inside_another_error_is_an_interrupt(capsys) -> None:
    """Python up to 3.11 wraps what is raised while a class is made in a RuntimeError."""

    def work() -> int:
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt as error:
            raise RuntimeError("calling __set_name__") from error

    assert status_of(work) == 130
    assert capsys.readouterr().err == "foldspan: interrupted\n"


def test_a_word_that_is_no_text_is_shown_by_its_bytes(capsys) -> None:
    """PEP 383: bytes of the command line that are not UTF-8 come as lone surrogates."""
    assert main(["point", "plank", "--alpha", "4", "\udcff"]) == 2
    assert "\\udcff" in capsys.readouterr().err


def test_work_that_ends_well_gives_its_status() -> None:
    assert status_of(lambda: 0) == 0


def test_an_unknown_option_is_refused_with_where_to_read_on(run_foldspan) -> None:
    run = run_foldspan("--versoin")
    assert run.returncode == 2
    assert run.stdout == ""
    assert len(run.stderr.splitlines()) == 1
    assert "--versoin" in run.stderr
    assert "See 'foldspan --help'." in run.stderr


def test_no_command_at_all_shows_the_help(run_foldspan) -> None:
    run = run_foldspan()
    assert run.returncode == 2
    assert run.stdout == ""
    assert run.stderr.startswith("Usage: foldspan")


def test_the_shell_is_reported_how_to_complete(run_foldspan) -> None:
    run = run_foldspan(_FOLDSPAN_COMPLETE="bash_source")
    assert run.returncode == 0
    assert "complete" in run.stdout


@pytest.fixture
def two_commands(monkeypatch: pytest.MonkeyPatch) -> None:
    """A table of two rows that no module stands behind."""
    table = {
        "point": CommandEntry("vlm.cli.no_such_module", "Loads of one state."),
        "sweep": CommandEntry("vlm.cli.no_such_module", "Loads over fold."),
    }
    monkeypatch.setattr(commands, "COMMANDS", table)


def test_a_misspelt_command_is_reported_the_nearest(
    two_commands: None, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["pont", "tideline"]) == 2
    assert "pont is not a command; did you mean point?" in capsys.readouterr().err
    assert main(["xyzzy"]) == 2
    assert "xyzzy is not a command; known are point, sweep." in capsys.readouterr().err


def test_help_lists_the_table_and_imports_no_command(
    two_commands: None, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--help"]) == 0
    printed = capsys.readouterr().out
    assert "Loads of one state." in printed
    assert "Loads over fold." in printed


def test_every_row_of_the_table_is_a_command() -> None:
    for name, entry in COMMANDS.items():
        command = load_command(name)
        assert isinstance(command, click.Command)
        assert command.name == name
        assert command.help, f"{name} has no help text"
        assert command.short_help == entry.summary


def test_every_command_file_is_in_the_table(project) -> None:
    listed = {entry.module for entry in COMMANDS.values()}
    for path in (project / "vlm/cli").glob("*.py"):
        if "\n@click.command(" in path.read_text(encoding="utf-8"):
            assert f"vlm.cli.{path.stem}" in listed, f"{path.name} is not in COMMANDS"


def test_version_comes_first_and_then_the_environment(run_foldspan) -> None:
    run = run_foldspan("--version")
    assert run.returncode == 0
    lines = run.stdout.splitlines()
    assert lines[0] == f"foldspan {vlm.__version__}"
    assert lines[1].startswith(f"Python {sys.version.split()[0]}")
    import numpy

    assert f"numpy {numpy.__version__}" in lines


def test_python_dash_m_is_the_same_command(
    run_foldspan, command_environment: Mapping[str, str]
) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "vlm", "--help"],
        env=dict(command_environment),
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout == run_foldspan("--help").stdout
    assert run.stdout.startswith("Usage: foldspan")


def test_a_reader_that_goes_away_is_no_bug(command_environment: Mapping[str, str]) -> None:
    """141 is what a shell reports for a process ended by a closed pipe (128 + SIGPIPE)."""
    run = subprocess.run(
        ["bash", "-c", "set -o pipefail; (sleep 0.5; foldspan --help) | true"],
        env=dict(command_environment),
        capture_output=True,
        text=True,
    )
    assert run.returncode == 141
    assert run.stderr == ""


def test_output_to_a_full_device_is_reported(command_environment: Mapping[str, str]) -> None:
    run = subprocess.run(
        ["bash", "-c", "foldspan --help > /dev/full"],
        env=dict(command_environment),
        capture_output=True,
        text=True,
    )
    assert run.returncode == 3
    assert run.stderr == "foldspan: No space left on device\n"


def test_the_group_has_the_names_the_shell_completes() -> None:
    context = click.Context(foldspan)
    assert foldspan.list_commands(context) == list(COMMANDS)
