"""The craft that a command works on; what is doubtful about its numbers is told at once."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from vlm.cli.options import note_doubts
from vlm.cli.strict import remember_input

if TYPE_CHECKING:
    from vlm.description.models import Biplane


def load_biplane(file: str, overrides: Sequence[str] = ()) -> "Biplane":
    """Read a geometry file; numbers beyond what is usual are told on standard error.

    Raises
    ------
    InputRefused : there is no such file, or it does not describe a vehicle that can be
    """
    from vlm.description import loading
    from vlm.description.ranges import craft_range_findings

    craft = loading.load_biplane(file, overrides)
    found = craft_range_findings(craft)
    note_doubts(found)
    remember_input(found)
    return craft
