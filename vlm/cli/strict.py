"""What a command has found questionable, and the option ``--strict`` that ends it with status 3."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from vlm.errors import ComputationFailed

if TYPE_CHECKING:
    from vlm.findings import Finding

_STRICT, _WARNINGS, _INPUT = "foldspan.strict", "foldspan.warnings", "foldspan.input_findings"


def remember_strict(context: click.Context, _parameter: click.Parameter, wanted: bool) -> bool:
    """Keep the option's word until the command ends."""
    context.meta[_STRICT] = wanted
    return wanted


def not_yet_reported(findings: "Sequence[Finding]") -> "list[Finding]":
    """Those that this command has not reported before; all are kept in mind for ``--strict``."""
    context = click.get_current_context(silent=True)
    if context is None:
        return list(findings)
    said: dict[Finding, None] = context.meta.setdefault(_WARNINGS, {})
    fresh = [finding for finding in findings if finding not in said]
    said.update(dict.fromkeys(fresh))
    return fresh


def remember_input(findings: "Sequence[Finding]") -> None:
    """Keep what was found in the input, for documents of JSON."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta[_INPUT] = [asdict(finding) for finding in findings]


def with_input_findings(document: Any) -> Any:
    """A document with what was found in the input, if the command has read a craft."""
    context = click.get_current_context(silent=True)
    if context is None or _INPUT not in context.meta or not isinstance(document, dict):
        return document
    return document | {"input_findings": context.meta[_INPUT]}


def refuse_warnings(context: click.Context) -> None:
    """End a command that was asked to be strict.

    Raises
    ------
    ComputationFailed : something questionable was reported
    """
    codes = list(dict.fromkeys(finding.code for finding in context.meta.get(_WARNINGS, ())))
    if codes and context.meta.get(_STRICT):
        raise ComputationFailed(
            f"there are warnings ({', '.join(codes)}), which --strict does not allow"
        )
