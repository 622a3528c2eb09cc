"""Levels of modelling: what a trimmed state, a thrust, an angle or a power rests on."""

from enum import StrEnum


class Modelling(StrEnum):
    """How much of the craft a number knows of; printed beside every thrust, angle and power."""

    WING = "inviscid wing"
    """The lattice, and drag areas along x: no profile drag, no stall."""
    SECTIONS = "wing with sections"
    """The same with the file's sections: profile drag, lift slope, stall; no slipstream."""
    BLOWN_WING = "inviscid wing with slipstream"
    """The lattice in the slipstream of rotors whose thrust is given: no profile drag, no stall."""
    BLOWN_SECTIONS = "wing with sections and slipstream"
    """The same with the file's sections."""
    ROTORS = "full, with rotors"
    """Sections, rotors with their slipstream, drag areas where they are, moments balanced."""

    @classmethod
    def of_wings(cls, *, sections: bool, blown: bool = False) -> "Modelling":
        """The level of wings with or without the file's sections, and a slipstream over them."""
        if blown:
            return cls.BLOWN_SECTIONS if sections else cls.BLOWN_WING
        return cls.SECTIONS if sections else cls.WING
