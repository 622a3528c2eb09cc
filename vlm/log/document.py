"""A study of a log as one JSON document."""

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.findings import Finding
from vlm.log.analysis import Compared, Measured
from vlm.log.answer import Answer, answered
from vlm.log.bins import Bin, BinnedPower
from vlm.log.difference import Difference
from vlm.log.document_types import (
    BinDocument,
    BinsDocument,
    ExplanationDocument,
    FitDocument,
    LogAnswer,
    LogDifference,
    LogDocument,
    LogFinding,
    ModelDocument,
    PredictionDocument,
    ResidualsDocument,
    WindDocument,
)
from vlm.log.fit import Fit
from vlm.log.power_model import PowerModel
from vlm.log.residuals import Residuals
from vlm.log.wind import Wind
from vlm.plain import as_document

ASSUMPTIONS = (
    "steady, level flight within the criteria of log.steady",
    "reduced to one density and straight flight at equal lift coefficient",
    "scatter of segments about a curve and a slow drift is independent",
    "what log.uncertainty states is normally distributed",
    "no sideslip",
)


def log_document(result: Measured, against: Compared | None = None) -> LogDocument:
    """Everything that ``foldspan log`` prints, as plain numbers, texts and lists.

    Parameters
    ----------
    result : the log by itself
    against : the log against the prediction; None where there is none
    """
    log = result.log
    answer = answered(result, against)
    findings = [*result.findings, *(() if against is None else against.findings)]
    document: LogDocument = {
        "title": result.craft.title,
        "file": result.craft.source,
        "log": str(log.path),
        "level": result.plan.level,
        "answer": _answer(answer),
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
        },
        "model": None if result.model is None else _model(result.model),
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
                "load_factor": s.load_factor,
            }
            for s in result.steady.segments
        ],
        "configurations": {name: _binned(power) for name, power in result.binned.items()},
        "differences": [_difference(item) for item in result.differences],
        "wind": None if result.wind is None else _wind(result.wind),
        "prediction": None if against is None else _compared(against),
        "findings": [_finding(one) for one in findings],
        "assumptions": list(ASSUMPTIONS),
        "caution": SHORT_CAUTION,
    }
    found: LogDocument = as_document(document)
    return found


def _finding(found: Finding) -> LogFinding:
    return {
        "code": found.code,
        "what": found.what,
        "value": found.value,
        "limit": found.limit,
        "unit": found.unit,
        "source": found.source,
        "remedy": found.remedy,
        "cases": found.cases,
        "half_width": found.half_width,
        "sentence": found.sentence(),
    }


def _answer(answer: Answer) -> LogAnswer:
    return {
        "in_words": list(answer.sentences),
        "next_flight": list(answer.proposals),
    }


def _model(model: PowerModel) -> ModelDocument:
    scatter, cost = model.solution.scatter, model.around.cost
    return {
        "scatter_W": scatter.tau,
        "scatter_grows_as_power_to": scatter.growth,
        "estimated_deviations_W": dict(scatter.spread),
        "freedom": model.solution.freedom,
        "climb_cost_W_s_m": cost.value_W_s_m,
        "climb_cost_uncertainty_W_s_m": cost.spread_W_s_m,
        "climb_cost_from": cost.source,
        "assumed_uncertainties": {k: getattr(model.around.errors, k)
                                  for k in model.around.errors.assumed},
        "segment_weights": model.solution.weight.tolist(),
    }  # fmt: skip


def _binned(power: BinnedPower) -> BinsDocument:
    return {"bins": [_bin(item) for item in power.bins]}


def _bin(item: Bin) -> BinDocument:
    return {
        "low_m_s": item.low_m_s,
        "high_m_s": item.high_m_s,
        "airspeed_m_s": item.airspeed_m_s,
        "power_W": item.power_W,
        "interval_W": list(item.interval_W),
        "spread_W": item.spread_W,
        "segments": item.segments,
        "uncertainty_W": dict(item.parts_W),
        "slope_W_s_m": item.slope_W_s_m,
    }


def _difference(item: Difference) -> LogDifference:
    return {
        "first": item.first,
        "second": item.second,
        "bins": list(item.bins),
        "crossing_m_s": list(item.crossing_m_s),
        "sign_unknown_m_s": [list(stretch) for stretch in item.unknown_m_s],
        "in_words": item.sentences(),
    }


def _wind(wind: Wind) -> WindDocument:
    return {
        "north_m_s": wind.north_m_s,
        "north_half_width_m_s": wind.north_half_m_s,
        "east_m_s": wind.east_m_s,
        "east_half_width_m_s": wind.east_half_m_s,
        "speed_m_s": wind.speed_m_s,
        "from_deg": wind.from_deg,
        "airspeed_offset_m_s": wind.offset_m_s,
        "airspeed_offset_half_width_m_s": wind.offset_half_m_s,
        "airspeed_scale": wind.scale,
        "airspeed_scale_half_width": wind.scale_half,
        "airspeed_offset_by_configuration_m_s": dict(wind.by_configuration_m_s),
        "airspeed_offset_by_configuration_half_width_m_s": dict(wind.by_configuration_half_m_s),
        "heading_error_deg": -wind.heading_deg,  # what it reads too much, as of the pitot
        "heading_error_half_width_deg": wind.heading_half_deg,
        "points": wind.points,
        "directions_deg": wind.spread_deg,
        "found_by": wind.source,
    }


def _compared(against: Compared) -> PredictionDocument:
    return {
        "residuals": [_residuals(item) for item in against.residuals],
        "explanation": _explanation(against),
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


def _residuals(item: Residuals) -> ResidualsDocument:
    return {
        "configuration": item.configuration,
        "bias_W": item.bias_W,
        "bias_half_width_W": item.bias_half_width_W,
        "bias_share": item.bias_share,
        "scatter_W": item.scatter_W,
        "slope_W_s_m": item.slope_W_s_m,
        "bins_outside": item.outside,
        "segments_unpredicted": item.unpredicted,
        "bins": [
            {
                "airspeed_m_s": speed,
                "residual_W": rest,
                "half_width_W": half,
                "prediction_half_width_W": band,
            }
            for speed, rest, half, band in zip(
                item.bin_airspeed_m_s.tolist(),
                item.bin_residual_W.tolist(),
                item.bin_half_width_W.tolist(),
                item.prediction_half_width_W.tolist(),
                strict=True,
            )
        ],
    }


def _explanation(against: Compared) -> ExplanationDocument:
    fit = against.explanation
    return {
        "difference_W": fit.difference_W,
        "difference_half_width_W": against.difference_half_width_W,
        "unexplained_W": fit.unexplained_W,
        "unexplained_half_width_W": fit.unexplained_half_W,
        "causes": list(fit.causes),
    }


def _fit(fit: Fit) -> FitDocument:
    return {
        "unknowns": list(fit.estimates),
        "held_down": {cause.name: cause.shift for cause in fit.causes},
        "correlation": {"names": list(fit.names), "matrix": np.asarray(fit.correlation).tolist()},
        "freedom": fit.freedom,
        "scatter_W": fit.scatter_W,
        "scatter_before_W": fit.scatter_before_W,
    }
