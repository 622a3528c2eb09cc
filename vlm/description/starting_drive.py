"""Rotors, drive and actuator of a craft to start from, by rules that stand beside each number."""

from collections.abc import Mapping, Sequence
from math import pi, radians, sqrt

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description.commented import CommentedBlock

THRUST_OVER_WEIGHT, FIGURE_OF_MERIT = 1.8, 0.6
WORM_RATIO, WORM_EFFICIENCY, LOAD_FACTOR, SERVO_RESERVE = 24.0, 0.35, 3.5, 2.0


def rotor_blocks(
    mass_kg: float,
    places: Sequence[tuple[float, float, float]],
    radius_m: float,
    battery_Wh: float,
    rules: Mapping[str, str],
) -> list[CommentedBlock]:
    """The rotors, of opposite turn side by side and one above the other, and what drives them."""
    most = THRUST_OVER_WEIGHT * mass_kg * GRAVITY / len(places)
    power = most**1.5 / sqrt(2.0 * SEA_LEVEL_DENSITY * pi * radius_m**2) / FIGURE_OF_MERIT
    why = {
        "position_m": "0.45 chords ahead of the leading edge",
        "solidity": "two slender blades (common practice: 0.06 to 0.12)",
        "pitch_m": "1.4 radii (common practice: 1 to 2)",
        "thrust_max_N": f"all rotors together give {THRUST_OVER_WEIGHT:g} times the weight (common"
        " practice: 1.5 to 2); replace it by a thrust stand's",
        "power_max_W": f"that thrust at rest at a figure of merit of {FIGURE_OF_MERIT:g}; momentum"
        " theory (Glauert 1935)",
    }
    if "rotor_radius_m" in rules:
        why["radius_m"] = rules["rotor_radius_m"]
    names = _names(len(places), places)
    blocks = []
    for index, (name, place) in enumerate(zip(names, places, strict=True)):
        below = index >= 2
        values = {
            "name": name, "position_m": [float(f"{v + 0.0:.4g}") for v in place],
            "radius_m": radius_m,
            "spin": "right" if (place[1] > 0.0) != below else "left",
            "form": "blades", "solidity": 0.09, "pitch_m": float(f"{1.4 * radius_m:.3g}"),
            "thrust_max_N": float(f"{most:.3g}"), "power_max_W": float(f"{power:.3g}"),
        }  # fmt: skip
        first = index == 0
        words = "the rotors" if first else ""
        blocks.append(
            CommentedBlock("rotors", values, why, listed=True, explained=first, words=words)
        )
    drive = {"motor_efficiency": 0.8, "controller_efficiency": 0.95, "fixed_load_W": 5.0,
             "battery_energy_Wh": battery_Wh, "battery_usable": 0.8}  # fmt: skip
    practice = "common practice"
    guessed = dict.fromkeys(
        ("motor_efficiency", "controller_efficiency", "fixed_load_W", "battery_usable"), practice
    )
    if "battery_Wh" in rules:
        guessed["battery_energy_Wh"] = rules["battery_Wh"]
    return [*blocks, CommentedBlock("propulsion", drive, guessed, words="motors and battery")]


def _names(count: int, places: Sequence[tuple[float, float, float]]) -> list[str]:
    if count == 2:
        return ["starboard", "port"]
    if places[0][2] == places[2][2]:
        return ["inner starboard", "inner port", "outer starboard", "outer port"]
    return ["upper starboard", "upper port", "lower starboard", "lower port"]


def actuator_block(
    mass_kg: float, tip_span_m: float, chord_m: float, area_m2: float
) -> CommentedBlock:
    """One servo with a single-start worm at each tip."""
    lift = LOAD_FACTOR * mass_kg * GRAVITY * tip_span_m * chord_m / area_m2
    hinge = 0.5 * tip_span_m * lift
    torque = float(f"{SERVO_RESERVE * hinge / (WORM_RATIO * WORM_EFFICIENCY):.2g}")
    speed, voltage = 1200.0, 7.4
    stall = float(f"{torque * radians(speed) / voltage / 0.7:.2g}")
    values = {
        "worm_ratio": WORM_RATIO, "lead_angle_deg": 4.0,
        "friction_dry": [0.12, 0.30], "friction_greased": [0.05, 0.10],
        "servo_stall_torque_N_m": torque, "servo_no_load_speed_deg_s": speed,
        "servo_voltage_V": voltage, "servo_no_load_current_A": float(f"{0.06 * stall:.2g}"),
        "servo_stall_current_A": stall, "servo_hold_current_A": 0.01, "backlash_deg": 0.5,
        "hinge_moment_limit_N_m": float(f"{1.5 * hinge:.2g}"), "load_factor_limit": LOAD_FACTOR,
    }  # fmt: skip
    rules = {
        "worm_ratio": "one start on 24 teeth", "lead_angle_deg": "common practice",
        "friction_dry": "hardened steel on bronze (common practice)",
        "friction_greased": "hardened steel on bronze (common practice)",
        "servo_stall_torque_N_m": f"{SERVO_RESERVE:g} times what moves a tip that carries its share"
        f" by area of {LOAD_FACTOR:g} times the weight at half its span, through a worm of"
        f" {WORM_EFFICIENCY:g} efficiency",
        "servo_no_load_speed_deg_s": "common practice", "servo_voltage_V": "two lithium cells",
        "servo_no_load_current_A": "6 % of the stall current (common practice)",
        "servo_stall_current_A": "stall torque times free speed over voltage, at 0.7",
        "servo_hold_current_A": "its electronics alone; the worm carries the load",
        "backlash_deg": "common practice; measure it",
        "hinge_moment_limit_N_m": "1.5 times the moment above; set it to what was tested",
        "load_factor_limit": "common practice",
    }  # fmt: skip
    return CommentedBlock("actuator", values, rules, words="what folds a tip")
