"""What studies decide, in one sentence each: the title of a picture, a line of the report."""

from collections.abc import Sequence

from vlm.plain import joined, spans
from vlm.show.text.answer import not_apart
from vlm.show.text.layout import is_known, number, with_error
from vlm.show.text.sweep_answer import pairs_not_apart
from vlm.study.hinge.results import GustRow, HingeStudy, MomentRow, WingRow
from vlm.study.lateral.results import NOT_KNOWN, Derivatives, LateralStudy
from vlm.study.roll.results import RollStudy
from vlm.verdicts import SIGN_NOT_KNOWN, not_known_apart


def levels(study: LateralStudy) -> dict[float, Derivatives]:
    """Level flight of a lateral study at each fold that has one."""
    return {row.fold_deg: level for row, level, _ in study.level_flights}


def dihedral_sentence(study: LateralStudy, *, unknown: bool = True) -> str:
    """Where the dihedral effect is unstable, stable and, if wanted, not known; may be empty."""
    found = levels(study)
    texts = []
    for word in ("unstable", "stable", *((SIGN_NOT_KNOWN,) if unknown else ())):
        folds = [fold for fold, level in found.items() if level.dihedral_effect == word]
        if folds:
            texts.append(f"{word} at {spans(folds, list(found))}")
    return f"Dihedral effect in level flight: {', '.join(texts)}." if texts else ""


def neutral_sentences(study: LateralStudy) -> list[str]:
    """The roots of Cl_beta with their intervals, in words."""
    return [
        f"Whether it changes its sign near {number(root.fold_deg, 3)} deg is not known, for its"
        " sign beside that is not."
        if root.stable == NOT_KNOWN
        else f"It changes its sign at {with_error(root.fold_deg, root.half_width_deg)} deg, stable"
        f" {root.stable} it."
        for root in study.neutral_folds
    ]


def roll_faults(study: RollStudy) -> list[str]:
    """Commands that roll the other way at other airspeeds or in time; a craft that departs."""
    found = [
        f"Reversal: {one.command} rolls {one.below} below and {one.above} above"
        f" {with_error(one.airspeed_m_s, one.half_width_m_s)} m/s."
        for one in study.reversals
    ]
    history, folds = study.bank_history, _flown_folds(study)
    for row in history.histories or ():
        if row.departs and row.end_is_known:
            found.append(
                f"Folded to {folds} it departs, {row.name}: {row.cut_off} after"
                f" {number(row.cut_off_at_s, 3)} s, where the history ends."
            )
        if row.reverses:
            found.append(
                f"Reversed ({row.name}): commanded {row.commanded}, it ends {row.ends} (from"
                f" {number(row.reversed_at_s, 3)} s on)."
            )
    return found


def open_roll(study: RollStudy) -> str:
    """Histories of which it is not known how they end; empty where there are none."""
    rows = [row for row in study.bank_history.histories or () if not row.end_is_known]
    if not rows:
        return ""
    why = (
        "what is not known of the rotors' own answer to the air decides it"
        if all(row.loads_hold for row in rows)
        else "the tables of its loads do not hold in that sideslip"
    )
    return (
        f"how it rolls folded to {_flown_folds(study)}, {joined([row.name for row in rows])}: {why}"
    )


def _flown_folds(study: RollStudy) -> str:
    history = study.bank_history
    return f"port {number(history.left_deg, 3)}, starboard {number(history.right_deg, 3)} deg"


def hinge_sentence(study: HingeStudy) -> str:
    """The moment about a hinge that reaches farthest, its ± counted in; empty where there is none.

    Another may be larger, with a smaller ±.
    """
    rows = study.known_moments
    if not rows:
        return ""
    worst = max(rows, key=lambda row: row.hinge().reach_N_m)
    hinge, share = worst.hinge(), worst.share_of_hinge_limit
    moment = with_error(abs(hinge.worst_N_m), hinge.half_width_N_m)
    counted = ", ± included:" if is_known(hinge.half_width_N_m) else ""
    each = [(row, one.least_N_m) for row in rows for one in (row.hinges or {}).values()]
    surely = _surely(each, abs(hinge.worst_N_m))
    limit = f": {100.0 * share:.0f} % of the hinge's limit" if is_known(share) else ""
    return (
        f"Largest hinge moment{counted} {moment} N m, at {worst.fold_deg:.3g}°,"
        f" {worst.airspeed_m_s:g} m/s and load factor"
        f" {number(hinge.load_factor, 2)}{_alike_folds(rows, worst)}{limit}{surely}."
    )


def _surely(each: Sequence[tuple[MomentRow | WingRow, float | None]], named: float) -> str:
    """Words for the largest that a moment is at least, where that is more than the one named.

    Parameters
    ----------
    each : rows, and what a moment of theirs is at least; None where that is not known [N m]
    """
    known = [(least, row) for row, least in each if least is not None and is_known(least)]
    if not known:
        return ""
    most, row = max(known, key=lambda pair: pair[0])
    if not most > named:
        return ""
    return (
        f"; surely {number(most, 3)} N m or more at {row.fold_deg:.3g}° and"
        f" {number(row.airspeed_m_s, 3)} m/s"
    )


def _alike_folds(rows: Sequence[MomentRow], worst: MomentRow) -> str:
    """Words for folds whose largest moment is not known to be less; may be empty."""
    sizes = [abs(row.hinge().worst_N_m) for row in rows]
    widths = [row.hinge().half_width_N_m for row in rows]
    return _alike([row.fold_deg for row in rows], sizes, widths, rows.index(worst))


def _alike(
    folds: Sequence[float], sizes: Sequence[float], widths: Sequence[float | None], place: int
) -> str:
    known = [width for width in widths if is_known(width)]
    if len(known) < len(widths):
        return ""
    others = {folds[other] for other in not_known_apart(sizes, known, place)} - {folds[place]}
    return not_apart(spans(others, list(dict.fromkeys(folds))))


def gust_sentence(study: HingeStudy) -> str:
    """The least sudden gust to the load factor of the file, and what may be less; may be empty."""
    rows = [row for row in study.gusts if row.gust_m_s is not None]
    lowest = min(
        (row for row in study.gusts if row.low_end_m_s is not None),
        key=lambda row: row.low_end_m_s or 0.0,
        default=None,
    )
    if lowest is None:
        return ""
    least, place = f"{number(lowest.low_end_m_s, 2)} m/s", _gust_place(lowest)
    if not rows:
        return (
            f"No sudden upward gust is known to reach load factor {lowest.load_factor:g}; one may"
            f" from {least} on, at {place}."
        )
    first = min(range(len(rows)), key=lambda i: rows[i].gust_m_s or 0.0)
    row, widths = rows[first], [row.half_width_m_s for row in rows]
    speeds = [row.gust_m_s or 0.0 for row in rows]
    alike = _alike([row.fold_deg for row in rows], speeds, widths, first)
    may = "" if lowest is row else f" It may be {least}, at {place}."
    return (
        f"Least sudden upward gust to load factor {row.load_factor:g}: {gust_words(row)} m/s, at"
        f" {_gust_place(row)}{alike}; where it builds up over 12.5 chords"
        f" {eased_words(row)} m/s.{may}"
    )


def _gust_place(row: GustRow) -> str:
    return f"{row.fold_deg:.3g}° and {row.airspeed_m_s:g} m/s"


def gust_words(row: GustRow) -> str:
    """The sudden gust with its ±; past stall, with the least that may be; or "± not known"."""
    if row.least_m_s is not None and not is_known(row.half_width_m_s):
        return f"{number(row.gust_m_s, 2)} ({number(row.least_m_s, 2)})"
    return _or_not_known(row.gust_m_s, row.half_width_m_s)


def eased_words(row: GustRow) -> str:
    """The gust that builds up, with its ±, or "± not known"."""
    return _or_not_known(row.eased_m_s, row.eased_half_width_m_s)


def _or_not_known(value: float | None, half_width: float | None) -> str:
    known = with_error(value, half_width)
    return known if is_known(half_width) else f"{known} ± not known"


def asked_gust_sentence(study: HingeStudy) -> str:
    """What the gust asked for does at most; empty where none was asked for."""
    asked = [(row, row.asked) for row in study.gusts if row.asked is not None]
    asked = [(row, gust) for row, gust in asked if gust.load_factor is not None]
    if not asked:
        return ""
    row, gust = max(asked, key=lambda pair: pair[1].reach)
    text = (
        f"A sudden upward gust of {gust.gust_m_s:g} m/s: load factor up to"
        f" {_or_not_known(gust.load_factor, gust.load_factor_half_width)}, at"
        f" {row.fold_deg:.3g}° and {row.airspeed_m_s:g} m/s"
    )
    moments = max(study.gust_moments, key=lambda one: one.hinge().reach_N_m)
    hinge, share = moments.hinge(), moments.share_of_hinge_limit
    limit = f", with its ± {100.0 * share:.0f} % of the hinge's limit" if is_known(share) else ""
    return (
        f"{text}; hinge moment, with the tip's undamped swing, at most"
        f" {_or_not_known(abs(hinge.worst_N_m), hinge.half_width_N_m)} N m, at"
        f" {moments.fold_deg:.3g}° and {moments.airspeed_m_s:g} m/s{limit}."
    )


def root_sentence(study: HingeStudy) -> str:
    """The bending moment at a wing's root that reaches farthest; empty where there is none."""
    bent = [(row, half) for row in study.wings if (half := row.most_bent) is not None]
    if not bent:
        return ""
    place = max(range(len(bent)), key=lambda i: bent[i][1].root_bending_reach_N_m)
    row, half = bent[place]
    width, share = half.root_bending_half_width_N_m, row.share_of_root_limit
    widths = [other.root_bending_half_width_N_m for _, other in bent]
    # Where tips are joined no ± is known; those folds are left out of what is set apart.
    known = [i for i, one in enumerate(widths) if is_known(one)]
    alike = ""
    if place in known:
        alike = _alike(
            [bent[i][0].fold_deg for i in known],
            [abs(bent[i][1].root_bending_N_m) for i in known],
            [widths[i] for i in known],
            known.index(place),
        )
    least = [(other, one.root_bending_least_N_m) for other, one in bent]
    surely = _surely(least, abs(half.root_bending_N_m))
    counted, unknown = (", ± included", "") if is_known(width) else ("", " (± not known)")
    limit = f": {100.0 * share:.0f} % of its limit" if is_known(share) else ""
    return (
        f"Largest bending at a wing's root{counted}: {with_error(half.root_bending_N_m, width)} N m"
        f"{unknown}, {half.wing} wing at {row.fold_deg:.3g}°, {number(row.airspeed_m_s, 3)} m/s and"
        f" load factor {number(row.reached_load_factor, 2)}{alike}{limit}{surely}."
    )


def roll_sentence(study: RollStudy) -> str:
    """The strongest pair of folds and what it gives; empty where none can be flown."""
    pair = study.strongest
    if pair is None:
        return ""
    moment = with_error(pair.rolling.value, pair.rolling.half_width)
    sense = f" ({SIGN_NOT_KNOWN})" if pair.sense == SIGN_NOT_KNOWN else f" {pair.sense}"
    return (
        f"Strongest roll: port {pair.left_deg:.3g}°, starboard"
        f" {pair.right_deg:.3g}°{alike_pairs(study)} give"
        f" {moment} N m{sense}, steadily {with_error(*pair.roll_rate)} °/s, lift held."
    )


def alike_pairs(study: RollStudy, unit: str = "°") -> str:
    """Words behind the strongest pair, for pairs that are not known to roll less; may be empty."""
    pairs = [(one.left_deg, one.right_deg) for one in study.strongest_not_known_apart]
    return pairs_not_apart(pairs, study.map["left_deg"], study.map["right_deg"], unit)
