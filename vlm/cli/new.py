"""``foldspan new``: a commented geometry file to start from."""

import sys
from pathlib import Path
from typing import Any

import click

from vlm.cli.answering import note_written

QUESTIONS = (
    ("mass_kg", "Mass of the whole craft with its battery [kg]", 2.0),
    ("span_m", "Span from end to end, tips flat [m]", 1.5),
)
BLOCKS = ("mass", "rotors", "actuator", "schedule", "log")


@click.command("new")
@click.argument("path", metavar="NAME.toml", type=click.Path(path_type=Path))
@click.option("--title", help="What the craft is called; the file's name if left out.")
@click.option("--mass", "mass_kg", type=float, help="Whole craft with its battery [kg].")
@click.option("--span", "span_m", type=float, help="Upper wing end to end, tips flat [m].")
@click.option("--chord", "chord_m", type=float, help="Chord of the wings [m].")
@click.option("--gap", "gap_m", type=float, help="Between the two wings [m].")
@click.option(
    "--tip-span", "tip_span_m", type=float, help="Of each tip of the upper wing; 0: none [m]."
)
@click.option(
    "--rotors",
    type=int,
    default=4,
    show_default=True,
    help="How many, 2 or 4; a file may have more.",
)
@click.option("--rotor-radius", "rotor_radius_m", type=float, help="Of each rotor [m].")
@click.option("--battery", "battery_Wh", type=float, help="Energy of the full battery [Wh].")
@click.option("--monoplane", is_flag=True, help="One wing instead of two.")
@click.option(
    "--blocks",
    default="mass,rotors,actuator,schedule",
    show_default=True,
    metavar="A,B,...",
    help=f"Optional blocks to write, of {', '.join(BLOCKS)}; none for wings alone.",
)
@click.option("--ask", is_flag=True, help="Ask for mass and span if they are not given.")
def command(path: Path, title: str | None, blocks: str, ask: bool, **sizes: Any) -> None:
    """Write a geometry file to start from, with every key explained.

    What is not given is chosen by a rule that stands beside it, marked ESTIMATE. An existing
    file is never replaced. foldspan.schema.json, from which editors complete keys, is written
    beside it.
    """
    import json

    from vlm.description.commented import SCHEMA_FILE
    from vlm.description.loading import load_biplane_text
    from vlm.description.schema import biplane_json_schema
    from vlm.description.starting import StartingWish, checked_start, starting_toml
    from vlm.disk import announced_output, write_whole
    from vlm.show.text.answer import wrapped

    _refuse_path(path)
    schema = announced_output(path.with_name(SCHEMA_FILE), "the schema")
    _answered(sizes, ask=ask)
    name = title or path.stem.replace("_", " ").capitalize()
    start = checked_start(StartingWish(title=name, blocks=_blocks(blocks), **sizes))
    text = starting_toml(start)
    load_biplane_text(text, str(path))  # what is written must be valid
    write_whole(announced_output(path, "NAME"), text.encode())
    write_whole(schema, (json.dumps(biplane_json_schema(), indent=2) + "\n").encode())
    count = text.count("# ESTIMATE:")
    click.echo(
        f"{path} describes {'a biplane' if start.gap_m else 'a monoplane'} of {start.mass_kg:g} kg"
        f" and {start.span_m:g} m span.\n"
        f"{count} of its numbers are estimates, marked ESTIMATE with their rule: replace\n"
        "them by what you measure. Then:\n"
        f"  foldspan check {path}             what it describes, and what it lacks\n"
        f"  foldspan point {path} --alpha 4   loads and derivatives of one setting"
    )
    for line in _further(start):
        click.echo(wrapped(line))
    note_written(path, schema)


def _further(start: Any) -> list[str]:
    """What a file may have that is not written: tips of the lower wing, other numbers of rotors."""
    found = []
    if start.gap_m is not None and start.tip_span_m > 0.0:
        mass = " and [mass.lower_tip], as [mass.upper_tip]" if "mass" in start.blocks else ""
        found.append(
            "Only the upper wing has tips. For tips on the lower one add [lower.tips], with keys"
            f" as [upper.tips]{mass}."
        )
    if "rotors" in start.blocks:
        found.append(
            f"It has {start.rotors} rotors, each a block [[rotors]]: add blocks for more of them."
        )
    return found


def _refuse_path(path: Path) -> None:
    from vlm.errors import InputRefused

    if path.suffix != ".toml":
        raise InputRefused(f"{path}: a geometry file ends in .toml; write {path}.toml")
    if path.exists() or path.is_symlink():
        raise InputRefused(f"{path}: there is such a file already, which new never replaces")


def _answered(sizes: dict[str, Any], *, ask: bool) -> None:
    """Fill mass and span: asked for where somebody can answer, else needed."""
    from vlm.errors import InputRefused

    can_answer = ask or (sys.stdin.isatty() and sys.stdout.isatty())
    for key, question, start in QUESTIONS:
        if sizes[key] is not None:
            continue
        if not can_answer:
            option = key.partition("_")[0]
            raise InputRefused(
                f"--{option} is missing; give --mass (kg) and --span (m), such as"
                f" --mass {QUESTIONS[0][2]:g} --span {QUESTIONS[1][2]:g}, or --ask"
            )
        sizes[key] = click.prompt(question, type=float, default=start, err=True)


def _blocks(text: str) -> Any:
    from vlm.errors import InputRefused, nearest_name

    names = [] if text in ("", "none") else [name.strip() for name in text.split(",")]
    for name in names:
        if name not in BLOCKS:
            near = nearest_name(name, BLOCKS)
            hint = f"did you mean {near}?" if near else f"allowed are {', '.join(BLOCKS)}"
            raise InputRefused(f"--blocks holds {name!r}; {hint}")
    return tuple(names)
