"""``foldspan schedule``: the best fold at every airspeed, and a schedule that can be flown."""

from pathlib import Path

import click

from vlm.cli.options import (
    OutputFile,
    echo_json,
    geometry_options,
    json_option,
    keep_option,
    note,
    plot_option,
    trim_options,
)


@click.command("schedule")
@geometry_options
@trim_options(11, "Folds in the table of trims.")
@click.option(
    "--csv",
    "csv_path",
    type=OutputFile(),
    help="Breakpoints for a flight controller to write.",
)
@plot_option
@keep_option
@json_option
def command(
    file: str,
    overrides: tuple[str, ...],
    fold_count: int,
    rows: int,
    strips: int,
    altitude: float,
    csv_path: Path | None,
    plot: Path | None,
    keep: Path | None,
    as_json: bool,
) -> None:
    """Fold of least electrical power at every airspeed of [schedule], within its constraints.

    The best folds come from interpolated trims and are confirmed by direct ones. The schedule as
    flown has few breakpoints, a limited slope and hysteresis; its loss is told.
    """
    from tqdm import tqdm

    from vlm.air import standard_air
    from vlm.cli.ranges import checked_picture
    from vlm.description.loading import load_biplane
    from vlm.disk import write_whole
    from vlm.lattice.cellule import Grid
    from vlm.study.schedule_study import schedule_csv, schedule_document, schedule_study

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    with tqdm(total=None, leave=False, disable=None) as bar:

        def report(stage: str, done: int, total: int) -> None:
            bar.set_description(stage)
            bar.total = total
            bar.n = done
            bar.refresh()

        study = schedule_study(
            craft, folds=fold_count, air=standard_air(altitude), grid=Grid(rows, strips),
            report=report, keep=keep,
        )  # fmt: skip
    document = schedule_document(study)
    if csv_path is not None:
        write_whole(csv_path, schedule_csv(study).encode())
        note(f"wrote {csv_path}")
    if plot is not None:
        from vlm.show.plots.schedule import save_schedule_picture

        save_schedule_picture(document, study.book.folds_deg, study.book.power, plot)
        note(f"wrote {plot}")
    if as_json:
        echo_json(document)
        return
    from vlm.show.tables.schedule import schedule_table

    click.echo(schedule_table(document))
