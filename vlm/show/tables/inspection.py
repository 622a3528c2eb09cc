"""Dimensions and clearances as text."""

from typing import Any

from vlm.show.tables.layout import number, section, table


def inspection_table(report: dict[str, Any]) -> str:
    """The report of ``foldspan inspect`` for people."""
    reference = report["reference"]
    point = ", ".join(number(v) for v in reference["moment_point_m"])
    blocks = [
        f"{report['title']}\n"
        f"reference area {number(reference['area_m2'])} m^2, span {number(reference['span_m'])} m,"
        f" chord {number(reference['chord_m'])} m, aspect ratio"
        f" {number(reference['aspect_ratio'])}, moment point ({point}) m\n"
    ]
    heads = ["wing", "flat span [m]", "area [m^2]", "aspect ratio", "mean chord [m]",
             "tip span [m]", "tip area [m^2]", "tips' share of area"]  # fmt: skip
    keys = ("flat_span_m", "area_m2", "aspect_ratio", "mean_chord_m", "tip_span_m",
            "tip_area_m2", "tip_share_of_area")  # fmt: skip
    rows = [[name, *(number(w[k]) for k in keys)] for name, w in report["wings"].items()]
    blocks.append(section("Wings, tips flat", table(heads, rows)))
    if report["arrangement"] is not None:
        a = report["arrangement"]
        blocks.append(
            section(
                "Arrangement",
                f"gap {number(a['gap_m'])} m ({number(a['gap_over_chord'], 3)} chords,"
                f" {number(a['gap_over_span'], 3)} of the span), stagger {number(a['stagger_m'])} m"
                f" ({number(a['stagger_over_chord'], 3)} chords, positive with the upper wing"
                f" ahead), decalage {number(a['decalage_deg'], 3)} deg"
                " (upper less lower incidence)",
            )
        )
    if report["configurations"]:
        rows = [
            [name, f"{c['left_deg']:g}", f"{c['right_deg']:g}"]
            for name, c in report["configurations"].items()
        ]
        blocks.append(
            section(
                "Configurations", table(["name", "port fold [deg]", "starboard fold [deg]"], rows)
            )
        )
    if report["folds"]:
        rows = [
            [f"{r['fold_deg']:g}", number(r["span_m"]), number(r["clearance_m"]), r["state"]]
            for r in report["folds"]
        ]
        heads = ["fold [deg]", "overall span [m]", "clearance of the tips [m]", ""]
        blocks.append(section("Both tips folded", table(heads, rows, left=0)))
    return "\n".join(blocks).rstrip()
