"""``foldspan export``: tables and linear models for other simulators and controllers."""

from pathlib import Path

import click

from vlm.cli.answering import echo_answer, note_written
from vlm.cli.checks import checked_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    density_option,
    geometry_options,
    grid_options,
    no_cache_option,
    out_option,
)
from vlm.errors import InputRefused


@click.command("export")
@geometry_options
@click.option(
    "--trims", metavar="SPEED:FOLD,...", default="12:0", show_default=True,
    help="Airspeeds and folds of the linear models [m/s:deg], such as 11:15,15:0,20:-60; the word"
    " schedule takes the airspeeds of the file's [schedule] with their folds; or a FILE.csv of"
    " schedule --csv.",
)  # fmt: skip
@click.option(
    "--fold-range", metavar="LOW:HIGH",
    help="Folds of the tables, both sides [deg]; those of --trims if left out.",
)  # fmt: skip
@density_option
@grid_options
@out_option("File to write: FILE.nc, FILE.json, or FILE.csv (tables alone).", required=True)
@no_cache_option
def command(
    file: str, overrides: tuple[str, ...], trims: str, fold_range: str | None, density: float,
    rows: int, strips: int, out: Path,
) -> None:  # fmt: skip
    """Aerodynamic tables over both folds, angles and rates, and linear models with their trims.

    Linear models: x' = A x + B i with named states and inputs (folds, thrusts), tips standing
    still. The file needs [mass] and [actuator].
    """
    if out.suffix not in (".nc", ".json", ".csv"):
        raise InputRefused(f"--out {out}; the ending must be .nc, .json or .csv")
    from vlm.cli.craft import load_biplane
    from vlm.flight.simulation.building import Modelled
    from vlm.lattice.cellule import Grid
    from vlm.show.tables.export import export_table
    from vlm.study.export.study import default_angles, export_dataset, save_export, trim_points
    from vlm.study.export.tables import ExportPlan
    from vlm.study.motion.scenarios import schedule_of

    craft, grid = load_biplane(file, overrides), Grid(rows, strips)
    modelled = Modelled(grid, density, lagged=False)
    with shown_progress() as progress:
        chosen = trim_points(craft, trims, modelled.density, progress)
    for speed, _ in chosen:
        checked_air(speed, density)
    alphas, betas = default_angles()
    plan = ExportPlan(
        points=tuple(chosen),
        alphas=alphas,
        betas=betas,
        fold_range=None if fold_range is None else schedule_of("--fold-range", fold_range)[0],
        modelled=modelled,
    )
    with shown_progress() as progress:
        dataset = export_dataset(craft, plan, progress)
    save_export(dataset, out)
    echo_answer(export_table(dataset, models=out.suffix != ".csv"), [])
    note_written(out)
