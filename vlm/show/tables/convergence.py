"""A convergence study as tables for people."""

from vlm.findings import Finding
from vlm.show.text.answer import framed, wrapped
from vlm.show.text.layout import fitted, number, section, table, with_error
from vlm.show.wakes import WAKES
from vlm.study.convergence.report import (
    ConvergenceDocument,
    LatticeSize,
    WakeVariants,
    WithinWanted,
)

SHOWN = ("CL", "CDi", "span_efficiency", "Cl_beta", "Cm_alpha")
HEADS = {"span_efficiency": "e"}


def convergence_table(document: ConvergenceDocument) -> str:
    """All of a convergence study as text."""
    state = document["state"]
    blocks = [section("Limits", _limits(document))]
    if document["within"] is not None:
        blocks.insert(0, section("Lattice for the wanted errors", _within(document["within"])))
    blocks.append(section("Values by lattice", _lattices(document)))
    if document["relaxed_wake"] is not None:
        blocks.append(
            section(
                "The relaxed wake made in other ways", _variants(document, document["relaxed_wake"])
            )
        )
    title = (
        f"{document['title']}: convergence, fold port {state['fold_left_deg']:g} deg, starboard"
        f" {state['fold_right_deg']:g} deg, angle of attack {state['alpha_deg']:g} deg, sideslip"
        f" {state['beta_deg']:g} deg"
    )
    return framed(
        title,
        convergence_answer(document),
        [block.rstrip() for block in blocks],
        [Finding(**one) for one in document["findings"]],
        f"{WAKES[state['wake']]}; strips by the {document['law']} law",
        more="--within, --json, --plot",
    )


def convergence_answer(document: ConvergenceDocument) -> list[str]:
    """The quantity least sure on the default lattice, and the lattice for a wanted error."""
    default = document["default"]
    known = {
        name: one["default_error_share"]
        for name, one in document["quantities"].items()
        if one["default_error_share"] is not None
    }
    said = []
    if known:
        worst = max(known, key=lambda name: known[name])
        said.append(
            f"Least sure on the default lattice, {default['rows']} x {default['strips']}, is"
            f" {worst}: within {percentage(known[worst])} of its natural size; CL within"
            f" {percentage(known.get('CL'))}."
        )
    within = document["within"]
    if within is not None:
        chosen = within["lattice"]
        said.append(
            "No lattice studied is known to reach all that is wanted."
            if chosen is None
            else f"For the wanted errors: {size_text(chosen)}, {chosen['panels']} panels."
        )
    return said


def _lattices(document: ConvergenceDocument) -> str:
    names = [name for name in SHOWN if name in document["quantities"]]
    rows = [
        [str(one["rows"]), str(one["strips"]), str(one["panels"]), f"{one['seconds']:.2f}"]
        + [number(one["values"][name], 6) for name in names]
        for one in document["lattices"]
    ]
    heads = ["rows", "strips", "panels", "time [s]", *(HEADS.get(name, name) for name in names)]
    return fitted(heads, rows, left=0, repeated=2)


def _variants(document: ConvergenceDocument, known: WakeVariants) -> str:
    names = [name for name in SHOWN if name in document["quantities"]]
    rows = [
        [way, *(number(values[name], 6) for name in names)]
        for way, values in known["values"].items()
    ]
    note = f"On {known['rows']} rows x {known['strips']} strips."
    return f"{table(['', *(HEADS.get(name, name) for name in names)], rows, left=1)}\n{note}"


def _limits(document: ConvergenceDocument) -> str:
    default = document["default"]
    rows = [
        [
            HEADS.get(name, name),
            with_error(one["extrapolated"], one["half_width"]),
            _order(one["order_rows"]),
            _order(one["order_strips"]),
            percentage(one["default_error_share"]),
        ]
        for name, one in document["quantities"].items()
    ]
    heads = [
        "", "extrapolated", "order in rows", "in strips",
        f"error at {default['rows']} x {default['strips']}",
    ]  # fmt: skip
    note = wrapped(
        "Errors are shares of a quantity's natural size, the magnitudes of its parts added up;"
        " a dash: no order is clear. What symmetry makes zero is left out."
    )
    return f"{table(heads, rows, left=1)}\n{note}"


def _within(within: WithinWanted) -> str:
    both = [within["predicted_shares"], within["found_shares"]]
    rows = []
    for name, share in within["wanted"].items():
        row = [HEADS.get(name, name), percentage(share)]
        if name not in within["each"]:
            rows.append([*row, "zero by symmetry", "-", "-", "-"])
            continue
        one = within["each"][name]
        predicted, found = (percentage(shares[name]) if shares else "-" for shares in both)
        rows.append([*row, size_text(one), str(one["panels"]) if one else "-", predicted, found])
    heads = ["", "wanted", "smallest lattice", "panels", "predicted", "found"]
    chosen = within["lattice"]
    if chosen is None:
        last = wrapped(
            "no lattice is known to reach all of it: ask for less, or study finer ones (--rows,"
            " --strips)"
        )
    else:
        last = wrapped(
            f"for all: {size_text(chosen)}, {chosen['panels']} panels; predicted and found errors"
            " are those of this lattice"
        )
    return f"{table(heads, rows, left=1)}\n{last}"


def size_text(one: LatticeSize | None) -> str:
    """Rows and strips of a lattice in words."""
    return f"{one['rows']} rows x {one['strips']} strips" if one else "none known"


def percentage(share: float | None) -> str:
    """A share as a percentage with two digits."""
    return "-" if share is None else f"{number(100.0 * share, 2)} %"


def _order(order: float | None) -> str:
    return "-" if order is None else f"{order:.1f}"
