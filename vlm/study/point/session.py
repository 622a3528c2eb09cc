"""A craft held ready: any fold and flight state to arrays and numbers, quickly.

It is what pictures and the explorer stand on. Nothing here draws.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from vlm.constants import DEFAULT_AIRSPEED, SEA_LEVEL_DENSITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flight.craft.rotor_slopes import idle_slopes
from vlm.flow.direction import wake_direction
from vlm.lattice.cellule import Cellule, Grid
from vlm.lattice.lattice import resolved
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import chord_rows, row_extents
from vlm.loads.coefficients import coefficients, derivatives, neutral_point
from vlm.loads.craft_loads import GeneralLoads, loads_of_state
from vlm.loads.fold_engine import Charted, FoldEngine
from vlm.loads.segment_forces import PatchForces, patch_forces
from vlm.loads.state import FlightState
from vlm.sides import Side
from vlm.study.point.errors import error_floors, refinement
from vlm.study.point.evaluation import evaluated
from vlm.study.point.model_spread import model_spread
from vlm.study.point.point import solve_point
from vlm.study.point.rotors_across import turned_signs
from vlm.study.point.sizes import surface_areas, tip_sizes
from vlm.study.point.validity import state_warnings

SHOWN_NUMBERS = ("CL", "CDi", "CY", "Cl", "Cm", "Cn", "span_efficiency", "best_span_efficiency")
SHOWN_SLOPES = ("CL_alpha", "Cm_alpha", "Cl_beta", "Cn_beta", "Cl_p")


@dataclass(frozen=True)
class Setting:
    """What a viewer asks for: folds, angles and air, in the units of the command line.

    Attributes
    ----------
    left_deg, right_deg : commanded folds of port and starboard [deg]
    alpha_deg, beta_deg : angle of attack, sideslip [deg]
    airspeed_m_s : [m/s]
    density_kg_m3 : [kg/m^3]
    """

    left_deg: float = 0.0
    right_deg: float = 0.0
    alpha_deg: float = 4.0
    beta_deg: float = 0.0
    airspeed_m_s: float = DEFAULT_AIRSPEED
    density_kg_m3: float = SEA_LEVEL_DENSITY

    @property
    def folds(self) -> FoldAngles:
        """The commanded folds."""
        return FoldAngles(self.left_deg, self.right_deg)

    @property
    def flight_state(self) -> FlightState:
        """The flight state, in radians."""
        return FlightState(
            alpha=float(np.radians(self.alpha_deg)),
            beta=float(np.radians(self.beta_deg)),
            airspeed=self.airspeed_m_s,
            density=self.density_kg_m3,
        )

    def options(self) -> str:
        """Options of the command line that ask for this setting."""
        return (
            f"--fold-left {self.left_deg:.12g} --fold-right {self.right_deg:.12g}"
            f" --alpha {self.alpha_deg:.12g} --beta {self.beta_deg:.12g}"
            f" --airspeed {self.airspeed_m_s:.12g} --density {self.density_kg_m3:.12g}"
        )


@dataclass(frozen=True)
class SurfaceView:
    """One patch as it is drawn: panels from the leading to the trailing edge, and their loads.

    Attributes
    ----------
    wing, side, part : as those of the patch; a fin in the plane of symmetry stands once
    corners : shape (rows + 1, strips + 1, 3), corners of the panels, geometry axes [m]
    pressure : shape (rows, strips), pressure difference, positive where it pushes the panel
        toward its upper side [Pa]
    strip_load : shape (strips,), force across the wing over width, likewise positive [N/m]
    strip_normal : shape (strips, 3), the wing's upward normal there [1]
    """

    wing: str
    side: Side
    part: str
    corners: Floats
    pressure: Floats
    strip_load: Floats
    strip_normal: Floats


@dataclass(frozen=True)
class HingeView:
    """A hinge as it is drawn.

    Attributes
    ----------
    ends : shape (2, 3), where the hinge line meets the leading and the trailing edge [m]
    force : shape (3,), force of the air on all that hangs on it, geometry axes [N]
    moment : of the air about the hinge, positive raises the tip [N m]
    """

    ends: Floats
    force: Floats
    moment: float


@dataclass(frozen=True)
class Scene:
    """A craft at one setting: arrays to draw and numbers to write beside them.

    Attributes
    ----------
    title : of the craft
    setting : what was asked for
    surfaces : the patches
    trailing : shape (n, 3), points of the trailing edges from which wake traces start [m]
    wake_direction : shape (3,), unit vector along the wake
    hinges : by tip ("upper_left", ...)
    numbers : by the names of the quantity table
    half_widths : of some of them, from one lattice: the least that its error is taken for, and what
        the model leaves open
    moment_point : shape (3,) [m]
    size : a length to scale the picture with, the reference span [m]
    warnings : sentences on the limits of the model
    errors : half-widths as ``point`` gives them, from two lattices; empty where they were not
        worked out
    turned : names of numbers whose signs are of wings and fins alone, and which rotors may turn
    """

    title: str
    setting: Setting
    surfaces: tuple[SurfaceView, ...]
    trailing: Floats
    wake_direction: Floats
    hinges: dict[str, HingeView]
    numbers: dict[str, float]
    half_widths: dict[str, float]
    moment_point: Floats
    size: float
    warnings: tuple[str, ...] = field(default=())
    errors: Mapping[str, float] = field(default_factory=dict)
    turned: tuple[str, ...] = ()


class Session:
    """A craft held ready for many settings.

    Parameters
    ----------
    craft : the description
    grid : rows, strips and spacing laws
    charted : which folds are read off a chart, where many are asked for
    """

    def __init__(self, craft: Biplane, grid: Grid | None = None, charted: Charted = "none") -> None:
        self.craft = craft
        self._engine = FoldEngine(craft, grid or Grid(), fold_rates=False, charted=charted)
        self._last: tuple[FoldAngles, GeneralLoads] | None = None

    @property
    def cellule(self) -> Cellule:
        """The craft flat, with its hinges."""
        return self._engine.cellule

    @property
    def grid(self) -> Grid:
        """Rows, strips and spacing laws of every lattice."""
        return self._engine.grid

    def loads(self, folds: FoldAngles) -> GeneralLoads:
        """Loads at a fold setting; the last one is kept.

        Raises
        ------
        InputRefused : the fold is beyond its limits, or surfaces cross
        ComputationFailed : the system is singular
        """
        if self._last is None or self._last[0] != folds:
            self._last = (folds, self._engine.loads(folds))
        return self._last[1]

    def scene(self, setting: Setting) -> Scene:
        """Everything to draw at a setting; raises as :meth:`loads` does."""
        state = setting.flight_state
        loads = self._loads_at(setting.folds, state)
        amounts = state.amounts(loads.reference, loads.columns) * setting.airspeed_m_s
        patches = patch_forces(loads, amounts, setting.density_kg_m3)
        trailing = [forces.patch.nodes[-1] for forces in patches]
        numbers, widths = self._numbers(loads, state), self._half_widths(loads, state)
        return Scene(
            title=self.craft.title,
            setting=setting,
            surfaces=tuple(
                surface_view(loads, forces)
                for forces in patches
                if not (forces.patch.on_plane and forces.patch.side is Side.PORT)
            ),
            trailing=np.concatenate(trailing),
            wake_direction=wake_direction(state.alpha, state.beta),
            hinges=_hinges(loads, patches),
            numbers=numbers,
            half_widths=widths,
            moment_point=loads.reference.moment_point,
            size=loads.reference.span,
            warnings=tuple(finding.sentence() for finding in state_warnings(state)),
            turned=self._turned(numbers, widths, state),
        )

    def _loads_at(self, folds: FoldAngles, state: FlightState) -> GeneralLoads:
        """Loads for one state, those of ``point``.

        In sideslip they are solved for it, as tables between angles of sideslip differ from that in
        the third digit; with fins always, as between tabulated angles the wake of one surface may
        meet a fin behind it.
        """
        if not self.craft.fins and state.beta == 0.0:
            return self.loads(folds)
        lattice = resolved(self.cellule, self.craft, folds)
        return loads_of_state(lattice, state, fold_rates=False)

    def scene_with_errors(self, setting: Setting) -> Scene:
        """The same with the errors that a second lattice shows.

        Raises
        ------
        InputRefused : the fold cannot be built
        """
        state = setting.flight_state
        report = solve_point(self.craft, setting.folds, state, grid=self.grid)
        scene, errors = self.scene(setting), report.half_widths
        turned = self._turned(scene.numbers, {**scene.half_widths, **errors}, state)
        return replace(scene, errors=errors, turned=turned)

    def _turned(
        self, numbers: Mapping[str, float], widths: Mapping[str, float], state: FlightState
    ) -> tuple[str, ...]:
        """Numbers whose signs rotors may turn."""
        at = float(state.alpha), float(state.airspeed), float(state.density)
        rotors = idle_slopes(self.craft, self.cellule.reference, *at)
        return tuple(turned_signs(numbers, widths, rotors))

    def _half_widths(self, loads: GeneralLoads, state: FlightState) -> dict[str, float]:
        sizes = surface_areas(self.cellule), tip_sizes(self.cellule)
        values = evaluated(loads, state, *sizes)
        floors = error_floors(loads, state, values, *sizes)
        spread = model_spread(loads, state, values)
        scale = refinement(self._engine.grid)
        return {
            name: float(width) + scale * float(floors.get(name, 0.0)) + loads.errors.get(name, 0.0)
            for name, width in spread.items()
        }

    def _numbers(self, loads: GeneralLoads, state: FlightState) -> dict[str, float]:
        values, slopes = coefficients(loads, state), derivatives(loads, state)["body"]
        point, margin = neutral_point(loads, slopes)
        shown = {name: float(getattr(values, name)) for name in SHOWN_NUMBERS}
        shown |= {name: float(slopes[name]) for name in SHOWN_SLOPES}
        return shown | {"neutral_point_m": float(point), "static_margin": float(margin)}


def panel_corners(loads: GeneralLoads, patch: Patch) -> Floats:
    """Corners of a patch's panels, shape (rows + 1, strips + 1, 3) [m].

    A panel is the part of the chord that its vortex stands for. Chords are straight, so its
    edges lie on the line through the nodes.
    """
    grid = loads.lattice.grid
    first = float(chord_rows(patch.rows, grid.chord_law)[0][0])
    edges = np.concatenate([[0.0], np.cumsum(row_extents(patch.rows, grid.chord_law))])
    trail = patch.nodes[-1]
    chord = (trail - patch.nodes[0]) / (1.0 - first)
    return np.asarray(trail + (edges[:, None, None] - 1.0) * chord)


def surface_view(loads: GeneralLoads, forces: PatchForces) -> SurfaceView:
    """A patch with the pressure difference of each panel and the load of each strip.

    A fin in the plane of symmetry carries the loads of both of its copies.
    """
    patch = forces.patch
    corners = panel_corners(loads, patch)
    diagonals = corners[1:, 1:] - corners[:-1, :-1], corners[1:, :-1] - corners[:-1, 1:]
    vectors = 0.5 * np.cross(*diagonals)
    vectors *= np.sign(np.sum(vectors * patch.normals, axis=-1, keepdims=True))
    areas = np.linalg.norm(vectors, axis=-1)
    across = np.sum(_panel_forces(forces) * vectors, axis=-1) / (areas * patch.share)
    normal = vectors.sum(axis=0)
    return SurfaceView(
        wing=patch.wing,
        side=patch.side,
        part=patch.part,
        corners=corners,
        pressure=across / areas,
        strip_load=across.sum(axis=0) / patch.width,
        strip_normal=normal / np.linalg.norm(normal, axis=-1, keepdims=True),
    )


def _panel_forces(forces: PatchForces) -> Floats:
    """Force on every panel, shape (rows, strips, 3): its bound segment and half of each side's.

    An edge's force belongs wholly to the strip beside it.
    """
    rows, strips = forces.patch.rows, forces.patch.strips
    split = rows * strips
    total = forces.forces[:split].reshape(rows, strips, 3).copy()
    sides = forces.forces[split:].reshape(rows, strips + 1, 3)
    total[:, :-1] += 0.5 * sides[:, 1:-1]
    total[:, 1:] += 0.5 * sides[:, 1:-1]
    total[:, 0] += sides[:, 0]
    total[:, -1] += sides[:, -1]
    return np.asarray(total)


def _hinges(loads: GeneralLoads, patches: list[PatchForces]) -> dict[str, HingeView]:
    found = {}
    for body, line in loads.lattice.hinges.items():
        own = [forces for forces in patches if forces.patch.body == body]
        points = np.concatenate([forces.points for forces in own])
        pushes = np.concatenate([forces.forces for forces in own])
        force = pushes.sum(axis=0)
        moment = line.moment(force, np.cross(points, pushes).sum(axis=0), np.zeros(3))
        inner = min(own, key=lambda forces: float(forces.patch.span_position[0])).patch
        edge = panel_corners(loads, inner)[:, 0]
        found[body] = HingeView(edge[[0, -1]], force, float(moment))
    return found
