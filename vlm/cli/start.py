"""The way into the command: quiet from its first moment when it is interrupted.

Until the command itself is loaded, an interrupt ends the process with the one line and the
status of :mod:`vlm.cli.main`; from then on it is an exception, so that work is put away.
"""

import os
import signal
from types import FrameType


def _leave(_number: int, _frame: FrameType | None) -> None:
    """End the process: nothing has been begun yet."""
    os.write(2, b"foldspan: interrupted\n")
    os._exit(130)


def main() -> int:
    """Load the command and run it with the process's own arguments; returns the exit status."""
    ours = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if ours:
        signal.signal(signal.SIGINT, _leave)
    from vlm.cli.main import main as run

    try:
        if ours:
            signal.signal(signal.SIGINT, signal.default_int_handler)
        status = run()
    except KeyboardInterrupt:  # between two lines of run()
        status = 130
        os.write(2, b"foldspan: interrupted\n")
    if ours:
        # The status stands; nothing of what is left to do at exit is worth a second message.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        # Python marks an interrupt that passed through text it compiles (named tuples are made
        # so), and would end by the signal instead of with the status; the next such text clears it.
        eval("0")  # noqa: S307
    return status
