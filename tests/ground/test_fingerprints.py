"""Hashes of values and of the package's text."""

from pathlib import Path
from shutil import copytree

import numpy as np
import pytest

import vlm
from vlm import fingerprints
from vlm.air import standard_air
from vlm.description.mission import Leg
from vlm.fingerprints import fingerprint, fingerprint_of_code


def test_every_difference_has_a_hash_of_its_own() -> None:
    leg = Leg(kind="hover", time_s=20.0)
    values = [
        1, 1.0, True, "1", None, (1, 2), (12,), ((1,), 2), [1], {"a": 1}, {"b": 1}, np.zeros(2),
        np.zeros((2, 1)), np.zeros(2, dtype=int), 0.1 + 0.2, 0.3, float("nan"), standard_air(),
        standard_air(10.0), leg, leg.model_copy(update={"time_s": 21.0}),
    ]  # fmt: skip
    assert len({fingerprint(value) for value in values}) == len(values)
    assert fingerprint(1, 2) == fingerprint(1, 2) != fingerprint(2, 1)


def test_what_has_no_fixed_form_is_refused() -> None:
    with pytest.raises(TypeError, match="set has no fixed form"):
        fingerprint({1, 2})


def test_a_changed_line_changes_the_hash_of_its_room_and_of_all_and_of_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copytree(Path(vlm.__file__).parent, tmp_path / "vlm")
    monkeypatch.setattr(fingerprints, "PACKAGE", tmp_path / "vlm")
    digest = fingerprint_of_code.__wrapped__
    places = ("study",), ("flow", "frames.py"), ("show/tables",)

    def hashes() -> tuple[str, ...]:
        return (digest(), *(digest(*place) for place in places))

    before = hashes()
    for name, expected in (
        ("study/hinge/study.py", (False, False, True, True)),
        ("frames.py", (False, True, False, True)),
        ("flow/kernel.py", (False, True, False, True)),
        ("show/tables/power.py", (False, True, True, False)),
    ):
        with (tmp_path / "vlm" / name).open("a") as stream:
            stream.write("# changed\n")
        after = hashes()
        assert tuple(a == b for a, b in zip(after, before, strict=True)) == expected, name
        before = after
