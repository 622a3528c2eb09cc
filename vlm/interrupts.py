"""What an interrupt from the keyboard does to a command: it ends it, at once and for certain.

Python's own way is an exception at whatever line is being run. That line may be inside a destructor
or a callback, where the exception is thrown away and the command goes on, or between a file's
opening and its name. Since a command can be killed at any moment without harm (files are written
under another name first, :mod:`vlm.disk`), an interrupt needs no exception: what is half done is
put away, and the process ends.
"""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

MESSAGE = b"foldspan: interrupted\n"
STATUS = 130

_put_away: dict[int, Callable[[], object]] = {}
_held = 0
_pending = False
_raising = False


def end_when_interrupted() -> None:
    """From now on an interrupt ends this process with one line and status 130."""
    signal.signal(signal.SIGINT, _on_interrupt)


def _on_interrupt(_number: int, _frame: FrameType | None) -> None:
    global _pending, _raising  # noqa: PLW0603 - one process has one keyboard
    if _held:
        _pending = True
    elif _raising:
        _raising = False
        raise KeyboardInterrupt
    else:
        _end()


def _end() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for action in reversed(tuple(_put_away.values())):
        try:
            action()
        except Exception:  # noqa: BLE001 - the process ends in any case
            continue
    # On a terminal the cursor stands behind a progress bar, or behind the keyboard's ^C.
    last = (b"\n" if os.isatty(2) else b"") + MESSAGE
    os.write(_taken_from_other_threads(2), last)
    os._exit(STATUS)


def _taken_from_other_threads(stream: int) -> int:
    """Another number for a stream; what is written to the old one from now on goes nowhere.

    The thread of progress lines goes on until the process ends: it would have the last word.
    """
    own = os.dup(stream)
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
    return own


@contextmanager
def put_away_if_interrupted(action: Callable[[], object]) -> Iterator[None]:
    """Have something called if an interrupt ends the process inside the block."""
    key = id(action)
    _put_away[key] = action
    try:
        yield
    finally:
        _put_away.pop(key, None)


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Put an interrupt off until the block is through; processes started in it never see one.

    The keyboard's interrupt goes to all processes of a terminal. Only the first is to answer. The
    mask is inherited by the others; it does not protect the block itself, as any thread of a
    library may take the signal in place of this one.
    """
    global _held, _pending  # noqa: PLW0603 - one process has one keyboard
    masked = hasattr(signal, "pthread_sigmask")
    _held += 1
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if masked else set()
    try:
        yield
    finally:
        if masked:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        _held -= 1
        if _pending and not _held:
            _pending = False
            signal.raise_signal(signal.SIGINT)


@contextmanager
def interrupt_raised() -> Iterator[None]:
    """Make the first interrupt inside the block a KeyboardInterrupt, so that work is summed up.

    The next one ends the process, as everywhere else.
    """
    global _raising  # noqa: PLW0603 - one process has one keyboard
    _raising = True
    try:
        yield
    finally:
        _raising = False
