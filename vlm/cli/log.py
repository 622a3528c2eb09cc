"""``foldspan log``: a flight log against the prediction."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vlm.cli.options import OutputFolder, echo_json, geometry_options, json_option, note
from vlm.disk import announced_output
from vlm.errors import ComputationFailed, InputRefused

if TYPE_CHECKING:
    from vlm.description.models import Biplane
    from vlm.log.analysis import Compared, Measured
    from vlm.log.reading import FlightLog

UNKNOWNS = "drag_area_m2, efficiency, fixed_load_W, mass_kg, lift_maximum"


@click.command("log")
@geometry_options
@click.argument("log_file", metavar="LOG.csv", type=click.Path(path_type=Path))
@click.option(
    "--compare", nargs=2, metavar="FIRST SECOND",
    help="Two configurations to compare; every pair that was flown if left out.",
)  # fmt: skip
@click.option(
    "--fit", "fits", multiple=True, metavar="UNKNOWN",
    help=f"Fit an unknown to the log; may be repeated. One of {UNKNOWNS}.",
)  # fmt: skip
@click.option(
    "--level", type=click.FloatRange(0.5, 0.999), default=0.9, show_default=True,
    help="Confidence level of all intervals.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(0), default=0, show_default=True,
    help="Seed of the bootstrap: the same seed gives the same intervals.",
)  # fmt: skip
@click.option("--no-prediction", is_flag=True, help="Look at the log alone, which is quick.")
@click.option(
    "--rows", type=click.IntRange(1, 20), default=4, show_default=True,
    help="Chordwise panel rows of the prediction.",
)  # fmt: skip
@click.option(
    "--strips", type=click.IntRange(4, 60), default=16, show_default=True,
    help="Spanwise strips of the prediction over each half of the longest flat span.",
)  # fmt: skip
@click.option(
    "--plots", metavar="FOLDER", type=OutputFolder(),
    help="Save the pictures in a folder.",
)  # fmt: skip
@click.option(
    "--write-fitted", metavar="NAME.toml",
    help="Write the file with the fitted values beside FILE; never over an existing one.",
)  # fmt: skip
@json_option
def command(**options: Any) -> None:
    """Measured power of LOG.csv against the power that FILE predicts.

    LOG.csv is a path, or the name of a log in geometries/logs, such as tideline-invented.csv.
    How the log is written, and what counts as steady flight, stands in the block [log] of FILE.
    Intervals hold the scatter and what [log.uncertainty] states.
    """
    from vlm.cli.craft import load_biplane

    craft = load_biplane(options["file"], options["overrides"])
    target = _target(craft, options)
    result = _measured(craft, options)
    if not result.steady.segments:
        _pictures(result, None, options)
        raise ComputationFailed(_no_segment(result))
    against = _compared(craft, result, options)
    _pictures(result, against, options)
    if target is not None and against is not None and against.fit is not None:
        from vlm.disk import write_whole
        from vlm.log.fitted_file import fitted_text

        write_whole(target, fitted_text(craft, result, against.fit).encode())
        note(f"wrote {target}")
    _answer(result, against, as_json=options["as_json"])


def _target(craft: "Biplane", options: dict[str, Any]) -> Path | None:
    """Where the fitted file goes; refused before any work if it cannot be written."""
    name = options["write_fitted"]
    if name is None:
        return None
    if not options["fits"]:
        raise InputRefused("--write-fitted needs --fit: nothing is fitted")
    if Path(name).name != name or not name.endswith(".toml"):
        raise InputRefused(
            f"--write-fitted {name}: a name that ends in .toml, without a folder; it is written"
            " beside FILE, so that the tables it names are found"
        )
    target: Path = (craft.folder or Path()) / name
    if os.path.lexists(target):
        raise InputRefused(f"{target} exists; choose another name for --write-fitted")
    return announced_output(target, "--write-fitted")


def _measured(craft: "Biplane", options: dict[str, Any]) -> "Measured":
    from vlm.log.analysis import LogPlan, log_craft, measured

    what = log_craft(craft)
    plan = LogPlan(
        level=options["level"],
        compare=options["compare"] or None,
        fit=tuple(options["fits"]),
        seed=options["seed"],
    )
    return measured(what, _read(options["log_file"], craft), plan)


def _found(path: Path) -> Path:
    """The log itself, or the shipped one of that name."""
    from vlm.description.files import shipped_folders

    if path.exists() or path.name != str(path):
        return path
    shipped = (folder / "logs" / path.name for folder in shipped_folders())
    return next((log for log in shipped if log.is_file()), path)


def _read(path: Path, craft: "Biplane") -> "FlightLog":
    """Read the log under a progress bar."""
    from tqdm import tqdm

    from vlm.log.reading import read_log

    assert craft.log is not None
    path = _found(path)
    size = path.stat().st_size if path.is_file() else 0
    with tqdm(total=size, unit="B", unit_scale=True, leave=False, disable=None, desc="read") as bar:
        return read_log(path, craft.log, bar.update)


def _compared(craft: "Biplane", result: "Measured", options: dict[str, Any]) -> "Compared | None":
    """The log against the craft's own power curves; None where the file has no drives."""
    blocks = {"mass": craft.mass, "rotors": craft.rotors, "propulsion": craft.propulsion}
    missing = [name for name, block in blocks.items() if not block]
    if missing and not options["fits"]:
        note(f"no prediction: {craft.source_name} has no {', '.join(missing)}")
        return None
    if missing or options["no_prediction"]:
        if options["fits"]:
            reason = "--no-prediction" if not missing else f"{craft.source_name} lacks"
            raise InputRefused(f"--fit needs a prediction: {reason} {', '.join(missing)}".rstrip())
        return None
    from tqdm import tqdm

    from vlm.lattice.cellule import Grid
    from vlm.log.craft_study import compared_with_craft, curves_needed

    total = curves_needed(craft, result)
    with tqdm(total=total, unit="curve", leave=False, disable=None, desc="predict") as bar:
        grid = Grid(options["rows"], options["strips"])
        return compared_with_craft(craft, result, bar.update, grid)


def _pictures(result: "Measured", against: "Compared | None", options: dict[str, Any]) -> None:
    if options["plots"] is None:
        return
    from vlm.show.plots.log import save_log_pictures

    for path in save_log_pictures(result, against, options["plots"], options["log_file"].stem):
        note(f"wrote {path}")


def _answer(result: "Measured", against: "Compared | None", *, as_json: bool) -> None:
    if as_json:
        from vlm.log.document import log_document

        echo_json(log_document(result, against))
        return
    from vlm.show.tables.log import log_table

    click.echo(log_table(result, against))


def _no_segment(result: "Measured") -> str:
    shares = result.steady.shares()
    reasons = sorted(((share, name) for name, share in shares.items() if share > 0), reverse=True)
    told = ", ".join(f"{name} {100.0 * share:.0f} %" for share, name in reasons)
    return (
        f"{result.log.path}: no steady, level segment of {result.craft.how.steady.shortest_s:g} s"
        f" was found; what its time fails at: {told}. Look at the time plot (--plots) and at"
        " log.steady."
    )
