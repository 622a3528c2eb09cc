"""Loads, drag, stability and power of biplanes with folding wing tips, by a vortex lattice.

``vlm.open_craft("tideline")`` opens a craft, whose methods answer what the commands of the same
names do. Importing the package loads nothing but itself: what is named here is loaded when it is
first asked for.
"""

__version__ = "0.2.0"

_DOORS = {
    "open_craft": "front.craft",
    "Craft": "front.craft",
    "Answer": "front.answer",
    "InputRefused": "errors",
    "ComputationFailed": "errors",
}

__all__ = ["__version__", *_DOORS]


def __getattr__(name: str) -> object:
    """Load what is named in the front door, once."""
    if name not in _DOORS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    found: object = getattr(import_module(f"{__name__}.{_DOORS[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *_DOORS})
