"""Wings by shape, in the keys of the geometry file: span = aspect ratio, mean chord = 1 m."""

from collections.abc import Mapping
from typing import Any

import numpy as np

Table = Mapping[str, Any]
OUTLINE = 240
END_CHORD = 0.01


def wing_table(told: Table) -> dict[str, Any]:
    """The wing of a shape.

    ``shape`` is one of the names below. A trapezoid or an ellipse cut at ``tips_from`` (fraction of
    the half span) has tips from there.
    """
    build = {
        "trapezoid": _trapezoid,
        "ellipse": _ellipse,
        "delta": _delta,
        "arc": _arc,
        "hooked": _hooked,
        "given": _given,
    }[told["shape"]]
    wing = build(told)
    for key in ("incidence_deg", "camber"):
        if key in told:
            wing[key] = told[key]
    return wing


def _given(told: Table) -> dict[str, Any]:
    return {key: value for key, value in told.items() if key != "shape"}


def _quarter_sweep(told: Table) -> float:
    """Sweep of the quarter-chord line [deg] from that of the line at ``sweep_at`` of the chord."""
    aspect, taper = float(told["aspect_ratio"]), float(told.get("taper", 1.0))
    shift = (
        (float(told.get("sweep_at", 0.25)) - 0.25) * 4.0 / aspect * (1.0 - taper) / (1.0 + taper)
    )
    given = np.tan(np.radians(float(told.get("sweep_deg", 0.0))))
    return float(np.degrees(np.arctan(given + shift)))


def _trapezoid(told: Table) -> dict[str, Any]:
    """``aspect_ratio``, ``taper``, ``sweep_deg`` of the line at ``sweep_at``, ``washout_deg``,
    ``dihedral_deg`` and ``scale``.

    With ``backward`` the wing flies tail first; with ``arms_kept`` dihedral does not lengthen the
    half wings but lessens the span.
    """
    scale, aspect = float(told.get("scale", 1.0)), float(told["aspect_ratio"])
    taper, twist = float(told.get("taper", 1.0)), float(told.get("washout_deg", 0.0))
    root = 2.0 / (1.0 + taper)
    sweep = _quarter_sweep(told)
    if told.get("backward", False):
        # The old three-quarter line becomes the quarter line, and the sweep changes its sign.
        three = np.tan(np.radians(sweep)) - 0.5 * 4.0 / aspect * (1.0 - taper) / (1.0 + taper)
        sweep = float(np.degrees(np.arctan(-three)))
    wing: dict[str, Any] = {"root_chord_m": scale * root, "sweep_deg": sweep}
    if "dihedral_deg" in told:
        wing["dihedral_deg"] = float(told["dihedral_deg"])
        if told.get("arms_kept", False):
            aspect *= float(np.cos(np.radians(told["dihedral_deg"])))
    share = float(told.get("tips_from", 1.0))
    hinge = scale * root * (1.0 - (1.0 - taper) * share)
    wing |= {
        "span_m": scale * aspect * share,
        "end_chord_m": hinge,
        "washout_deg": twist * share,
    }
    if share < 1.0:
        wing["tips"] = {
            "span_m": 0.5 * scale * aspect * (1.0 - share),
            "end_chord_m": scale * root * taper,
            "sweep_deg": sweep,
            "washout_deg": twist * (1.0 - share),
        } | dict(told.get("tips", {}))
    return wing


def _ellipse(told: Table) -> dict[str, Any]:
    """``aspect_ratio``, ``straight_at`` (chord fraction of the straight line), ``washout_deg``."""
    scale, aspect = float(told.get("scale", 1.0)), float(told["aspect_ratio"])
    straight, twist = float(told.get("straight_at", 0.5)), float(told.get("washout_deg", 0.0))
    share = float(told.get("tips_from", 1.0))
    root = 4.0 / np.pi
    steps = np.sin(0.5 * np.pi * np.linspace(0.0, 1.0, OUTLINE + 1))

    def rows(etas: np.ndarray) -> list[dict[str, Any]]:
        chords = np.maximum(root * np.sqrt(np.clip(1.0 - etas**2, 0.0, None)), END_CHORD)
        return [
            {
                "y_m": scale * 0.5 * aspect * float(eta - etas[0]),
                "x_m": scale * straight * float(chords[0] - chord),
                "chord_m": scale * float(chord),
                "twist_deg": -twist * float(eta - etas[0]),
                "corner": False,
            }
            for eta, chord in zip(etas, chords, strict=True)
        ]

    inner = np.concatenate([steps[steps < share], [share]])
    wing: dict[str, Any] = {"stations": rows(inner)}
    if share < 1.0:
        outer = np.concatenate([[share], steps[steps > share]])
        wing["tips"] = {"stations": rows(outer)} | dict(told.get("tips", {}))
    return wing


def _delta(told: Table) -> dict[str, Any]:
    """A triangle of ``aspect_ratio`` with a straight trailing edge, its ends cut at END_CHORD."""
    half = 0.5 * float(told["aspect_ratio"]) * (1.0 + 0.5 * END_CHORD)
    return {
        "stations": [
            {"y_m": 0.0, "x_m": 0.0, "chord_m": 2.0},
            {"y_m": half, "x_m": 2.0 - END_CHORD, "chord_m": END_CHORD},
        ]
    }


def _arc(told: Table) -> dict[str, Any]:
    """A circular arc of span 1 and height ``height`` in the front view, chord ``chord_m``."""
    height, chord = float(told["height"]), float(told.get("chord_m", 0.1))
    sign = float(told.get("sign", 1.0))
    radius = (0.25 + height**2) / (2.0 * height)
    end = np.arctan2(0.5, radius - height)
    angles = end * np.linspace(0.0, 1.0, OUTLINE + 1)
    return {
        "stations": [
            {
                "y_m": float(radius * np.sin(a)),
                "x_m": 0.0,
                "z_m": float(sign * radius * (1.0 - np.cos(a))),
                "chord_m": chord,
                "corner": False,
            }
            for a in angles
        ]
    }


def _hooked(told: Table) -> dict[str, Any]:
    """A flat wing of span 1 with upright ends of ``height`` and tips of ``inward`` beyond."""
    chord, height = float(told.get("chord_m", 0.1)), float(told["height"])
    lean = 1e-9
    places = [(0.0, 0.0), (0.5, 0.0), (0.5 + lean, height)]
    return {
        "stations": [
            {"y_m": y, "x_m": 0.0, "z_m": z, "chord_m": chord, "corner": True} for y, z in places
        ],
        "tips": {"span_m": float(told["inward"]), "end_chord_m": chord},
    }
