"""What the ± of every answer is made of, as bars."""

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap
from typing import Any

from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, plot_style
from vlm.show.text.layout import with_error
from vlm.study.sensitivity import AnswerDocument, SensitivityDocument

NAME_LINE = 22
LONGEST = 30
TOGETHER = "several together"


def share_axes(axes: Any, answer: AnswerDocument, order: Sequence[str]) -> Any:
    """Bars of the shares of one answer, the inputs in an order; returns the axes.

    Filled where the answer grows with the input, hollow where it falls.
    """
    shares = answer["share_percent"]
    for place, name in enumerate(order):
        share = answer["together_percent"] if name == TOGETHER else shares[name]
        if share is None:
            axes.annotate("not known", (1.0, place), va="center", fontsize=7.5)
            continue
        grows = name != TOGETHER and answer["change_per_standard_deviation"][name] > 0.0
        colour = "0.5" if name == TOGETHER else COLOURS[0]
        axes.barh(place, share, color=colour if grows else "none", edgecolor=colour, linewidth=1.2)
        if share >= 0.5:
            axes.annotate(
                f"{share:.0f}", (share, place), xytext=(2.0, 0.0), textcoords="offset points",
                va="center", fontsize=7.5,
            )  # fmt: skip
    unit = "" if answer["unit"] == "1" else f" {answer['unit']}"
    half = answer["half_width"]
    name = "\n".join(wrap(answer["name"], NAME_LINE))
    axes.set_title(f"{name}\n{with_error(answer['value'], half)}{unit}", fontsize=8.5)
    axes.set_xlim(0.0, 115.0)
    axes.grid(axis="y", visible=False)
    return axes


def _words(document: SensitivityDocument, name: str) -> str:
    one = next((i for i in document["inputs"] if i["name"] == name), None)
    if one is None:
        return name
    words = one["words"]
    words = words if len(words) <= LONGEST else f"{words[: LONGEST - 3]}..."
    return f"{words}, {one['standard_deviation']:g} {one['unit']}".rstrip()


def ordered(document: SensitivityDocument) -> list[str]:
    """Inputs by their largest share, and behind them what several bring about together."""
    answers = document["answers"]
    names = [one["name"] for one in document["inputs"]]
    names.sort(
        key=lambda name: -max((a["share_percent"][name] or 0.0 for a in answers), default=0.0)
    )
    return [*names, TOGETHER]


def save_sensitivity_picture(document: SensitivityDocument, title: str, path: Path) -> None:
    """Write the picture: a row a group, a panel an answer.

    Parameters
    ----------
    document : what a command gives as ``uncertain_inputs``
    title : of the craft or the mission
    """
    groups: dict[str, list[AnswerDocument]] = {}
    for answer in document["answers"]:
        groups.setdefault(answer["group"], []).append(answer)
    order = ordered(document)
    wide, high = max(map(len, groups.values()), default=1), max(1, len(groups))
    with plot_style() as plt:
        size = (2.8 + 1.9 * wide, 0.9 + high * (0.9 + 0.2 * len(order)))
        figure, grid = plt.subplots(
            high, wide, figsize=size, layout="constrained", squeeze=False, sharey=True
        )
        for row, (group, answers) in zip(grid, groups.items(), strict=False):
            for axes in row[len(answers) :]:
                axes.set_visible(False)
            for axes, answer in zip(row, answers, strict=False):
                share_axes(axes, answer, order)
            row[0].set_yticks(range(len(order)), [_words(document, name) for name in order])
            row[0].set_ylabel(group)
        grid[0][0].invert_yaxis()
        figure.supxlabel(
            "share of the ± [% of the variance]; filled: grows with the input, hollow: falls",
            fontsize=9.0,
        )
        figure.suptitle(f"{title}: an estimate, not a flight clearance", fontsize=9.5)
        save_figure(figure, path)
