"""``foldspan sweep``: loads over folds, angles and keys of the geometry file."""

from pathlib import Path
from typing import Any, Literal

import click

from vlm.cli.answering import echo_answer, echo_json, note, note_written, report_warnings, tqdm_note
from vlm.cli.checks import airspeed_is_given, checked_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    air_options,
    any_wake_option,
    full_option,
    geometry_options,
    grid_options,
    json_option,
    no_cache_option,
    out_option,
    plot_option,
    strict_option,
    thrust_option,
    values_option,
    workers_option,
)
from vlm.cli.within import within_option


@click.command("sweep")
@geometry_options
@values_option("--folds", "--fold", "fold", words="Folds [deg].", required=True)
@values_option("--alphas", "--alpha", "alpha", words="Angles of attack [deg].", default="4")
@values_option(
    "--betas", "--beta", "beta", words="Sideslips, wind from starboard [deg].", default="0"
)
@click.option(
    "--asymmetric", is_flag=True, help="Fold port and starboard in all pairs of the folds."
)
@click.option(
    "--over",
    multiple=True,
    metavar="KEY=START:STOP:COUNT",
    help="One more axis over a key of the file, such as arrangement.gap_m=0.2:0.5:7.",
)
@air_options
@thrust_option
@grid_options
@within_option
@any_wake_option
@click.option(
    "--exact", is_flag=True, help="Solve every fold; otherwise many are read off polynomials."
)
@click.option("--errors", is_flag=True, help="Add error estimates from a coarser lattice.")
@out_option("Dataset to write: FILE.nc, FILE.csv or FILE.parquet. Needed without --plot.")
@plot_option
@workers_option
@click.option("--scheduler", metavar="ADDRESS", help="A dask scheduler that takes the work.")
@strict_option
@json_option
@full_option
@no_cache_option
def command(
    file: str,
    overrides: tuple[str, ...],
    fold: str,
    alpha: str,
    beta: str,
    asymmetric: bool,
    over: tuple[str, ...],
    airspeed: float,
    density: float,
    thrust: float | Literal["trim"] | None,
    rows: int,
    strips: int,
    within: tuple[str, ...],
    wake: Literal["craft", "relaxed", "stream"],
    exact: bool,
    errors: bool,
    out: Path | None,
    plot: Path | None,
    workers: int,
    scheduler: str | None,
    strict: bool,
    full: bool,
    as_json: bool,
) -> None:
    """Coefficients and derivatives over folds and angles, as a labelled dataset.

    Lists may be written START:STOP:COUNT or A,B,C. A stopped sweep is taken up by the same
    command again; finished cases are not computed twice.
    """
    checked_air(airspeed, density)
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture
    from vlm.lattice.cellule import Grid
    from vlm.study.point.slipstream import check_thrust
    from vlm.study.sweep.dataset import save_dataset, sweep_dataset
    from vlm.study.sweep.plan import SweepPlan, axis_values
    from vlm.study.sweep.running import run_plan

    written = _written(out, plot)
    airspeed_is_given(thrust)
    checked_picture(plot)
    craft = load_biplane(file, overrides)
    check_thrust(craft, thrust)
    plan = SweepPlan(
        folds_deg=axis_values(fold, "--folds"),
        alphas_deg=axis_values(alpha, "--alphas"),
        betas_deg=axis_values(beta, "--betas"),
        asymmetric=asymmetric,
        keys=key_axes(craft, over),
        grid=Grid(rows, strips),
        airspeed=airspeed,
        density=density,
        wake=wake,
        errors=errors,
        exact=exact,
        thrust=thrust,
    )
    _refuse_odd(plan, plot)
    if within:
        from vlm.cli.within import lattice_for_sweep

        plan = lattice_for_sweep(craft, plan, within)
    _tell_memory(craft, plan, 1 if scheduler else workers)
    results, store = _run(run_plan, craft, plan, written[0], workers, scheduler)
    dataset = sweep_dataset(craft, plan, results)
    if out is not None:
        save_dataset(dataset, out)
    store.remove()
    _refuse_nothing(dataset, out)
    if plot is not None:
        from vlm.show.plots.sweep import save_sweep_picture

        save_sweep_picture(dataset, plot)
    if as_json:
        from vlm.study.sweep.dataset import sweep_document

        echo_json(sweep_document(dataset))
    else:
        from vlm.show.tables.sweep import sweep_table

        echo_answer(sweep_table(dataset, full=full), _findings(dataset))
    note_written(*written)
    _tell(dataset, strict=strict)


def _written(out: Path | None, plot: Path | None) -> list[Path]:
    """The files that are asked for, one or both.

    Raises
    ------
    InputRefused : a name that no dataset can have
    """
    from vlm.study.sweep.dataset import checked_output

    if out is not None:
        checked_output(out)
    if out is None and plot is None:
        raise click.UsageError("sweep writes a dataset, a picture or both: give --out or --plot.")
    return [path for path in (out, plot) if path is not None]


def _tell_memory(craft: Any, plan: Any, workers: int) -> None:
    """Tell of memory beyond a GiB, before any of it is taken."""
    from vlm.study.sweep.forecast import memory_sentence, sweep_bytes

    sentence = memory_sentence(sweep_bytes(craft, plan, workers))
    if sentence is not None:
        note(sentence)


def _refuse_odd(plan: Any, plot: Path | None) -> None:
    from vlm.errors import InputRefused

    if plot is not None and plan.asymmetric and len(plan.folds_deg) < 2:
        raise InputRefused("--plot of an --asymmetric sweep needs two folds or more")


def key_axes(craft: Any, over: tuple[str, ...]) -> tuple[Any, ...]:
    """Axes over keys, each tried once so that a wrong key is refused before any work."""
    from vlm.errors import InputRefused
    from vlm.study.sweep.plan import KeyAxis, axis_values

    axes = []
    for text in over:
        key, equals, values = text.partition("=")
        if not equals:
            raise InputRefused(f"--over {text}; write KEY=START:STOP:COUNT")
        axis = KeyAxis(key.strip(), axis_values(values, f"--over {key}"))
        for value in (axis.values[0], axis.values[-1]):
            craft.overridden({axis.key: value})
        axes.append(axis)
    return tuple(axes)


def _run(
    run_plan: Any, craft: Any, plan: Any, out: Path, workers: int, scheduler: str | None
) -> Any:
    """Run with its progress on standard error."""
    from vlm.study.sweep.forecast import Pace

    pace = Pace(tqdm_note, "folds")
    store = out.with_name(f".{out.name}.unfinished")
    with shown_progress("fold") as progress:

        def report(done: int, total: int) -> None:
            progress("folds", done, total)
            pace(done, total)

        return run_plan(
            craft, plan, store=store, workers=workers, scheduler=scheduler, report=report
        )


def _failures(dataset: Any) -> list[str]:
    """Why cases have no numbers, one reason for each that has none."""
    return [str(text) for text in dataset["failure"].values.ravel() if str(text)]


def _refuse_nothing(dataset: Any, out: Path | None) -> None:
    """End a sweep in which no case could be computed.

    Raises
    ------
    ComputationFailed : says why the first could not
    """
    from vlm.errors import ComputationFailed

    failures = _failures(dataset)
    if len(failures) == dataset["failure"].size:
        where = "" if out is None else f" (all reasons stand in {out})"
        raise ComputationFailed(
            f"none of the {len(failures)} cases could be computed: {failures[0]}{where}"
        )


def _tell(dataset: Any, *, strict: bool) -> None:
    """Failed cases and warnings, on standard error."""
    failures = _failures(dataset)
    if failures:
        note(f"{len(failures)} of {dataset['failure'].size} cases have no numbers: {failures[0]}")
    report_warnings(_findings(dataset), strict=strict)


def _findings(dataset: Any) -> list[Any]:
    """Warnings that a dataset carries."""
    import json

    from vlm.findings import Finding

    return [Finding(**one) for one in json.loads(dataset.attrs["findings"])]
