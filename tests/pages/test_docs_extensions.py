"""What the docs build makes from the code: the input reference, docstrings, MathML."""

import sys
from pathlib import Path

import pytest
from docutils import nodes
from docutils.utils import new_document

sys.path.insert(0, str(Path(__file__).parents[2] / "docs/extensions"))

import dark_figures
from chromium import browser
from dark_figures import DarkFigures
from house_docstrings import process, rewritten
from input_reference import input_reference

from vlm.description import Biplane
from vlm.show.scenes.schemes import DARK_INK


def keys_of(schema: dict) -> set[str]:
    parts = [schema, *schema["$defs"].values()]
    return {key for part in parts for key in part.get("properties", {})}


def test_every_key_of_the_file_is_in_the_reference() -> None:
    schema = Biplane.model_json_schema()
    text = input_reference(schema)
    for key in keys_of(schema):
        assert f"| `{key}` |" in text


def test_the_page_of_the_input_file_is_that_of_the_models() -> None:
    """Readable without building the docs, and true: docs/make_input_reference.py writes it."""
    sys.path.insert(0, str(Path(__file__).parents[2] / "docs"))
    from make_input_reference import PAGE, made_page

    assert PAGE.read_text(encoding="utf-8") == made_page()


def test_a_row_tells_unit_range_default_and_meaning() -> None:
    text = input_reference(Biplane.model_json_schema())
    row = next(line for line in text.splitlines() if line.startswith("| `stagger_m`"))
    cells = [cell.strip() for cell in row.strip("|").split("|")]
    assert cells[:2] == ["`stagger_m`", "m"]
    assert cells[2].startswith("number")
    assert cells[3] == "`0.0`"
    assert "upper wing ahead" in cells[4]
    row = next(line for line in text.splitlines() if line.startswith("| `gap_m`"))
    assert "| m | number" in row
    assert "| needed |" in row


def test_a_key_without_a_meaning_is_refused() -> None:
    schema = {"properties": {"gap_m": {"type": "number"}}}
    with pytest.raises(ValueError, match="gap_m has no meaning"):
        input_reference(schema)


def test_a_drawn_figure_has_a_dark_version_beside_it(tmp_path, monkeypatch) -> None:
    """The theme shows what has the class only-light or only-dark in its own scheme."""
    monkeypatch.setattr(dark_figures, "DARK", tmp_path)
    monkeypatch.setattr(dark_figures, "GALLERY", tmp_path / "gallery")
    dark_figures.make_dark()
    drawn = {path.stem for path in dark_figures.FIGURES.glob("*.svg")}
    assert {path.name for path in tmp_path.glob("*.svg")} == {f"{name}-dark.svg" for name in drawn}
    assert DARK_INK in (tmp_path / "tideline-dark.svg").read_text()
    (tmp_path / "gallery").mkdir()
    (tmp_path / "gallery/box-dark.png").write_bytes(b"a picture")
    page = new_document("page")
    for uri in (
        "generated/gallery/box.png",
        "figures/tideline.svg",
        "figures/photo.png",
        "elsewhere/tideline.svg",
    ):
        page += nodes.image(uri=uri)
    DarkFigures(page).apply()
    images = [(image["uri"], image["classes"]) for image in page.findall(nodes.image)]
    assert images == [
        ("generated/gallery/box.png", ["only-light"]),
        ("/generated/gallery/box-dark.png", ["only-dark"]),
        ("figures/tideline.svg", ["only-light"]),
        ("/generated/dark/tideline-dark.svg", ["only-dark"]),
        ("figures/photo.png", []),
        ("elsewhere/tideline.svg", []),
    ]


def test_one_line_entries_become_names_and_meanings() -> None:
    lines = ["Load.", "", "Attributes", "----------", "alpha, beta : angles [rad]", "    of both"]
    both = "    angles [rad] of both"
    assert rewritten(lines)[4:8] == ["alpha", both, "beta", both]


def test_names_on_one_line_take_each_its_own_meaning() -> None:
    """The reader of a name finds its meaning beside it, not that of its neighbour."""
    lines = [
        "Load.",
        "",
        "Parameters",
        "----------",
        "alpha, beta : nose up; wind",
        "    from right",
    ]
    assert rewritten(lines)[4:8] == ["alpha", "    nose up", "beta", "    wind from right"]


def test_words_before_a_colon_are_no_type_of_a_property() -> None:
    lines = ["What was found: in words."]
    process(None, "property", "answer", None, None, lines)  # type: ignore[arg-type]
    assert lines == ["What was found; in words."]


def test_an_indented_equation_is_kept_and_bars_mean_themselves() -> None:
    lines = ["With |r| the length,", "", "    v = d x r / |r|      (3)", "", "and so on."]
    assert rewritten(lines) == [
        r"With \|r\| the length,",
        "",
        "::",
        "",
        "    v = d x r / |r|      (3)",
        "",
        "and so on.",
    ]


def test_what_is_returned_is_a_field_of_its_own() -> None:
    lines = ["Turn.", "", "Returns", "-------", "shape (3, 3) [1]", ""]
    assert ":returns: shape (3, 3) [1]" in rewritten(lines)


def test_equations_become_mathml_or_are_refused() -> None:
    from mathml import converted
    from sphinx.errors import ExtensionError

    assert "<mfrac>" in converted(r"\frac{a}{b}", "block")
    for unknown in (r"\begin{aligned} a &= b \end{aligned}", r"\unheardof x"):
        with pytest.raises(ExtensionError, match="can't be turned"):
            converted(unknown, "block")


def test_every_range_is_in_the_list() -> None:
    from made_pages import range_list

    from vlm.description.ranges import RANGES

    lines = range_list(RANGES.values()).splitlines()
    assert len(lines) == len(RANGES) + 2
    assert any("motor_efficiency |  | 0.4 to 0.95 | common practice | 0 to 1 |" in x for x in lines)
    assert any("propulsive efficiency |  | up to 0.88 |" in line for line in lines)


def test_an_option_is_not_broken_behind_its_hyphens() -> None:
    css = (Path(__file__).parents[2] / "docs/static/foldspan.css").read_text(encoding="utf-8")
    code = '<code class="literal"><span class="pre">--fold-right</span></code>'
    with browser() as running:
        narrow = running.new_page(viewport={"width": 130, "height": 200})
        narrow.set_content(f"<style>{css}</style><article><p>either of {code}</p></article>")
        assert narrow.evaluate("document.querySelector('.pre').getClientRects().length") == 1


def test_a_wide_figure_keeps_letters_that_can_be_read_on_a_phone() -> None:
    """A picture of 800 points with letters of 9 moves sideways in its frame; the page does not."""
    css = (Path(__file__).parents[2] / "docs/static/foldspan.css").read_text(encoding="utf-8")
    drawn = "%3Csvg xmlns='http://www.w3.org/2000/svg' width='800pt' height='9pt'/%3E"
    image = f"data:image/svg+xml,{drawn}"
    page = (
        f"<style>article img {{ max-width: 100% }}\n{css}</style><article><figure>"
        f'<img src="{image}"><figcaption>words</figcaption></figure></article>'
    )
    with browser() as running:
        phone = running.new_page(viewport={"width": 390, "height": 800})
        phone.set_content(page)
        assert phone.evaluate("document.documentElement.scrollWidth") == 390
        # 800 points are 1067 px: letters of 12 px become 8.5 at 760.
        assert phone.evaluate("document.querySelector('img').clientWidth") >= 0.7 * 1067
        assert phone.evaluate("document.querySelector('figcaption').clientWidth") < 390
