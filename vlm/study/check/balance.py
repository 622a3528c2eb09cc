"""How far the craft is from balance in pitch on its wings: one trim in level flight, tips flat."""

from dataclasses import dataclass

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.description.schedule import default_airspeed
from vlm.errors import FoldspanError
from vlm.flight.trim.balance import balance
from vlm.flight.trim.passed_limits import passed_limits
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.powered import POWER_GRID, powered_craft


@dataclass(frozen=True)
class PitchBalance:
    """What the rotors' differences hold in pitch, and where they would have nothing to hold.

    Attributes
    ----------
    airspeed_m_s, fold_deg : of the trim
    moment_N_m : pitching moment of the rotors' differences, nose up positive [N m]
    aft_m : how far aft the centre of gravity would lie for rotors of equal thrust; negative is
        forward [m]
    aft_chords : the same over the reference chord [1]
    body_centre_x_m : mass.body_centre_m's first number there [m]
    passed : limits of rotors and battery that the trim passes, in words; null where none is
    rows, strips : of the trim's lattice; the ± of its numbers is not worked out
    """

    airspeed_m_s: float
    fold_deg: float
    moment_N_m: float
    aft_m: float
    aft_chords: float
    body_centre_x_m: float
    passed: str | None
    rows: int
    strips: int


def balance_of(craft: Biplane) -> PitchBalance | None:
    """The balance at the airspeed of studies; None where blocks are missing or there is no trim."""
    if craft.mass is None or not craft.rotors or craft.propulsion is None:
        return None
    low, high = craft.fold_range_deg if craft.tips else (0.0, 0.0)
    fold, speed = min(max(0.0, low), high), default_airspeed(craft.schedule)
    try:
        made = powered_craft(craft, FoldAngles.symmetric(fold), grid=POWER_GRID)
        point = direct_trim(made, speed)
        found = balance(made, point)
    except (FoldspanError, np.linalg.LinAlgError):
        return None
    if found is None:
        return None
    return PitchBalance(
        airspeed_m_s=speed,
        fold_deg=fold,
        moment_N_m=found.moment,
        aft_m=found.aft,
        aft_chords=found.chords,
        body_centre_x_m=craft.mass.body_x_moving(found.aft),
        passed=passed_limits(made, point) or None,
        rows=POWER_GRID.rows,
        strips=POWER_GRID.strips,
    )
