"""Kinds of words that options take: files, folders, a thrust."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vlm.disk import announced_folder, announced_output, input_file
from vlm.errors import InputRefused


class OutputFile(click.Path):
    """A file to write: refused before any work where it cannot be, see :mod:`vlm.disk`."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, dir_okay=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if ctx is not None and ctx.resilient_parsing:
            return path
        return announced_output(path, max(param.opts, key=len) if param else "output")


class InputFile(click.Path):
    """A file to read, that no output of the command may replace."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, dir_okay=False, exists=True)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if ctx is None or not ctx.resilient_parsing:
            input_file(path).close()
        return path


class LogFile(InputFile):
    """A flight log: a path, or the name of a shipped one."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        from vlm.description.files import found_log

        try:
            found = found_log(Path(os.fsdecode(value)))
        except InputRefused as refused:
            self.fail(str(refused), param, ctx)
        return super().convert(found, param, ctx)


class OutputFolder(click.Path):
    """A folder to write in: refused before any work where that cannot be."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, file_okay=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if ctx is not None and ctx.resilient_parsing:
            return path
        return announced_folder(path, max(param.opts, key=len) if param else "output")


# Only newer versions of click take the type of a value.
if TYPE_CHECKING:
    Words = click.ParamType[Any]
else:
    Words = click.ParamType


class ThrustWord(Words):
    """A thrust in newtons, or the word trim."""

    name = "N|trim"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or the word."""
        if value == "trim":
            return value
        try:
            number = float(value)
        except ValueError:
            raise InputRefused(
                f"--thrust {value}; write the thrust of all rotors in newtons, or the word trim"
            ) from None
        if not 0.0 <= number < float("inf"):
            raise InputRefused(f"--thrust {value}; 0 N or more is allowed, or the word trim")
        return number
