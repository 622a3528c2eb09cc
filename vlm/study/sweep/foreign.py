"""A dataset that may come from anybody, read into plain arrays and words.

NetCDF-4 is HDF5, which can hold groups in groups, links to other files, values that stand in other
files, compressed nothing of any size, compound types and references. A dataset of foldspan has none
of these, so whatever has one is refused before a value of it is read. Nothing in the file is run
and no other file is opened; the memory it takes is bounded by the size of the file.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np

from vlm.description.files import cut_path
from vlm.description.names import cut
from vlm.disk import input_file
from vlm.errors import InputRefused

if TYPE_CHECKING:
    import h5py

MOST_VARIABLES = 1000
MOST_ATTRIBUTES = 60
MOST_NUMBERS = 16
"""Numbers in one attribute."""
LONGEST_NAME = 200
MOST_AXES = 20
MOST_AT_ONCE = 2**27
"""Bytes that the texts read at once may take."""
ALLOWANCE = 2**20
"""Bytes that are never too many."""
MEMORY_SHARE = 0.25
"""Share of the free memory that a file may take: it is read, computed again, and compared."""

# What HDF5 and NetCDF-4 keep for themselves: dimension scales and their numbers.
STRUCTURE = {
    "CLASS", "NAME", "DIMENSION_LIST", "DIMENSION_LABELS", "REFERENCE_LIST", "_NCProperties",
    "_Netcdf4Dimid", "_Netcdf4Coordinates", "_nc3_strict",
}  # fmt: skip

Attribute = str | float | tuple[float, ...]


@dataclass(frozen=True)
class HeldVariable:
    """A variable as it stands in a file.

    Attributes
    ----------
    dims : names of its axes
    values : numbers, or text (an array of kind "T", "U" or "O")
    attributes : all that the file says about it
    """

    dims: tuple[str, ...]
    values: np.ndarray[Any, Any]
    attributes: dict[str, Attribute]


@dataclass(frozen=True)
class HeldDataset:
    """Everything that a dataset holds.

    Attributes
    ----------
    variables : by name, coordinates among them
    attributes : of the whole
    """

    variables: dict[str, HeldVariable]
    attributes: dict[str, Attribute]

    def text(self, name: str) -> str:
        """An attribute that is text; empty where there is none."""
        value = self.attributes.get(name)
        return value if isinstance(value, str) else ""


class _Odd(Exception):
    """What no dataset of foldspan has."""


def held_in(path: Path) -> HeldDataset:
    """Read a file of NetCDF-4.

    Raises
    ------
    InputRefused : there is no such file, it is no dataset, or it holds what none of foldspan does
    """
    try:
        with input_file(path) as stream:
            return held(stream, cut_path(path))
    except FileNotFoundError:
        raise InputRefused(f"{cut_path(path)}: there is no such file") from None


def held(stream: BinaryIO, name: str) -> HeldDataset:
    """As :func:`held_in`, from an open file."""
    import h5py

    size = stream.seek(0, 2)
    stream.seek(0)
    try:
        _refuse_what_does_not_fit(size)
        with h5py.File(stream, "r") as file:
            return _Reader(file, size).dataset()
    except (MemoryError, InputRefused):
        raise
    except _Odd as odd:
        raise InputRefused(f"{name}: no dataset of foldspan: {odd}") from None
    except Exception as error:  # noqa: BLE001 - a damaged file fails anywhere in two libraries
        reason = cut(" ".join(str(error).split()))
        raise InputRefused(f"{name}: not a readable NetCDF file ({reason})") from None


def _refuse_what_does_not_fit(size: int) -> None:
    from vlm.flow.memory import available_memory

    free = MEMORY_SHARE * available_memory()
    if size > max(free, ALLOWANCE):
        raise _Odd(f"it has {size / 2**30:.2g} GiB, and {free / 2**30:.2g} GiB may be taken for it")


class _Reader:
    """Reads one open file, and counts what it takes."""

    def __init__(self, file: "h5py.File", size: int) -> None:
        self._file, self._size = file, size
        self._left = size + ALLOWANCE

    def dataset(self) -> HeldDataset:
        """Everything in the file."""
        import h5py

        if len(self._file) > MOST_VARIABLES:
            raise _Odd(f"it has {len(self._file)} variables; at most {MOST_VARIABLES} are read")
        names = [_checked_name(name) for name in self._file]
        for name in names:
            link = self._file.get(name, getlink=True)
            if not isinstance(link, h5py.HardLink):
                raise _Odd(f"{cut(name)} is a link")
            if not isinstance(self._file[name], h5py.Dataset):
                raise _Odd(f"{cut(name)} is a group or a type, no variable")
            self._check_storage(name, self._file[name])
        attributes = self._attributes(self._file, "the file")
        return HeldDataset({name: self._variable(name, names) for name in names}, attributes)

    def _check_storage(self, name: str, item: "h5py.Dataset") -> None:
        """Refuse values that stand elsewhere, are more than the file holds, or are no values."""
        import h5py

        made = item.id.get_create_plist()
        if made.get_external_count() or made.get_layout() == h5py.h5d.VIRTUAL:
            raise _Odd(f"the values of {cut(name)} stand in another file")
        if made.get_nfilters():
            raise _Odd(f"{cut(name)} is compressed, which foldspan writes none of")
        if item.shape is None or item.ndim > MOST_AXES:
            raise _Odd(f"{cut(name)} has no axes, or too many")
        if item.dtype.kind not in "fiu" and h5py.check_string_dtype(item.dtype) is None:
            raise _Odd(f"{cut(name)} holds {cut(str(item.dtype))}, neither numbers nor text")
        self._take(int(np.prod(item.shape, dtype=object)) * item.dtype.itemsize, name)

    def _take(self, size: int, name: str) -> None:
        self._left -= size
        if self._left < 0:
            raise _Odd(f"{cut(name)} is larger than the file that holds it")

    def _variable(self, name: str, names: list[str]) -> HeldVariable:
        item = self._file[name]
        dims = tuple(self._axis(name, item, axis) for axis in range(item.ndim))
        for axis in dims:
            if axis not in names:
                raise _Odd(f"the axis {cut(axis)} of {cut(name)} has no values")
        values = item[()] if item.dtype.kind in "fiu" else self._texts(name, item)
        return HeldVariable(dims, np.asarray(values), self._attributes(item, name))

    def _axis(self, name: str, item: "h5py.Dataset", axis: int) -> str:
        """Name of an axis: that of its scale, or the variable's own where it is one itself."""
        scales = item.dims[axis]
        if len(scales) == 0:
            if item.ndim == 1 and "CLASS" in item.attrs:
                return name
            raise _Odd(f"an axis of {cut(name)} has no name")
        return _checked_name(str(scales[0].name).removeprefix("/"))

    def _texts(self, name: str, item: "h5py.Dataset") -> np.ndarray[Any, Any]:
        """Text of a variable, read a few at a time: many may share one long text."""
        texts = np.empty(item.shape, dtype=object)
        count = max(1, MOST_AT_ONCE // max(self._size, 1))
        for part in _parts(item.shape, count):
            found = np.asarray(item[part], dtype=object)
            for place, value in np.ndenumerate(found):
                found[place] = self._text(value, name)
            texts[part] = found
        return texts

    def _text(self, value: Any, name: str) -> str:
        text = value.decode("utf-8") if isinstance(value, bytes) else str(value)
        text.encode("utf-8")
        self._take(len(text), name)
        return text

    def _attributes(self, item: Any, name: str) -> dict[str, Attribute]:
        if len(item.attrs) > MOST_ATTRIBUTES:
            raise _Odd(f"{cut(name)} has more than {MOST_ATTRIBUTES} attributes")
        found = {}
        for key in item.attrs:
            if key not in STRUCTURE:
                found[_checked_name(key)] = self._attribute(item.attrs, key, name)
        return found

    def _attribute(self, attributes: Any, key: str, name: str) -> Attribute:
        import h5py

        place = attributes.get_id(key)
        shape, dtype = place.shape, place.dtype
        if h5py.check_string_dtype(dtype) is not None and shape in ((), (1,), None):
            value = attributes[key]
            return "" if isinstance(value, h5py.Empty) else self._text(np.ravel(value)[0], name)
        few = shape is not None and len(shape) < 2 and max(shape, default=1) <= MOST_NUMBERS
        if dtype.kind not in "fiu" or not few:
            raise _Odd(f"{cut(key)} of {cut(name)} is neither text nor a few numbers")
        numbers = tuple(float(value) for value in np.ravel(attributes[key]))
        return numbers[0] if len(numbers) == 1 else numbers


def _checked_name(name: str) -> str:
    if not name.isprintable() or not name.strip() or len(name) > LONGEST_NAME:
        raise _Odd(f"a name that is none: {cut(name)}")
    return name


def _parts(shape: tuple[int, ...], count: int) -> Iterator[tuple[int | slice, ...]]:
    """Indices that together take every place of an array, some places of the last axis each."""
    if not shape:
        yield ()
        return
    for outer in product(*(range(size) for size in shape[:-1])):
        for start in range(0, shape[-1], count):
            yield (*outer, slice(start, start + count))
