"""Finished chunks of a sweep on disk, each there whole or not at all.

A chunk is a NumPy archive of arrays, with the words (reasons of failure, doubts) as JSON inside:
reading one runs no code, whoever wrote it.
"""

import io
import json
import os
import shutil
import weakref
import zipfile
from collections.abc import Sequence
from dataclasses import asdict
from glob import escape
from pathlib import Path
from typing import Any

import numpy as np

from vlm.errors import InputRefused
from vlm.findings import Finding

Values = dict[str, Any]
WORDS = "words"


class ChunkStore:
    """Finished chunks of one run in a folder.

    Parameters
    ----------
    folder : where they stand; None keeps nothing
    digest : fingerprint of the run

    Raises
    ------
    InputRefused : the folder holds chunks of another run, or another process works in it
    """

    def __init__(self, folder: Path | None, digest: str) -> None:
        self.folder = folder
        if folder is None:
            return
        folder.mkdir(parents=True, exist_ok=True)
        self._unlock = weakref.finalize(self, os.close, _locked(folder / "lock"))
        label = folder / "run.json"
        if label.exists() and _digest_in(label) == digest:
            return
        if any(folder.glob("chunk-*")):
            raise InputRefused(
                f"{folder}: holds a stopped run of another craft, plan or version; finish that"
                " one with the input it was started with, or remove the folder"
            )
        write_whole(label, json.dumps({"digest": digest}).encode())

    def load(self, index: int) -> list[Values] | None:
        """A finished chunk; None if there is none, or if its file is damaged."""
        path = self._path(index)
        if path is None or not path.exists():
            return None
        try:
            return unpacked(path.read_bytes())
        except (ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None

    def keep(self, index: int, results: Sequence[Values]) -> None:
        """Keep a finished chunk."""
        path = self._path(index)
        if path is not None:
            write_whole(path, packed(results))

    def remove(self) -> None:
        """Take the folder away, once the whole result is written."""
        if self.folder is not None:
            shutil.rmtree(self.folder, ignore_errors=True)
            self._unlock()

    def _path(self, index: int) -> Path | None:
        return None if self.folder is None else self.folder / f"chunk-{index:06d}.npz"


def _locked(path: Path) -> int:
    """Descriptor of a file that this process alone holds until it is closed, or ends somehow.

    Where the system has no such locks nothing is held.

    Raises
    ------
    InputRefused : another process holds it
    """
    held = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    if os.name != "posix":
        return held
    import fcntl

    try:
        fcntl.lockf(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # The other run may have ended, and taken the folder away, just now.
        lost = not path.exists() or path.stat().st_ino != os.fstat(held).st_ino
    except (BlockingIOError, PermissionError):
        lost = True
    if lost:
        os.close(held)
        raise InputRefused(
            f"{path.parent}: another run works in this folder; let it end, or write to another file"
        )
    return held


def _digest_in(label: Path) -> str | None:
    try:
        held = json.loads(label.read_text(encoding="utf-8"))
    except ValueError:
        return None
    return held.get("digest") if isinstance(held, dict) else None


def packed(results: Sequence[Values]) -> bytes:
    """Values of some cases as the bytes of an archive."""
    arrays: dict[str, Any] = {}
    words = []
    for index, values in enumerate(results):
        said: Values = {}
        for name, value in values.items():
            if name == "findings":
                said[name] = [asdict(finding) for finding in value]
            elif isinstance(value, str):
                said[name] = value
            else:
                arrays[f"{index} {name}"] = np.asarray(value)
        words.append(said)
    arrays[WORDS] = np.array(json.dumps(words))
    stream = io.BytesIO()
    np.savez(stream, **arrays)
    return stream.getvalue()


def unpacked(content: bytes) -> list[Values]:
    """The values that :func:`packed` made bytes of."""
    with np.load(io.BytesIO(content), allow_pickle=False) as archive:
        results: list[Values] = json.loads(str(archive[WORDS]))
        for key in archive.files:
            if key != WORDS:
                index, _, name = key.partition(" ")
                results[int(index)][name] = archive[key]
    for values in results:
        if "findings" in values:
            values["findings"] = [Finding(**found) for found in values["findings"]]
    return results


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all.

    What processes that were killed while they wrote the same file have left is taken away.
    """
    partial = path.with_name(f".{path.name}.{os.getpid()}.partial")
    try:
        with partial.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        partial.replace(path)
    except BaseException:
        partial.unlink(missing_ok=True)
        raise
    for other in path.parent.glob(f".{escape(path.name)}.*.partial"):
        if not _is_running(other.name.split(".")[-2]):
            other.unlink(missing_ok=True)


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
