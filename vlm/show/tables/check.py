"""What a file describes, in words and tables of at most 80 columns."""

from collections.abc import Mapping, Sequence
from typing import Any

from vlm.findings import Finding
from vlm.plain import LEAST_MOVE_M, move_words
from vlm.show.text.answer import Footnotes, framed, wrapped
from vlm.show.text.layout import cut, number, section, table
from vlm.study.check.study import CraftCheck

WIDEST_FIN = 19
BASIS = "the file alone; nothing is solved"
ELSEWHERE = "Legs may come from mission --legs, what may change from design --key."


def check_table(check: CraftCheck, findings: list[Finding]) -> str:
    """The answer of ``foldspan check`` for people: words, tables, warnings.

    Parameters
    ----------
    findings : all warnings about the file, those of single numbers among them
    """
    report = check.dimensions
    answer = [_size_words(check), *_hover_words(check), *_balance_words(check)]
    answer.insert(0 if check.refused is not None else len(answer), _command_words(check))
    if not findings:
        answer.append("No warnings.")
    blocks = []
    lacking = [[one.command, " ".join(one.lacks)] for one in check.commands if one.lacks]
    if lacking:
        shown = table(["command", "lacks"], lacking, left=2)
        blocks.append(section("What commands lack", f"{shown}\n{ELSEWHERE}"))
    blocks.append(dimensions_table(report))
    if check.masses:
        blocks.append(section("Masses", _mass_table(check)))
    return framed(
        f"{report['title']}: what the file describes",
        answer,
        [block.rstrip() for block in blocks],
        findings,
        BASIS if check.balance is None else f"{BASIS} but one trim, for the balance in pitch",
        more="--json, --plot",
    )


def _size_words(check: CraftCheck) -> str:
    report = check.dimensions
    wings = "A biplane" if len(report["wings"]) == 2 else "A monoplane"
    tips = any(wing["tip_area_m2"] for wing in report["wings"].values())
    mass = "" if check.mass_kg is None else f" of {number(check.mass_kg, 3)} kg"
    span = max(wing["flat_span_m"] for wing in report["wings"].values())
    flat = " with the tips flat" if tips else ""
    words = f"{wings}{mass}, {number(span)} m from end to end{flat}"
    if check.wing_loading_N_m2 is not None:
        words += f", wing loading {number(check.wing_loading_N_m2, 3)} N/m^2"
    return f"{words}. {'The tips fold.' if tips else 'It has no tips that fold.'}"


def _hover_words(check: CraftCheck) -> list[str]:
    hover = check.hover
    if hover is None:
        return []
    load = f"Disc loading {number(hover.disc_loading_N_m2, 3)} N/m^2 at every fold."
    if hover.thrust_N is None:
        return [f"Whether the rotors can hover it is not known: no limit is stated. {load}"]
    can = {True: "The rotors can hover it", False: "The rotors cannot hover it",
           None: "Whether the rotors can hover it is not known"}[hover.possible]  # fmt: skip
    return [
        f"{can}: at most {number(hover.thrust_N, 3)} N of thrust at rest, pitch"
        f" balanced ({hover.limit} ends it), against a weight of {number(hover.weight_N, 3)} N."
        f" {load}"
    ]


def _balance_words(check: CraftCheck) -> list[str]:
    found = check.balance
    if found is None:
        return []
    flat = "the tips flat" if found.fold_deg == 0.0 else f"a fold of {found.fold_deg:g} deg"
    state = f"In level flight at {found.airspeed_m_s:g} m/s with {flat}"
    words = (
        f"{state} the rotors must differ by {abs(found.moment_N_m):.2g} N m nose"
        f" {'up' if found.moment_N_m > 0.0 else 'down'}: equal thrusts balance the craft with its"
        f" centre of gravity {move_words(found.aft_m, found.aft_chords)}"
        f" (mass.body_centre_m, x = {found.body_centre_x_m:.4g})."
    )
    if abs(found.aft_m) < LEAST_MOVE_M:
        words = f"{state} rotors of equal thrust balance the craft, within half a millimetre."
    words += (
        f" That is taken from one trim with the rotors on a lattice of {found.rows} rows x"
        f" {found.strips} strips; its ± is not worked out."
    )
    return [words] if found.passed is None else [words, f"Beyond a limit there: {found.passed}."]


def _command_words(check: CraftCheck) -> str:
    if check.refused is not None:
        return f"No command can solve it: {check.refused}."
    able = [one.command for one in check.commands if not one.lacks]
    if len(able) == len(check.commands):
        return "Every command can answer."
    return f"It can answer {', '.join(able)}."


def _mass_table(check: CraftCheck) -> str:
    units = ["fold, deg", "x, m", "z, m", "x, kg m^2", "y, kg m^2", "z, kg m^2", "N/m^2"]
    rows = [
        units,
        *([
            f"{one.fold_deg:g}", f"{one.centre_m[0]:.4f}", f"{one.centre_m[2]:.4f}",
            *(number(v, 3) for v in one.inertia_kg_m2), number(one.wing_loading_N_m2, 3),
        ] for one in check.masses),
    ]  # fmt: skip
    widths = [max(len(row[i]) for row in rows) for i in range(len(units))]
    head = ["  ".join(cell.rjust(w) for cell, w in zip(row, widths, strict=True)) for row in rows]
    words = (
        "Centre of gravity aft of and above the upper wing's leading edge; moments of inertia about"
        " it, body axes; last column: weight over the area of wings and tips seen from above."
    )
    return "\n".join([wrapped(words), *head])


def _fins(fins: Mapping[str, Any]) -> str:
    heads = ["fin", "root, leading edge", "span", "dihedral", "area", "joined to"]
    units = ["", "m, geometry axes", "m", "deg", "m^2", ""]
    rows = [
        [cut(name, WIDEST_FIN), ", ".join(number(v, 3) for v in fin["root_m"]),
         number(fin["span_m"]), f"{fin['dihedral_deg']:.4g}", number(fin["area_m2"]),
         ", ".join(fin["joined_to"]) or "nothing"]
        for name, fin in fins.items()
    ]  # fmt: skip
    return _two_heads(heads, units, rows)


def dimensions_table(report: Mapping[str, Any]) -> str:
    """Dimensions, arrangement, named settings and clearance against fold."""
    reference = report["reference"]
    point = ", ".join(number(v) for v in reference["moment_point_m"])
    blocks = [
        section(
            "Reference, the same at every fold",
            f"area {number(reference['area_m2'])} m^2, span {number(reference['span_m'])} m, chord"
            f" {number(reference['chord_m'])} m, aspect ratio {number(reference['aspect_ratio'])},"
            f"\nmoment point ({point}) m",
        )
    ]
    heads = ["wing", "span", "area", "aspect", "chord", "tip span", "tip area", "tips", "thick"]
    units = ["", "m", "m^2", "ratio", "m", "m", "m^2", "of area", "of chord"]
    keys = ("flat_span_m", "area_m2", "aspect_ratio", "mean_chord_m", "tip_span_m",
            "tip_area_m2", "tip_share_of_area", "section_thickness")  # fmt: skip
    rows = [[name, *(number(w[k]) for k in keys)] for name, w in report["wings"].items()]
    tips = any(wing["tip_area_m2"] for wing in report["wings"].values())
    blocks.append(section("Wings, tips flat" if tips else "Wings", _two_heads(heads, units, rows)))
    if report["fins"]:
        blocks.append(section("Fins", _fins(report["fins"])))
    if report["arrangement"] is not None:
        a = report["arrangement"]
        blocks.append(
            section(
                "Arrangement",
                f"gap {number(a['gap_m'])} m ({number(a['gap_over_chord'], 3)} chords,"
                f" {number(a['gap_over_span'], 3)} of the span)\n"
                f"stagger {number(a['stagger_m'])} m ({number(a['stagger_over_chord'], 3)} chords,"
                " positive with the upper wing ahead)\n"
                f"decalage {number(a['decalage_deg'], 3)} deg (upper less lower incidence)",
            )
        )
    if report["configurations"]:
        rows = [
            [name, f"{c['left_deg']:g}", f"{c['right_deg']:g}"]
            for name, c in report["configurations"].items()
        ]
        blocks.append(
            section("Configurations", table(["name", "port, deg", "starboard, deg"], rows))
        )
    if report["folds"]:
        blocks.append(section("Both tips folded", _folds(report["folds"])))
    return "\n".join(blocks)


def _folds(folds: Sequence[Mapping[str, Any]]) -> str:
    """Sizes at each fold; why one cannot be built stands below, once."""
    reasons = {row["state"] if row["span_m"] is None else "" for row in folds}
    if len(reasons) == 1 and "" not in reasons:
        return wrapped(f"At no fold can it be built: {reasons.pop()}.")
    notes = Footnotes()
    rows = [
        [f"{row['fold_deg']:g}", number(row["span_m"]), number(row["projected_area_m2"]),
         number(row["clearance_m"]),
         f"refused {notes.mark(row['state'])}" if row["span_m"] is None else row["state"]]
        for row in folds
    ]  # fmt: skip
    heads = ["fold", "overall span", "area seen from above", "clearance of the tips", ""]
    units = ["deg", "m", "m^2", "m", ""]
    return notes.below(_two_heads(heads, units, rows, left=0))


def _two_heads(heads: list[str], units: list[str], rows: list[list[str]], left: int = 1) -> str:
    """A table with its units in a second line of the head."""
    lines = table(heads, [units, *rows], left=left).splitlines()
    return "\n".join([lines[0], lines[2], lines[1], *lines[3:]])
