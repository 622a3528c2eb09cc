"""Pieces of work over processes of this machine.

Each worker has a pipe of its own and is given a piece when it has handed in the last: no queues,
locks or threads that a worker which is ended could leave another waiting for.
"""

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from threading import Thread
from typing import Any

from vlm.errors import ComputationFailed
from vlm.interrupts import interrupts_held, put_away_if_interrupted

Task = Callable[[Any], Any]
"""What a worker does with each piece: a function of a module, or a partial one."""


class _Worker:
    """A process, and this process's end of its pipe."""

    def __init__(self, task: Task, threads: int) -> None:
        # A process that is forked would share the threads of the linear algebra, and may hang.
        context = get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.index = -1
        self._process = context.Process(target=_work, args=(theirs, task, threads), daemon=True)
        self._process.start()
        theirs.close()  # so that the pipe ends with the worker

    def give(self, piece: tuple[int, Any]) -> None:
        """Hand a piece over."""
        self.index, work = piece
        try:
            self.pipe.send(work)
        except OSError:
            self._lost()

    def take(self) -> tuple[int, Any]:
        """The result of the piece; raises what the worker raised."""
        try:
            answer = self.pipe.recv()
        except (EOFError, OSError):
            self._lost()
        if isinstance(answer, BaseException):
            raise answer
        return self.index, answer

    def _lost(self) -> None:
        self._process.join(5.0)
        raise ComputationFailed(
            f"a worker process ended before its work was done (exit code {self._process.exitcode};"
            " -9 is often a lack of memory); try fewer --workers"
        )

    def end(self) -> None:
        """End the process, whatever it does; its piece is lost."""
        self._process.kill()

    def close(self) -> None:
        """End the process and wait until it is gone."""
        self.end()
        self._process.join()
        self.pipe.close()


@contextmanager
def local_work(
    task: Task, waiting: Sequence[tuple[int, Any]], count: int
) -> Iterator[Iterator[tuple[int, Any]]]:
    """Work numbered pieces off in processes, which end with the block.

    Each has its share of the processors. One piece, or one process, is worked off in this one, as
    the results are asked for. Results come with the numbers of their pieces, in the
    order in which they are finished.

    Raises
    ------
    ComputationFailed : something ended a worker
    """
    if count < 2 or len(waiting) < 2:
        yield ((number, task(piece)) for number, piece in waiting)
        return
    share = max(1, (os.cpu_count() or 1) // count)
    _start_resource_tracker()
    with ExitStack() as stack:
        workers = []
        for _ in range(min(count, len(waiting))):
            with interrupts_held():
                worker = _Worker(task, share)
                stack.enter_context(put_away_if_interrupted(worker.end))
                stack.callback(worker.close)
            workers.append(worker)
        yield _handed_out(workers, waiting)


def _start_resource_tracker() -> None:
    """Start the process that multiprocessing starts with its first worker.

    That unmasks interrupts in this thread, and the first worker, which inherits the mask, would
    see those that are not meant for it (:func:`vlm.interrupts.interrupts_held`).
    """
    if os.name == "posix":
        from multiprocessing.resource_tracker import ensure_running

        ensure_running()


def _handed_out(
    workers: list[_Worker], waiting: Sequence[tuple[int, Any]]
) -> Iterator[tuple[int, Any]]:
    left = iter(waiting)
    busy: dict[Any, _Worker] = {}
    for worker, piece in zip(workers, left, strict=False):
        worker.give(piece)
        busy[worker.pipe] = worker
    while busy:
        for pipe in wait(list(busy)):
            worker = busy.pop(pipe)
            finished = worker.take()
            following = next(left, None)
            if following is not None:
                worker.give(following)
                busy[pipe] = worker
            yield finished


def _work(pipe: "Connection[Any, Any]", task: Task, threads: int) -> None:
    """Do pieces of work until the process is ended."""
    _start_worker(threads)
    while True:
        piece = pipe.recv()
        try:
            answer: Any = task(piece)
        except Exception as error:  # noqa: BLE001 - it is raised where the piece was given out
            answer = error
        pipe.send(answer)


def _start_worker(threads: int) -> None:
    """Give a worker its share of the processors, for the kernel and for the linear algebra."""
    from vlm.flow.threads import limit_kernel_threads
    from vlm.libraries import show_library_warnings_plainly

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where no mask was inherited
    show_library_warnings_plainly()

    Thread(target=_end_with_parent, daemon=True).start()
    limit_kernel_threads(threads)


def _end_with_parent() -> None:
    """End this worker when the process that started it is gone: nobody else would."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
