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
    ComputationFailed : no scheduler answers there
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
        yield ((futures[future], future.result()) for future in as_completed(list(futures)))
    finally:
        client.close()
