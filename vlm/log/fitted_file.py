"""The geometry file with the fitted values, as text that says where they come from."""

from vlm.cautions import SHORT_CAUTION
from vlm.description.models import Biplane
from vlm.log.analysis import Measured
from vlm.log.craft_unknowns import corrected
from vlm.log.fit import Estimate, Fit


def fitted_text(craft: Biplane, result: Measured, fit: Fit) -> str:
    """TOML of the craft with its unknowns as fitted, every change named in front.

    Parameters
    ----------
    craft : the description that was fitted
    result : the log
    fit : the fit

    Returns
    -------
    Canonical text: the comments of the old file are not in it.
    """
    head = [
        f"{craft.source_name} with values fitted to the flight log {result.log.path.name}.",
        f"{len(result.steady.segments)} steady segments, residuals {fit.scatter_before_W:.3g} W"
        f" before and {fit.scatter_W:.3g} W after; intervals at {100.0 * result.plan.level:g} %:",
        *(_line(estimate) for estimate in fit.estimates),
        *(finding.sentence() for finding in fit.findings),
        SHORT_CAUTION,
    ]
    comment = "".join(f"# {line}\n" for line in head)
    return f"{comment}\n{corrected(craft, fit.values).to_toml()}"


def _line(estimate: Estimate) -> str:
    unit = "" if estimate.unit == "1" else f" {estimate.unit}"
    low, high = estimate.interval
    return (
        f"{estimate.label}: {estimate.value:.4g}{unit} ({low:.4g} to {high:.4g}),"
        f" was {estimate.nominal:.4g}"
    )
