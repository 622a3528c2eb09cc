"""Port and starboard, and the names of the bodies that their tips are."""

from collections.abc import Iterable
from enum import StrEnum


class Side(StrEnum):
    """A side of the craft; its value is what keys and files call it."""

    PORT = "left"
    STARBOARD = "right"

    @property
    def words(self) -> str:
        """What people call it."""
        return self.name.lower()

    @property
    def other(self) -> "Side":
        """The side across the plane of symmetry."""
        return Side.STARBOARD if self is Side.PORT else Side.PORT

    @property
    def sense(self) -> float:
        """+1 to starboard, -1 to port, as y in geometry axes."""
        return 1.0 if self is Side.STARBOARD else -1.0


def tip_body(wing: str, side: str) -> str:
    """Name of the body that the tip of a wing is, as "upper_left"."""
    return f"{wing}_{side}"


def wing_and_side(body: str) -> tuple[str, Side]:
    """The wing and the side of a tip's body."""
    wing, side = body.rsplit("_", 1)
    return wing, Side(side)


def other_body(body: str) -> str:
    """The tip's body on the other side."""
    wing, side = wing_and_side(body)
    return tip_body(wing, side.other)


def across(name: str) -> str:
    """A name that ends with a side, as "upper_left" does, of the other side; others as they are."""
    for side in Side:
        if name.endswith(side):
            return name.removesuffix(side) + side.other
    return name


def on_side(bodies: Iterable[str], side: Side) -> list[str]:
    """Those of some tips' bodies that are on a side, in their order."""
    return [body for body in bodies if wing_and_side(body)[1] is side]
