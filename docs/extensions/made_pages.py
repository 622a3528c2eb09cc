"""Pages, lists and figures made from the code when the docs are built, in docs/generated/."""

import importlib
import pkgutil
from collections.abc import Iterator
from math import inf
from pathlib import Path
from typing import Any

from gallery import make_gallery
from sphinx.application import Sphinx
from sphinx.config import Config

DOCS = Path(__file__).parents[1]
GENERATED = DOCS / "generated"

APART = {"vlm.description.models": ("Biplane", "Wing")}
"""Classes so long that they have a page of their own, by their module."""
# Rooms in the order of the data; any other follows.
ROOMS = ["description", "lattice", "flow", "loads", "sections", "power", "flight", "study", "show"]


def setup(app: Sphinx) -> dict[str, bool]:
    """Make everything before any page is read."""
    app.connect("config-inited", make_all)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def make_all(_app: Sphinx, _config: Config) -> None:
    """Write what has changed."""
    from vlm.cautions import cautions_markdown
    from vlm.description.ranges import RANGES
    from vlm.quantities import QUANTITIES
    from vlm.study.schemas import DOCUMENTS, document_schema

    written(GENERATED / "lists/cautions.md", cautions_markdown())
    written(GENERATED / "lists/ranges.md", range_list(RANGES.values()))
    written(GENERATED / "lists/quantities.md", quantity_list(QUANTITIES.values()))
    written(
        GENERATED / "lists/outputs.md",
        "\n".join(output_list(name, document_schema(name)) for name in DOCUMENTS),
    )
    for name, text in api_pages():
        written(GENERATED / f"api/{name}.rst", text)
    make_gallery(GENERATED)


def written(path: Path, text: str) -> None:
    """Write a file unless it already reads so, so that unchanged pages are not built again."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.is_file() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8")


def quantity_list(quantities: Iterator) -> str:
    """Markdown: one row a quantity."""
    rows = [
        f"| `{q.key}` | ${q.symbol}$ | {'' if q.unit == '1' else q.unit} | {q.long_name} |"
        f" {q.sign} |"
        for q in quantities
    ]
    head = ["| key | symbol | unit | meaning | positive means |", "| --- | --- | --- | --- | --- |"]
    return "\n".join([*head, *rows]) + "\n"


def range_list(ranges: Iterator) -> str:
    """Markdown: one row a range of possible and usual values."""
    rows = [
        f"| {r.key.replace('*', 'NAME')} | {'' if r.unit == '1' else r.unit} |"
        f" {between(*r.usual)} | {r.source} | {between(*r.possible)} | {r.why_not} |"
        for r in ranges
    ]
    head = [
        "| number | unit | usual | source | possible | why not beyond |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    return "\n".join([*head, *rows]) + "\n"


def output_list(name: str, schema: dict[str, Any]) -> str:
    """Markdown: the keys of a document, and of every part of it, one table each."""
    command = schema["title"].removeprefix("foldspan ").removesuffix(" --json")
    lines = [f"## `{command}`", "", f"Name of the schema: `{name}`.", ""]
    lines += [f"<details><summary>Keys of <code>{command}</code></summary>", ""]
    for part, form in [("", schema), *schema["$defs"].items()]:
        if "properties" not in form:
            continue
        if part:
            lines += [f"**{part}**: {form['description']}", ""]
        lines += ["| key | what | unit | meaning |", "| --- | --- | --- | --- |"]
        for key, one in form["properties"].items():
            unit = one.get("unit", "1")
            shown = "" if unit == "1" else unit
            lines.append(f"| `{key}` | {kind_of(one)} | {shown} | {one.get('description', '')} |")
        lines.append("")
    return "\n".join([*lines, "</details>", ""])


def kind_of(form: dict[str, Any]) -> str:
    """What a value of a schema is, in a word or two."""
    if "$ref" in form:
        part = form["$ref"].rpartition("/")[2]
        return "numbers" if part == "Numbers" else part
    if "anyOf" in form:
        kinds = dict.fromkeys(kind_of(one) for one in form["anyOf"])
        return " or ".join(kinds)
    if "enum" in form:
        return " or ".join(f"`{one}`" for one in form["enum"])
    kinds = form.get("type", "anything")
    if kinds == "array":
        held = form.get("items") or (form.get("prefixItems") or [{}])[0]
        return f"list of {kind_of(held)}"
    if kinds == "object":
        return f"by name, {kind_of(form.get('additionalProperties', {}))}"
    words = {"string": "text", "boolean": "true or false", "integer": "whole number"}
    names = [kinds] if isinstance(kinds, str) else kinds
    return " or ".join(words.get(one, one) for one in names)


def between(low: float, high: float) -> str:
    """A range in words; empty where there is none."""
    if low == -inf:
        return "" if high == inf else f"up to {high:g}"
    return f"from {low:g}" if high == inf else f"{low:g} to {high:g}"


def api_pages() -> Iterator[tuple[str, str]]:
    """One page for the ground floor and one a room, which lead to a page a module."""
    package = importlib.import_module("vlm")
    found = list(pkgutil.iter_modules(package.__path__))
    ground = [f"vlm.{m.name}" for m in found if not m.ispkg and m.name != "__main__"]
    yield "ground", room_page("Ground floor", ground)
    yield from ((name, module_page(name)) for name in ground)
    rooms = [m.name for m in found if m.ispkg and m.name != "cli"]
    for room in sorted(rooms, key=lambda name: (ROOMS.index(name) if name in ROOMS else 99, name)):
        folder = importlib.import_module(f"vlm.{room}")
        inner = [m.name for m in pkgutil.walk_packages(folder.__path__, f"vlm.{room}.")]
        yield room, room_page(f"vlm.{room}", inner, f"vlm.{room}")
        yield from ((name, module_page(name)) for name in inner)
    for module, names in APART.items():
        yield from ((f"{module}.{name}", class_page(module, name)) for name in names)


def room_page(title: str, modules: list[str], room: str | None = None) -> str:
    """A page in reStructuredText that says what a room is for, and leads to its modules."""
    lines = [title, "=" * len(title), ""]
    if room is not None:
        lines += [f".. automodule:: {room}", "   :no-members:", ""]
    return "\n".join(
        [*lines, ".. toctree::", "   :maxdepth: 1", "", *(f"   {name}" for name in modules), ""]
    )


def module_page(module: str) -> str:
    """A page in reStructuredText that documents one module, but for what has a page of its own."""
    lines = [module, "=" * len(module), "", f".. automodule:: {module}", "   :members:"]
    apart = APART.get(module, ())
    if apart:
        lines += [f"   :exclude-members: {', '.join(apart)}", "", ".. toctree::", ""]
        lines += [f"   {module}.{name}" for name in apart]
    return "\n".join([*lines, ""])


def class_page(module: str, name: str) -> str:
    """A page in reStructuredText that documents one class."""
    lines = [name, "=" * len(name), "", f".. autoclass:: {module}.{name}", "   :members:", ""]
    return "\n".join(lines)
