"""The one table of quantities: key, symbol, unit, meaning and sign.

It feeds the attributes of datasets, the labels of axes, tables, the report and the glossary. Each
room adds its rows in a block of its own below.

Units are written so that UDUNITS reads them ("m/s", "kg/m^3", "1" for pure numbers); symbols are
TeX without dollar signs. Derivatives are per radian and stand once for each axis system: the
plain key is in body axes, the key that ends ``_stability`` in stability axes.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from vlm.errors import FoldspanError, nearest_name

BODY = "body axes"
STABILITY = "stability axes"


@dataclass(frozen=True)
class Quantity:
    """One quantity.

    Attributes
    ----------
    key : name in results, with the unit as its suffix where it has one
    symbol : TeX, without dollar signs
    unit : UDUNITS text, "1" for pure numbers
    long_name : what it is, in words
    sign : what a positive value means; empty where that is plain
    """

    key: str
    symbol: str
    unit: str
    long_name: str
    sign: str = ""

    @property
    def attributes(self) -> dict[str, str]:
        """Attributes of a dataset's variable: long_name, units, and sign where it has one."""
        shared = {"long_name": self.long_name, "units": self.unit}
        return shared | ({"positive_means": self.sign} if self.sign else {})

    @property
    def label(self) -> str:
        """Label of an axis: the meaning, the symbol, and the unit in brackets."""
        unit = "" if self.unit == "1" else f" [{self.unit}]"
        return f"{self.long_name[:1].upper()}{self.long_name[1:]} ${self.symbol}${unit}"


# --- state -----------------------------------------------------------------------------------
_STATE = (
    Quantity("alpha_deg", r"\alpha", "deg", "angle of attack", "nose up"),
    Quantity("beta_deg", r"\beta", "deg", "sideslip", "wind from starboard"),
    Quantity("p_hat", r"\hat p", "1", "roll rate times span over twice the airspeed",
             "starboard wing going down"),
    Quantity("q_hat", r"\hat q", "1", "pitch rate times chord over twice the airspeed",
             "nose going up"),
    Quantity("r_hat", r"\hat r", "1", "yaw rate times span over twice the airspeed",
             "nose going to starboard"),
    Quantity("fold_deg", r"\theta", "deg", "fold of both sides", "tips raised"),
    Quantity("fold_left_deg", r"\theta_l", "deg", "fold of the port side", "tip raised"),
    Quantity("fold_right_deg", r"\theta_r", "deg", "fold of the starboard side", "tip raised"),
    Quantity("airspeed_m_s", "U", "m/s", "airspeed"),
    Quantity("density_kg_m3", r"\rho", "kg/m^3", "air density"),
    Quantity("dynamic_pressure_Pa", "q", "Pa", "dynamic pressure"),
)  # fmt: skip

# --- references and shape --------------------------------------------------------------------
_SHAPE = (
    Quantity("area_m2", "S", "m^2", "reference area"),
    Quantity("span_m", "b", "m", "reference span"),
    Quantity("chord_m", "c", "m", "reference chord"),
    Quantity("moment_point_m", r"\mathbf{x}_0", "m", "moment point, geometry axes"),
    Quantity("aspect_ratio", "A", "1", "aspect ratio, span squared over area"),
    Quantity("gap_m", "h", "m", "gap between the root leading edges", "lower wing below"),
    Quantity("stagger_m", "s", "m", "stagger between the root leading edges",
             "upper wing ahead"),
    Quantity("decalage_deg", r"\delta", "deg", "decalage, upper less lower incidence",
             "upper wing set nose up against the lower"),
    Quantity("flat_span_m", "b_0", "m", "span with the tips flat"),
    Quantity("planform_area_m2", "S_0", "m^2", "planform area with the tips flat"),
    Quantity("mean_chord_m", r"\bar c", "m", "mean chord, planform area over flat span"),
)  # fmt: skip

# --- coefficients ----------------------------------------------------------------------------
_COEFFICIENTS = (
    Quantity("CL", "C_L", "1", "lift coefficient, wind axes", "lift up"),
    Quantity("CDi", "C_{Di}", "1", "induced drag coefficient from the far-field wake plane"),
    Quantity("CDi_surface", "C_{Di,s}", "1",
             "induced drag coefficient from the forces on the wings"),
    Quantity("CY", "C_Y", "1", "side force coefficient, body axes", "to starboard"),
    Quantity("Cl", "C_l", "1", "rolling moment coefficient, body axes", "starboard wing down"),
    Quantity("Cm", "C_m", "1", "pitching moment coefficient", "nose up"),
    Quantity("Cn", "C_n", "1", "yawing moment coefficient, body axes", "nose to starboard"),
    Quantity("Cl_stability", "C_{l,s}", "1", "rolling moment coefficient, stability axes",
             "starboard wing down"),
    Quantity("Cn_stability", "C_{n,s}", "1", "yawing moment coefficient, stability axes",
             "nose to starboard"),
    Quantity("span_efficiency", "e", "1",
             "span efficiency, CL^2 / (pi A CDi) on the reference span and area"),
    Quantity("best_span_efficiency", r"e_{\max}", "1",
             "span efficiency of the best loading of the same wake shape"),
    Quantity("neutral_point_m", "x_n", "m", "neutral point, x in geometry axes", "aft"),
    Quantity("static_margin", r"\sigma", "1",
             "static margin, neutral point behind the moment point over the reference chord",
             "statically stable in pitch"),
)  # fmt: skip

# --- derivatives -----------------------------------------------------------------------------
# What is differentiated: symbol, words, and the axes its value depends on.
_NUMERATORS = {
    "CL": ("L", "lift coefficient"),
    "Cm": ("m", "pitching moment coefficient"),
    "CY": ("Y", "side force coefficient"),
    "Cl": ("l", "rolling moment coefficient"),
    "Cn": ("n", "yawing moment coefficient"),
}
_VARIABLES = {
    "alpha": (r"\alpha", "angle of attack"),
    "beta": (r"\beta", "sideslip"),
    "p": ("p", "roll rate p b / 2U"),
    "q": ("q", "pitch rate q c / 2U"),
    "r": ("r", "yaw rate r b / 2U"),
    "fold_left": (r"\theta_l", "fold of the port side"),
    "fold_right": (r"\theta_r", "fold of the starboard side"),
}
DERIVATIVES = (
    "CL_alpha", "Cm_alpha", "CY_beta", "Cl_beta", "Cn_beta", "CY_p", "Cl_p", "Cn_p", "CY_r",
    "Cl_r", "Cn_r", "CL_q", "Cm_q", "CL_fold_left", "Cl_fold_left", "Cn_fold_left",
    "CL_fold_right", "Cl_fold_right", "Cn_fold_right",
)  # fmt: skip
"""Keys of the derivatives, the same in body and in stability axes."""

_DERIVATIVE_SIGNS = {
    "Cm_alpha": "statically unstable in pitch",
    "Cl_beta": "unstable dihedral effect: rolls toward the wind",
    "Cn_beta": "stable in yaw: turns into the wind",
    "Cl_p": "roll is driven, not damped",
    "Cm_q": "pitch is driven, not damped",
    "Cn_r": "yaw is driven, not damped",
}


def _derivative(key: str, axes: str) -> Quantity:
    of, _, by = key.partition("_")
    letter, words = _NUMERATORS[of]
    variable, meaning = _VARIABLES[by]
    # Lift, side force and pitching moment are the same in both; a rate p or r is not.
    depends = of in ("Cl", "Cn") or by in ("p", "r")
    suffix, mark = ("_stability", ",s") if axes == STABILITY else ("", "")
    where = f", {axes}" if depends else ""
    return Quantity(
        f"{key}{suffix}",
        f"C_{{{letter}{mark},{variable}}}",
        "1/rad" if by in ("alpha", "beta") or by.startswith("fold") else "1",
        f"derivative of {words} with {meaning}{where}",
        _DERIVATIVE_SIGNS.get(key, ""),
    )


_DERIVATIVES = tuple(_derivative(key, axes) for axes in (BODY, STABILITY) for key in DERIVATIVES)

# --- loads by part ---------------------------------------------------------------------------
_PARTS = (
    Quantity("CDi_share", r"C_{Di,w}", "1", "one wing's share in the induced drag coefficient"),
    Quantity("moment_N_m", "M_h", "N m", "moment of the air about the hinge", "raises the tip"),
    Quantity("moment_coefficient", "C_h", "1",
             "hinge moment over dynamic pressure, area and span of the flat tip",
             "raises the tip"),
    Quantity("y_m", "y", "m", "lateral place, geometry axes", "starboard"),
    Quantity("z_m", "z", "m", "height, geometry axes", "up"),
    Quantity("width_m", r"\Delta s", "m", "width of a strip along the wing"),
    Quantity("cl", "c_l", "1", "lift coefficient of a strip on its own chord", "lift up"),
    Quantity("circulation_m2_s", r"\Gamma", "m^2/s", "circulation round a strip", "lift up"),
    Quantity("panels", "N", "1", "panels of the lattice"),
    Quantity("rows", "n", "1", "chordwise rows of panels"),
    Quantity("strips", "m", "1", "spanwise strips over each half of the longest flat span"),
)  # fmt: skip

# --- power and trim --------------------------------------------------------------------------
_POWER = (
    Quantity("slipstream_thrust_N", "T", "N", "thrust of all rotors whose slipstream is counted"),
    Quantity("electrical_power_W", "P", "W", "electrical power drawn from the battery"),
    Quantity("shaft_power_W", "P_s", "W", "power at the shafts of all rotors together"),
    Quantity("body_angle_deg", r"\vartheta", "deg", "angle of the body's axis to the horizon",
             "nose up"),
    Quantity("lean_deg", r"\phi", "deg", "lean of the body about its axis",
             "starboard wing down"),
    Quantity("thrust_N", "T", "N", "thrust of all rotors together", "ahead"),
    Quantity("wing_share", r"\kappa_w", "1", "share of the weight that the wings carry"),
    Quantity("stall_margin_deg", r"\Delta\alpha_s", "deg",
             "least angle left to stall of any strip", "attached flow everywhere"),
    Quantity("stalled_share", r"\sigma_s", "1", "share of the wings' area past its highest lift"),
    Quantity("consumption_Wh_km", "e_s", "W h/km", "energy drawn for each kilometre of still air"),
    Quantity("pitch_margin_N_m", r"\Delta M", "N m",
             "pitching moment the rotors have left, on the worse side", "control left"),
    Quantity("limit_margin", r"\mu", "1",
             "distance to the nearest limit of rotors and power, over the limit", "within limits"),
    Quantity("rotor_roll_N_m", "L_r", "N m", "rolling moment that the rotors hold",
             "starboard wing down"),
    Quantity("rotor_pitch_N_m", "M_r", "N m", "pitching moment that the rotors hold", "nose up"),
    Quantity("rotor_yaw_N_m", "N_r", "N m", "yawing moment that the rotors hold",
             "nose to starboard"),
    Quantity("trim_residual", r"\varepsilon", "1",
             "largest imbalance of the trim over weight, and weight times chord"),
    Quantity("strip_residual", r"\varepsilon_s", "1",
             "largest disagreement of a strip with its section, over the airspeed"),
    Quantity("strip_iterations", "k", "1", "steps in which the strips agreed with their sections"),
    Quantity("trims", "n_t", "1", "trims found at a speed"),
    Quantity("power_induced_W", "P_i", "W", "power against the wings' induced drag"),
    Quantity("power_profile_W", "P_p", "W", "power against the wings' profile drag"),
    Quantity("power_body_W", "P_b", "W", "power against the drag of bodies, struts and gear"),
    Quantity("power_slipstream_W", "P_u", "W",
             "power against the drag that the rotors' wind adds to wings and bodies"),
    Quantity("power_climb_W", "P_c", "W", "power of the climb"),
    Quantity("power_rotor_induced_W", "P_v", "W", "power of the air that the rotors move"),
    Quantity("power_rotor_blades_W", "P_d", "W",
             "power of the blades' drag and of uneven flow through the rotors"),
    Quantity("power_motors_W", "P_m", "W", "losses of motors and controllers"),
    Quantity("power_fixed_load_W", "P_f", "W", "power of avionics and payload"),
    Quantity("drag_induced_N", "D_i", "N", "induced drag of the wings"),
    Quantity("drag_profile_N", "D_p", "N", "profile drag of the wings"),
    Quantity("drag_body_N", "D_b", "N", "drag of bodies, struts and gear"),
    Quantity("drag_slipstream_N", "D_u", "N",
             "drag that the rotors' wind adds to wings and bodies"),
    Quantity("pitch_trim_W", r"\Delta P", "W",
             "power above that with the same thrust on all rotors", "pitch trim costs power"),
)  # fmt: skip

# --- control, motion and mechanism -----------------------------------------------------------
_MOTION = (
    Quantity("rolling_moment_N_m", "L", "N m", "rolling moment about the direction of flight",
             "starboard wing down"),
    Quantity("yawing_moment_N_m", "N", "N m", "yawing moment across the direction of flight",
             "nose to starboard"),
    Quantity("pitching_moment_N_m", "M", "N m", "pitching moment about the centre of gravity",
             "nose up"),
    Quantity("lift_change_N", r"\Delta F_L", "N",
             "lift less that of the base at its angle of attack", "lift gained"),
    Quantity("roll_rate_deg_s", "p", "deg/s", "roll rate", "starboard wing going down"),
    Quantity("roll_acceleration_deg_s2", r"\dot p", "deg/s^2",
             "roll acceleration when the tips have just moved", "starboard wing down"),
    Quantity("yaw_rate_deg_s", "r", "deg/s", "yaw rate", "nose going to starboard"),
    Quantity("bank_deg", r"\phi_b", "deg", "bank angle", "starboard wing down"),
    Quantity("sideslip_deg", r"\beta_s", "deg", "sideslip of a history", "wind from starboard"),
    Quantity("frequency_rad_s", r"\omega_n", "rad/s", "undamped natural frequency of a mode"),
    Quantity("damping_ratio", r"\zeta", "1", "damping ratio of a mode", "it settles"),
    Quantity("period_s", "T_p", "s", "period of a mode"),
    Quantity("half_time_s", "T_{1/2}", "s", "time to half amplitude of a mode that settles"),
    Quantity("double_time_s", "T_2", "s", "time to double amplitude of a mode that grows"),
    Quantity("steady_N_m", "M_{h,s}", "N m", "hinge moment of air, weight and pull-up together",
             "raises the tip"),
    Quantity("swing_N_m", "M_{h,o}", "N m", "swing of a tip on its gear beyond the steady moment",
             "raises the tip"),
    Quantity("worst_N_m", "M_{h,w}", "N m", "largest hinge moment while rolling either way",
             "raises the tip"),
    Quantity("shear_N", "Q", "N", "shear force across a half wing at a cut",
             "toward the upper side"),
    Quantity("bending_N_m", "M_b", "N m", "bending moment of a half wing at a cut",
             "raises the end"),
    Quantity("torsion_N_m", "M_t", "N m", "torsion of a half wing at a cut", "nose up"),
)  # fmt: skip


def _table(rows: Iterable[Quantity]) -> dict[str, Quantity]:
    table: dict[str, Quantity] = {}
    for row in rows:
        if row.key in table:
            raise ValueError(f"the table of quantities holds {row.key} twice")
        table[row.key] = row
    return table


def _rows() -> Iterator[Quantity]:
    yield from _STATE
    yield from _SHAPE
    yield from _COEFFICIENTS
    yield from _DERIVATIVES
    yield from _PARTS
    yield from _POWER
    yield from _MOTION


QUANTITIES: dict[str, Quantity] = _table(_rows())
"""All quantities by key."""


def quantity(key: str) -> Quantity:
    """The row of a key.

    Raises
    ------
    FoldspanError : there is no such quantity, with the nearest name
    """
    try:
        return QUANTITIES[key]
    except KeyError:
        near = nearest_name(key, QUANTITIES)
        hint = f"; did you mean {near}?" if near else ""
        raise FoldspanError(f"{key} is not a known quantity{hint}") from None


SUFFIX_UNITS = {
    "N_m_rad": "N m/rad", "N_m_deg": "N m/deg", "N_m_s": "N m s", "W_s_m": "W s/m",
    "kg_m2": "kg m^2", "kg_m3": "kg/m^3", "N_m2": "N/m^2", "Wh_km": "W h/km", "deg_s2": "deg/s^2",
    "deg_s": "deg/s", "rad_s": "rad/s", "m2_s": "m^2/s", "m_s": "m/s", "1_s": "1/s", "N_m": "N m",
    "m2": "m^2", "kg": "kg", "deg": "deg", "rpm": "rpm", "min": "min", "percent": "%",
    "Wh": "W h", "Pa": "Pa", "m": "m", "N": "N", "W": "W", "J": "J", "K": "K", "A": "A", "s": "s",
}  # fmt: skip
"""Units by the ending of a key, longer endings before those they end in."""
PURE = ("share", "shares", "factor", "ratio", "efficiency")
"""Endings of keys that are pure numbers."""


def unit_of(key: str) -> str | None:
    """Unit of a key: that of its row, else that of its ending; None where neither tells it."""
    if key in QUANTITIES:
        return QUANTITIES[key].unit
    key = key.removesuffix("_low").removesuffix("_high").removesuffix("_interval")
    for ending, unit in SUFFIX_UNITS.items():
        if key.endswith(f"_{ending}"):
            return unit
    return "1" if key.split("_")[-1] in PURE else None


def described(key: str) -> str:
    """What a key is, with what a positive value means; empty where the table has no row of it."""
    row = QUANTITIES.get(key)
    if row is None:
        return ""
    return row.long_name + (f"; positive: {row.sign}" if row.sign else "")
