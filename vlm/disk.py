"""Files on disk: opened safely, written whole, and never one that the command reads.

One command has one ledger (:func:`command_files`) of what it has read, of the outputs that it
announced, and of the stores it has opened. The writer looks there before it replaces anything, the
reader before it reads what is to be replaced; a refused command takes its stores away.
"""

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from glob import escape
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryDirectory
from typing import BinaryIO

from vlm.errors import InputRefused
from vlm.interrupts import put_away_if_interrupted

# The longest name of a file on the usual file systems is 255 bytes; a partial file's is longer
# than the file's own.
LONGEST_STEM = 200

Identity = tuple[int, int]


@dataclass
class CommandFiles:
    """What one command reads and writes.

    Attributes
    ----------
    read : path by device and number of each file that was read
    announced : option by device and number of each output that stood there before, and by real path
    abandoned : called if the command is refused
    """

    read: dict[Identity, Path] = field(default_factory=dict)
    announced: dict[Identity | str, str] = field(default_factory=dict)
    abandoned: list[Callable[[], None]] = field(default_factory=list)


_CURRENT: ContextVar[CommandFiles | None] = ContextVar("command_files", default=None)
_ONLY_FROM: ContextVar[Path | None] = ContextVar("only_from", default=None)


@contextmanager
def command_files() -> Iterator[CommandFiles]:
    """A ledger for the files of one command; outside of it, nothing is written down."""
    files = CommandFiles()
    token = _CURRENT.set(files)
    try:
        yield files
    except InputRefused:
        for take_away in files.abandoned:
            take_away()
        raise
    finally:
        _CURRENT.reset(token)


@contextmanager
def inputs_only_from(folder: Path) -> Iterator[None]:
    """Refuse every input from elsewhere: for names that may come from anybody."""
    token = _ONLY_FROM.set(folder)
    try:
        yield
    finally:
        _ONLY_FROM.reset(token)


def when_refused(take_away: Callable[[], None]) -> None:
    """Have something called if the present command ends with refused input."""
    files = _CURRENT.get()
    if files is not None:
        files.abandoned.append(take_away)


def regular_file(path: Path) -> BinaryIO:
    """A regular file opened for reading; a pipe or a device neither hangs nor never ends.

    Raises
    ------
    InputRefused : it is a folder, a device, a pipe or a socket
    OSError : it is not there, or cannot be read
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)
    descriptor = os.open(path, flags | getattr(os, "O_BINARY", 0))
    try:
        _refuse_no_file(os.fstat(descriptor).st_mode, f"{path}: ", "is read")
    except BaseException:
        os.close(descriptor)
        raise
    return os.fdopen(descriptor, "rb")


def input_file(path: Path) -> BinaryIO:
    """As :func:`regular_file`, for what the user named: no output of the command may replace it.

    Raises
    ------
    InputRefused : as above, or it is an output that was announced
    OSError : it is not there, or cannot be read
    """
    folder = _ONLY_FROM.get()
    if folder is not None and not _real(path).is_relative_to(_real(folder)):
        raise InputRefused(f"{path}: nothing outside of what was handed over is read")
    stream = regular_file(path)
    files = _CURRENT.get()
    if files is not None:
        found = os.fstat(stream.fileno())
        identity = found.st_dev, found.st_ino
        if identity in files.announced:
            stream.close()
            raise InputRefused(
                f"{files.announced[identity]} {path}; the command reads this file, name another"
            )
        files.read[identity] = path
    return stream


def announced_output(path: Path, option: str) -> Path:
    """The path itself, if an output can be written there; found out before any work starts.

    Parameters
    ----------
    option : that named it, for messages ("--out")

    Raises
    ------
    InputRefused : it is no regular file, is read by the command, is named twice, is protected, or
        nothing can be written in its folder
    OSError : the disk is full
    """
    target = _target(path, option)
    files = _CURRENT.get()
    if files is not None:
        keys: list[Identity | str] = [str(target)]
        if target.exists():
            found = target.stat()
            keys.append((found.st_dev, found.st_ino))
        for key in keys:
            if key in files.announced:
                raise InputRefused(
                    f"{option} {path}; {files.announced[key]} writes there too, name another"
                )
        files.announced |= dict.fromkeys(keys, option)
    _probe(target, f"{option} {path}")
    return path


def announced_folder(path: Path, option: str) -> Path:
    """The path itself, if files can be written in that folder, or the folder can be made.

    Raises
    ------
    InputRefused : it is no folder, or nothing can be written there
    """
    there = _real(path)
    while not there.exists() and there != there.parent:
        there = there.parent
    if not there.is_dir():
        raise InputRefused(f"{option} {path}; {there} is not a folder")
    _probe(there / "file", f"{option} {path}")
    return path


@contextmanager
def temporary_folder() -> Iterator[Path]:
    """A folder that is gone after the block, or when an interrupt ends the process in it."""
    with (
        TemporaryDirectory(prefix="foldspan-") as made,
        put_away_if_interrupted(lambda: rmtree(made, ignore_errors=True)),
    ):
        yield Path(made)


def write_whole(path: Path, content: bytes, *, durable: bool = True, tidy: bool = True) -> None:
    """Write a file so that it is there whole or not at all.

    A link is followed.

    Parameters
    ----------
    durable : whether to wait until the disk has it; else a loss of power may leave a damaged file
    tidy : whether to look through the folder for what processes that were killed while they wrote
        the same file have left, and take it away

    Raises
    ------
    InputRefused : it is no regular file, is protected, or is read by the command
    OSError : the disk or the folder does not take it
    """
    target = _target(path)
    partial = _partial(target)
    with put_away_if_interrupted(partial.unlink):
        try:
            _fill(partial, target, content, durable=durable)
            partial.replace(target)
        except BaseException:
            partial.unlink(missing_ok=True)
            raise
    leftovers = target.parent.glob(f"{escape(_partial_start(target))}*.partial") if tidy else ()
    for other in leftovers:
        if not _is_running(other.name.split(".")[-2]):
            other.unlink(missing_ok=True)


def _fill(partial: Path, target: Path, content: bytes, *, durable: bool) -> None:
    """Write a new file with the access rights of the one that it will replace, onto the disk."""
    descriptor = _new_file(partial)
    try:
        left = memoryview(content)
        while left:
            left = left[os.write(descriptor, left) :]
        if target.exists() and os.name == "posix":
            os.fchmod(descriptor, stat.S_IMODE(target.stat().st_mode))
        if durable:
            os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _target(path: Path, option: str = "") -> Path:
    """The file that a path leads to, if it may be written or replaced."""
    target = _real(path)
    said = f"{option} {path}; " if option else f"{path}: "
    if not target.parent.is_dir():
        missing = target.parent if path.is_symlink() else path.parent
        raise InputRefused(f"{said}there is no folder {missing}")
    try:
        found = os.lstat(target)
    except FileNotFoundError:
        return target
    _refuse_no_file(found.st_mode, said, "is replaced")
    files = _CURRENT.get()
    if files is not None and (found.st_dev, found.st_ino) in files.read:
        raise InputRefused(f"{said}the command reads this file, name another")
    if not os.access(target, os.W_OK):
        raise InputRefused(f"{said}the file is write-protected")
    return target


def _real(path: Path) -> Path:
    return Path(os.path.realpath(path))


def _refuse_no_file(mode: int, said: str, done: str) -> None:
    kinds = (
        (stat.S_ISREG, ""),
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISSOCK, "a socket"),
        (stat.S_ISLNK, "a link that leads nowhere"),
    )
    kind = next((name for test, name in kinds if test(mode)), "a device")
    if kind:
        raise InputRefused(f"{said}this is {kind}; only a regular file {done}")


def _probe(target: Path, said: str) -> None:
    """Make a file in the target's folder and take it away."""
    partial = _partial(target)
    try:
        with put_away_if_interrupted(partial.unlink):
            os.close(_new_file(partial))
            partial.unlink()
    except (PermissionError, IsADirectoryError, NotADirectoryError) as error:
        raise InputRefused(
            f"{said}; nothing can be written in {target.parent}: {error.strerror}"
        ) from None
    except OSError as error:
        error.filename = str(target)
        raise


def _new_file(path: Path) -> int:
    """Descriptor of a file that was not there; one that a killed process left makes way."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        return os.open(path, flags, 0o666)
    except FileExistsError:
        path.unlink()
        return os.open(path, flags, 0o666)


def _partial(target: Path) -> Path:
    """Where this process writes a file before it takes the file's name."""
    return target.parent / f"{_partial_start(target)}{os.getpid()}.partial"


def _partial_start(target: Path) -> str:
    stem = target.name
    if len(os.fsencode(stem)) > LONGEST_STEM:
        stem = hashlib.sha256(os.fsencode(stem)).hexdigest()[:16]
    return f".{stem}."


def _is_running(process: str) -> bool:
    """Whether a process of this number runs here."""
    if not process.isdigit() or os.name != "posix":
        return True
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
