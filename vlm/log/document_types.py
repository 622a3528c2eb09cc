"""The parts of a log's JSON document."""

from typing import TypedDict

from vlm.log.difference import DifferenceBin
from vlm.log.fit import Cause, Estimate
from vlm.log.next_flight import Proposal
from vlm.log.rows import TallyDocument


class LogAnswer(TypedDict):
    """What was found, in sentences, and what the next flight should do."""

    in_words: list[str]
    next_flight: list[Proposal]


class ReadingDocument(TallyDocument):
    """How the log was read: lines by what became of them, and cells of equal time.

    Attributes
    ----------
    interval_s : typical time between readings [s]
    cell_s : length of a cell [s]
    """

    interval_s: float
    cell_s: float
    cells: int
    duration_s: float


LogAir = TypedDict("LogAir", {"density_kg_m3": float, "from": str})
LogAir.__doc__ = "Density of the air, and where it is from."


class SteadyDocument(TypedDict):
    """Criteria of steady flight, as in log.steady, and where the time went, by reason [1]."""

    criteria: dict[str, float]
    share_of_time: dict[str, float]


class ModelDocument(TypedDict):
    """The model of the scatter.

    Attributes
    ----------
    scatter_W : of segments, at the mean power [W]
    scatter_grows_as_power_to : exponent [1]
    estimated_deviations_W : by cause [W]
    freedom : degrees of freedom [1]
    climb_cost_W_s_m, climb_cost_uncertainty_W_s_m : power for each m/s of climb
    assumed_uncertainties : what log.uncertainty does not state
    segment_weights : of the robust fit [1]
    """

    scatter_W: float
    scatter_grows_as_power_to: float
    estimated_deviations_W: dict[str, float]
    freedom: float
    climb_cost_W_s_m: float
    climb_cost_uncertainty_W_s_m: float
    climb_cost_from: str
    assumed_uncertainties: dict[str, float]
    segment_weights: list[float]


class SegmentDocument(TypedDict):
    """A stretch of steady flight; means over it, lines first and last."""

    configuration: str
    start_s: float
    end_s: float
    lines: list[int]
    cells: int
    airspeed_m_s: float
    power_W: float
    density_kg_m3: float
    energy_climb_m_s: float
    rotor_speed_rpm: tuple[float, ...] | None
    pitch_deg: float | None
    load_factor: float


class BinDocument(TypedDict):
    """Mean power within a bin of airspeed, reduced to one density and straight flight.

    Attributes
    ----------
    spread_W : of the segments [W]
    uncertainty_W : by cause [W]
    slope_W_s_m : of the power with airspeed
    """

    low_m_s: float
    high_m_s: float
    airspeed_m_s: float
    power_W: float
    interval_W: list[float]
    spread_W: float
    segments: int
    uncertainty_W: dict[str, float]
    slope_W_s_m: float


class BinsDocument(TypedDict):
    """Bins of one configuration, in order of airspeed."""

    bins: list[BinDocument]


class LogDifference(TypedDict):
    """Two configurations compared.

    Attributes
    ----------
    crossing_m_s : airspeeds at which the mean difference changes its sign [m/s]
    sign_unknown_m_s : stretches of airspeed in which the sign is not known [m/s]
    """

    first: str
    second: str
    bins: list[DifferenceBin]
    crossing_m_s: list[float]
    sign_unknown_m_s: list[list[float]]
    in_words: list[str]


class WindDocument(TypedDict):
    """Mean wind, and what the airspeed sensor reads wrong.

    Attributes
    ----------
    from_deg : direction that it comes from, from north to east [deg]
    airspeed_offset_m_s, airspeed_scale : what the sensor reads too much, beside
        log.airspeed_offset_m_s, and as a share of the airspeed [m/s], [1]
    heading_error_deg : what the compass reads too much; null where it was not asked [deg]
    points : readings that were used
    directions_deg : spread of the headings flown [deg]
    """

    north_m_s: float
    north_half_width_m_s: float
    east_m_s: float
    east_half_width_m_s: float
    speed_m_s: float
    from_deg: float
    airspeed_offset_m_s: float
    airspeed_offset_half_width_m_s: float
    airspeed_scale: float
    airspeed_scale_half_width: float
    airspeed_offset_by_configuration_m_s: dict[str, float]
    airspeed_offset_by_configuration_half_width_m_s: dict[str, float]
    heading_error_deg: float | None
    heading_error_half_width_deg: float | None
    points: int
    directions_deg: float
    found_by: str


class ResidualBin(TypedDict):
    """Measured less predicted power around one airspeed."""

    airspeed_m_s: float
    residual_W: float
    half_width_W: float
    prediction_half_width_W: float


class ResidualsDocument(TypedDict):
    """Measured less predicted power of one configuration.

    Attributes
    ----------
    bias_half_width_W : by the errors of measured and predicted power together [W]
    bias_share : over the mean power [1]
    slope_W_s_m : of the residuals with airspeed
    bins_outside : bins whose residual lies beyond both half-widths
    segments_unpredicted : segments for which the craft finds no trim
    """

    configuration: str
    bias_W: float
    bias_half_width_W: float
    bias_share: float
    scatter_W: float
    slope_W_s_m: float
    bins_outside: int
    segments_unpredicted: int
    bins: list[ResidualBin]


class ExplanationDocument(TypedDict):
    """How far stated uncertainty explains the difference to the prediction."""

    difference_W: float
    difference_half_width_W: float
    unexplained_W: float
    unexplained_half_width_W: float
    causes: list[Cause]


class CorrelationDocument(TypedDict):
    """Correlations of the fitted unknowns [1]."""

    names: list[str]
    matrix: list[list[float]]


class FitDocument(TypedDict):
    """Unknowns fitted to the log.

    Attributes
    ----------
    held_down : inputs held near what is stated, and their shift [1]
    freedom : degrees of freedom [1]
    """

    unknowns: list[Estimate]
    held_down: dict[str, float]
    correlation: CorrelationDocument
    freedom: float
    scatter_W: float
    scatter_before_W: float


class CrossValidationDocument(TypedDict):
    """Scatter of segments that the fit has not seen, with the fit and without."""

    groups: int
    left_out_W: float
    without_fit_W: float
    helps: bool


class PredictionDocument(TypedDict):
    """The log against the prediction."""

    residuals: list[ResidualsDocument]
    explanation: ExplanationDocument
    fit: FitDocument | None
    fitted_residuals: list[ResidualsDocument]
    cross_validation: CrossValidationDocument | None


class LogFinding(TypedDict):
    """A warning, with its number, limit and remedy, and the whole in one sentence."""

    code: str
    what: str
    value: float | None
    limit: float | None
    unit: str
    source: str
    remedy: str
    cases: int
    half_width: float | None
    sentence: str


class LogDocument(TypedDict):
    """A flight log: measured power, and against the prediction.

    Attributes
    ----------
    level : of all intervals [1]
    model : null with too few steady segments
    configurations : by name
    wind : null where it is not known
    prediction : null where there is none
    """

    title: str
    file: str
    log: str
    level: float
    answer: LogAnswer
    reading: ReadingDocument
    air: LogAir
    steady: SteadyDocument
    model: ModelDocument | None
    segments: list[SegmentDocument]
    configurations: dict[str, BinsDocument]
    differences: list[LogDifference]
    wind: WindDocument | None
    prediction: PredictionDocument | None
    findings: list[LogFinding]
    assumptions: list[str]
    caution: str
