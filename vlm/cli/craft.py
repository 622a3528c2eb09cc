"""The craft that a command works on; what is questionable about its numbers is reported at once."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from vlm.cli.answering import note, print_warnings
from vlm.cli.strict import remember_input

if TYPE_CHECKING:
    from vlm.description.models import Biplane


def load_biplane(file: str, overrides: Sequence[str] = ()) -> "Biplane":
    """Read a geometry file; numbers beyond what is usual are reported on standard error.

    So is the memory that the command takes for it, from a GiB on.

    Raises
    ------
    InputRefused : there is no such file, or it does not describe a craft that can be
    ComputationFailed : the lattice asked for needs more memory than there is
    """
    from vlm.description import loading
    from vlm.description.ranges import craft_range_findings

    craft = loading.load_biplane(file, overrides)
    found = craft_range_findings(craft)
    print_warnings(found)
    remember_input(found)
    _tell_memory(craft)
    return craft


def _tell_memory(craft: "Biplane") -> None:
    """By the command's own lattice; a sweep, which holds more than that, tells it by itself."""
    context = click.get_current_context(silent=True)
    if context is None or context.command.name == "sweep":
        return
    rows, strips = context.params.get("rows"), context.params.get("strips")
    if rows is None or strips is None:
        return
    from vlm.lattice.cellule import Grid
    from vlm.study.sweep.forecast import command_bytes, fewer_panels, memory_sentence

    needed = command_bytes(craft, Grid(rows, strips))
    sentence = memory_sentence(needed, None, f"this {context.command.name}", fewer_panels)
    if sentence is not None:
        note(sentence)
