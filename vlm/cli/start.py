"""The way into the command: quiet from its first moment when it is interrupted."""

import io
import os
import signal
import sys

from vlm.interrupts import end_when_interrupted


def _hold_streams() -> None:
    """Make standard streams take whatever is printed.

    Something is put behind those that whoever started the command has closed: else the next file
    that is opened would take their place, and what is printed would go into it. Standard output
    that is closed is a reader that went away.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            if number == 1:
                reader, writer = os.pipe()
                os.close(reader)
                if writer != 1:
                    os.dup2(writer, 1)
                    os.close(writer)
            else:
                os.open(os.devnull, os.O_RDWR)  # it takes the lowest number that is free
    if sys.stdout is None:
        sys.stdout = _text(1)
    if sys.stderr is None:
        sys.stderr = _text(2)
    for stream in (sys.stdout, sys.stderr):
        # A letter that the terminal's encoding lacks is shown by its number, and ends nothing.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _text(number: int) -> io.TextIOWrapper:
    return open(number, "w", encoding="utf-8", errors="backslashreplace", closefd=False)


def main() -> int:
    """Load the command and run it with the process's own arguments; returns the exit status."""
    ours = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if ours:
        end_when_interrupted()
    _hold_streams()
    from vlm.cli.main import main as run
    from vlm.libraries import show_library_warnings_plainly

    show_library_warnings_plainly()
    status = run()
    if ours:
        # The status stands; nothing of what is left to do at exit is worth a second message.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    return status
