"""What the craft weighs: the body, each pair of tips, and the folding mechanism apart from both.

The mechanism (servo, worm gear, hinge fittings) has an entry of its own so that a study can take
it out and ask what a craft that does not fold would weigh.
"""

from typing import Annotated, Self

from pydantic import Field, model_validator

from vlm.description.block import Block, Number, Point

Kilograms = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
MassMoment = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]

Area = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]

ROUNDING = 1e-9


def _check_moments(moments: tuple[float, float, float], key: str) -> None:
    """No moment of inertia exceeds the sum of the other two (each is an integral of squares)."""
    total = sum(moments)
    if 2.0 * max(moments) > total * (1.0 + ROUNDING):
        raise ValueError(
            f"{key} = {list(moments)}; no moment of inertia can exceed the sum of the other two"
        )


class TipMass(Block):
    """One tip, as it lies flat; the tip of the other side is its mirror image.

    Places count from the wing's leading edge at the hinge: aft, outboard along the wing, up
    from the wing. They turn with the tip.
    """

    mass_kg: Kilograms
    """Mass of one tip [kg]."""
    centre_m: Point
    """Centre of gravity: aft, outboard, up [m]."""
    inertia_kg_m2: tuple[MassMoment, MassMoment, MassMoment] = (0.0, 0.0, 0.0)
    """About the tip's own centre, about the axes aft, outboard and up [kg m^2]."""
    products_kg_m2: tuple[Number, Number, Number] = (0.0, 0.0, 0.0)
    """Integrals of aft x outboard, aft x up, outboard x up about its centre [kg m^2]."""

    @model_validator(mode="after")
    def _moments_are_possible(self) -> Self:
        _check_moments(self.inertia_kg_m2, "inertia_kg_m2")
        return self


class Mechanism(Block):
    """What folds one tip: servo, worm gear and hinge; one at every hinge, on the fixed wing."""

    each_kg: Kilograms
    """Mass at one hinge [kg]."""
    centre_m: Point = (0.0, 0.0, 0.0)
    """From the leading edge at the hinge: aft, outboard (negative inboard), up [m]."""
    drag_area_m2: Area = 0.0
    """Drag over dynamic pressure of what stands in the wind at one hinge; it acts at the centre
    of gravity, out of the rotors' wakes [m^2]."""


class Mass(Block):
    """Masses of a craft with its battery aboard, by rigid body.

    Inertias are about each part's own centre, axes parallel to the geometry axes.
    """

    body_kg: Kilograms
    """All that does not fold, without the mechanisms [kg]."""
    body_centre_m: Point
    """Its centre of gravity, geometry axes [m]."""
    body_inertia_kg_m2: tuple[MassMoment, MassMoment, MassMoment]
    """Its moments of inertia about x, y and z through its centre [kg m^2]."""
    body_products_kg_m2: tuple[Number, Number, Number] = (0.0, 0.0, 0.0)
    """Integrals of x y, x z, y z about its centre, geometry axes [kg m^2]."""
    upper_tip: TipMass | None = None
    """Each tip of the upper wing [a table]."""
    lower_tip: TipMass | None = None
    """Each tip of the lower wing [a table]."""
    mechanism: Mechanism | None = None
    """What folds a tip; leave it out for a craft that cannot fold [a table]."""

    @model_validator(mode="after")
    def _moments_are_possible(self) -> Self:
        _check_moments(self.body_inertia_kg_m2, "body_inertia_kg_m2")
        if self.mechanism is not None and not self.tips:
            raise ValueError("mechanism needs upper_tip or lower_tip: nothing folds without tips")
        return self

    @property
    def tips(self) -> dict[str, TipMass]:
        """The tips given, by wing ("upper", "lower")."""
        given = {"upper": self.upper_tip, "lower": self.lower_tip}
        return {wing: tip for wing, tip in given.items() if tip is not None}

    @property
    def total_kg(self) -> float:
        """Mass of the whole craft, both sides [kg]."""
        return self.body_kg + self.mechanism_kg + 2.0 * sum(t.mass_kg for t in self.tips.values())

    @property
    def mechanism_kg(self) -> float:
        """Mass of all folding mechanisms [kg]."""
        each = 0.0 if self.mechanism is None else self.mechanism.each_kg
        return 2.0 * len(self.tips) * each

    @property
    def mechanism_drag_area_m2(self) -> float:
        """Drag area of all folding mechanisms [m^2]."""
        each = 0.0 if self.mechanism is None else self.mechanism.drag_area_m2
        return 2.0 * len(self.tips) * each

    def body_x_moving(self, aft: float) -> float:
        """``body_centre_m``'s x with which the craft's own centre lies farther aft by so much [m].

        What is not body stays where it is.
        """
        return self.body_centre_m[0] + aft * self.total_kg / self.body_kg

    def without_mechanism(self) -> "Mass":
        """The same masses with the folding mechanisms taken out."""
        return self.model_copy(update={"mechanism": None})

    def misfit(self, wings_with_tips: tuple[str, ...]) -> str | None:
        """What does not agree between these masses and the wings that have tips, in words."""
        for wing in self.tips:
            if wing not in wings_with_tips:
                others = [f"mass.{name}_tip" for name in wings_with_tips if name not in self.tips]
                meant = f"; did you mean {others[0]}?" if others else ""
                return f"mass.{wing}_tip is given, but the {wing} wing has no tips{meant}"
        for wing in wings_with_tips:
            if wing not in self.tips:
                return f"mass.{wing}_tip is missing; the {wing} wing has tips that fold"
        return None
