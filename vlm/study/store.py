"""Finished chunks of a study on disk, each there whole or not at all.

A chunk is a sealed archive of arrays (:mod:`vlm.archive`), with the words (reasons of failure,
warnings) as JSON inside: reading one runs no code, whoever wrote it. One that was changed, that
belongs to another run or place, or that does not hold what the run expects counts as not there.
"""

import json
import os
import weakref
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from vlm.archive import DamagedArchive, packed_arrays, unpacked_arrays
from vlm.disk import regular_file, when_refused, write_whole
from vlm.errors import InputRefused
from vlm.findings import Finding

__all__ = ["ChunkStore", "packed", "unpacked", "write_whole"]

Values = dict[str, Any]
Fits = Callable[[int, list[Values]], bool]
LABEL, LOCK = "run.json", "lock"


def _anything(_index: int, _results: list[Values]) -> bool:
    return True


class ChunkStore:
    """Finished chunks of one run in a folder.

    If the command that opened it ends with refused input, the store is taken away: nobody could
    go on with it.

    Parameters
    ----------
    folder : where they stand; None keeps nothing
    digest : fingerprint of the run
    fits : whether what a chunk holds is what the run expects under its number

    Raises
    ------
    InputRefused : the folder holds chunks of another run, or another process works in it
    """

    def __init__(self, folder: Path | None, digest: str, fits: Fits = _anything) -> None:
        self.folder, self._digest, self._fits = folder, digest, fits
        if folder is None:
            return
        there = folder.exists()
        folder.mkdir(parents=True, exist_ok=True)
        self._unlock = weakref.finalize(self, os.close, _locked(folder / LOCK))
        try:
            self._take(folder / LABEL, digest)
        except BaseException:
            self._unlock()
            if not there:
                self.remove()
            raise
        when_refused(self.remove)

    def _take(self, label: Path, digest: str) -> None:
        if label.exists() and _digest_in(label) == digest:
            return
        if any(label.parent.glob("chunk-*")):
            raise InputRefused(
                f"{label.parent}: holds a stopped run of another craft, plan or version; finish"
                " that one with the input it was started with, or remove the folder"
            )
        write_whole(label, json.dumps({"digest": digest}).encode())

    def load(self, index: int) -> list[Values] | None:
        """A finished chunk; None if there is none, or if its file is not what belongs there."""
        path = self._path(index)
        if path is None:
            return None
        try:
            with regular_file(path) as stream:
                results = unpacked(stream.read(), self._label(index))
        except (FileNotFoundError, InputRefused, DamagedArchive):
            return None
        return results if self._fits(index, results) else None

    def keep(self, index: int, results: Sequence[Values]) -> None:
        """Keep a finished chunk."""
        path = self._path(index)
        if path is not None:
            write_whole(path, packed(results, self._label(index)))

    def remove(self) -> None:
        """Take the store away, once the whole result is written; other files in its folder stay."""
        if self.folder is None:
            return
        for path in (*self.folder.glob("chunk-*.npz"), self.folder / LABEL, self.folder / LOCK):
            path.unlink(missing_ok=True)
        for path in self.folder.glob(".*.partial"):
            path.unlink(missing_ok=True)
        with suppress(OSError):  # something else stands in it
            self.folder.rmdir()
        self._unlock()

    def _label(self, index: int) -> str:
        return f"{self._digest} {index}"

    def _path(self, index: int) -> Path | None:
        return None if self.folder is None else self.folder / f"chunk-{index:06d}.npz"


def is_begun(folder: Path | None, digest: str) -> bool:
    """Whether a folder holds a stopped run of this fingerprint."""
    return folder is not None and (folder / LABEL).exists() and _digest_in(folder / LABEL) == digest


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
        with regular_file(label) as stream:
            held = json.loads(stream.read(10_000))
    except (ValueError, RecursionError):
        return None
    return held.get("digest") if isinstance(held, dict) else None


def packed(results: Sequence[Values], label: str = "") -> bytes:
    """Values of some cases as the bytes of an archive that is sealed with a label."""
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
    return packed_arrays(arrays, words, label)


def unpacked(content: bytes, label: str = "") -> list[Values]:
    """The values that :func:`packed` made bytes of.

    Raises
    ------
    DamagedArchive : the bytes are not what it made with this label
    """
    arrays, words = unpacked_arrays(content, label)
    try:
        return _put_together(arrays, words)
    except (TypeError, ValueError, IndexError, AttributeError) as error:
        raise DamagedArchive(str(error)) from None


def _put_together(arrays: Values, words: Any) -> list[Values]:
    results: list[Values] = [
        {name: value if name == "findings" else _text(value) for name, value in said.items()}
        for said in words
    ]
    for key, value in arrays.items():
        index, _, name = key.partition(" ")
        if not index.isdigit() or name in results[int(index)]:
            raise DamagedArchive(f"{key} has no place")
        results[int(index)][name] = value
    for values in results:
        if "findings" in values:
            values["findings"] = [Finding(**found) for found in values["findings"]]
    return results


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise DamagedArchive("words that are no text")
    return value
