"""A study of a log as one JSON document."""

from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.log.analysis import Compared, Measured
from vlm.log.bins import Bin, BinnedPower
from vlm.log.difference import Difference
from vlm.log.fit_intervals import Estimate, Fit
from vlm.log.residuals import Residuals
from vlm.log.wind import Wind
from vlm.plain import without_nan

ASSUMPTIONS = (
    "steady, level flight within the criteria of log.steady",
    "power and airspeed reduced to the log's mean density at equal lift coefficient",
    "segments flown apart are independent of each other",
    "what log.uncertainty states is normally distributed and the same all through",
    "no sideslip where the wind is sought",
)


def log_document(result: Measured, against: Compared | None = None) -> dict[str, Any]:
    """Everything that ``foldspan log`` prints, as plain numbers, texts and lists.

    Parameters
    ----------
    result : the log by itself
    against : the log against the prediction; None where there is none
    """
    log = result.log
    findings = [*result.findings, *(() if against is None else against.findings)]
    document = {
        "title": result.craft.title,
        "file": result.craft.source,
        "log": str(log.path),
        "level": result.plan.level,
        "seed": result.plan.seed,
        "reading": {
            **log.tally.as_dict(),
            "interval_s": log.interval_s,
            "cell_s": log.cell_s,
            "cells": len(log.cells),
            "duration_s": log.duration_s,
        },
        "air": {"density_kg_m3": result.density_kg_m3, "from": log.density_source},
        "steady": {
            "criteria": result.craft.how.steady.model_dump(),
            "share_of_time": result.steady.shares(),
            "climb_cost_W_s_m": result.climb_cost_W_s_m,
        },
        "segments": [
            {
                "configuration": s.configuration,
                "start_s": s.start_s,
                "end_s": s.end_s,
                "lines": [s.first_line, s.last_line],
                "cells": s.cells,
                "airspeed_m_s": s.airspeed_m_s,
                "power_W": s.power_W,
                "density_kg_m3": s.density_kg_m3,
                "energy_climb_m_s": s.energy_climb_m_s,
                "rotor_speed_rpm": s.rotor_speed_rpm,
                "pitch_deg": s.pitch_deg,
            }
            for s in result.steady.segments
        ],
        "configurations": {name: _binned(power) for name, power in result.binned.items()},
        "differences": [_difference(item) for item in result.differences],
        "wind": None if result.wind is None else _wind(result.wind),
        "prediction": None if against is None else _compared(against),
        "findings": [{**vars(finding), "sentence": finding.sentence()} for finding in findings],
        "assumptions": list(ASSUMPTIONS),
        "caution": SHORT_CAUTION,
    }
    plain: dict[str, Any] = without_nan(document)
    return plain


def _binned(power: BinnedPower) -> dict[str, Any]:
    return {
        "block_cells": power.block_cells,
        "correlation_time_s": power.correlation_time_s,
        "between_segments_W": power.between_W,
        "bins": [_bin(item) for item in power.bins],
    }


def _bin(item: Bin) -> dict[str, Any]:
    return {
        "low_m_s": item.low_m_s,
        "high_m_s": item.high_m_s,
        "airspeed_m_s": item.airspeed_m_s,
        "power_W": item.power_W,
        "interval_W": list(item.interval_W),
        "spread_W": item.spread_W,
        "segments": item.segments,
        "cells": item.cells,
        "scatter_W": item.scatter.standard_error,
        "scatter_freedom": item.scatter.freedom,
        "within_segments_W": item.within_W,
        "airspeed_error_W": item.airspeed_error_W,
        "gain_error_W": item.gain_error_W,
        "air_error_W": item.air_error_W,
        "slope_W_s_m": item.slope_W_s_m,
    }


def _difference(item: Difference) -> dict[str, Any]:
    return {
        "first": item.first,
        "second": item.second,
        "bins": [
            {
                "airspeed_m_s": b.airspeed_m_s,
                "difference_W": b.difference_W,
                "interval_W": list(b.interval_W),
                "share": b.share,
                "share_interval": list(b.share_interval),
                "first_draws": b.sign,
            }
            for b in item.bins
        ],
        "crossing_m_s": list(item.crossing_m_s),
        "sign_unknown_m_s": [list(stretch) for stretch in item.unknown_m_s],
        "in_words": item.sentences(),
    }


def _wind(wind: Wind) -> dict[str, Any]:
    return {
        "north_m_s": wind.north_m_s,
        "east_m_s": wind.east_m_s,
        "half_width_m_s": wind.speed_error_m_s,
        "speed_m_s": wind.speed_m_s,
        "from_deg": wind.from_deg,
        "airspeed_offset_m_s": wind.offset_m_s,
        "airspeed_offset_interval_m_s": list(wind.offset_interval_m_s),
        "segments": wind.segments,
        "directions_deg": wind.spread_deg,
        "used_heading": wind.used_heading,
    }


def _compared(against: Compared) -> dict[str, Any]:
    return {
        "residuals": [_residuals(item) for item in against.residuals],
        "fit": None if against.fit is None else _fit(against.fit),
        "fitted_residuals": [_residuals(item) for item in against.fitted_residuals],
        "cross_validation": None
        if against.cross_validation is None
        else {
            "groups": against.cross_validation.groups,
            "left_out_W": against.cross_validation.left_out_W,
            "without_fit_W": against.cross_validation.nominal_W,
            "helps": against.cross_validation.helps,
        },
    }


def _residuals(item: Residuals) -> dict[str, Any]:
    return {
        "configuration": item.configuration,
        "bias_W": item.bias_W,
        "bias_share": item.bias_share,
        "scatter_W": item.scatter_W,
        "slope_W_s_m": item.slope_W_s_m,
        "bins_outside": item.outside,
        "segments_unpredicted": item.unpredicted,
        "bins": [
            {"airspeed_m_s": speed, "residual_W": rest, "half_width_W": half}
            for speed, rest, half in zip(
                item.bin_airspeed_m_s.tolist(),
                item.bin_residual_W.tolist(),
                item.bin_half_width_W.tolist(),
                strict=True,
            )
        ],
    }


def _fit(fit: Fit) -> dict[str, Any]:
    return {
        "unknowns": [_estimate(item) for item in fit.estimates],
        "held_down": fit.held,
        "correlation": {"names": list(fit.names), "matrix": np.asarray(fit.correlation).tolist()},
        "freedom": fit.freedom,
        "shared_scatter_W": fit.shared_scatter_W,
        "scatter_W": fit.scatter_W,
        "scatter_before_W": fit.scatter_before_W,
    }


def _estimate(item: Estimate) -> dict[str, Any]:
    return {
        "name": item.name,
        "label": item.label,
        "unit": item.unit,
        "nominal": item.nominal,
        "value": item.value,
        "interval": list(item.interval),
        "linear_interval": list(item.linear_interval),
        "standard_error": item.standard_error,
        "profile": {
            "value": item.profile.value.tolist(),
            "rise": item.profile.excess.tolist(),
            "limit": item.profile.limit,
        },
    }
