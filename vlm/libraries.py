"""What libraries warn of, reported in one line each, without paths of the machine."""

import sys
import warnings
from typing import Any

LONGEST = 200
_TOLD: set[str] = set()


def show_library_warnings_plainly() -> None:
    """Have each warning of a library reported once, as a note; options of Python itself come first.

    No warning stops a command: what is no number never counts as one, whoever warned of it.
    """
    if not sys.warnoptions:
        warnings.showwarning = _tell
        warnings.simplefilter("default")
        warnings.simplefilter("ignore", DeprecationWarning)
        warnings.simplefilter("ignore", PendingDeprecationWarning)


def _tell(message: Warning | str, category: type[Warning], *_place: Any, **_more: Any) -> None:
    text = " ".join(str(message).split())
    line = f"note: a library warns: {text[:LONGEST]} ({category.__name__})"
    if line not in _TOLD and sys.stderr is not None:
        _TOLD.add(line)
        sys.stderr.write(f"{line}\n")
