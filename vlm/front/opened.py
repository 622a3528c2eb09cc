"""A craft that was opened: what it is, a changed copy, its fold settings."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from html import escape
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.description.schedule import default_airspeed
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.front.values import air_of, number, one_of, plain

if TYPE_CHECKING:
    from vlm.flight.motion.roll_authority import Air


@dataclass(frozen=True, repr=False)
class Opened:
    """A description, with what any answer needs of it.

    Attributes
    ----------
    description : all of the geometry file
    """

    description: Biplane

    @property
    def title(self) -> str:
        """What the file calls it."""
        return self.description.title

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """Numbers of the description beyond what is usual."""
        from vlm.description.ranges import craft_range_findings

        return tuple(craft_range_findings(self.description))

    def __repr__(self) -> str:
        """One line."""
        wings = "two wings" if self.description.lower is not None else "one wing"
        named = ", ".join(self.description.configurations) or "none"
        return (
            f"<craft {self.title}: {wings}, {2 * len(self.description.tips)} tips; folds: {named}>"
        )

    def _repr_html_(self) -> str:
        return f"<p>{escape(repr(self)[1:-1])}</p><p>{escape(SHORT_CAUTION)}</p>"

    def changed(self, keys: Mapping[str, object]) -> Self:
        """A changed copy: values by key path, such as {"arrangement.gap_m": 0.5}.

        Raises
        ------
        InputRefused : a key is unknown, or the changed craft is not allowed
        """
        if not isinstance(keys, Mapping):
            raise InputRefused('give values by key path, such as {"arrangement.gap_m": 0.5}')
        values = {str(key): plain(value) for key, value in keys.items()}
        return replace(self, description=self.description.overridden(values))

    def fold_angles(self, fold: Any) -> FoldAngles:
        """One number, a pair of port and starboard, or a name of the file."""
        if isinstance(fold, str):
            one_of("fold", fold, list(self.description.configurations))
            return self.description.configurations[fold].folds
        sides = np.atleast_1d(np.asarray(fold, dtype=object)).tolist()
        if len(sides) not in (1, 2):
            raise InputRefused(f"fold = {fold!r:.60}; give one number, or port and starboard")
        left, right = (number("fold", side, -180.0, 180.0) for side in (sides[0], sides[-1]))
        return FoldAngles(left, right)

    def level_air(self, airspeed: Any, density: Any) -> "Air":
        """Airspeed of a study in level flight, within the file's [schedule] where none is given."""
        if airspeed is None:
            airspeed = default_airspeed(self.description.schedule)
        return air_of(airspeed, density)

    def fold_settings(self, folds: Any) -> dict[str, FoldAngles]:
        """Fold settings by name: those asked for, else all of the file, else flat."""
        craft = self.description
        single = isinstance(folds, str | int | float | np.generic)
        wanted = [folds] if single else list(folds)
        chosen = {}
        for fold in wanted:
            setting = self.fold_angles(fold)
            alike = setting.left_deg == setting.right_deg
            sides = f"{setting.left_deg:g}" + ("" if alike else f", {setting.right_deg:g}")
            chosen[fold if isinstance(fold, str) else f"{sides} deg"] = setting
        if not chosen:
            chosen = {name: found.folds for name, found in craft.configurations.items()}
        for setting in chosen.values():
            if craft.tips or setting != FoldAngles():
                craft.tip_folds(setting)
        return chosen or {"flat": FoldAngles()}
