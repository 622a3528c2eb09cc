"""Arrays kept on disk from one command to the next, in the user's folder of caches.

A kept array saves time and is never needed. So whatever goes wrong here, a folder that cannot be
written, a full disk, a file that was damaged, cut off or put there by somebody else, ends in the
work being done again and not in an error. Files are written whole under a lock, sealed with the
key that they belong to (:mod:`vlm.archive`), hold numbers alone and run no code. The folder is
bounded in size; what was not used for the longest time goes first.
"""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from filelock import FileLock
from platformdirs import user_cache_path

from vlm.archive import Arrays, DamagedArchive, packed_arrays, unpacked_arrays
from vlm.disk import regular_file, write_whole
from vlm.errors import InputRefused

OFF, PLACE, LIMIT = "FOLDSPAN_NO_CACHE", "FOLDSPAN_CACHE_DIR", "FOLDSPAN_CACHE_LIMIT_MB"
"""Environment variables: nothing is kept; the folder; its greatest size [MB]."""
LIMIT_MB = 1000.0
"""Greatest size of the folder where nothing is said [MB]."""
MEGABYTE = 1_000_000
MOST_BYTES = 200 * MEGABYTE
"""A larger file is none of ours."""
ROOM = 0.9
"""Share of the limit that is left when it is passed: looking at every file takes long."""
PATIENCE_S = 5.0
"""How long a lock that another process holds is waited for; then nothing is kept [s]."""
SUFFIX, PARTIAL, LOCK, TOTAL = ".npz", ".partial", "lock", "total"
Shapes = Mapping[str, tuple[int, ...]]


@dataclass(frozen=True)
class KeptArrays:
    """A folder of arrays by key.

    Attributes
    ----------
    folder : where they are kept; made when the first is
    limit : greatest size of all files together [byte]
    """

    folder: Path
    limit: int

    def load(self, key: str, shapes: Shapes | None = None) -> tuple[Arrays, Any] | None:
        """Arrays and words that were kept under a key; None where there are none to be trusted.

        Parameters
        ----------
        key : in letters and digits
        shapes : of all arrays that belong there, and of no others, each of finite numbers; where
            None the reader checks what it is given
        """
        path = self._path(key)
        try:
            with regular_file(path) as stream:
                if os.fstat(stream.fileno()).st_size > MOST_BYTES:
                    return None
                arrays, words = unpacked_arrays(stream.read(), key)
        except (OSError, InputRefused, DamagedArchive):
            return None
        if shapes is not None and not _fit(arrays, shapes):
            return None
        with suppress(OSError):
            os.utime(path)  # so that it counts as used
        return arrays, words

    def keep(self, key: str, arrays: Mapping[str, Any], words: Any = None) -> None:
        """Keep arrays under a key, if that can be done."""
        content = packed_arrays(arrays, words, key)
        if len(content) > self.limit:
            return
        # A lock is not known on every file system (NotImplementedError); without one nothing is
        # kept. One that is held too long is a TimeoutError, which is an OSError.
        with suppress(OSError, InputRefused, NotImplementedError):
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            with FileLock(self.folder / LOCK, timeout=PATIENCE_S):
                path = self._path(key)
                if path.is_symlink():
                    path.unlink()  # writing would follow it
                total = self._taken_total()
                write_whole(path, content, durable=False, tidy=False)
                total += len(content)
                self._put_total(self._bound() if total > self.limit else total)

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}{SUFFIX}"

    def _taken_total(self) -> float:
        """Size of all files as the last writer left it; infinite where none did [byte].

        Whoever is stopped while writing leaves none, so that the next one looks at every file.
        """
        path = self.folder / TOTAL
        try:
            with regular_file(path) as stream:
                words = stream.read(100).decode("ascii", "replace")
        except (OSError, InputRefused):
            words = ""
        path.unlink(missing_ok=True)
        number, unit, _ = words.partition(" bytes\n")
        return int(number) if unit and number.isdecimal() else np.inf

    def _put_total(self, total: float) -> None:
        with (self.folder / TOTAL).open("x") as stream:
            stream.write(f"{total:.0f} bytes\n")

    def _bound(self) -> float:
        """Remove what was used longest ago until there is room again; the lock is held.

        Returns
        -------
        the size of what stays [byte]
        """
        found = []
        for entry in os.scandir(self.folder):
            if not entry.is_file(follow_symlinks=False):
                continue
            if entry.name.endswith(SUFFIX):
                known = entry.stat(follow_symlinks=False)
                found.append((known.st_mtime_ns, known.st_size, entry.path))
            elif entry.name.endswith(PARTIAL):
                os.unlink(entry.path)  # of a process that was killed: writers hold the lock
        total = sum(size for _, size, _ in found)
        wanted = self.limit if total <= self.limit else ROOM * self.limit
        for _, size, path in sorted(found)[:-1]:  # not what was written just now
            if total <= wanted:
                break
            os.unlink(path)
            total -= size
        return total


def _fit(arrays: Arrays, shapes: Shapes) -> bool:
    if {name: array.shape for name, array in arrays.items()} != dict(shapes):
        return False
    return all(a.dtype == np.float64 and np.isfinite(a).all() for a in arrays.values())


def users_cache() -> KeptArrays | None:
    """The user's kept arrays as the environment asks for them; None where nothing is to be kept.

    Raises
    ------
    InputRefused : the environment asks for a size that is none
    """
    if os.environ.get(OFF, "") not in ("", "0"):
        return None
    limit = _limit()
    named = os.environ.get(PLACE)
    users = user_cache_path("foldspan", appauthor=False) / "charts"
    folder = Path(named).absolute() if named else users
    # Without a home the user has no such folder.
    return KeptArrays(folder, limit) if limit > 0 and folder.is_absolute() else None


def _limit() -> int:
    text = os.environ.get(LIMIT) or f"{LIMIT_MB:g}"
    try:
        megabytes = float(text)
    except ValueError:
        megabytes = float("nan")
    if not 0.0 <= megabytes < float("inf"):
        raise InputRefused(f"{LIMIT} = {text}; a number of megabytes is allowed, 0 keeps nothing")
    return int(megabytes * MEGABYTE)


@contextmanager
def nothing_kept() -> Iterator[None]:
    """Neither read nor keep anything in the block, in this process and those started from it."""
    before = os.environ.get(OFF)
    os.environ[OFF] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[OFF]
        else:
            os.environ[OFF] = before
