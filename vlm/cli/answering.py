"""What commands print: answers, JSON, warnings, and which files they wrote."""

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from textwrap import fill
from typing import Any, Protocol, TypeVar

import click

from vlm.cli.strict import not_yet_reported, refuse_warnings, with_input_findings
from vlm.cli.text import shown_text
from vlm.findings import Finding

WIDTH = 80
"""Columns of a terminal that every answer fits."""
_WRITTEN = "foldspan.written"


def echo_json(document: Any) -> None:
    """Print one JSON document."""
    click.echo(json.dumps(with_input_findings(document), indent=1, allow_nan=False))


def note(message: str) -> None:
    """Progress and warnings, on standard error; names that are no text by their bytes."""
    click.echo(shown_text(message), err=True)


def note_written(*paths: Path) -> None:
    """Say at the command's end, on standard error, which files it wrote."""
    line = f"wrote {' and '.join(str(path) for path in paths)}"
    context = click.get_current_context(silent=True)
    if context is None:
        note(line)
        return
    lines: list[str] = context.meta.setdefault(_WRITTEN, [])
    if not lines:
        context.call_on_close(lambda: note("\n".join(lines)))
    lines.append(line)


def echo_answer(text: str, findings: Sequence[Finding]) -> None:
    """Print a command's text, which holds the warnings about the result itself.

    Where standard error is no terminal, a log or a pipe, it gets them as well, one line each.
    """
    click.echo(text)
    if sys.stderr.isatty():
        not_yet_reported(findings)  # for --strict, and so that they are not said again
    else:
        print_warnings(findings)


def tqdm_note(message: str) -> None:
    """As :func:`note`, while a progress bar stands on standard error."""
    from tqdm import tqdm

    tqdm.write(shown_text(message), file=sys.stderr)


class Study(Protocol):
    """What a study found."""

    @property
    def findings(self) -> Sequence[Finding]:
        """Warnings."""

    def document(self) -> Any:
        """Plain values for JSON."""


S = TypeVar("S", bound=Study)


def show_study(
    study: S, text: Callable[[S], str], picture: Callable[[S, Path], None], plot: Path | None,
    *, as_json: bool,
) -> None:  # fmt: skip
    """Draw the picture that is asked for, and print the JSON document or the text."""
    if plot is not None:
        picture(study, plot)
        note_written(plot)
    if as_json:
        echo_json(study.document())
    else:
        echo_answer(text(study), study.findings)


def show_shares(document: Any, title: str, plot: Path | None, *, as_json: bool) -> None:
    """Table, and picture where one is asked for, of what the uncertain inputs bring about.

    Parameters
    ----------
    document : what stands under ``uncertain_inputs``; None where it was not asked for
    """
    if document is None:
        return
    if plot is not None:
        from vlm.show.plots.sensitivity import save_sensitivity_picture

        save_sensitivity_picture(document, title, plot)
        note_written(plot)
    if not as_json:
        from vlm.show.tables.sensitivity import sensitivity_table

        click.echo(f"\n{sensitivity_table(document)}")


def print_warnings(findings: Sequence[Finding]) -> None:
    """Warnings on standard error: one line each, on a terminal in lines of a page's width."""
    for finding in not_yet_reported(findings):
        said = f"warning: {finding.sentence()}"
        if sys.stderr.isatty():
            said = fill(said, WIDTH, subsequent_indent="  ", break_long_words=False)
        note(said)


def report_warnings(findings: Sequence[Finding], *, strict: bool) -> None:
    """Warnings on standard error, one line each; with ``strict`` they end the command.

    Raises
    ------
    ComputationFailed : there are warnings, in the input too, and ``strict``
    """
    print_warnings(findings)
    if strict:
        refuse_warnings(click.get_current_context())
