"""A craft to start from: a few numbers that are known, the rest by rules that stand beside it.

The rules are common practice for electric craft of a few kilograms, or theory that is named. They
make a file that every command can read; each is to be replaced by what was measured.
"""

from dataclasses import dataclass
from math import pi, sqrt
from typing import Any, Literal

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description.commented import CommentedBlock, commented_toml
from vlm.description.starting_drive import actuator_block, rotor_blocks
from vlm.errors import InputRefused

BlockName = Literal["mass", "rotors", "actuator", "schedule", "log"]

CAMBER, CL_MAX, WING_SHARE = "0012", 1.0, 0.85
WING_MASS, DRIVE_MASS, MOTOR_MASS = 0.25, 0.02, 0.04
CENTRE_AT, TIP_CENTRE, DRIVE_CENTRE = 0.20, 0.42, 0.30
DISC_LOADING, BATTERY_WH_KG = 100.0, 40.0


@dataclass(frozen=True)
class StartingCraft:
    """What is known about a craft before it is described; None for what a rule may choose.

    Attributes
    ----------
    title : what the craft is called
    mass_kg : whole craft with its battery [kg]
    span_m : of the upper wing from end to end, tips flat [m]
    chord_m : of both wings, from root to end [m]
    gap_m : between the wings; None for a monoplane [m]
    tip_span_m : of each folding tip; 0 for none [m]
    rotors : number of rotors, 2 or 4
    rotor_radius_m : [m]
    battery_Wh : energy of the full battery [Wh]
    blocks : which of the optional blocks are written
    """

    title: str
    mass_kg: float
    span_m: float
    chord_m: float
    gap_m: float | None
    tip_span_m: float
    rotors: int
    rotor_radius_m: float
    battery_Wh: float
    blocks: tuple[BlockName, ...] = ("mass", "rotors", "actuator", "schedule")
    rules: tuple[tuple[str, str], ...] = ()

    def rule(self, name: str) -> str | None:
        """The rule by which a number was chosen; None where it was given."""
        return dict(self.rules).get(name)

    @property
    def fixed_span_m(self) -> float:
        """Span between the hinges [m]."""
        return self.span_m - 2.0 * self.tip_span_m

    @property
    def area_m2(self) -> float:
        """Area of all wings, tips flat [m^2]."""
        lower = 0.0 if self.gap_m is None else self.fixed_span_m
        return self.chord_m * (self.span_m + lower)

    @property
    def tip_kg(self) -> float:
        """Mass of one tip [kg]."""
        return WING_MASS * self.mass_kg * self.tip_span_m * self.chord_m / self.area_m2

    @property
    def drive_kg(self) -> float:
        """Mass of the folding mechanism at one tip [kg]."""
        return DRIVE_MASS * self.mass_kg if self.tip_span_m > 0.0 else 0.0

    @property
    def stall_speed_m_s(self) -> float:
        """Lowest airspeed at which the wings alone carry the craft, tips flat [m/s]."""
        lift = 0.5 * SEA_LEVEL_DENSITY * self.area_m2 * CL_MAX * WING_SHARE
        return sqrt(self.mass_kg * GRAVITY / lift)

    @property
    def rotor_places(self) -> list[tuple[float, float, float]]:
        """Centres of the discs: upper starboard, upper port, then the lower ones [m]."""
        x, y = -0.45 * self.chord_m, 0.32 * self.fixed_span_m
        gap = self.gap_m or 0.0
        if self.rotors == 2:
            return [(x, y, -0.5 * gap), (x, -y, -0.5 * gap)]
        if self.gap_m is None:
            return [(x, k * self.fixed_span_m, 0.0) for k in (0.15, -0.15, 0.42, -0.42)]
        return [(x, y, 0.0), (x, -y, 0.0), (x, y, -gap), (x, -y, -gap)]


@dataclass(frozen=True)
class StartingWish:
    """What somebody knows about a craft, as in :class:`StartingCraft`; None is chosen by rule.

    ``tip_span_m`` = 0 asks for no tips; ``monoplane`` for one wing.
    """

    title: str
    mass_kg: float
    span_m: float
    chord_m: float | None = None
    gap_m: float | None = None
    tip_span_m: float | None = None
    rotors: int = 4
    rotor_radius_m: float | None = None
    battery_Wh: float | None = None
    monoplane: bool = False
    blocks: tuple[BlockName, ...] = ("mass", "rotors", "actuator", "schedule")


def _refuse_sizes(wish: StartingWish) -> None:
    for option, value in (
        ("mass", wish.mass_kg), ("span", wish.span_m), ("chord", wish.chord_m),
        ("gap", wish.gap_m), ("rotor-radius", wish.rotor_radius_m), ("battery", wish.battery_Wh),
    ):  # fmt: skip
        if value is not None and not 0.0 < value < 1e4:
            raise InputRefused(f"--{option} = {value:g}; it must be positive, and below 10000")
    if wish.rotors not in (2, 4):
        raise InputRefused(
            f"--rotors = {wish.rotors}; allowed are 2 and 4 (in pairs of opposite turn); a file may"
            " have any number: add blocks [[rotors]] to what is written"
        )
    if wish.monoplane and wish.gap_m is not None:
        raise InputRefused("--gap belongs to two wings; leave it out, or leave out --monoplane")


def checked_start(wish: StartingWish) -> StartingCraft:
    """A starting craft with what was left out chosen by rule.

    Raises
    ------
    InputRefused : a size is not positive, or the tips leave nothing between the hinges
    """
    _refuse_sizes(wish)
    span, mass, count = wish.span_m, wish.mass_kg, wish.rotors
    rules: dict[str, str] = {}

    def chosen(name: str, given: float | None, value: float, rule: str) -> float:
        if given is not None:
            return given
        rules[name] = rule
        return float(f"{value:.3g}")

    chord = chosen(
        "chord_m", wish.chord_m, span / 9.0, "a ninth of the flat span (common practice)"
    )
    gap = None if wish.monoplane else chosen(
        "gap_m", wish.gap_m, 0.23 * span, "0.23 of the flat span, so that tips of that length close"
        " a box (common practice is a gap of 1 to 2 chords)",
    )  # fmt: skip
    tip = chosen(
        "tip_span_m", wish.tip_span_m, 0.2 * span if gap is None else min(gap, 0.35 * span),
        "a fifth of the flat span" if gap is None else "the gap, so that the tips close a box",
    )  # fmt: skip
    if not 0.0 <= tip < 0.45 * span:
        raise InputRefused(
            f"--tip-span = {tip:g}; it must lie between 0 (no tips) and 0.45 of --span ="
            f" {span:g}, here {0.45 * span:g} m, so that wings are left between the hinges"
        )
    radius = chosen(
        "rotor_radius_m", wish.rotor_radius_m,
        sqrt(mass * GRAVITY / (count * pi * DISC_LOADING)),
        f"hover at a disc loading of {DISC_LOADING:g} N/m^2 (common practice: 50 to 200)",
    )  # fmt: skip
    battery = chosen(
        "battery_Wh", wish.battery_Wh, BATTERY_WH_KG * mass,
        f"{BATTERY_WH_KG:g} Wh a kilogram of craft: a quarter of its mass in cells of 160 Wh/kg"
        " (common practice)",
    )  # fmt: skip
    kept = tuple(name for name in wish.blocks if name != "actuator" or tip > 0.0)
    return StartingCraft(
        wish.title, mass, span, chord, gap, tip, count, radius, battery, kept,
        tuple(rules.items()),
    )  # fmt: skip


def starting_toml(craft: StartingCraft) -> str:
    """The commented geometry file of a starting craft."""
    blocks = [CommentedBlock("", {"title": craft.title}), *_wing_blocks(craft)]
    blocks += [_section_block()]
    if "mass" in craft.blocks:
        blocks += _mass_blocks(craft)
    if "actuator" in craft.blocks:
        blocks.append(actuator_block(craft.mass_kg, craft.tip_span_m, craft.chord_m, craft.area_m2))
    if "rotors" in craft.blocks:
        blocks += rotor_blocks(
            craft.mass_kg, craft.rotor_places, craft.rotor_radius_m, craft.battery_Wh,
            dict(craft.rules),
        )  # fmt: skip
        blocks.append(_drag_block(craft))
    if "schedule" in craft.blocks:
        blocks.append(_schedule_block(craft))
    if "log" in craft.blocks:
        blocks += _log_blocks()
    head = (
        "A file to start from, written by foldspan new. Lengths in metres, angles in degrees;",
        "x aft, y to starboard, z up, from the upper wing's leading edge at the centreline.",
        "Remarks give each key's meaning, unit and range. ESTIMATE marks a number that a rule has",
        "chosen: replace it by what you measure. Nothing here is a flight clearance.",
    )
    return commented_toml(head, blocks)


def _wing_blocks(craft: StartingCraft) -> list[CommentedBlock]:
    chord_rule = craft.rule("chord_m")
    rules = {} if chord_rule is None else dict.fromkeys(("root_chord_m", "end_chord_m"), chord_rule)
    wing = {
        "span_m": _rounded(craft.fixed_span_m), "root_chord_m": craft.chord_m,
        "end_chord_m": craft.chord_m, "camber": CAMBER, "section": "foil",
    }  # fmt: skip
    why = (
        "symmetrical: without a tail, camber's nose-down moment asks more of the rotors in cruise"
        " than their difference of thrust gives; write your own section's"
    )
    blocks = [
        CommentedBlock(
            "upper", wing, rules | {"camber": why}, words="the upper wing, or the only one"
        )
    ]
    tip = craft.tip_span_m
    if tip > 0.0:
        lowest = -90.0 if craft.gap_m is None or tip <= craft.gap_m * (1.0 + 1e-9) else -80.0
        tips = {"span_m": tip, "end_chord_m": craft.chord_m,
                "fold_min_deg": lowest, "fold_max_deg": 60.0}  # fmt: skip
        tip_rules = {"fold_min_deg": "set it to what your hinges allow",
                     "fold_max_deg": "set it to what your hinges allow"}  # fmt: skip
        if (rule := craft.rule("tip_span_m")) is not None:
            tip_rules["span_m"] = rule
        blocks.append(CommentedBlock("upper.tips", tips, tip_rules, words="the tips that fold"))
    if craft.gap_m is not None:
        same = {"span_m": "as between the upper wing's hinges"}
        blocks.append(CommentedBlock("lower", wing, same, explained=False, words="the lower wing"))
        gap_rule = craft.rule("gap_m")
        blocks.append(
            CommentedBlock(
                "arrangement",
                {"gap_m": craft.gap_m, "stagger_m": 0.0},
                {} if gap_rule is None else {"gap_m": gap_rule},
            )
        )
    settings: dict[str, Any] = {"open": {"fold_deg": 0}}
    if tip > 0.0:
        settings |= {"loiter": {"fold_deg": 15}, "dash": {"fold_deg": lowest},
                     "bank_right": {"left_deg": 15, "right_deg": -15}}  # fmt: skip
    words = "named fold settings: positive raises the tips"
    return [*blocks, CommentedBlock("configurations", settings, explained=False, words=words)]


def _section_block() -> CommentedBlock:
    values = {
        "form": "parametric", "zero_lift_deg": 0.0, "lift_slope_per_rad": 5.9,
        "cl_max": CL_MAX, "cl_min": -CL_MAX, "cd_least": 0.015, "cl_at_least_drag": 0.0,
        "cd_rise": 0.012, "reynolds": 150000.0, "reynolds_exponent": 0.35,
        "cm_quarter_chord": 0.0,
    }  # fmt: skip
    practice = "common practice for smooth thin sections near a Reynolds number of 150 000"
    drag = ("cd_least", "cd_rise", "reynolds_exponent")
    rules = dict.fromkeys(("lift_slope_per_rad", "cl_max", "cl_min", *drag), practice)
    rules |= dict.fromkeys(
        ("zero_lift_deg", "cl_at_least_drag", "cm_quarter_chord"), "zero for a symmetrical section"
    )
    return CommentedBlock("sections.foil", values, rules, words="how the wings' section behaves")


def _mass_blocks(craft: StartingCraft) -> list[CommentedBlock]:
    mass, chord, tip = craft.mass_kg, craft.chord_m, craft.tip_span_m
    body = mass - 2.0 * (craft.tip_kg + craft.drive_kg)
    away = craft.tip_kg * TIP_CENTRE + craft.drive_kg * DRIVE_CENTRE
    x = chord * (mass * CENTRE_AT - 2.0 * away) / body
    height = -0.5 * (craft.gap_m or 0.0)
    inertia = [_rounded(v) for v in _body_inertia(craft, body)]
    values: dict[str, Any] = {
        "body_kg": _rounded(body), "body_centre_m": [_rounded(x), 0.0, _rounded(height)],
        "body_inertia_kg_m2": inertia,
    }  # fmt: skip
    rules = {
        "body_kg": f"the whole {mass:g} kg less tips and mechanisms",
        "body_centre_m": f"so that the whole craft balances at {CENTRE_AT:g} of the chord, ahead of"
        " the quarter chord where a straight wing's neutral point is (theory of thin sections)",
        "body_inertia_kg_m2": f"wings ({100 * WING_MASS:g} % of the craft's mass, common practice)"
        f" as plates, motors ({100 * MOTOR_MASS:g} % each) as points, the rest as a box of 1.5 x"
        " 0.5 chords as high as the gap; swing your craft to measure it",
    }
    blocks = [CommentedBlock("mass", values, rules, words="masses, with the battery aboard")]
    if tip == 0.0:
        return blocks
    across, along = (_rounded(craft.tip_kg / 12.0 * size**2) for size in (tip, chord))
    values = {
        "mass_kg": _rounded(craft.tip_kg),
        "centre_m": [_rounded(TIP_CENTRE * chord), _rounded(0.5 * tip), 0.0],
        "inertia_kg_m2": [across, along, across + along],
    }
    rules = {"mass_kg": f"its share by area of wings that weigh {100 * WING_MASS:g} % of the craft",
             "centre_m": "middle of the span, 0.42 of the chord",
             "inertia_kg_m2": "a thin plate"}  # fmt: skip
    blocks.append(CommentedBlock("mass.upper_tip", values, rules, words="each tip"))
    values = {"each_kg": _rounded(craft.drive_kg), "centre_m": [_rounded(0.3 * chord), 0.0, 0.0]}
    rules = {"each_kg": f"{100 * DRIVE_MASS:g} % of the craft's mass (common practice)",
             "centre_m": "at the hinge"}  # fmt: skip
    words = "servo, worm gear and hinge, each"
    return [*blocks, CommentedBlock("mass.mechanism", values, rules, words=words)]


def _body_inertia(craft: StartingCraft, body: float) -> tuple[float, float, float]:
    """Moments of inertia of what does not fold, about x, y, z through its centre [kg m^2]."""
    chord, gap, span = craft.chord_m, craft.gap_m, craft.fixed_span_m
    wings = WING_MASS * craft.mass_kg - 2.0 * craft.tip_kg
    places = craft.rotor_places if "rotors" in craft.blocks else []
    motor = MOTOR_MASS * craft.mass_kg
    rest = body - wings - motor * len(places)
    long, wide, high = 1.5 * chord, 0.5 * chord, 0.5 * chord if gap is None else gap
    arm, centre = 0.5 * (gap or 0.0), -0.5 * (gap or 0.0)
    xx = wings * (span**2 / 12.0 + arm**2) + rest * (wide**2 + high**2) / 12.0
    yy = wings * (chord**2 / 12.0 + arm**2) + rest * (long**2 + high**2) / 12.0
    zz = wings * (span**2 + chord**2) / 12.0 + rest * (long**2 + wide**2) / 12.0
    for x, y, z in places:
        ahead, up = x - CENTRE_AT * chord, z - centre
        xx += motor * (y**2 + up**2)
        yy += motor * (ahead**2 + up**2)
        zz += motor * (ahead**2 + y**2)
    return xx, yy, zz


def _drag_block(craft: StartingCraft) -> CommentedBlock:
    area = _rounded(0.01 * craft.area_m2)
    values = {"name": "body, struts and feet", "area_m2": area, "side_area_m2": _rounded(5 * area),
              "normal_area_m2": _rounded(5 * area)}  # fmt: skip
    rules = {"area_m2": "1 % of the wings' area (common practice for a clean small body)",
             "side_area_m2": "five times that along the craft",
             "normal_area_m2": "the same"}  # fmt: skip
    words = "what drags besides wings and rotors"
    return CommentedBlock("drag_areas", values, rules, listed=True, words=words)


def _schedule_block(craft: StartingCraft) -> CommentedBlock:
    slow = craft.stall_speed_m_s
    values = {
        "airspeed_min_m_s": float(f"{1.15 * slow:.3g}"),
        "airspeed_max_m_s": float(f"{2.0 * slow:.3g}"),
        "speeds": 11,
    }
    basis = (
        f"the speed of {slow:.3g} m/s at which the wings alone carry the craft at"
        f" {100 * WING_SHARE:g} % of the section's highest lift (common practice)"
    )
    rules = {"airspeed_min_m_s": f"1.15 of {basis}", "airspeed_max_m_s": "twice that speed"}
    return CommentedBlock("schedule", values, rules, words="what a fold schedule must keep to")


def _log_blocks() -> list[CommentedBlock]:
    columns = {
        "time": {"name": "time_s", "unit": "s"},
        "airspeed": {"name": "airspeed_m_s", "unit": "m/s", "kind": "indicated"},
        "power": {"name": "power_W", "unit": "W"},
        "altitude": {"name": "altitude_m", "unit": "m"},
    }
    words = "how flight logs are written: replace the names by the columns of your logger"
    return [
        CommentedBlock("log", {"configuration": "open"}, words=words),
        CommentedBlock("log.columns", columns),
    ]


def _rounded(value: float) -> float:
    """Four digits are enough for an estimate."""
    return float(f"{value:.4g}")
