"""Sealed archives: what is read is what was written, or nothing. No source but the promise."""

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest

from vlm.archive import DamagedArchive, packed_arrays, unpacked_arrays

ARRAYS = {
    "a": np.arange(12.0).reshape(3, 4),
    "b": np.float64(2.5),
    "turned": np.asfortranarray(np.arange(6).reshape(2, 3)),
    "none": np.zeros((0, 3)),
    "file": np.array([1 + 2j]),
    "yes": np.array([True, False]),
}


def test_arrays_and_words_come_back_as_they_were() -> None:
    arrays, words = unpacked_arrays(packed_arrays(ARRAYS, {"é": [1, None]}, "label"), "label")
    assert words == {"é": [1, None]}
    assert set(arrays) == set(ARRAYS)
    for name, value in ARRAYS.items():
        np.testing.assert_array_equal(arrays[name], value, strict=True)


def test_it_is_a_numpy_archive(tmp_path: Path) -> None:
    """NumPy's own reader takes it."""
    path = tmp_path / "a.npz"
    path.write_bytes(packed_arrays(ARRAYS, None, ""))
    with np.load(path, allow_pickle=False) as archive:
        np.testing.assert_array_equal(archive["a"], ARRAYS["a"])


def test_another_label_is_refused() -> None:
    with pytest.raises(DamagedArchive):
        unpacked_arrays(packed_arrays(ARRAYS, None, "run 1"), "run 2")


def test_any_changed_byte_of_values_or_names_is_noticed() -> None:
    content = packed_arrays({"a": np.arange(3.0)}, ["x"], "")
    for place in range(len(content)):
        changed = bytearray(content)
        changed[place] ^= 0x01
        try:
            arrays, words = unpacked_arrays(bytes(changed), "")
        except DamagedArchive:
            continue
        # Dates and the like in the frame of the archive may change; what is read may not.
        assert words == ["x"]
        np.testing.assert_array_equal(arrays["a"], np.arange(3.0), strict=True)


def rewritten(change, compression: int = zipfile.ZIP_STORED) -> bytes:  # type: ignore[no-untyped-def]
    """An archive whose members were changed by someone who knows how it is written."""
    source = zipfile.ZipFile(io.BytesIO(packed_arrays({"a": np.arange(3.0)}, [], "")))
    members = change({info.filename: source.read(info) for info in source.infolist()})
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


def test_without_change_the_rewritten_archive_is_read() -> None:
    assert set(unpacked_arrays(rewritten(dict), "")[0]) == {"a"}


@pytest.mark.parametrize("missing", ["a.npy", "seal.npy", "words.npy"])
def test_a_missing_member_is_noticed(missing: str) -> None:
    with pytest.raises(DamagedArchive):
        unpacked_arrays(rewritten(lambda m: {k: v for k, v in m.items() if k != missing}), "")


def huge(_members: dict[str, bytes]) -> dict[str, bytes]:
    stream = io.BytesIO()
    header = {"descr": "<f8", "fortran_order": False, "shape": (10**12,)}
    np.lib.format.write_array_header_1_0(stream, header)
    return {"a.npy": stream.getvalue()}


def pickled(_members: dict[str, bytes]) -> dict[str, bytes]:
    stream = io.BytesIO()
    np.lib.format.write_array(stream, np.array([{}], dtype=object), allow_pickle=True)
    return {"a.npy": stream.getvalue()}


@pytest.mark.parametrize("change", [huge, pickled])
def test_arrays_that_would_fill_the_memory_or_run_code_are_refused(change) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DamagedArchive):
        unpacked_arrays(rewritten(change), "")


def test_compressed_archives_are_refused() -> None:
    """A kilobyte of them can hold a gigabyte."""
    with pytest.raises(DamagedArchive, match="compressed"):
        unpacked_arrays(rewritten(dict, zipfile.ZIP_DEFLATED), "")


@pytest.mark.parametrize("value", ["text", {"a": 1}, np.array([None])])
def test_only_numbers_are_packed(value: object) -> None:
    with pytest.raises(ValueError, match="holds numbers"):
        packed_arrays({"a": value}, None, "")


def test_a_packed_name_may_not_be_one_of_its_own() -> None:
    with pytest.raises(ValueError, match="seal"):
        packed_arrays({"seal": np.zeros(1)}, None, "")
