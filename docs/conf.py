"""How the docs are built; see DEVELOPERS.md."""

import sys
from pathlib import Path

DOCS = Path(__file__).parent
sys.path[:0] = [str(DOCS.parent), str(DOCS / "extensions")]

import vlm  # noqa: E402

project = "foldspan"
author = "the foldspan authors"
copyright = "2026, the foldspan authors"  # noqa: A001 - Sphinx's own name
version = release = vlm.__version__

extensions = [
    "made_pages",
    "dark_figures",
    "house_docstrings",
    "mathml",
    "myst_parser",
    "sphinx.ext.autodoc",
    "sphinx.ext.napoleon",
]
exclude_patterns = [
    "_build",
    "generated/lists",
    "generated/extra",
    "notebooks",
    "extensions",
    "figures",
]
language = "en"

myst_enable_extensions = ["attrs_inline", "colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 3
numfig = True
math_number_all = False
html_math_renderer = "mathml"

autodoc_member_order = "bysource"
autodoc_typehints_format = "short"
python_use_unqualified_type_names = True
# Attributes of the same name in several classes: Sphinx would ask which one a name links to.
suppress_warnings = ["ref.python"]
napoleon_google_docstring = False
napoleon_use_ivar = True
napoleon_use_rtype = False

html_theme = "furo"
html_title = f"foldspan {release}"
html_static_path = ["static"]
html_favicon = "static/favicon.svg"
html_extra_path = ["generated/extra"]
html_css_files = ["foldspan.css"]
html_copy_source = False
html_show_sourcelink = False
html_show_sphinx = False
# Nothing leads there, and one page of all names is of no use; the search finds them.
html_use_index = html_domain_indices = False
