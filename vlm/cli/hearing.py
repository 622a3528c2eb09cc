"""Progress on standard error: a bar on a terminal, a line now and then in a log or a pipe."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event, Thread

from vlm.cli.answering import note
from vlm.progress import Counted, Progress, silent

FIRST_S, EVERY_S = 3.0, 10.0
"""When the first line is written, and how long after it each further one [s]."""


def _clock_time(seconds: float) -> str:
    """Seconds, from two minutes on with minutes before them."""
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d} min" if minutes >= 2 else f"{seconds:.0f} s"


class Lines:
    """What is being worked out, as a line now and then, from a thread of its own.

    A stage that reports nothing for a while is reported all the same, so that a log shows life.

    Parameters
    ----------
    say : called with each line
    first, every : seconds to the first line, and between lines
    clock : seconds that only go forward
    """

    def __init__(
        self,
        say: Callable[[str], None],
        first: float,
        every: float,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._say, self._every, self._clock = say, every, clock
        self._begun, self._state = clock(), ("working", 0, 0)
        self._over = Event()
        self._thread = Thread(target=self._run, args=(first,), daemon=True)
        self._thread.start()

    def __call__(self, what: str, done: int = 0, total: int = 0, /) -> None:
        """Take note of how far the work is."""
        self._state = (what, done, total)

    def line(self) -> str:
        """The state as it is written."""
        what, done, total = self._state
        count = f", {done:g} of {total:g} done" if total else ""
        return f"{what}{count}; {_clock_time(self._clock() - self._begun)} so far"

    def end(self) -> None:
        """Write no more lines."""
        self._over.set()
        self._thread.join()

    def _run(self, first: float) -> None:
        pause = first
        while not self._over.wait(pause):
            try:
                self._say(self.line())
            except (OSError, ValueError):
                return  # nobody reads any more
            pause = self._every


def counted(progress: Progress, what: str) -> Counted:
    """For a study that says only how many are done, of how many."""
    return lambda done, total: progress(what, done, total)


@contextmanager
def shown_progress(unit: str = "step", *, quiet: bool = False) -> Iterator[Progress]:
    """What a study is to be given to report to.

    Parameters
    ----------
    unit : of what is counted
    quiet : whether nothing is shown at all
    """
    if quiet:
        yield silent
    elif sys.stderr.isatty():
        with _bar(unit) as heard:
            yield heard
    else:
        lines = Lines(note, FIRST_S, EVERY_S)
        try:
            yield lines
        finally:
            lines.end()


@contextmanager
def _bar(unit: str) -> Iterator[Progress]:
    from tqdm import tqdm

    with tqdm(total=None, unit=unit, leave=False) as bar:

        def heard(what: str, done: int = 0, total: int = 0, /) -> None:
            bar.total = total or None
            bar.set_description(what, refresh=False)
            bar.update(done - bar.n)

        yield heard
