"""How many threads the kernel and the linear algebra take.

The kernel and LAPACK keep thread pools of their own. A pool that has just worked spins for some
milliseconds on a processor the other pool wants, which costs more than threads win on small
matrices. So the linear algebra runs on one thread, except where a matrix is large.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from typing import Any

import numba
from threadpoolctl import ThreadpoolController

LARGE_MATRIX = 1000


@cache
def _controller() -> tuple[ThreadpoolController, int]:
    """The controller, and the threads the process was started with."""
    controller = ThreadpoolController()
    counts = [library.num_threads for library in controller.lib_controllers]
    return controller, max(counts, default=1)


@contextmanager
def algebra_threads(size: int = 0) -> Iterator[None]:
    """Threads of BLAS and LAPACK inside the block: all for a large matrix, else one."""
    controller, all_threads = _controller()
    limit = all_threads if size >= LARGE_MATRIX else 1
    if all(library.num_threads == limit for library in controller.lib_controllers):
        yield
        return
    with controller.limit(limits=limit, user_api="blas"):
        yield


def limit_kernel_threads(count: int) -> None:
    """Let the compiled kernel of this process take at most ``count`` threads."""
    numba.set_num_threads(min(count, numba.config.NUMBA_NUM_THREADS))


Run = Callable[[Callable[[Any], Any], Sequence[Any]], Iterable[Any]]


@contextmanager
def side_by_side() -> Iterator[Run]:
    """A map that works on several items at once, each on a single kernel thread.

    As many items as the kernel may take threads; with one thread it is the plain map.
    """
    count = numba.get_num_threads()
    if count < 2:
        yield map
        return
    with (
        algebra_threads(),
        ThreadPoolExecutor(count, initializer=limit_kernel_threads, initargs=(1,)) as pool,
    ):
        yield pool.map
