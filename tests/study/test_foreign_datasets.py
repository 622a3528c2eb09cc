"""Datasets from anybody: refused where they are none of ours, and compared in all they hold.

No source but the promise itself. The forms of HDF5 are those of its own library (h5py).
"""

import io
import json
import resource
from collections.abc import Callable
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest

from vlm.cli.main import main
from vlm.errors import InputRefused
from vlm.study.sweep.dataset import load_dataset, save_dataset
from vlm.study.sweep.foreign import HeldDataset, held, held_in
from vlm.study.sweep.repeating import repeated

WORDS = ("sweep", "tideline", "--fold", "-100:20:3", "--alpha", "0:14:2", "--rows", "2",
         "--strips", "8", "--errors")  # fmt: skip


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A sweep with a case that fails."""
    out = tmp_path_factory.mktemp("saved") / "out.nc"
    assert main([*WORDS, "--out", str(out)]) == 0
    return out.read_bytes()


def changed(saved: bytes, change: Callable[[Any], None]) -> bytes:
    stream = io.BytesIO(saved)
    with h5py.File(stream, "r+") as file:
        change(file)
    return stream.getvalue()


# --- what is none of ours ----------------------------------------------------------------------


def group(file: Any) -> None:
    file.create_group("deep").create_group("er")["x"] = 1.0


def soft_link(file: Any) -> None:
    file["other"] = h5py.SoftLink("/CL")


def external_link(file: Any) -> None:
    file["other"] = h5py.ExternalLink("/etc/hostname", "/")


def external_values(file: Any) -> None:
    file.create_dataset("other", (8,), "u1", external=[("/etc/hostname", 0, 8)])


def virtual_values(file: Any) -> None:
    layout = h5py.VirtualLayout((4,), "f8")
    layout[:] = h5py.VirtualSource("/etc/hostname", "x", (4,))
    file.create_virtual_dataset("other", layout)


def named_type(file: Any) -> None:
    file["other"] = np.dtype("f8")


def compound(file: Any) -> None:
    file["other"] = np.zeros(3, [("a", "f8"), ("b", "i4")])


def references(file: Any) -> None:
    file.create_dataset("other", (1,), h5py.ref_dtype)[0] = file["CL"].ref


def numbers_of_any_length(file: Any) -> None:
    file.create_dataset("other", (1,), h5py.vlen_dtype("f8"))[0] = np.zeros(4)


def nothing_of_great_size(file: Any) -> None:
    file.create_dataset("other", (10**9,), "f8", chunks=(10**6,))


def compressed(file: Any) -> None:
    file.create_dataset("other", data=np.zeros(3), chunks=(3,), compression="gzip")


def without_axes(file: Any) -> None:
    file["other"] = h5py.Empty("f8")


def odd_name(file: Any) -> None:
    file["a\nb"] = np.zeros(3)


def surrogate(file: Any) -> None:
    file[b"a\xff"] = np.zeros(3)


def text_that_is_none(file: Any) -> None:
    file.attrs["title"] = np.bytes_(b"\xff\xfe")


def many_variables(file: Any) -> None:
    for index in range(1200):
        file[f"v{index}"] = 1.0


def many_attributes(file: Any) -> None:
    for index in range(100):
        file["CL"].attrs[f"a{index}"] = 1.0


def long_attribute(file: Any) -> None:
    file["CL"].attrs["other"] = np.zeros(100)


def compound_attribute(file: Any) -> None:
    file.attrs["other"] = np.zeros(1, [("a", "f8")])


def unnamed_axis(file: Any) -> None:
    file["other"] = np.zeros(3)


ODD = (group, soft_link, external_link, external_values, virtual_values, named_type, compound,
       references, numbers_of_any_length, nothing_of_great_size, compressed, without_axes, odd_name,
       surrogate, text_that_is_none, many_variables, many_attributes, long_attribute,
       compound_attribute, unnamed_axis)  # fmt: skip


NAMED = {
    "group": "is a group",
    "soft_link": "is a link",
    "external_link": "is a link",
    "external_values": "stand in another file",
    "virtual_values": "stand in another file",
    "compressed": "is compressed",
    "nothing_of_great_size": "larger than the file",
    "many_variables": "at most 1000 are read",
    "many_attributes": "more than 60 attributes",
}
"""What is reported, where another check would refuse the file as well."""


@pytest.mark.parametrize("change", ODD, ids=[change.__name__ for change in ODD])
def test_what_foldspan_never_writes_is_refused(
    change: Callable[[Any], None], saved: bytes, tmp_path: Path, capsys: Any
) -> None:
    out = tmp_path / "out.nc"
    out.write_bytes(changed(saved, change))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert main(["rerun", str(out)]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"foldspan: {out}: ")
    assert said.count("\n") == 1
    assert NAMED.get(change.__name__, "") in said
    assert len(said) < 400 + len(str(out))
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000


def test_many_texts_that_are_one_take_no_more_than_the_file(saved: bytes) -> None:
    """Every place of a variable may point to the same long text in the file's heap."""

    def change(file: Any) -> None:
        # h5py writes each text by itself, so the heap's one text is pointed to by hand.
        text = "a" * 60_000
        item = file.create_dataset("other", (4000,), h5py.string_dtype())
        item[0] = text
        item.dims[0].attach_scale(file["fold"])

    stream = io.BytesIO(changed(saved, change))
    with h5py.File(stream, "r") as file:
        start = file["other"].id.get_offset()
    content = bytearray(stream.getvalue())
    content[start : start + 16 * 4000] = bytes(content[start : start + 16]) * 4000
    with pytest.raises(InputRefused, match="other is larger than the file that holds it"):
        held(io.BytesIO(bytes(content)), "it")


def test_a_file_that_fills_the_memory_is_refused(saved: bytes, monkeypatch: Any) -> None:
    monkeypatch.setattr("vlm.flow.memory.available_memory", lambda: 2**20)
    with pytest.raises(InputRefused, match="may be taken for it"):
        held(io.BytesIO(saved + bytes(2**21)), "it")


# --- what differs ------------------------------------------------------------------------------


def place(name: str, value: float) -> Callable[[Any], None]:
    def change(file: Any) -> None:
        values = file[name][()]
        values.flat[np.flatnonzero(np.isfinite(values.ravel()))[0]] += value
        file[name][...] = values

    return change


def removed(name: str) -> Callable[[Any], None]:
    return lambda file: file.__delitem__(name)


def said_of(name: str, key: str, value: Any) -> Callable[[Any], None]:
    return lambda file: file[name].attrs.__setitem__(key, value)


def said(key: str, value: Any) -> Callable[[Any], None]:
    return lambda file: file.attrs.__setitem__(key, value)


def unsaid(name: str, key: str) -> Callable[[Any], None]:
    return lambda file: file[name].attrs.__delitem__(key)


def one_more(file: Any) -> None:
    file["other"] = file["CL"][()]
    for axis, scale in zip(file["other"].dims, file["CL"].dims, strict=True):
        axis.attach_scale(scale[0])


def as_single(file: Any) -> None:
    values, axes = file["CL"][()], [axis[0] for axis in file["CL"].dims]
    del file["CL"]
    file["CL"] = values.astype("f4")
    for axis, scale in zip(file["CL"].dims, axes, strict=True):
        axis.attach_scale(scale)


def as_text(file: Any) -> None:
    axes = [axis[0] for axis in file["CL"].dims]
    shape = file["CL"].shape
    del file["CL"]
    file["CL"] = np.full(shape, "0.3", dtype=h5py.string_dtype())
    for axis, scale in zip(file["CL"].dims, axes, strict=True):
        axis.attach_scale(scale)


def failed(index: int, text: str) -> Callable[[Any], None]:
    return lambda file: file["failure"].__setitem__(index, text)


CHANGES = {
    "a number": (place("CL", 1e-8), "variable CL: "),
    "a small number": (place("Cl_p_stability", 1e-11), "variable Cl_p_stability: "),
    "an error": (place("CL_error", 1e-3), "variable CL_error: "),
    "a number for none": (lambda f: f["CL"].__setitem__((2, 0, 0), np.nan), "stand in one only"),
    "an infinity": (lambda f: f["CL"].__setitem__((0, 0, 0), np.inf), "variable CL: "),
    "a variable removed": (removed("CL"), "variable CL: missing"),
    "a variable more": (one_more, "variable other: no sweep of this plan has it"),
    "fewer digits": (as_single, "variable CL: kept as float32, not float64"),
    "text": (as_text, "variable CL: holds text, not numbers"),
    "labels of alpha": (place("alpha", 1.0), "variable alpha: 1, not 0"),
    "labels of fold": (place("fold", -10.0), "variable fold: -110, not -100"),
    "a unit": (said_of("CL", "units", "kg"), 'CL: attribute units: "kg", not "1"'),
    "no unit": (unsaid("CL", "units"), "CL: attribute units: missing"),
    "a name": (said_of("CL", "long_name", "drag"), 'CL: attribute long_name: "drag"'),
    "a sign": (said_of("Cm", "positive_means", "nose down"), "Cm: attribute positive_means"),
    "a scale": (said_of("CL", "scale_factor", 2.0), "CL: attribute scale_factor: no sweep has it"),
    "what counts as none": (said_of("CL", "_FillValue", 0.3), "CL: attribute _FillValue: 0.3"),
    "an area": (said("reference_area_m2", 99.0), "attribute reference_area_m2: 99.0, not "),
    "a moment point": (said("moment_point_m", [1.0, 0.0, 0.0]), "attribute moment_point_m: "),
    "an airspeed": (said("airspeed_m_s", 13.0), "attribute airspeed_m_s: 13.0, not 12.0"),
    "a caution": (said("caution", "cleared for flight"), "attribute caution: "),
    "a title": (said("title", "another"), "attribute title: "),
    "warnings": (said("findings", "[]"), "attribute findings: "),
    "an attribute more": (said("certified", "yes"), "attribute certified: no sweep has it"),
    "a residual": (place("residual", 1e9), "variable residual: 1e+09; no solution has more"),
    "a condition": (place("condition", 1e9), "variable condition: "),
    "a failure": (failed(2, "stalled"), 'variable failure: "stalled", not ""'),
    "no failure": (failed(0, ""), 'variable failure: "", not "'),
}  # fmt: skip


@pytest.fixture(scope="module")
def again(saved: bytes) -> HeldDataset:
    """The sweep as it is read when it has been repeated."""
    return held(io.BytesIO(saved), "the repeated sweep")


@pytest.fixture
def swept_once(again: HeldDataset, monkeypatch: Any) -> None:
    """Repeating gives the same sweep each time, which it does by itself in the tests below."""
    monkeypatch.setattr("vlm.study.sweep.repeating.run_plan", lambda *_, **__: ((), None))
    monkeypatch.setattr("vlm.study.sweep.repeating.sweep_dataset", lambda *_: None)
    monkeypatch.setattr("vlm.study.sweep.repeating.as_netcdf", lambda _: b"")
    monkeypatch.setattr("vlm.study.sweep.repeating.held", lambda *_: again)


@pytest.mark.usefixtures("swept_once")
@pytest.mark.parametrize(("change", "words"), CHANGES.values(), ids=CHANGES)
def test_whatever_was_changed_is_reported(
    change: Callable[[Any], None], words: str, saved: bytes, tmp_path: Path, capsys: Any
) -> None:
    out = tmp_path / "out.nc"
    out.write_bytes(changed(saved, change))
    assert main(["rerun", str(out), "--json"]) == 3
    shown, err = capsys.readouterr()
    document = json.loads(shown)
    assert document["agrees"] is False
    assert any(words in line for line in document["differences"]), document["differences"]
    assert words in err
    assert len(err) < 2000


def test_an_unchanged_sweep_agrees(saved: bytes, tmp_path: Path) -> None:
    out = tmp_path / "out.nc"
    out.write_bytes(saved)
    found = repeated(out)
    assert found.agrees
    assert found.notes == ()
    assert set(found.worst.values()) == {0.0}
    assert "CL_error" in found.worst


def test_loaded_and_saved_it_is_the_same(saved: bytes, tmp_path: Path) -> None:
    out = tmp_path / "out.nc"
    out.write_bytes(saved)
    first = held_in(out)
    save_dataset(load_dataset(out), out)
    second = held_in(out)
    assert first.attributes == second.attributes
    assert first.variables.keys() == second.variables.keys()
    for name, one in first.variables.items():
        two = second.variables[name]
        assert (one.dims, one.values.dtype) == (two.dims, two.values.dtype)
        np.testing.assert_array_equal(one.values, two.values)
        assert one.attributes.keys() == two.attributes.keys()


@pytest.mark.parametrize("source", ["foldspan", "another 1.0", "foldspan x", "foldspan 1\n"])
def test_a_version_that_is_none_is_refused(
    source: str, saved: bytes, tmp_path: Path, capsys: Any
) -> None:
    out = tmp_path / "out.nc"
    out.write_bytes(changed(saved, said("source", source)))
    assert main(["rerun", str(out)]) == 2
    assert "no version of foldspan" in capsys.readouterr().err


def test_another_version_may_word_things_otherwise(
    saved: bytes, tmp_path: Path, capsys: Any
) -> None:
    out = tmp_path / "out.nc"

    def change(file: Any) -> None:
        file.attrs["source"] = "foldspan 0.0.1"
        file["CL"].attrs["long_name"] = "lift"
        del file["span_efficiency"]

    out.write_bytes(changed(saved, change))
    assert main(["rerun", str(out)]) == 0
    said_then = capsys.readouterr()
    assert "version 0.0.1 had it otherwise: variable span_efficiency: missing" in said_then.err
    assert "agrees within 1e-09 (written by version 0.0.1)" in " ".join(said_then.out.split())

    def change_unit(file: Any) -> None:
        change(file)
        del file["Cm"].attrs["units"]

    out.write_bytes(changed(saved, change_unit))
    assert main(["rerun", str(out)]) == 3
    assert "Cm: attribute units: missing" in capsys.readouterr().err


def test_every_key_that_names_a_table_is_carried_under_a_name_of_our_own() -> None:
    """What the models themselves say of their keys; a further one must be added here too."""
    from vlm.description.schema import biplane_json_schema
    from vlm.study.sweep.carried_tables import TABLE_KEYS

    blocks = biplane_json_schema()["$defs"].values()
    described = [pair for block in blocks for pair in block.get("properties", {}).items()]
    named = {key for key, form in described if "CSV" in form.get("description", "")}
    assert {"table", "camber"} <= named
    assert named <= {"camber", *TABLE_KEYS}
