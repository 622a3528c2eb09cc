"""Hashes of values and of the package's own text: what something that is kept belongs to."""

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

PACKAGE = Path(__file__).parent


def fingerprint(*values: object) -> str:
    """Hash of values, whatever they are made of, in hexadecimal digits.

    Raises
    ------
    TypeError : one holds something that has no fixed form
    """
    digest = hashlib.sha256()
    for value in values:
        _feed(digest, value)
    return digest.hexdigest()


@cache
def fingerprint_of_code(*places: str) -> str:
    """Hash of the text of files and of folders, below the package's own; of all of it for none."""
    found: list[Path] = []
    for place in places or ("",):
        path = PACKAGE / place
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    digest = hashlib.sha256()
    for path in found:
        digest.update(f"{path.relative_to(PACKAGE).as_posix()}\0".encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _feed(digest: Any, value: object) -> None:
    if is_dataclass(value) and not isinstance(value, type):
        digest.update(f"{type(value).__name__}(".encode())
        for one in fields(value):
            digest.update(f"{one.name}=".encode())
            _feed(digest, getattr(value, one.name))
    elif isinstance(value, Mapping):
        digest.update(f"{{{len(value)}".encode())
        for name, held in value.items():
            _feed(digest, name)
            _feed(digest, held)
    elif callable(dump := getattr(value, "model_dump", None)):  # a block of an input file
        _feed(digest, dump())
    elif isinstance(value, tuple | list):
        digest.update(f"[{len(value)}".encode())
        for held in value:
            _feed(digest, held)
    elif isinstance(value, np.ndarray):
        digest.update(f"{value.dtype.str}{value.shape}".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif isinstance(value, str | int | float | np.generic | None):
        digest.update(f"{type(value).__name__}:{value!r};".encode())
    else:
        raise TypeError(f"{type(value).__name__} has no fixed form to be hashed")
