"""The command ``foldspan``: its group of commands, and the one way out of it.

Commands are imported when they are called, never for ``--help``. What ends a command ends here,
with one line on standard error and the exit status of the contract:

====== ========================================================
status meaning
====== ========================================================
0      done
1      a bug in foldspan
2      the input was refused
3      the computation could not be completed
130    interrupted from the keyboard
141    the reader of standard output went away
====== ========================================================
"""

import errno
import gc
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from enum import IntEnum

import click
from click.shell_completion import shell_complete

from vlm.cli.commands import LazyGroup
from vlm.cli.text import shown_text
from vlm.errors import FoldspanError, InputRefused

NAME = "foldspan"
COMPLETION_VARIABLE = "_FOLDSPAN_COMPLETE"


class ExitStatus(IntEnum):
    """What the exit status of a command says."""

    DONE = 0
    BUG = 1
    REFUSED = 2
    NOT_COMPLETED = 3
    INTERRUPTED = 130
    READER_GONE = 141


def _show_version(context: click.Context, _parameter: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        from vlm.environment import environment_report

        click.echo(environment_report())
        context.exit()


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Print the version and the environment it runs in, for a bug report.",
)
def foldspan() -> None:
    """Loads, drag, stability and power of biplanes with folding wing tips.

    FILE is a geometry file (TOML) or the name of a shipped one, such as tideline. Angles are in
    degrees, all else in SI units. Every result is an estimate, not a flight clearance.
    """


def main(arguments: Sequence[str] | None = None) -> int:
    """Run ``foldspan`` with the given arguments (the process's own if None).

    Returns
    -------
    The exit status; see the table at the top of this file.
    """
    # Cycles are few: looking for them at every 700 new objects takes some per cent of the time.
    gc.set_threshold(20_000, *gc.get_threshold()[1:])
    return int(status_of(lambda: _run(arguments)))


def _run(arguments: Sequence[str] | None) -> int:
    """Call the group; click's own way out is not taken, as it hides a reader that went away."""
    instruction = os.environ.get(COMPLETION_VARIABLE)
    if instruction:
        return shell_complete(foldspan, {}, NAME, COMPLETION_VARIABLE, instruction)
    words = sys.argv[1:] if arguments is None else list(arguments)
    if any("\0" in word for word in words):
        raise InputRefused("a word of the command holds a zero byte, which no name or value can")
    try:
        with foldspan.make_context(NAME, words) as context:
            foldspan.invoke(context)
    except click.exceptions.Exit as end:
        return end.exit_code
    finally:
        # A full disk or a closed pipe shows only when the text is pushed out.
        sys.stdout.flush()
    return ExitStatus.DONE


def status_of(work: Callable[[], int]) -> int:
    """The exit status of some work; says in one line why it is not 0."""
    try:
        return work()
    except FoldspanError as error:
        return _ended(str(error), getattr(error, "exit_status", ExitStatus.NOT_COMPLETED))
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        return ExitStatus.REFUSED
    except click.ClickException as error:
        return _ended(_usage_message(error), ExitStatus.REFUSED)
    except (click.Abort, KeyboardInterrupt):
        return _ended("interrupted", ExitStatus.INTERRUPTED)
    except MemoryError as error:
        return _ended(f"out of memory: {error}".rstrip(": "), ExitStatus.NOT_COMPLETED)
    except BrokenPipeError:
        return _reader_gone()
    except OSError as error:
        return _operating_system_ended(error)
    except Exception as error:  # noqa: BLE001 - the last stop: a bug is reported as one
        if _from_interrupt(error):
            return _ended("interrupted", ExitStatus.INTERRUPTED)
        traceback.print_exc()
        return _ended(
            "this is a bug in foldspan. Please report it with the lines above, the command, "
            "the geometry file and what foldspan --version prints.",
            ExitStatus.BUG,
        )


def _from_interrupt(error: BaseException) -> bool:
    """Whether an interrupt lies behind an error: what makes classes wraps it in one of its own."""
    cause = error.__cause__
    return isinstance(cause, KeyboardInterrupt) or (cause is not None and _from_interrupt(cause))


def _ended(message: str, status: int) -> int:
    click.echo(f"foldspan: {shown_text(message)}", err=True)
    return status


def _usage_message(error: click.ClickException) -> str:
    """click's message in one line, with where to read on."""
    message = " ".join(error.format_message().split())
    context = getattr(error, "ctx", None)
    if isinstance(context, click.Context):
        return f"{message} See '{context.command_path} --help'."
    return message


# What the machine runs out of, as against what the user wrote.
_EXHAUSTED = {errno.ENOSPC, errno.EIO, errno.ENOMEM, errno.EMFILE, errno.ENFILE} | {
    getattr(errno, "EDQUOT", errno.ENOSPC)
}


def _operating_system_ended(error: OSError) -> int:
    """A file or a device that failed: a bad path is refused input, a full disk is not."""
    if error.errno is None:
        raise error
    where = f"{error.filename}: " if error.filename else ""
    if error.errno in _EXHAUSTED:
        _silence_output()
        return _ended(f"{where}{error.strerror}", ExitStatus.NOT_COMPLETED)
    return _ended(f"{where}{error.strerror}", ExitStatus.REFUSED)


def _reader_gone() -> int:
    _silence_output()
    return ExitStatus.READER_GONE


def _silence_output() -> None:
    """Send what is still buffered nowhere, so that Python does not complain at its end."""
    try:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, sys.stdout.fileno())
        os.close(sink)
    except (OSError, ValueError):
        pass  # standard output has no file behind it
