"""Running a sweep: chunks over workers, kept on disk as they finish, resumed after a stop.

Finished chunks stand in a folder beside the output, each written whole under another name and
then renamed. A run that is stopped at any moment leaves only whole chunks; the next run with the
same craft, plan and version takes them up. A folder left by another craft or plan is refused.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import build_cellule
from vlm.progress import Counted
from vlm.study.store import ChunkStore, is_begun, write_whole
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.charted import charted_results
from vlm.study.sweep.expected import SweepContents
from vlm.study.sweep.plan import Case, SweepPlan
from vlm.study.sweep.workers import local_work

__all__ = ["ChunkStore", "Counted", "Results", "chunked", "run_plan", "write_whole"]

CHUNK, FIRST_CHUNK = 48, 4
"""Cases in a chunk; the first is small, so that the pace of the work is known soon."""
Results = dict[tuple[int, ...], dict[str, Any]]


def chunked(cases: Sequence[Case]) -> list[list[Case]]:
    """Cases in chunks; a mirrored pair is never cut apart."""
    chunks: list[list[Case]] = [[]]
    for case in cases:
        last = chunks[-1][-1] if chunks[-1] else None
        image = last is not None and last.folds == case.folds.mirrored()
        full = CHUNK if len(chunks) > 1 else min(CHUNK, FIRST_CHUNK)
        if len(chunks[-1]) >= full and not image:
            chunks.append([])
        chunks[-1].append(case)
    return [chunk for chunk in chunks if chunk]


def run_plan(
    craft: Biplane,
    plan: SweepPlan,
    *,
    store: Path | None = None,
    workers: int = 1,
    scheduler: str | None = None,
    report: Counted | None = None,
) -> tuple[Results, ChunkStore]:
    """Results of all cases of a plan, solved or, where folds are many, from a chart.

    Parameters
    ----------
    store : folder for finished chunks; None keeps nothing on disk
    workers : local processes; each runs its linear algebra on its share of the processors
    scheduler : address of a dask scheduler that takes the chunks instead
    report : called with (cases done, cases in all) as chunks finish

    Returns
    -------
    results by place, and the store, to be removed once the results are saved

    Raises
    ------
    InputRefused : the craft has no lattice, or the store belongs to another run
    ComputationFailed : a worker process was ended by something else, or no scheduler answers
    """
    build_cellule(craft, plan.grid)  # refused now, or by every case
    kept: list[ChunkStore] = []

    def solve(one: SweepPlan, cases: Sequence[Case]) -> Results:
        # The settings that a chart is held against are few: they are not kept.
        place = None if kept else store
        results, used = _solved(craft, one, cases, place, workers, scheduler, report)
        kept.append(used)
        return results

    # One that was stopped while every fold was solved had no chart that holds.
    if not is_begun(store, plan.digest(craft)):
        results = charted_results(craft, plan, solve)
        if results is not None:
            return results, kept[0]
    for used in kept:
        used.remove()
    return _solved(craft, plan, None, store, workers, scheduler, report)


def _solved(
    craft: Biplane,
    plan: SweepPlan,
    cases: Sequence[Case] | None,
    store: Path | None,
    workers: int,
    scheduler: str | None,
    report: Counted | None,
) -> tuple[Results, ChunkStore]:
    """Some cases of a plan, or all, each by a solve."""
    chunks = chunked(plan.work_order(cases))
    digest = plan.digest(craft) + ("" if cases is None else " chart")
    kept = ChunkStore(store, digest, SweepContents(craft, plan, chunks).fits)
    try:
        return _results(craft, plan, chunks, kept, workers, scheduler, report), kept
    except InputRefused:
        kept.remove()  # nobody could go on with it
        raise


def _results(
    craft: Biplane,
    plan: SweepPlan,
    chunks: list[list[Case]],
    kept: ChunkStore,
    workers: int,
    scheduler: str | None,
    report: Counted | None,
) -> Results:
    """Results of all chunks: those that are kept, and the others computed now."""
    results: Results = {}
    waiting = []
    for index, chunk in enumerate(chunks):
        done = kept.load(index)
        if done is None:
            waiting.append((index, chunk))
        else:
            _take(results, chunk, done)
    total = sum(len(chunk) for chunk in chunks)
    if report:
        report(len(results), total)
    with _runner(craft, plan, waiting, workers, scheduler) as finished:
        for index, done in finished:
            kept.keep(index, done)
            _take(results, chunks[index], done)
            if report:
                report(len(results), total)
    return results


def _take(results: Results, chunk: list[Case], done: list[dict[str, Any]]) -> None:
    for case, values in zip(chunk, done, strict=True):
        results[case.place] = values


Finished = Iterator[tuple[int, list[dict[str, Any]]]]


@contextmanager
def _runner(
    craft: Biplane,
    plan: SweepPlan,
    waiting: list[tuple[int, list[Case]]],
    workers: int,
    scheduler: str | None,
) -> Iterator[Finished]:
    """An iterator over finished chunks, from this process, local workers or a cluster."""
    if scheduler is not None:
        from vlm.study.sweep.cluster import cluster_chunks

        with cluster_chunks(craft, plan, waiting, scheduler) as finished:
            yield finished
    else:
        with local_work(partial(solve_cases, craft, plan), waiting, workers) as finished:
            yield finished
