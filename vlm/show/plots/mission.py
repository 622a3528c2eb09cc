"""Energy of a mission, leg by leg, for every way to fly it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from vlm.show.saving import save_figure
from vlm.show.style import SEQUENTIAL, plot_style
from vlm.show.tables.mission import GROUPS


def mission_axes(axes: Any, document: Mapping[str, Any]) -> Any:
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
        axes.annotate("usable battery", (battery, 0.5), xycoords=("data", "axes fraction"),
                      xytext=(3, 0), textcoords="offset points", rotation=90, va="center",
                      fontsize=8, annotation_clip=False)  # fmt: skip
    axes.set_axisbelow(True)
    axes.grid(axis="y", visible=False)
    axes.set_yticks(places, [name for name, _ in ways])
    axes.invert_yaxis()
    percent = document["interval_percent"]
    told = "" if percent is None else f"; with ends: {percent:g} % interval of the whole"
    axes.set_xlabel(f"energy [Wh]{told}")
    axes.legend(
        loc="upper left", bbox_to_anchor=(1.03, 1.0), frameon=False, title="legs", alignment="left"
    )
    axes.set_title(f"{document['mission']} (an estimate, not a flight clearance)")
    return axes


def save_mission_picture(document: Mapping[str, Any], path: Path) -> None:
    """Write the picture."""
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(10.0, 5.0), layout="constrained")
        mission_axes(axes, document)
        save_figure(figure, path)
