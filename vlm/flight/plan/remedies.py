"""What to change where no fold is allowed: what is short, by how much, and what helps.

Every remedy that names a number was tried: the changed craft was trimmed again at that fold and
airspeed, and its constraints were worked out as those of the craft itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.flight.plan.constraints import Setting
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.schedule import nearest_setting
from vlm.flight.trim.balance import Balance, balance
from vlm.flight.trim.passed_limits import KEYS, passed_limits
from vlm.flight.trim.power_book import power_book
from vlm.plain import LEAST_MOVE_M

CENTRE = "mass.body_centre_m"
OF_SCHEDULE = {
    "stall margin": "stall_margin_min_deg",
    "dihedral effect": "dihedral_effect",
    "rolling moment": "roll_moment_min_N_m",
    "folding rate": "folding_rate_min_deg_s",
    "hinge moment": "hinge_moment_max_N_m",
    "room to roll": "roll_reserve_deg",
    "thrust left on the rotors": "rotor_margin_min",
}
"""By the name of a constraint, the key of [schedule] that asks for it."""


def shortfalls(table: FoldTable, setting: Setting) -> str:
    """All that a setting passes, by how much, and the keys that ask for it."""
    constraints, parts = table.constraints, []
    made = table.craft_at(setting.fold_deg)
    if made is not None and setting.point.trim is not None:
        parts = [passed_limits(made, setting.point)]
    for name in setting.passed:
        if name in KEYS or name not in setting.margins:
            continue
        unit, short = constraints.units.get(name, "1"), -setting.margins[name]
        key = OF_SCHEDULE.get(name, "forbidden_deg" if name.startswith("forbidden") else "")
        asked = f"misses schedule.{key}" if key else "is beyond its limit"
        size = f"{short:.0f}" if short >= 100.0 else f"{short:.2g}"
        by = f" by {size}{'' if unit == '1' else f' {unit}'}"
        parts.append(f"{name} {asked}{by}" if isfinite(short) else f"{name} is not known")
    return " and ".join(part for part in parts if part)


def remedy(table: FoldTable, setting: Setting) -> str:
    """What is short at a setting, and what to change.

    The centre of gravity is named where the craft passes less with it where rotors of equal thrust
    balance the craft, as solved there.
    """
    place = f"at {setting.speed:.4g} m/s and {setting.fold_deg:.3g} deg, the nearest to allowed"
    found = f"{place}: {shortfalls(table, setting) or setting.reason}"
    moved = balanced(table, setting)
    if moved is None or len(moved.setting.passed) >= len(setting.passed):
        return found
    return f"{found}; {moved.sentence()}"


@dataclass(frozen=True)
class Moved:
    """A setting with the craft's centre of gravity where rotors of equal thrust balance it.

    Attributes
    ----------
    balance : at the setting
    craft : with the body's centre moved
    table : its own, of this fold and airspeed
    setting : solved directly
    """

    balance: Balance
    craft: Biplane
    table: FoldTable
    setting: Setting

    def sentence(self) -> str:
        """Where the centre of gravity would have to be, and whether the fold is then allowed."""
        moment = self.balance.moment
        assert self.craft.mass is not None
        place = self.craft.mass.body_centre_m
        to = f"{CENTRE} = [{place[0]:.4g}, {place[1]:g}, {place[2]:g}]"
        text = (
            f"pitch trim asks the rotors for {abs(moment):.2g} N m nose"
            f" {'up' if moment > 0.0 else 'down'}; with the centre of gravity"
            f" {self.balance.way} ({to}), equal thrusts balance it"
        )
        if self.setting.is_allowed:
            return f"{text}, and this fold is allowed there"
        return f"{text}; then still {shortfalls(self.table, self.setting) or self.setting.reason}"


def balanced(table: FoldTable, setting: Setting) -> Moved | None:
    """The setting with the centre of gravity moved; None where that is no remedy to speak of."""
    craft, made = table.constraints.craft, table.craft_at(setting.fold_deg)
    found = None if made is None else balance(made, setting.point)
    if found is None or craft.mass is None or abs(found.aft) < LEAST_MOVE_M:
        return None
    _, y, z = craft.mass.body_centre_m
    moved = round(craft.mass.body_x_moving(found.aft), 4)
    try:
        other = craft.overridden({CENTRE: [moved, y, z]})
        book = power_book(
            other, [setting.fold_deg], [setting.speed], air=table.book.air, grid=table.book.grid
        )
        own = FoldTable.of(book, table.constraints.schedule)
        return Moved(found, other, own, own.setting(setting.fold_deg, setting.speed))
    except FoldspanError:
        return None


def why_none(table: FoldTable, speeds: Sequence[float] | Floats | None = None) -> str:
    """Why no fold is allowed at some airspeeds, for the one that passes the fewest constraints.

    Parameters
    ----------
    speeds : those of the table's book above 0 if None [m/s]
    """
    wanted = [float(one) for one in (table.book.speeds if speeds is None else speeds) if one > 0.0]
    row = [one for one in (nearest_setting(table, speed) for speed in wanted) if one is not None]
    if not row:
        return (
            "the craft has no trim there at any fold; foldspan power shows the airspeeds at which"
            " it has one"
        )
    nearest = min(row, key=lambda one: len(one.passed))
    return remedy(table, nearest)
