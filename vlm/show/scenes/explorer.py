"""A window to explore a craft: sliders and keys over a session. It draws and asks, no more.

Needs the extra ``view``. Without a screen it works off screen too, which is how it is tested.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from textwrap import wrap
from typing import Any

from vlm.disk import write_whole
from vlm.errors import FoldspanError
from vlm.show.scenes.pictures import (
    BACKGROUND,
    DIRECTIONS,
    INK,
    SIZE,
    SMALLER,
    add_lines,
    add_surface,
    aimed,
    caption,
    picture_bytes,
    written,
)
from vlm.show.scenes.scene import COLOURINGS, Meshes, Scales, meshes, pyvista
from vlm.show.scenes.traces import Traces
from vlm.show.text.layout import cut
from vlm.study.point.fold_trace import FoldTrace, FoldTracer
from vlm.study.point.session import Scene, Session, Setting

ALARM = "#a30000"
# Smooth edges cost most of the time of a step where there is no graphics card.
FEW_SAMPLES = 0
ASIDE, BESIDE_TRACES = (-0.22, -0.27), 0.8
# Letters in a line of the numbers and of a message, and where a message stands.
NARROW, WIDE = 42, 100
MESSAGE_AT = (0.03, 0.455)
HELP = """l  lock the tips together
n  next configuration
x  swap port and starboard
d  next direction
c  next colouring
k  keep a picture
t  tell the command
q  quit"""
CAUTION = "an estimate, not a flight clearance;\nexpand the envelope step by step"
LONGEST_TITLE = 64
"""Letters of a title that end before the caution."""


@dataclass(frozen=True)
class Slider:
    """One slider: what of the setting it moves, its words, range, step and place.

    ``place`` is where it begins and ends across the window and how high, shares of the window.
    """

    field: str
    words: str
    low: float
    high: float
    step: float
    place: tuple[float, float, float]


def sliders_of(session: Session) -> list[Slider]:
    """The sliders that a craft has; a craft without tips has none for folds."""
    low, high = session.craft.fold_range_deg
    folds = [
        Slider("left_deg", "port fold [deg]", low, high, 1.0, (0.03, 0.33, 0.18)),
        Slider("right_deg", "starboard fold [deg]", low, high, 1.0, (0.37, 0.67, 0.18)),
    ]
    air = [
        Slider("alpha_deg", "angle of attack [deg]", -10.0, 20.0, 0.5, (0.03, 0.23, 0.065)),
        Slider("beta_deg", "sideslip [deg]", -20.0, 20.0, 0.5, (0.25, 0.45, 0.065)),
        Slider("airspeed_m_s", "airspeed [m/s]", 4.0, 40.0, 0.5, (0.47, 0.67, 0.065)),
    ]
    return (folds if session.craft.tips else []) + air


class Explorer:
    """The window and its state.

    Parameters
    ----------
    session : the craft held ready
    setting : where to begin
    file : the geometry file's name, for the command that is reported
    folder : where pictures are kept
    off_screen : whether to draw without a window
    tell : called with lines for the user

    Raises
    ------
    InputRefused : the extra is not installed, or the first setting cannot be built
    """

    def __init__(
        self,
        session: Session,
        setting: Setting,
        *,
        file: str = "FILE",
        folder: Path | None = None,
        off_screen: bool = False,
        tell: Callable[[str], None] = lambda _: None,
    ) -> None:
        self.session, self.setting, self.file = session, setting, file
        self.folder, self.tell = folder or Path(), tell
        self.locked = False
        self.message, self.refused = "", False
        self.sliders: dict[str, Any] = {}
        self._names = list(session.craft.configurations)
        self._configuration = -1
        self._direction = next(iter(DIRECTIONS))
        self._colouring = next(iter(COLOURINGS.values()))
        self.scene: Scene = session.scene(setting)
        self._scales = Scales.of(self.scene)
        self._parts: Meshes = meshes(self.scene, self._scales)
        # Loads of a craft with fins hold for one state, see Session: it has no trace.
        traced = bool(session.craft.tips) and not session.craft.fins
        self._tracer = FoldTracer(session) if traced else None
        self._traces: Traces | None = None
        self._trace: tuple[Setting, FoldTrace] | None = None
        self.plotter: Any = pyvista().Plotter(off_screen=off_screen, window_size=list(SIZE))
        self._build()

    def show(self) -> None:
        """Open the window and stay until it is closed."""
        self.plotter.show(title=f"foldspan explore: {self.session.craft.title}")

    def pixels(self) -> Any:
        """What the window shows now, shape (height, width, 3)."""
        return self.plotter.screenshot(return_img=True)

    def command(self) -> str:
        """The command that gives the numbers of this setting, on this lattice."""
        grid = self.session.grid
        lattice = f"--rows {grid.rows} --strips {grid.strips}"
        return f"foldspan point {self.file} {self.setting.options()} {lattice}"

    def moved(self, **changes: float) -> bool:
        """Ask for a changed setting; whether it could be built.

        A setting that cannot be built leaves the last one standing, and says why.
        """
        done = self._ask(**changes)
        self._show()
        return done

    # --- keys ------------------------------------------------------------------------------

    def lock(self) -> None:
        """Lock the tips together, port leading, or let them go."""
        self.locked = not self.locked
        if self.locked and self.setting.left_deg != self.setting.right_deg:
            self._ask(left_deg=self.setting.left_deg, right_deg=self.setting.left_deg)
        self._show()

    def next_configuration(self) -> None:
        """Step to the next named configuration of the file."""
        if not self._names:
            self.message, self.refused = "the file names no configurations", True
            self._show()
            return
        self._configuration = (self._configuration + 1) % len(self._names)
        name = self._names[self._configuration]
        folds = self.session.craft.configurations[name].folds
        self.locked = self.locked and folds.is_symmetric
        if self._ask(left_deg=folds.left_deg, right_deg=folds.right_deg):
            self.message = f"configuration {name}"
        self._show()

    def swap(self) -> None:
        """Exchange port and starboard folds."""
        self.moved(left_deg=self.setting.right_deg, right_deg=self.setting.left_deg)

    def next_direction(self) -> None:
        """Look from the next named direction."""
        names = list(DIRECTIONS)
        self._direction = names[(names.index(self._direction) + 1) % len(names)]
        self._aim()
        self._show()

    def next_colouring(self) -> None:
        """Colour the panels by the other array."""
        arrays = list(COLOURINGS.values())
        self._colouring = arrays[(arrays.index(self._colouring) + 1) % len(arrays)]
        self.plotter.remove_scalar_bar()
        self._add_surface()
        self.plotter.render()

    def keep_picture(self) -> Path:
        """Write what the window shows as the next free foldspan-N.png."""
        path = next(
            path for n in count(1) if not (path := self.folder / f"foldspan-{n}.png").exists()
        )
        write_whole(path, picture_bytes(self.pixels()))
        self.tell(f"wrote {path}")
        return path

    def tell_command(self) -> None:
        """Tell the command that reproduces the setting."""
        self.tell(self.command())

    # --- drawing ---------------------------------------------------------------------------

    def _build(self) -> None:
        plotter = self.plotter
        plotter.set_background(BACKGROUND)
        plotter.render_window.SetMultiSamples(FEW_SAMPLES)
        self._add_surface()
        add_lines(plotter, self._parts)
        plotter.add_axes(xlabel="x aft", ylabel="y starboard", zlabel="z up", color=INK,
                         viewport=(0.68, 0.0, 0.86, 0.24))  # fmt: skip
        written(plotter, HELP, "upper_right", "help")
        written(plotter, CAUTION, "upper_edge", "caution")  # above the craft and its tips
        for slider in sliders_of(self.session):
            self.sliders[slider.field] = self._add_slider(slider)
        keys = {"l": self.lock, "n": self.next_configuration, "x": self.swap,
                "d": self.next_direction, "c": self.next_colouring,
                "k": self.keep_picture, "t": self.tell_command}  # fmt: skip
        for key, action in keys.items():
            plotter.add_key_event(key, action)
        if self._tracer is not None:
            self._traces = Traces(plotter, self._tracer.trace(self.setting))
            self._draw_traces()
        self._aim()
        plotter.camera.SetWindowCenter(*ASIDE)
        self._write()

    def _aim(self) -> None:
        """Look from the named direction, from so far that the craft stands beside its numbers."""
        aimed(self.plotter, self._direction, self.scene)
        self.plotter.camera.zoom(SMALLER * BESIDE_TRACES)

    def _add_surface(self) -> None:
        add_surface(self.plotter, self._parts.surface, self._colouring, self._scales)

    def _add_slider(self, slider: Slider) -> Any:
        def asked(value: float) -> None:
            stepped = min(max(round(value / slider.step) * slider.step, slider.low), slider.high)
            both = self.locked and slider.field in ("left_deg", "right_deg")
            fields = ("left_deg", "right_deg") if both else (slider.field,)
            changes = {field: float(stepped) for field in fields}
            if any(getattr(self.setting, field) != new for field, new in changes.items()):
                self.moved(**changes)
            else:
                # The hand stands between two steps: show the step that holds.
                self._put_sliders()

        start, end, height = slider.place
        widget = self.plotter.add_slider_widget(
            asked, (slider.low, slider.high), value=getattr(self.setting, slider.field),
            title=f"{slider.words}, {slider.low:g} to {slider.high:g}", pointa=(start, height),
            pointb=(end, height), color=INK,
            title_height=0.018, slider_width=0.022, tube_width=0.004, fmt="%.4g",
            interaction_event="always",
        )  # fmt: skip
        widget.GetRepresentation().SetLabelHeight(0.016)
        return widget

    def _ask(self, **changes: float) -> bool:
        """Take a changed setting if it can be built, without drawing it."""
        wanted = replace(self.setting, **changes)
        try:
            scene = self.session.scene(wanted)
        except FoldspanError as error:
            self.message, self.refused = str(error), True
            return False
        self.setting, self.scene, self.message, self.refused = wanted, scene, "", False
        self._rescale()
        self._remesh()
        self._draw_traces()
        return True

    def _show(self) -> None:
        """Put sliders and texts where the setting is, and draw all of it once."""
        self._put_sliders()
        self._write()
        self.plotter.render()

    def _put_sliders(self) -> None:
        for field, widget in self.sliders.items():
            widget.GetRepresentation().SetValue(getattr(self.setting, field))

    def _draw_traces(self) -> None:
        """Curves where angles or air have changed; where the tips stand, always."""
        if self._tracer is None or self._traces is None:
            return
        state = replace(self.setting, left_deg=0.0, right_deg=0.0)
        if self._trace is None or self._trace[0] != state:
            self._trace = state, self._tracer.trace(state)
        self._traces.shown(self._trace[1], self.setting)

    def _rescale(self) -> None:
        """Draw loads on another scale where they would leave the window, or hardly show."""
        if self._scales.suit(self.scene):
            return
        self._scales = Scales.of(self.scene)
        self.message = "loads and colours on another scale"
        self.plotter.remove_scalar_bar()
        self._add_surface()

    def _remesh(self) -> None:
        new = meshes(self.scene, self._scales)
        new.surface.set_active_scalars(self._colouring, preference="cell")
        for name in ("surface", "wake", "load", "outline", "hinges", "forces"):
            getattr(self._parts, name).copy_from(getattr(new, name))

    def _of_curves(self) -> list[str]:
        """How the curves are to be read, or why there are none."""
        if self._tracer is not None:
            return ["curves: the tips stand at the dashes,", "port red, starboard green; a gap",
                    "where a tip touches a wing"]  # fmt: skip
        if self.session.craft.tips:
            return ["no curves against fold: loads of a", "craft with fins hold for one state"]
        return []

    def _write(self) -> None:
        locked = "tips locked together" if self.locked else "tips free of each other"
        seen = wrap(f"seen {DIRECTIONS[self._direction].words}", NARROW)
        title, *rest = caption(self.scene).splitlines()
        lines = [cut(title, LONGEST_TITLE), *rest, "", locked, *seen, *self._of_curves()]
        text = "\n".join(lines)
        written(self.plotter, text, "upper_left", "numbers")
        self.plotter.add_text(
            "\n".join(wrap(self.message, WIDE)) or " ", position=MESSAGE_AT, viewport=True,
            font_size=9, name="message", render=False, color=ALARM if self.refused else INK,
        )  # fmt: skip
