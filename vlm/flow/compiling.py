"""Says once what takes so long when the kernel is compiled, which is kept on disk afterwards."""

import logging
from typing import Any

from numba.core import event

from vlm.flow.compiled import kept_folder

MESSAGE = "compiling the kernel (once for each installation, about half a minute)"
NOWHERE = (
    "compiling the kernel (about half a minute, at every command: no folder to keep it in can be"
    " written; name one with NUMBA_CACHE_DIR)"
)


class _FirstCompilation(event.Listener):  # type: ignore[misc]
    """Speaks at the first function that is compiled; loading one from the disk is no such event."""

    said = False

    def on_start(self, _event: Any) -> None:
        if not self.said:
            self.said = True
            logging.getLogger(__name__).warning(NOWHERE if kept_folder() is None else MESSAGE)

    def on_end(self, _event: Any) -> None:
        """Nothing to say: the result follows."""


def report_compiling() -> None:
    """From now on the first compilation is reported as a warning of the log of this module.

    Without a handler for it, Python prints warnings of the log on standard error.
    """
    event.register("numba:compile", _FirstCompilation())
