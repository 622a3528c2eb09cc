"""Lift, dihedral effect and hinge moment over the fold of both sides: a quick trace."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.parts import hinge_loads
from vlm.study.point.session import Session, Setting
from vlm.study.point.sizes import tip_sizes

TRACED = ("CL", "Cl_beta", "hinge_moment_N_m")
FOLDS = 25


@dataclass(frozen=True)
class FoldTrace:
    """Values over the fold of both sides at one state.

    Attributes
    ----------
    folds_deg : shape (n,), those that can be built, rising [deg]
    values : by name of :data:`TRACED`, shape (n,)
    joined : shape (n,), whether a tip's end is joined to a wing there
    hinge : whose moment it is, such as "upper_right"
    """

    folds_deg: Floats
    values: Mapping[str, Floats]
    joined: tuple[bool, ...]
    hinge: str


class FoldTracer:
    """Loads at folds over the tips' limits, solved once; a state then costs next to nothing.

    Parameters
    ----------
    session : the craft held ready; its tips fold and it has no fins, whose loads hold for one state
    count : of the folds
    """

    def __init__(self, session: Session, count: int = FOLDS) -> None:
        self._tips = tip_sizes(session.cellule)
        low, high = session.craft.fold_range_deg
        self._held: list[tuple[float, GeneralLoads]] = []
        for fold in np.linspace(low, high, count):
            try:
                loads = session.loads(FoldAngles.symmetric(float(fold)))
            except FoldspanError:
                continue  # surfaces would cross
            self._held.append((float(fold), loads))

    def trace(self, setting: Setting) -> FoldTrace:
        """Values at a setting's angles and air; its folds do not matter."""
        state = setting.flight_state
        found: dict[str, list[float]] = {name: [] for name in TRACED}
        hinge = ""
        for _, loads in self._held:
            moments = hinge_loads(loads, state, self._tips)
            hinge = "upper_right" if "upper_right" in moments else next(iter(moments))
            found["CL"].append(float(coefficients(loads, state).CL))
            found["Cl_beta"].append(float(derivatives(loads, state)["body"]["Cl_beta"]))
            found["hinge_moment_N_m"].append(float(moments[hinge].moment))
        return FoldTrace(
            np.array([fold for fold, _ in self._held]),
            {name: np.array(values) for name, values in found.items()},
            tuple(loads.lattice.is_joined for _, loads in self._held),
            hinge,
        )
