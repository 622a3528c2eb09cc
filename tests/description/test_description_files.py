"""Finding and reading geometry files: names, encodings, what can't be read."""

import os
import shutil

import pytest

from vlm.description import load_biplane
from vlm.description.files import LARGEST_BYTES
from vlm.errors import InputRefused

TEXT = """title = "Möwe, invented"
[upper]
span_m = 1.0
root_chord_m = 0.2
end_chord_m = 0.2
"""


@pytest.fixture
def here(tmp_path, monkeypatch):
    """An empty current folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refusal(path, overrides=()):
    with pytest.raises(InputRefused) as caught:
        load_biplane(path, overrides)
    return str(caught.value)


def test_a_path_is_read_and_remembered(here):
    (here / "craft.toml").write_text(TEXT, encoding="utf-8")
    craft = load_biplane("craft.toml")
    assert craft.title == "Möwe, invented"
    assert craft.source_name == "craft.toml"
    assert craft.source_text == TEXT
    assert craft == load_biplane(here / "craft.toml")


def test_a_name_is_found_in_geometries_here_before_the_shipped(here):
    assert load_biplane("tideline").title.startswith("Tideline")
    (here / "geometries").mkdir()
    (here / "geometries" / "tideline.toml").write_text(TEXT, encoding="utf-8")
    assert load_biplane("tideline").title == "Möwe, invented"
    assert load_biplane("tideline.toml").title == "Möwe, invented"


def test_spaces_and_other_letters_in_paths(here):
    folder = here / "mit Leerzeichen ü"
    folder.mkdir()
    (folder / "a b.toml").write_text(TEXT, encoding="utf-8")
    assert load_biplane(folder / "a b.toml").title == "Möwe, invented"


def test_a_byte_order_mark_and_other_line_ends(here):
    data = b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode()
    (here / "craft.toml").write_bytes(data)
    assert load_biplane("craft.toml").upper.span_m == 1.0


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (TEXT.encode("utf-16"), "the file is UTF-16; save it as UTF-8"),
        (TEXT.encode("latin-1"), "line 1: byte 0xf6 is not UTF-8; save the file as UTF-8"),
        (TEXT.replace("ö", "o").encode() + b"\n# \x80\n", "line 7: byte 0x80 is not UTF-8"),
    ],
)
def test_other_encodings(here, data, said):
    (here / "craft.toml").write_bytes(data)
    assert refusal("craft.toml").startswith(f"craft.toml: {said}")


def test_a_missing_name_gets_the_nearest_shipped():
    assert refusal("tidelin") == ("tidelin: there is no such geometry file; did you mean tideline?")


def test_a_missing_path_gets_the_nearest_file_beside_it(here):
    (here / "craft.toml").write_text(TEXT, encoding="utf-8")
    assert "did you mean" in refusal(here / "crafft.toml")
    assert str(here / "craft.toml") in refusal(here / "crafft.toml")
    assert "nor a folder" in refusal(here / "nowhere" / "craft.toml")


def test_a_name_like_no_other_gets_the_list():
    said = refusal("zzzzzz")
    assert "shipped: " in said
    assert "tideline" in said


@pytest.mark.parametrize("name", ["", ".", "/", "a\0b", "x" * 5000])
def test_names_that_can_be_no_file(here, name):
    assert "\n" not in refusal(name)


def test_a_folder_is_no_file(here):
    (here / "craft.toml").mkdir()
    assert refusal("craft.toml") == "craft.toml: this is a folder, not a geometry file"


def test_a_file_without_the_right_to_read(here):
    path = here / "craft.toml"
    path.write_text(TEXT, encoding="utf-8")
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    assert refusal("craft.toml") == "craft.toml: the file can't be read: Permission denied"


def test_a_broken_link(here):
    (here / "craft.toml").symlink_to(here / "gone.toml")
    assert refusal("craft.toml").startswith("craft.toml: there is no such geometry file")


def test_a_huge_file(here):
    with (here / "craft.toml").open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    assert refusal("craft.toml") == "craft.toml: the file is larger than 20 MB"


def test_a_source_without_end():
    if not os.path.exists("/dev/zero"):
        pytest.skip("there is no endless file here")
    assert refusal("/dev/zero") == "/dev/zero: this is a device; only a regular file is read"


def test_mean_lines_are_found_beside_the_geometry_file(here):
    folder = here / "craft"
    folder.mkdir()
    text = TEXT.replace("span_m", 'camber = "lines/one.csv"\nspan_m')
    (folder / "craft.toml").write_text(text, encoding="utf-8")
    said = refusal("craft/craft.toml")
    assert said.startswith('craft/craft.toml: upper.camber = "lines/one.csv"; craft/lines/one.csv:')
    (folder / "lines").mkdir()
    (folder / "lines" / "one.csv").write_text("0,0\n0.5,0.03\n1,0\n")
    assert load_biplane("craft/craft.toml").folder.name == "craft"
    shutil.copy(folder / "lines" / "one.csv", folder / "lines" / "onne.csv")
    (folder / "lines" / "one.csv").unlink()
    assert "did you mean craft/lines/onne.csv?" in refusal("craft/craft.toml")
