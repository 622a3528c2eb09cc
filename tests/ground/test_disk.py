"""Files opened safely and written whole, and what one command must not do to its own input.

No source but the promise itself; kinds of files are POSIX's.
"""

import os
import socket
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from vlm.disk import (
    announced_folder,
    announced_output,
    command_files,
    input_file,
    inputs_only_from,
    regular_file,
    when_refused,
    write_whole,
)
from vlm.errors import ComputationFailed, InputRefused

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kinds of files of POSIX")


def odd_files(folder: Path) -> dict[str, Path]:
    """One file of each kind that is no regular one."""
    names = ("pipe", "socket", "folder")
    found = {name: folder / name for name in names} | {"device": Path("/dev/null")}
    os.mkfifo(found["pipe"])
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(found["socket"]))
    found["folder"].mkdir()
    found["link"] = folder / "link"
    found["link"].symlink_to("/dev/null")
    return found


@pytest.mark.parametrize("kind", ["pipe", "socket", "folder", "device", "link"])
def test_only_regular_files_are_read_and_replaced(kind: str, tmp_path: Path) -> None:
    """A pipe without a writer would hang the reader for ever."""
    path = odd_files(tmp_path)[kind]
    before = os.lstat(path)
    for work in (lambda: write_whole(path, b"x"), lambda: announced_output(path, "--out")):
        with pytest.raises(InputRefused, match="only a regular file is replaced"):
            work()
    if kind != "socket":  # the system itself does not open one
        with pytest.raises(InputRefused, match="only a regular file is read"):
            regular_file(path)
    after = os.lstat(path)
    assert (after.st_ino, after.st_mode) == (before.st_ino, before.st_mode)


def test_a_link_is_followed_and_stays(tmp_path: Path) -> None:
    kept, link = tmp_path / "deep" / "kept.csv", tmp_path / "link.csv"
    kept.parent.mkdir()
    kept.write_bytes(b"old")
    link.symlink_to("deep/kept.csv")
    write_whole(link, b"new")
    assert link.is_symlink()
    assert kept.read_bytes() == b"new"
    assert [path.name for path in kept.parent.iterdir()] == ["kept.csv"]


def test_rights_of_a_file_outlast_its_replacement(tmp_path: Path) -> None:
    path = tmp_path / "private.csv"
    path.write_bytes(b"old")
    path.chmod(0o600)
    write_whole(path, b"new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("way", ["itself", "hard link", "link", "other spelling"])
def test_what_was_read_is_not_written(way: str, tmp_path: Path) -> None:
    read, out = tmp_path / "in.toml", tmp_path / "out.toml"
    read.write_bytes(b"good")
    if way == "hard link":
        out.hardlink_to(read)
    elif way == "link":
        out.symlink_to(read)
    else:
        out = read if way == "itself" else tmp_path / "x" / ".." / "in.toml"
        (tmp_path / "x").mkdir()
    with command_files():
        input_file(read).close()
        for work in (lambda: announced_output(out, "--out"), lambda: write_whole(out, b"x")):
            with pytest.raises(InputRefused, match="the command reads this file"):
                work()
    assert read.read_bytes() == b"good"
    write_whole(out, b"another command's")
    assert out.read_bytes() == b"another command's"


def test_what_was_announced_is_not_read(tmp_path: Path) -> None:
    """The option stands before the file is known to be read; the message names it."""
    path = tmp_path / "line.csv"
    path.write_bytes(b"good")
    with command_files():
        announced_output(path, "--csv")
        with pytest.raises(InputRefused, match=r"--csv .*line\.csv; the command reads this file"):
            input_file(path)


def test_two_outputs_in_one_place_are_refused(tmp_path: Path) -> None:
    with command_files():
        announced_output(tmp_path / "a.svg", "--out")
        announced_output(tmp_path / "b.svg", "--plot")
        with pytest.raises(InputRefused, match="--out writes there too"):
            announced_output(tmp_path / "x/../a.svg", "--plot")


def test_an_announced_output_leaves_nothing(tmp_path: Path) -> None:
    announced_output(tmp_path / "out.nc", "--out")
    announced_output(tmp_path / ("a" * 250 + ".nc"), "--out")
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(InputRefused, match="there is no folder"):
        announced_output(tmp_path / "none" / "out.nc", "--out")
    with pytest.raises(OSError, match="name too long"):
        announced_output(tmp_path / ("a" * 300 + ".nc"), "--out")


def test_a_long_name_is_written(tmp_path: Path) -> None:
    """255 bytes are a name's most; the partial file has another one."""
    path = tmp_path / ("é" * 125 + ".csv")
    write_whole(path, b"whole")
    assert path.read_bytes() == b"whole"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_folder_that_takes_nothing_is_reported_at_once(tmp_path: Path, monkeypatch) -> None:
    """As root sees a file system that can only be read."""

    def refuse(*_arguments, **_keys):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(InputRefused, match=r"nothing can be written in .*: Permission denied"):
        announced_output(tmp_path / "out.nc", "--out")


def test_a_link_laid_where_a_file_is_written_is_not_followed(tmp_path: Path) -> None:
    """In a folder that others may write in, a partial file could be a link of theirs."""
    other = tmp_path / "other"
    other.write_bytes(b"theirs")
    (tmp_path / f".out.csv.{os.getpid()}.partial").symlink_to(other)
    write_whole(tmp_path / "out.csv", b"mine")
    assert other.read_bytes() == b"theirs"
    assert (tmp_path / "out.csv").read_bytes() == b"mine"


@pytest.mark.parametrize("name", ["../secret.csv", "link.csv", "{folder}/secret.csv"])
def test_a_folder_of_ones_own_can_be_all_there_is(name: str, tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (tmp_path / "secret.csv").write_bytes(b"secret")
    (own / "link.csv").symlink_to("../secret.csv")
    (own / "mine.csv").write_bytes(b"mine")
    with inputs_only_from(own):
        with input_file(own / "mine.csv") as stream:
            assert stream.read() == b"mine"
        with pytest.raises(InputRefused, match="nothing outside"):
            input_file(own / name.format(folder=tmp_path))
    with input_file(own / "link.csv") as stream:
        assert stream.read() == b"secret"


def refused_after(end: type[BaseException], called: list[str]) -> None:
    with command_files():
        when_refused(lambda: called.append(end.__name__))
        raise end


def test_stores_are_taken_away_if_the_command_is_refused() -> None:
    called: list[str] = []
    for end in (InputRefused, KeyboardInterrupt, ComputationFailed, OSError):
        with pytest.raises(end):
            refused_after(end, called)
    assert called == ["InputRefused"]


def test_a_folder_is_announced_before_it_is_there(tmp_path: Path, monkeypatch) -> None:
    """Of one that is to be made, the nearest that is there must take files; nothing is left."""
    for path in (tmp_path, tmp_path / "made" / "later"):
        assert announced_folder(path, "--folder") == path
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "file").write_bytes(b"x")
    for path in (tmp_path / "file", tmp_path / "file" / "in" / "it"):
        with pytest.raises(InputRefused, match=r"--folder .*; .*file is not a folder"):
            announced_folder(path, "--folder")

    def refuse(*_arguments, **_keys):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(InputRefused, match=f"nothing can be written in {tmp_path}: Permission"):
        announced_folder(tmp_path / "made", "--folder")


def test_what_a_killed_process_left_is_taken_away(tmp_path: Path) -> None:
    """Of the same file and of processes that run no more; others may still be writing theirs."""
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    names = {
        "left": f".a.csv.{ended.pid}.partial", "running": f".a.csv.{os.getppid()}.partial",
        "other": f".b.csv.{ended.pid}.partial", "no number": ".a.csv.x.partial",
    }  # fmt: skip
    for name in names.values():
        (tmp_path / name).write_bytes(b"half")
    write_whole(tmp_path / "a.csv", b"whole", tidy=False)
    assert (tmp_path / names.pop("left")).is_file()
    write_whole(tmp_path / "a.csv", b"whole")
    assert {path.name for path in tmp_path.iterdir()} == {"a.csv", *names.values()}
