"""The table of commands, and the group that imports a command only when it is called."""

import importlib
from dataclasses import dataclass

import click

from vlm.cli.strict import refuse_warnings
from vlm.disk import command_files
from vlm.errors import nearest_name


@dataclass(frozen=True)
class CommandEntry:
    """Where a command lives and what it does, in one line for ``foldspan --help``.

    The module holds the command as ``command``; this line becomes its short help.
    """

    module: str
    summary: str


# In the order in which ``foldspan --help`` lists them.
COMMANDS: dict[str, CommandEntry] = {
    "new": CommandEntry("vlm.cli.new", "A commented geometry file to start from."),
    "check": CommandEntry("vlm.cli.check", "What a file describes, and what it lacks."),
    "point": CommandEntry("vlm.cli.point", "Loads and derivatives of one setting."),
    "sweep": CommandEntry("vlm.cli.sweep", "Loads over folds, angles and keys of the file."),
    "compare": CommandEntry("vlm.cli.compare", "Craft, or settings of one, side by side."),
    "converge": CommandEntry(
        "vlm.cli.converge", "Lattices refined: orders, limits, what is enough."
    ),
    "motion": CommandEntry(
        "vlm.cli.motion", "The craft in time: tips that fold, jam or come loose; gusts, failures."
    ),
    "export": CommandEntry("vlm.cli.export", "Tables and linear models for other simulators."),
    "roll": CommandEntry("vlm.cli.roll", "Roll by folding: authority, pairs, bank in time."),
    "lateral": CommandEntry("vlm.cli.lateral", "Lateral stability and modes against fold."),
    "power": CommandEntry("vlm.cli.power", "Electrical power against airspeed, with trim."),
    "schedule": CommandEntry("vlm.cli.schedule", "Best fold at every airspeed, and a flyable one."),
    "mission": CommandEntry("vlm.cli.mission", "Energy of a mission: folding against fixed tips."),
    "design": CommandEntry("vlm.cli.design", "Dimensions searched for the best of a goal."),
    "rerun": CommandEntry("vlm.cli.rerun", "Repeat a saved sweep and compare."),
    "report": CommandEntry("vlm.cli.report", "Everything about a craft on one page."),
    "explore": CommandEntry("vlm.cli.explore", "A window with sliders for folds and angles."),
    "view": CommandEntry("vlm.cli.view", "A picture, a VTK file or a page of the craft."),
    "hinge": CommandEntry("vlm.cli.hinge", "What hinge, worm gear, servo and wings must carry."),
    "log": CommandEntry("vlm.cli.log", "A flight log against the predicted power."),
    "schema": CommandEntry("vlm.cli.schema", "JSON Schema of the geometry file, and of --json."),
}


LEADS = {
    "init": "new", "create": "new", "start": "new", "template": "new", "wizard": "new",
    "inspect": "check", "validate": "check", "info": "check", "describe": "check",
    "diff": "compare", "versus": "compare",
    "show": "view", "plot": "view", "run": "point", "solve": "point",
}  # fmt: skip
"""Words that people try first, and the command that does it."""


def load_command(name: str) -> click.Command:
    """The command of the table's row ``name``; KeyError if there is none."""
    entry = COMMANDS[name]
    command: click.Command = importlib.import_module(entry.module).command
    command.short_help = entry.summary
    return command


class LazyGroup(click.Group):
    """A group that lists its commands from the table and imports the one that is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None if the table has none of that name."""
        return load_command(cmd_name) if cmd_name in COMMANDS else None

    def invoke(self, ctx: click.Context) -> object:
        """As in click, with a ledger of files, and ``--strict`` where a command is over."""
        with command_files():
            result = super().invoke(ctx)
            refuse_warnings(ctx)
            return result

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As in click, but an unknown name is reported with the nearest known one."""
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            raise click.UsageError(_unknown_command(args[0]), ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from the table alone, importing none."""
        if COMMANDS:
            with formatter.section("Commands"):
                formatter.write_dl([(name, entry.summary) for name, entry in COMMANDS.items()])


def _unknown_command(name: str) -> str:
    nearest = LEADS.get(name) or nearest_name(name, COMMANDS)
    if nearest is not None:
        return f"{name} is not a command; did you mean {nearest}?"
    return f"{name} is not a command; known are {', '.join(COMMANDS)}."
