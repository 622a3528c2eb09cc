"""The decorator of compiled functions, and where what it compiles is kept.

numba keeps compiled code by the file that a function stands in and does not notice a change in
another one. Compiled functions call each other across files, so their code is kept under a hash
of all these files: what stands there is always that of the present source. Where nothing can be
kept, or what was kept cannot be read, the functions are compiled again; the numbers are the same.
"""

import hashlib
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryFile
from typing import Any

# Kernel threads that wait must sleep: spinning ones take the processor from whatever else runs,
# and beside another load they slowed every call fourfold. Only the first import can set it.
os.environ.setdefault("OMP_WAIT_POLICY", "passive")

from numba import config, njit
from numba.core.caching import FunctionCache

FAST = {"contract", "reassoc", "nsz", "arcp"}
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": FAST, "nogil": True}
HERE = Path(__file__).parent


def compiled(**options: Any) -> Callable[[Callable[..., Any]], Any]:
    """Have numba compile a function at its first call, and keep the code.

    Parameters
    ----------
    options : of ``numba.njit``, beside those that all compiled functions have

    Functions so decorated stand in files named ``kernel*.py``, in any room.
    """

    def decorated(function: Callable[..., Any]) -> Any:
        made: Any = njit(**OPTIONS, **options)(function)
        folder = kept_folder()
        if folder is not None and hasattr(made, "enable_caching"):
            with _kept_in(folder), suppress(RuntimeError):  # it went away just now
                made._cache = _KeptCode(function)
        return made

    return decorated


class _KeptCode(FunctionCache):  # type: ignore[misc]
    """Code on disk that is done without where it cannot be read or written."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # noqa: BLE001 - a damaged file can end in any error
            with suppress(Exception):
                self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        with suppress(OSError):  # the disk is full, or the folder went away
            super().save_overload(sig, data)


@cache
def kept_folder() -> Path | None:
    """The folder for compiled code of the present source; None if none can be written."""
    name = f"foldspan-{_source_digest()}"
    for parent in _parents():
        folder = parent / name
        fresh = not folder.exists()
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with TemporaryFile(dir=folder):
                pass
        except OSError:
            continue
        if fresh and parent == HERE / "__pycache__":  # which is of this installation alone
            for other in set(parent.glob("foldspan-*")) - {folder}:
                rmtree(other, ignore_errors=True)
        return folder
    return None


def _parents() -> Iterator[Path]:
    """The user's wish, the folder of Python's own compiled files, the user's folder of caches."""
    if config.CACHE_DIR:
        yield Path(config.CACHE_DIR)
    yield HERE / "__pycache__"
    named = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or "~/.cache"
    users = os.path.expanduser(named)
    if os.path.isabs(users):
        yield Path(users)


def _source_digest() -> str:
    digest = hashlib.sha256()
    for path in sorted([*HERE.parent.glob("*/kernel*.py"), Path(__file__)]):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@contextmanager
def _kept_in(folder: Path) -> Iterator[None]:
    """Have numba choose a folder, for the functions that are decorated inside the block."""
    before, config.CACHE_DIR = config.CACHE_DIR, str(folder)
    try:
        yield
    finally:
        config.CACHE_DIR = before
