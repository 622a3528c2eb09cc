"""``foldspan log``: a flight log against the prediction."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vlm.cli.answering import echo_json, note, note_written
from vlm.cli.hearing import shown_progress
from vlm.cli.options import counts_options, full_option, geometry_options, json_option
from vlm.cli.parameters import OutputFolder
from vlm.disk import announced_output
from vlm.errors import ComputationFailed, InputRefused
from vlm.progress import Progress

if TYPE_CHECKING:
    from vlm.description.models import Biplane
    from vlm.log.analysis import Compared, Measured
    from vlm.log.reading import FlightLog

PREDICTION = (
    "Chordwise panel rows of the prediction.",
    "Spanwise strips of the prediction over each half of the longest flat span.",
)
UNKNOWNS = "drag_area_m2, efficiency, fixed_load_W, mass_kg, lift_maximum"


@click.command("log")
@geometry_options
@click.argument(
    "log_files", metavar="LOG.csv...", type=click.Path(path_type=Path), nargs=-1, required=True
)
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
@click.option("--no-prediction", is_flag=True, help="Look at the log alone, which is quick.")
@counts_options((4, 20), (16, 60), PREDICTION)
@click.option(
    "--plots", metavar="FOLDER", type=OutputFolder(),
    help="Save the pictures in a folder.",
)  # fmt: skip
@click.option(
    "--write-fitted", metavar="NAME.toml",
    help="Write the file with the fitted values beside FILE; never over an existing one.",
)  # fmt: skip
@click.option(
    "--check", is_flag=True,
    help="Say what each column seems to be, its rate, range and gaps, and the block [log] that"
    " fits; nothing else.",
)  # fmt: skip
@click.option(
    "--write-block", metavar="NAME.toml",
    help="Write FILE with the block [log] that fits beside FILE; never over an existing one.",
)  # fmt: skip
@full_option
@json_option
def command(**options: Any) -> None:
    """Measured power of LOG.csv against the power that FILE predicts.

    LOG.csv is a path, or the name of a log in geometries/logs, such as tideline-invented.csv.
    Several tables of different rates that share a clock are joined on their time.
    How the log is written, and what counts as steady flight, stands in the block [log] of FILE.
    Intervals hold the scatter and what [log.uncertainty] states.
    """
    from vlm.cli.craft import load_biplane

    craft = load_biplane(options["file"], options["overrides"])
    if options["check"] or options["write_block"]:
        _propose(craft, options)
        return
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
        note_written(target)
    _answer(result, against, full=options["full"], as_json=options["as_json"])


def _target(craft: "Biplane", options: dict[str, Any]) -> Path | None:
    """Where the fitted file goes; refused before any work if it cannot be written."""
    name = options["write_fitted"]
    if name is None:
        return None
    if not options["fits"]:
        raise InputRefused("--write-fitted needs --fit: nothing is fitted")
    return _beside(craft, name, "--write-fitted")


def _beside(craft: "Biplane", name: str, option: str) -> Path:
    """A new file beside the geometry file."""
    if Path(name).name != name or not name.endswith(".toml"):
        raise InputRefused(
            f"{option} {name}: a name that ends in .toml, without a folder; it is written"
            " beside FILE, so that the tables it names are found"
        )
    target: Path = (craft.folder or Path()) / name
    if os.path.lexists(target):
        raise InputRefused(f"{target} exists; choose another name for {option}")
    return announced_output(target, option)


def _measured(craft: "Biplane", options: dict[str, Any]) -> "Measured":
    from vlm.log.analysis import LogPlan, log_craft, measured

    what = log_craft(craft)
    plan = LogPlan(
        level=options["level"],
        compare=options["compare"] or None,
        fit=tuple(options["fits"]),
    )
    return measured(what, _read(options["log_files"], craft), plan)


def _propose(craft: "Biplane", options: dict[str, Any]) -> None:
    """Print what the columns seem to be, and write the block where that is asked."""
    from vlm.description.files import found_log
    from vlm.log.proposing import proposed, proposed_document
    from vlm.show.tables.log_check import check_table

    found = proposed([found_log(path) for path in options["log_files"]], list(craft.configurations))
    name = options["write_block"]
    if name is not None:
        target = _beside(craft, name, "--write-block")
        if craft.log is not None:
            raise InputRefused(f"--write-block: {craft.source_name} has a block [log] already")
        from vlm.study.store import write_whole

        source = craft.folder / Path(craft.source_name).name if craft.folder else None
        old = source.read_text() if source is not None and source.is_file() else craft.to_toml()
        write_whole(target, f"{old.rstrip()}\n\n{found.block}".encode())
        note_written(target)
    if options["as_json"]:
        echo_json(proposed_document(found))
        return
    click.echo(check_table(found))


def _read(paths: tuple[Path, ...], craft: "Biplane") -> "FlightLog":
    """Read the log with its progress on standard error."""
    from vlm.description.files import found_log
    from vlm.log.reading import read_log

    assert craft.log is not None
    found = [found_log(path) for path in paths]
    size = sum(path.stat().st_size for path in found if path.is_file())
    with shown_progress("MB") as progress:
        return read_log(found, craft.log, _added(progress, "reading [MB]", size, 1e-6))


def _compared(craft: "Biplane", result: "Measured", options: dict[str, Any]) -> "Compared | None":
    """The log against the craft's own power curves; None where the file has no drives."""
    blocks = {"mass": craft.mass, "rotors": craft.rotors, "propulsion": craft.propulsion}
    missing = [name for name, block in blocks.items() if not block]
    if missing and not options["fits"]:
        note(f"no prediction: {craft.source_name} has no {', '.join(missing)}")
        return None
    if result.model is None:
        note("no prediction: too few steady segments to hold against it")
        return None
    if missing or options["no_prediction"]:
        if options["fits"]:
            reason = "--no-prediction" if not missing else f"{craft.source_name} lacks"
            raise InputRefused(f"--fit needs a prediction: {reason} {', '.join(missing)}".rstrip())
        return None
    from vlm.lattice.cellule import Grid
    from vlm.log.craft_study import compared_with_craft, curves_needed

    total = curves_needed(craft, result)
    with shown_progress("curve") as progress:
        grid = Grid(options["rows"], options["strips"])
        return compared_with_craft(craft, result, _added(progress, "predicting", total), grid)


def _added(progress: Progress, what: str, total: int, scale: float = 1.0) -> Callable[[int], None]:
    """What hears how many more are done, for a progress that hears how many are done."""
    done = 0

    def more(count: int = 1) -> None:
        nonlocal done
        done += count
        progress(what, round(scale * done), max(1, round(scale * total)))

    return more


def _pictures(result: "Measured", against: "Compared | None", options: dict[str, Any]) -> None:
    if options["plots"] is None:
        return
    from vlm.show.plots.log import save_log_pictures

    for path in save_log_pictures(result, against, options["plots"], options["log_files"][0].stem):
        note_written(path)


def _answer(result: "Measured", against: "Compared | None", *, full: bool, as_json: bool) -> None:
    if as_json:
        from vlm.log.document import log_document

        echo_json(log_document(result, against))
        return
    from vlm.show.tables.log import log_table

    click.echo(log_table(result, against, full=full))


def _no_segment(result: "Measured") -> str:
    shares = result.steady.shares()
    reasons = sorted(((share, name) for name, share in shares.items() if share > 0), reverse=True)
    said = ", ".join(f"{name} {100.0 * share:.0f} %" for share, name in reasons)
    return (
        f"{result.log.path}: no steady, level segment of {result.craft.how.steady.shortest_s:g} s"
        f" was found; what its time fails at: {said}. Look at the time plot (--plots) and at"
        " log.steady."
    )
