"""Equations as MathML, made when the docs are built: the pages need no script and no network."""

from docutils import nodes
from latex2mathml.converter import convert
from sphinx.application import Sphinx
from sphinx.errors import ExtensionError
from sphinx.util.math import get_node_equation_number
from sphinx.writers.html5 import HTML5Translator


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the renderer under the name "mathml"."""
    app.add_html_math_renderer("mathml", (visit_inline, None), (visit_display, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def converted(tex: str, display: str) -> str:
    """MathML of an equation.

    Raises
    ------
    ExtensionError : it uses something that the converter does not know and would print as text
    """
    markup = convert(tex, display=display)
    if "\\" in markup or ">&<" in markup:
        raise ExtensionError(f"this equation can't be turned into MathML: {tex}")
    return markup


def visit_inline(translator: HTML5Translator, node: nodes.math) -> None:
    """An equation in the text."""
    translator.body.append(converted(node.astext(), "inline"))
    raise nodes.SkipNode


def visit_display(translator: HTML5Translator, node: nodes.math_block) -> None:
    """An equation of its own, with its number where it has one."""
    identity = f' id="{node["ids"][0]}"' if node["ids"] else ""
    translator.body.append(f'<div class="equation"{identity}>')
    translator.body.append(converted(node.astext(), "block"))
    if node["number"]:
        number = get_node_equation_number(translator, node)
        translator.body.append(f'<span class="equation-number">({number})')
        translator.add_permalink_ref(node, "Link to this equation")
        translator.body.append("</span>")
    translator.body.append("</div>\n")
    raise nodes.SkipNode
