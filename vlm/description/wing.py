"""A wing and its folding tips, as trapezoids or by stations."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Self

from pydantic import AfterValidator, Field, model_validator

from vlm.description.block import LARGEST, Block, FoldAngle, Length, Number, SweepAngle, TwistAngle
from vlm.description.camber import checked_camber

Camber = Annotated[str, AfterValidator(checked_camber)]
SAME = 1e-6


class Station(Block):
    """One chord of the starboard half of a wing or a tip."""

    y_m: Annotated[float, Field(ge=0.0, le=LARGEST, allow_inf_nan=False)]
    """Lateral place, from the centreline on a wing, from the hinge on a tip [m]."""
    x_m: Number
    """Leading edge, positive aft, from the root's or the hinge's leading edge [m]."""
    z_m: Number = 0.0
    """Leading edge, positive up, likewise [m]."""
    chord_m: Length
    """Chord [m]."""
    twist_deg: TwistAngle = 0.0
    """Twist against the root's or the hinge's chord, positive nose up [deg]."""
    corner: bool | None = None
    """Whether the lattice must have a strip edge here; if left out, it is decided from how
    sharply the quarter-chord line turns [true or false]."""


class _Outline(Block):
    """A wing or a tip: keys of a trapezoid, or a list of stations, never both."""

    needed: ClassVar[tuple[str, ...]] = ()
    zero_if_absent: ClassVar[tuple[str, ...]] = ()

    @model_validator(mode="before")
    @classmethod
    def _zeros_of_a_trapezoid(cls, data: Any) -> Any:
        if not isinstance(data, Mapping) or data.get("stations") is not None:
            return data
        absent = {key: 0.0 for key in cls.zero_if_absent if data.get(key) is None}
        return {**data, **absent}

    @model_validator(mode="after")
    def _is_one_of_both_forms(self) -> Self:
        stations: Sequence[Station] | None = getattr(self, "stations", None)
        if stations is None:
            for key in self.needed:
                if getattr(self, key) is None:
                    raise ValueError(
                        f"{key} is missing; give {', '.join(self.needed)}, or a list of stations"
                    )
            return self
        for key in self.needed + self.zero_if_absent:
            if getattr(self, key) is not None:
                raise ValueError(
                    f"{key} = {getattr(self, key):g}; this can't stand beside stations, which"
                    " hold it already: leave one of the two out"
                )
        _check_stations(stations)
        return self


def _check_stations(stations: Sequence[Station]) -> None:
    if len(stations) < 2:
        raise ValueError(f"stations holds {len(stations)}; at least 2 are needed, root and end")
    for key in ("y_m", "x_m", "z_m"):
        value = getattr(stations[0], key)
        if value != 0.0:
            raise ValueError(
                f"stations.0.{key} = {value:g}; the first station is the one the others count"
                " from: its y_m, x_m and z_m must be 0"
            )
    for index, (before, station) in enumerate(pairwise(stations), start=1):
        if station.y_m <= before.y_m:
            raise ValueError(
                f"stations.{index}.y_m = {station.y_m:g}; y_m must grow from station to station,"
                f" and the one before has {before.y_m:g}"
            )


class Tips(_Outline):
    """The folding tips of a wing, port and starboard alike, as they lie flat.

    Written as a trapezoid (span, end chord, sweep, washout) or as a list of stations. A tip
    continues its wing: chord and twist at the hinge are the wing's.
    """

    needed = ("span_m", "end_chord_m")
    zero_if_absent = ("sweep_deg", "washout_deg")

    span_m: Length | None = None
    """Span of each tip, along itself from the hinge to its end [m]."""
    end_chord_m: Length | None = None
    """Chord at the end [m]."""
    sweep_deg: SweepAngle | None = None
    """Sweep of the quarter-chord line, positive aft [deg]."""
    washout_deg: TwistAngle | None = None
    """Nose-down twist at the end against the hinge, linear in between [deg]."""
    flare_deg: SweepAngle = 0.0
    """Angle of the hinge line in the wing's plane, positive when it runs inboard toward the
    trailing edge, so that raising the tip washes it out [deg]."""
    fold_min_deg: FoldAngle = -179.0
    """Lowest fold the hinge allows, tip down negative [deg]."""
    fold_max_deg: FoldAngle = 179.0
    """Highest fold the hinge allows, tip up positive [deg]."""
    linkage: Number = 1.0
    """Fold of these tips for each degree commanded; -1 raises them as others drop [deg/deg]."""
    camber: Camber | None = None
    """Mean line: NACA four digits, "flat", or a file (CSV, .dat, .txt) of x/c, z/c: the line, or a
    section's closed contour; the wing's if left out [text]."""
    section: str | None = None
    """Name of a block [sections.NAME]; the wing's if left out [text]."""
    stations: tuple[Station, ...] | None = None
    """Chords from the hinge to the end, instead of span, chord, sweep and washout [list]."""

    @model_validator(mode="after")
    def _limits_hold_the_flat_tip(self) -> Self:
        if self.fold_min_deg > 0.0:
            raise ValueError(f"fold_min_deg = {self.fold_min_deg:g}; it must be 0 or less")
        if self.fold_max_deg < 0.0:
            raise ValueError(f"fold_max_deg = {self.fold_max_deg:g}; it must be 0 or more")
        if self.linkage == 0.0:
            raise ValueError("linkage = 0; a tip that never folds is part of its wing")
        if self.stations is not None and self.stations[0].twist_deg != 0.0:
            raise ValueError(
                f"stations.0.twist_deg = {self.stations[0].twist_deg:g}; a tip continues its wing"
                " at the hinge: it must be 0 there"
            )
        return self

    @property
    def fold_limits_deg(self) -> tuple[float, float]:
        """Lowest and highest fold [deg]."""
        return self.fold_min_deg, self.fold_max_deg

    @property
    def flat_span_m(self) -> float:
        """Span of one tip along itself, from the hinge to the end, in front view [m]."""
        if self.stations is None:
            assert self.span_m is not None
            return self.span_m
        return self.stations[-1].y_m


class Wing(_Outline):
    """One wing, both halves alike; its tips, if it has any, hang on its ends.

    Written as a trapezoid (span, chords, sweep, dihedral, washout) or as a list of stations.
    """

    needed = ("span_m", "root_chord_m", "end_chord_m")
    zero_if_absent = ("sweep_deg", "dihedral_deg", "washout_deg")

    span_m: Length | None = None
    """Span between the hinges, or from end to end where there are no tips [m]."""
    root_chord_m: Length | None = None
    """Chord at the centreline [m]."""
    end_chord_m: Length | None = None
    """Chord at the hinge, or at the wing's end where there are no tips [m]."""
    sweep_deg: SweepAngle | None = None
    """Sweep of the quarter-chord line, positive aft [deg]."""
    dihedral_deg: SweepAngle | None = None
    """Dihedral, positive with the ends up [deg]."""
    incidence_deg: TwistAngle = 0.0
    """Nose-up setting at the root [deg]."""
    washout_deg: TwistAngle | None = None
    """Nose-down twist at the end against the root, linear in between [deg]."""
    camber: Camber = "flat"
    """Mean line: NACA four digits, "flat", or a file (CSV, .dat, .txt) of x/c, z/c: the line, or a
    section's closed contour [text]."""
    section: str | None = None
    """Name of a block [sections.NAME] with the section's lift and drag [text]."""
    stations: tuple[Station, ...] | None = None
    """Chords from root to end of the starboard half, instead of span, chords, sweep, dihedral
    and washout [list]."""
    tips: Tips | None = None
    """Folding tips [table]."""

    @model_validator(mode="after")
    def _tip_stations_continue_the_wing(self) -> Self:
        if self.tips is None or self.tips.stations is None:
            return self
        found = self.tips.stations[0].chord_m
        if abs(found - self.hinge_chord_m) > SAME * self.hinge_chord_m:
            raise ValueError(
                f"tips.stations.0.chord_m = {found:g}; a tip continues its wing: at the hinge the"
                f" chord must be the wing's end chord, {self.hinge_chord_m:g}"
            )
        return self

    @property
    def hinge_chord_m(self) -> float:
        """Chord at the end of the fixed wing, where the tips hang [m]."""
        if self.stations is None:
            assert self.end_chord_m is not None
            return self.end_chord_m
        return self.stations[-1].chord_m

    @property
    def fixed_span_m(self) -> float:
        """Span between the hinges, or from end to end where there are no tips [m]."""
        if self.stations is None:
            assert self.span_m is not None
            return self.span_m
        return 2.0 * self.stations[-1].y_m
