"""Fold angles as commanded: one for the port tips, one for the starboard tips."""

from dataclasses import dataclass
from math import isfinite
from typing import Self

from vlm.errors import InputRefused
from vlm.sides import Side

ROUNDING_DEG = 1e-9
"""So far beyond a limit a fold still stands at it: 57 degrees come back from radians as more."""


@dataclass(frozen=True)
class FoldAngles:
    """Commanded fold of the port and the starboard tips.

    Attributes
    ----------
    left_deg : port; 0 flat, positive raises the tip, between -180 and 180 [deg]
    right_deg : starboard, likewise [deg]

    Raises
    ------
    InputRefused : an angle is not a number between -180 and 180
    """

    left_deg: float = 0.0
    right_deg: float = 0.0

    def __post_init__(self) -> None:
        for side in Side:
            angle = getattr(self, f"{side}_deg")
            if not isfinite(angle) or abs(angle) >= 180.0:
                alike = str(self.left_deg) == str(self.right_deg)  # nan is not nan
                named = "fold" if alike else f"{side.words} fold"
                raise InputRefused(
                    f"{named} = {angle:g} degrees; a fold must lie between -180 and 180"
                )

    @classmethod
    def symmetric(cls, fold_deg: float) -> Self:
        """Both sides folded alike [deg]."""
        return cls(fold_deg, fold_deg)

    def mirrored(self) -> "FoldAngles":
        """Port and starboard exchanged."""
        return FoldAngles(self.right_deg, self.left_deg)

    @property
    def is_symmetric(self) -> bool:
        """Whether both sides are folded alike."""
        return self.left_deg == self.right_deg


def allowed_fold(lowest_deg: float, highest_deg: float, linkage: float) -> tuple[float, float]:
    """Commands that keep a linked tip inside its limits: lowest and highest [deg].

    Parameters
    ----------
    lowest_deg, highest_deg : limits of the tip's own fold [deg]
    linkage : fold of the tip for each degree commanded, not zero [deg/deg]
    """
    ends = (lowest_deg / linkage, highest_deg / linkage)
    return max(min(ends), -180.0), min(max(ends), 180.0)
