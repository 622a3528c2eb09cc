"""Arrays and words in one sealed archive: data that runs no code, checked when it is read.

The bytes are a NumPy archive. Its seal is a hash over the names, kinds, shapes and values in it and
over a label that says what it belongs to, so that a damaged archive, or one from elsewhere, is
noticed. The seal is no signature: whoever can write the file can seal it. So readers also check
what they read against what they expect.
"""

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from typing import Any

import numpy as np

Arrays = dict[str, np.ndarray[Any, Any]]
WORDS, SEAL = "words", "seal"
KINDS = "biufc"
"""Kinds of values that an archive holds: truth values and numbers."""


class DamagedArchive(ValueError):
    """The bytes are not the archive that was asked for."""


def packed_arrays(arrays: Mapping[str, Any], words: Any, label: str) -> bytes:
    """The bytes of an archive.

    Parameters
    ----------
    arrays : numbers by name
    words : whatever JSON can hold
    label : what the archive belongs to, such as the fingerprint of a run and the number of a chunk

    Raises
    ------
    ValueError : an array holds something else than numbers
    """
    held = {name: np.asarray(value) for name, value in arrays.items()}
    for name, value in held.items():
        if value.dtype.kind not in KINDS or name in (WORDS, SEAL):
            raise ValueError(f"{name}: an archive holds numbers, not {value.dtype}")
    held[WORDS] = np.frombuffer(json.dumps(words).encode(), np.uint8)
    held[SEAL] = np.frombuffer(_seal(held, label), np.uint8)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, value in held.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as member:
                np.lib.format.write_array(member, value, version=(1, 0), allow_pickle=False)
    return stream.getvalue()


def unpacked_arrays(content: bytes, label: str) -> tuple[Arrays, Any]:
    """Arrays and words of an archive that :func:`packed_arrays` made with the same label.

    Raises
    ------
    DamagedArchive : the bytes are no archive, were changed, or belong to another label
    """
    try:
        held = _members(content)
        seal = held.pop(SEAL).tobytes()
        if seal != _seal(held, label):
            raise DamagedArchive("the seal does not fit")
        return held, json.loads(held.pop(WORDS).tobytes())
    except DamagedArchive:
        raise
    except (zipfile.BadZipFile, ValueError, LookupError, EOFError, ArithmeticError,
            RuntimeError, TypeError, SyntaxError) as error:  # fmt: skip
        raise DamagedArchive(str(error)) from None


def _members(content: bytes) -> Arrays:
    """The arrays in an archive; none takes more memory than the bytes themselves."""
    found = {}
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = archive.infolist()
        plain = all(member.compress_type == zipfile.ZIP_STORED for member in members)
        if not plain or sum(member.file_size for member in members) > len(content):
            raise DamagedArchive("it is compressed, or says that it is larger than it is")
        for member in members:
            name = member.filename.removesuffix(".npy")
            if name in found:
                raise DamagedArchive(f"{name} stands there twice")
            found[name] = _array(archive.read(member))
    return found


def _array(data: bytes) -> np.ndarray[Any, Any]:
    """The array that NumPy's own format holds, with as many values as there are bytes for."""
    stream = io.BytesIO(data)
    version = np.lib.format.read_magic(stream)
    if version != (1, 0):
        raise DamagedArchive("an unknown form of array")
    shape, fortran, dtype = np.lib.format.read_array_header_1_0(stream)
    rest = data[stream.tell() :]
    if dtype.kind not in KINDS or int(np.prod(shape, dtype=object)) * dtype.itemsize != len(rest):
        raise DamagedArchive("an array that does not fit its bytes")
    values = np.frombuffer(rest, dtype).reshape(shape, order="F" if fortran else "C")
    return values.copy(order="C")


def _seal(arrays: Mapping[str, np.ndarray[Any, Any]], label: str) -> bytes:
    digest = hashlib.sha256(f"{label}\0".encode())
    for name in sorted(arrays):
        value = arrays[name]
        digest.update(f"{name}\0{value.dtype.str}\0{value.shape}\0".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    return digest.digest()
