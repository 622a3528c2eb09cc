"""Strips and their sections as the plain arrays that the compiled functions take."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.sections import Section
from vlm.sections.polar import Polar
from vlm.sections.strips import Strips

Polars = tuple[Any, ...]
THIN_KEYS = ("cd_least", "cd_rise", "cl_at_least_drag", "reynolds", "reynolds_exponent")
UNUSED = (0.0, 0.0, 0.0, 1.0, 0.0)


def shape_of(strips: Strips) -> Floats:
    """Chord, camber, flatness and moment of the thin section, and share, shape (5, strips)."""
    return np.stack(
        [strips.chord, strips.camber, strips.flatness, strips.thin_moment, strips.share]
    )


def thin_drag_of(section: Section, polar: Polar | None) -> Floats:
    """What the drag of a thin section needs, shape (5,)."""
    return np.array(UNUSED if polar is not None else [section.value(key) for key in THIN_KEYS])


def packed_polars(polars: Sequence[Polar]) -> Polars:
    """All polars end to end, see :func:`vlm.sections.kernel.section_fields`."""
    if not polars:
        nothing, starts = np.zeros(0), np.zeros(1, np.intp)
        return (nothing, starts, nothing, starts, np.zeros((0, 10)), starts, np.zeros((2, 0)),
                nothing)  # fmt: skip
    return (
        np.concatenate([p.alpha for p in polars]),
        _starts([len(p.alpha) for p in polars]),
        np.concatenate([p.log_reynolds for p in polars]),
        _starts([len(p.log_reynolds) for p in polars]),
        np.concatenate([p.rows.reshape(-1, 10) for p in polars]),
        _starts([p.rows.shape[0] * p.rows.shape[1] for p in polars]),
        np.stack([
            np.concatenate([p.stall_high for p in polars]),
            np.concatenate([p.stall_low for p in polars]),
        ]),
        np.array([p.drag_exponent for p in polars]),
    )  # fmt: skip


def _starts(counts: Sequence[int]) -> Any:
    return np.concatenate([[0], np.cumsum(counts)]).astype(np.intp)
