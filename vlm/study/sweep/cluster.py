"""Chunks of a sweep over a dask cluster (an optional extra: ``foldspan[cluster]``)."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.plan import Case, SweepPlan


@contextmanager
def cluster_chunks(
    craft: Biplane, plan: SweepPlan, waiting: list[tuple[int, list[Case]]], scheduler: str
) -> Iterator[Iterator[tuple[int, list[dict[str, Any]]]]]:
    """Send chunks to a scheduler; a chunk whose worker is lost goes to another.

    Raises
    ------
    InputRefused : the extra is not installed, or the address needs certificates and none are named
    ComputationFailed : no scheduler answers there, or it loses its workers
    """
    try:
        from distributed import Client, Security, as_completed
    except ImportError:
        raise InputRefused("--scheduler needs the extra: pip install 'foldspan[cluster]'") from None
    if scheduler.startswith("tls:") and not _has_certificate(Security()):
        raise InputRefused(
            f"--scheduler {scheduler} needs certificates; name them in"
            " DASK_DISTRIBUTED__COMM__TLS__CA_FILE, ...TLS__CLIENT__CERT and ...TLS__CLIENT__KEY"
        )
    try:
        client = Client(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TimeoutError, RuntimeError) as error:
        # RuntimeError: dask is set to encrypt, and the address is not.
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


def _has_certificate(security: Any) -> bool:
    """Whether dask's settings name what a client of TLS needs.

    Raises
    ------
    InputRefused : they name a file that is none
    """
    try:
        return security.get_connection_args("client").get("ssl_context") is not None
    except OSError as error:  # ssl.SSLError among them
        raise InputRefused(f"the certificates that dask's settings name: {error}") from None


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
