"""Writes the tables of docs/input.md from the models of the geometry file."""

import sys
from pathlib import Path

from vlm.description import Biplane

DOCS = Path(__file__).parent
PAGE = DOCS / "input.md"
MARK = "<!-- made by docs/make_input_reference.py from here on -->\n"


def made_page() -> str:
    """The page with its tables made again; what stands above the mark is kept."""
    sys.path.insert(0, str(DOCS / "extensions"))
    from input_reference import input_reference

    head, mark, _ = PAGE.read_text(encoding="utf-8").partition(MARK)
    if not mark:
        raise ValueError(f"{PAGE.name}: the mark of what is made is missing")
    return f"{head}{MARK}\n{input_reference(Biplane.model_json_schema()).rstrip()}\n"


if __name__ == "__main__":
    PAGE.write_text(made_page(), encoding="utf-8")
