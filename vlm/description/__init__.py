"""What is built and asked: frozen models of the input file, TOML in and out. No numerics."""

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.models import (
    Arrangement,
    Biplane,
    Configuration,
    Reference,
    Station,
    Tips,
    Wing,
)

__all__ = [
    "Arrangement",
    "Biplane",
    "Configuration",
    "FoldAngles",
    "Reference",
    "Station",
    "Tips",
    "Wing",
    "load_biplane",
    "load_biplane_text",
]
