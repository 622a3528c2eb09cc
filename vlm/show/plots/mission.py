"""Energy of a mission, leg by leg, for every way to fly it."""

from pathlib import Path
from textwrap import wrap
from typing import Any

from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, SEQUENTIAL, plot_style
from vlm.show.tables.mission import GROUPS, battery_answer
from vlm.study.mission.answer import LEAST_WH, MissionDocument

GAINS, COSTS, ALIKE = COLOURS[2], COLOURS[1], "0.35"
LINE = 105


def mission_axes(axes: Any, document: MissionDocument) -> Any:
    """Bars of energy by leg with the interval of the whole; returns the axes."""
    from matplotlib import colormaps

    ways = [("schedule", document["schedule"])]
    for key, word in GROUPS:
        ways += [(f"{word}: {way['name']}", way) for way in document[key]]
    ways = [(name, way) for name, way in ways if way["energy_Wh"] is not None]
    places = list(range(len(ways)))
    begun = [0.0] * len(ways)
    legs = [row["leg"] for row in document["schedule"]["legs"]]
    for index, leg in enumerate(legs):
        sizes = [way["legs"][index]["energy_Wh"] for _, way in ways]
        shade = colormaps[SEQUENTIAL](0.25 + 0.75 * index / max(1, len(legs) - 1))
        axes.barh(places, sizes, left=begun, label=leg, color=shade, edgecolor="w", linewidth=0.5)
        begun = [a + b for a, b in zip(begun, sizes, strict=True)]
    for place, (_, way) in zip(places, ways, strict=True):
        if way["energy_interval_Wh"] is not None:
            low, high = way["energy_interval_Wh"]
            # On a ground of its own: it runs over the bar's end.
            axes.plot([low, high], [place, place], color="w", lw=3.5, solid_capstyle="butt")
            axes.plot([low, high], [place, place], color="k", lw=1.5, marker="|")
    battery = document["battery_usable_Wh"]
    if battery is not None:
        axes.axvline(battery, color="k", ls="--", lw=1.0)
        # In a row of its own above the bars, which may reach over the line; inward of it.
        side = "right" if battery > 0.5 * axes.get_xlim()[1] else "left"
        axes.annotate("usable battery", (battery, -1.0), xytext=(-3 if side == "right" else 3, 0),
                      textcoords="offset points", ha=side, va="center", fontsize=8,
                      annotation_clip=False)  # fmt: skip
    axes.set_axisbelow(True)
    axes.grid(axis="y", visible=False)
    axes.set_yticks(places, [name for name, _ in ways])
    axes.set_ylim(len(ways) - 0.4, -0.6 if battery is None else -1.5)
    percent = document["interval_percent"]
    said = "" if percent is None else f"; with ends: {percent:g} % interval of the whole"
    axes.set_xlabel(f"energy [Wh]{said}")
    axes.legend(
        loc="upper left", bbox_to_anchor=(1.03, 1.0), frameon=False, title="legs", alignment="left"
    )
    axes.set_title(
        f"{document['mission']} (an estimate, not a flight clearance)\n"
        "held: the mechanism carried, one fold; fixed: without the mechanism", loc="left",
    )  # fmt: skip
    return axes


def saving_axes(axes: Any, document: MissionDocument) -> Any:
    """What the schedule saves against every other way, with its interval; returns the axes.

    That is the paired difference, in which errors that both ways share cancel: the answer. Hollow
    where the interval reaches over zero, and where others have one but this way has none.
    """
    ways = [(f"{word}: {way['name']}", way) for key, word in GROUPS for way in document[key]]
    ways = [(name, way) for name, way in ways if way["energy_Wh"] is not None]
    percent = document["interval_percent"]
    for place, (_, way) in enumerate(ways):
        saves, ends = way["schedule_saves_Wh"], way["schedule_saves_interval_Wh"]
        if saves is None:  # the schedule cannot be flown
            continue
        known = percent is None or (ends is not None and (ends[0] > 0.0 or ends[1] < 0.0))
        colour = GAINS if saves > 0.0 else COSTS
        if max(abs(saves), *(abs(end) for end in ends or (0.0,))) < LEAST_WH:  # as in the table
            known, colour = True, ALIKE
        if ends is not None:
            axes.plot(ends, [place, place], color=colour, lw=1.8, marker="|")
        axes.plot(saves, place, "o", color=colour, mfc=colour if known else "w", ms=5)
    axes.axvline(0.0, color="k", lw=0.8)
    axes.grid(axis="y", visible=False)
    axes.set_yticks(range(len(ways)), [name for name, _ in ways])
    axes.set_ylim(len(ways) - 0.5, -0.5)
    reach = max(abs(end) for end in axes.get_xlim())
    axes.set_xlim(-1.05 * reach, 1.05 * reach)
    said = ""
    if percent is not None:
        said = f"\nbars: {percent:g} % interval; hollow: sign not known, or no interval"
    axes.set_xlabel(f"saved by folding [Wh]: left of zero folding costs, right it saves{said}")
    return axes


def save_mission_picture(document: MissionDocument, path: Path) -> None:
    """Write the picture: the answer above, what each way takes below."""
    with plot_style() as plt:
        figure, (above, below) = plt.subplots(2, 1, figsize=(10.0, 8.4), layout="constrained")
        saving_axes(above, document)
        said = " ".join([*battery_answer(document), str(document["answer"])])
        above.set_title("\n".join(wrap(said, LINE)), loc="left")
        mission_axes(below, document)
        save_figure(figure, path)
