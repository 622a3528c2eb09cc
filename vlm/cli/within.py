"""The option ``--within``: a wanted error, from which a command finds its lattice by itself."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from vlm.cli.answering import note
from vlm.cli.hearing import counted, shown_progress
from vlm.cli.options import Decorator
from vlm.errors import InputRefused

if TYPE_CHECKING:
    from vlm.description.folds import FoldAngles
    from vlm.description.models import Biplane
    from vlm.lattice.cellule import Grid
    from vlm.loads.state import FlightState, WakeKind
    from vlm.study.convergence.study import Convergence, Levels, Wanted
    from vlm.study.point.point import PointReport
    from vlm.study.sweep.plan import SweepPlan

UNNAMED = ("CL", "CDi")


def _within_option(rest: str) -> Decorator:
    return click.option(
        "--within",
        multiple=True,
        metavar="SHARE",
        help="Find the lattice whose error stays within this share, such as 0.1% (of CL and CDi),"
        f" or Cl_beta=1%. May be repeated. {rest}",
    )


within_option = _within_option("Takes the place of --rows and --strips.")
"""``--within``, which may be repeated."""

within_studied_option = _within_option("It is sought among the lattices studied.")
"""The same where a study is asked for."""


def wanted_errors(texts: Sequence[str]) -> "Wanted":
    """The shares that ``--within`` asks for: "0.1%", "0.001" or "NAME=0.1%".

    Raises
    ------
    InputRefused : not a share between 0 and 1, or no such quantity
    """
    from vlm.study.convergence.study import Wanted

    shares: dict[str, float] = {}
    for text in texts:
        name, equals, number = text.rpartition("=")
        share = _share(number, text)
        for key in (name.strip(),) if equals else UNNAMED:
            shares[key] = min(share, shares.get(key, 1.0))
    return Wanted(shares)


def _share(number: str, text: str) -> float:
    try:
        value = float(number.strip().removesuffix("%"))
    except ValueError:
        raise InputRefused(
            f"--within {text}; write a share such as 0.1% or 0.001, or NAME=SHARE such as"
            " Cl_beta=1%"
        ) from None
    return value / 100.0 if number.strip().endswith("%") else value


def refuse_counts_beside_within() -> None:
    """Refuse ``--rows`` and ``--strips`` beside ``--within``, which finds them.

    Raises
    ------
    InputRefused : one of them was given
    """
    context = click.get_current_context()
    for name in ("rows", "strips"):
        if context.get_parameter_source(name) == ParameterSource.COMMANDLINE:
            raise InputRefused(f"--{name} beside --within: --within finds the lattice; give one")


def studied(
    craft: "Biplane", folds: "FoldAngles", state: "FlightState", levels: "Levels", wake: "WakeKind"
) -> "Convergence":
    """A convergence study with its progress on standard error."""
    from vlm.study.convergence.study import study_convergence

    with shown_progress("panels") as progress:
        report = counted(progress, "panels")
        return study_convergence(craft, folds, state, levels=levels, wake=wake, report=report)


@dataclass(frozen=True)
class ChosenLattice:
    """A lattice found for wanted errors, with the studies it was found by."""

    grid: "Grid"
    studies: "list[Convergence]"

    def with_errors(self, report: "PointReport") -> "PointReport":
        """A point's report with the half-widths of the study in place of the estimate's."""
        from vlm.study.point.point import key_numbers, with_value_findings

        values = key_numbers(report.loads, report.state)
        widths = self.studies[0].half_widths(values)
        return with_value_findings(replace(report, error_estimate=widths))


def chosen_lattice(
    craft: "Biplane",
    settings: "Sequence[FoldAngles]",
    state: "FlightState",
    texts: Sequence[str],
    wake: "WakeKind",
) -> ChosenLattice:
    """The smallest lattice that keeps wanted errors at all of some fold settings.

    Raises
    ------
    InputRefused : ``--rows`` or ``--strips`` beside it, or a share that is none
    ComputationFailed : no lattice is known to
    """
    refuse_counts_beside_within()
    wanted = wanted_errors(texts)
    from vlm.errors import ComputationFailed
    from vlm.study.convergence.study import FINER_LEVELS, Levels, required_lattice

    studies = [studied(craft, folds, state, Levels(), wake) for folds in settings]
    try:
        grid = required_lattice(studies, wanted)
    except ComputationFailed:
        note("--within: the study is carried on with finer lattices")
        studies = [studied(craft, folds, state, FINER_LEVELS, wake) for folds in settings]
        grid = required_lattice(studies, wanted)
    note(f"--within: {grid.rows} rows x {grid.strips} strips")
    return ChosenLattice(grid, studies)


def lattice_for_sweep(craft: "Biplane", plan: "SweepPlan", texts: Sequence[str]) -> "SweepPlan":
    """A sweep's plan on the lattice that does at its first, middle and last folds.

    The state is that of the middle angles; craft of further axes are taken at the file's values.
    """
    from math import radians

    from vlm.loads.state import FlightState

    alpha, beta = (values[len(values) // 2] for values in (plan.alphas_deg, plan.betas_deg))
    state = FlightState(radians(alpha), radians(beta))
    folds = [one for one in probe_folds(plan) if _can_be_built(craft, one)]
    wake = plan.wake
    chosen = chosen_lattice(craft, folds or probe_folds(plan), state, texts, wake)
    return replace(plan, grid=chosen.grid)


def _can_be_built(craft: "Biplane", folds: "FoldAngles") -> bool:
    from vlm.lattice.cellule import Grid
    from vlm.lattice.lattice import build_lattice

    try:
        build_lattice(craft, folds, Grid(2, 8))
    except InputRefused:
        return False
    return True


def probe_folds(plan: "SweepPlan") -> "list[FoldAngles]":
    """First, middle and last folds of a sweep, both sides alike and, where they differ, apart."""
    from vlm.description.folds import FoldAngles

    folds = plan.folds_deg
    first, middle, last = folds[0], folds[len(folds) // 2], folds[-1]
    alike = [FoldAngles.symmetric(fold) for fold in (first, middle, last)]
    apart = [FoldAngles(first, last)] if plan.asymmetric else []
    return list(dict.fromkeys([*alike, *apart]))
