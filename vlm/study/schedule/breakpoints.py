"""A schedule's breakpoints for a flight controller, as a table of comma-separated values."""

from vlm import __version__
from vlm.air import standard_air
from vlm.cautions import SHORT_CAUTION
from vlm.plain import plus_minus
from vlm.study.schedule.study import ScheduleStudy, stretch_words


def schedule_csv(study: ScheduleStudy) -> str:
    """Breakpoints for a flight controller: airspeed and fold, slowing down and speeding up.

    Comment lines in front give title, version, validity and what it rests on; every line has the
    constraints' margins at that breakpoint.
    """
    flown = study.flown
    assert flown is not None
    units = study.table.constraints.units
    names = [name for name in units if any(name in s.margins for s in flown.states)]
    kept = "kept, but for those below that are not known to be" if study.unsure else "kept"
    kept = "PASSED, see violations" if flown.outside else kept
    lines = [
        f"# {study.book.craft.title}: fold schedule. {SHORT_CAUTION}",
        f"# foldspan {__version__}; units: m/s, deg; fold of both sides, positive raises the tips;"
        " straight lines between breakpoints",
        f"# valid from {flown.valid[0]:.4g} to {flown.valid[1]:.4g} m/s, level flight, air density"
        f" {_density(study):.4g} kg/m^3; constraints {kept}",
    ]
    for state in flown.outside:
        margins = [
            f"{name} {state.margins.get(name, float('nan')):.3g} {units.get(name, '1')}"
            for name in state.passed
        ]
        lines.append(f"# violation at {state.speed:.4g} m/s: {', '.join(margins)}")
    lines += [
        f"# {one.words}: margin {plus_minus(one.margin, one.half_width, one.unit)}"
        for one in study.unsure
    ]
    for before, after in flown.roll_reversals:
        lines.append(f"# the roll command reverses {stretch_words(before, after)}")
    heads = [f"margin {name} [{units[name]}]".replace(",", ";") for name in names]
    lines.append(",".join(["airspeed_slowing_m_s", "airspeed_speeding_m_s", "fold_deg", *heads]))
    for speed, fold in zip(flown.speeds, flown.folds_deg, strict=True):
        kept_by = flown.state(float(speed)).margins
        cells = [f"{kept_by[name]:.4g}" if name in kept_by else "" for name in names]
        first = [f"{speed:.3f}", f"{speed + flown.hysteresis:.3f}", f"{fold:.2f}"]
        lines.append(",".join([*first, *cells]))
    return "\n".join(lines) + "\n"


def _density(study: ScheduleStudy) -> float:
    return (study.book.air or standard_air()).density_kg_m3
