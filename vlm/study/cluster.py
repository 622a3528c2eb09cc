"""Chunks of a sweep over a dask cluster (an optional extra: ``foldspan[cluster]``)."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.study.cases import solve_cases
from vlm.study.plan import Case, SweepPlan


@contextmanager
def cluster_chunks(
    craft: Biplane, plan: SweepPlan, waiting: list[tuple[int, list[Case]]], scheduler: str
) -> Iterator[Iterator[tuple[int, list[dict[str, Any]]]]]:
    """Send chunks to a scheduler; a chunk whose worker is lost goes to another.

    Raises
    ------
    InputRefused : the extra is not installed
    ComputationFailed : no scheduler answers there, or it loses its workers
    """
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise InputRefused("--scheduler needs the extra: pip install 'foldspan[cluster]'") from None
    try:
        client = Client(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise ComputationFailed(f"no scheduler answers at {scheduler}: {error}") from error
    try:
        futures = {
            client.submit(solve_cases, craft, plan, chunk, pure=False, retries=3): index
            for index, chunk in waiting
        }
        done = as_completed(list(futures), loop=client.loop)
        yield ((futures[future], _result(future)) for future in done)
    finally:
        client.close()


def _result(future: Any) -> list[dict[str, Any]]:
    """What a worker made of a chunk.

    Raises
    ------
    ComputationFailed : the chunk was lost with every worker that took it
    """
    from distributed import KilledWorker
    from distributed.client import FutureCancelledError

    try:
        values: list[dict[str, Any]] = future.result()
    except (KilledWorker, FutureCancelledError) as error:
        raise ComputationFailed(f"the cluster lost a part of the sweep: {error}") from error
    return values
