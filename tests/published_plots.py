"""Figures of docs/curves.md: our points on published curves."""

from collections.abc import Callable, Iterable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from published_cases import value_of
from published_rotors import blades_figure, elements_figure, past_stall_figure
from reference import lifting_line, sections, wake_forms

from vlm.show.style import COLOURS

CURVES = (*COLOURS[:4], "#777777")
Drawn = tuple[Figure, str]
FAR = {"rows": 2, "strips": 40}
LONG = 20000.0


def trapezoid(aspect: float, **more: object) -> dict[str, object]:
    """A wing with straight edges."""
    return {"shape": "trapezoid", "aspect_ratio": aspect, **more}


def ellipse(aspect: float, **more: object) -> dict[str, object]:
    """An elliptic wing."""
    return {"shape": "ellipse", "aspect_ratio": aspect, **more}


def tipped(height: float) -> dict[str, object]:
    """A wing of span 10 and chord 1 whose tips are ``height`` long."""
    tips = {"span_m": height, "end_chord_m": 1.0}
    return {"shape": "given", "span_m": 10.0, "root_chord_m": 1.0, "end_chord_m": 1.0, "tips": tips}


def empty(across: str, upward: str) -> tuple[Figure, Axes]:
    """A figure with one pair of axes."""
    figure = Figure(figsize=(7.0, 4.6), layout="constrained")
    axes = figure.add_subplot()
    axes.set(xlabel=across, ylabel=upward)
    return figure, axes


def curve(
    axes: Axes,
    x: Iterable[float],
    function: Callable[[float], float],
    label: str,
    color: str,
    **more: object,
) -> None:
    """A published or derived curve."""
    places = list(x)
    axes.plot(places, [function(v) for v in places], color=color, label=label, lw=1.6, **more)  # type: ignore[arg-type]


def ours(
    axes: Axes,
    x: Iterable[float],
    function: Callable[[float], float],
    label: str,
    color: str,
    marker: str = "o",
) -> None:
    """Our points."""
    places = list(x)
    axes.plot(
        places, [function(v) for v in places], marker, color=color, mfc="white", ms=6, label=label
    )


def published(axes: Axes, x: list[float], y: list[float], label: str, color: str) -> None:
    """Published points."""
    axes.plot(x, y, "x", color=color, ms=8, mew=2, label=label)


def sigma_figure() -> Drawn:
    """Prandtl's sigma against the gap."""
    figure, axes = empty("gap over mean span", "mutual drag, sigma")
    gaps = np.linspace(0.02, 0.5, 60)
    table = {
        1.0: ([0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5],
              [0.780, 0.655, 0.561, 0.485, 0.420, 0.370, 0.327, 0.290, 0.258, 0.230]),
        0.8: ([0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5],
              [0.690, 0.600, 0.523, 0.459, 0.401, 0.355, 0.282, 0.230]),
        0.6: ([0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5],
              [0.540, 0.485, 0.437, 0.394, 0.351, 0.315, 0.255, 0.210]),
    }  # fmt: skip

    for (ratio, (x, y)), color in zip(table.items(), CURVES, strict=False):

        def lattice(gap: float, ratio: float = ratio) -> float:
            case = {
                "upper": trapezoid(10.0), "lower": trapezoid(10.0, scale=ratio),
                "gap_m": 5.0 * (1.0 + ratio) * gap, **FAR,
            }  # fmt: skip
            return value_of(case, "mutual_drag", {})

        def exact(gap: float, ratio: float = ratio) -> float:
            return wake_forms.sigma_at_mean_span(gap, ratio)

        curve(axes, gaps, exact, f"quadrature, span ratio {ratio:g}", color)
        published(axes, x, y, f"Prandtl's table, {ratio:g}", color)
        ours(axes, [0.05, 0.1, 0.2, 0.3, 0.4, 0.5], lattice, f"lattice, {ratio:g}", color)
    axes.legend(fontsize=8, ncols=2)
    return figure, (
        "Mutual induced drag of two elliptic loadings: Prandtl's table (from memory), quadrature"
        " (derived) and the wake of the lattice."
    )


def efficiency_figure() -> Drawn:
    """Best span efficiency against height."""
    figure, axes = empty("height or gap over span", "best span efficiency")
    heights = np.linspace(0.01, 0.5, 40)
    places = [0.05, 0.1, 0.2, 0.3, 0.4, 0.5]
    flat = {"reference": {"span_m": 10.0}, "rows": 2, "strips": 60}

    def box(h: float) -> float:
        case = {"upper": tipped(10 * h), "lower": trapezoid(10.0), "gap_m": 10 * h, "fold_deg": -90}
        return value_of(case | flat, "best_span_efficiency", {})

    def ends(h: float) -> float:
        return value_of(
            {"upper": tipped(10 * h), "fold_deg": 90} | flat, "best_span_efficiency", {}
        )

    def pair(h: float) -> float:
        case = {"upper": trapezoid(10.0), "lower": trapezoid(10.0), "gap_m": 10 * h, **FAR}
        return value_of(case, "best_span_efficiency", {})

    def bent(h: float) -> float:
        case = {"upper": {"shape": "arc", "height": h}, "rows": 2, "strips": 60}
        return value_of(case, "best_span_efficiency", {})

    shapes = (
        ("closed box", wake_forms.box, box),
        ("ends turned up", wake_forms.winglets, ends),
        ("biplane", wake_forms.biplane, pair),
        ("circular arc", wake_forms.arc, bent),
    )
    for (name, exact, lattice), color in zip(shapes, CURVES, strict=False):
        curve(axes, heights[1:], exact, f"{name}, exact", color)
        ours(axes, places, lattice, f"{name}, lattice", color)
    curve(
        axes, heights, lambda r: (1.04 + 2.81 * r) / (1.0 + 0.45 * r), "box, Prandtl's fit",
        CURVES[4], ls="--",
    )  # fmt: skip
    published(axes, [0.2, 0.2, 0.2], [1.46, 1.41, 1.36], "Kroo 2005", "black")
    axes.legend(fontsize=8, ncols=2)
    return figure, (
        "Least induced drag of bent wakes: exact curves by series and conformal maps (derived),"
        " Prandtl's fit and Kroo's values (from memory), and the wake of the lattice."
    )


def slope_figure() -> Drawn:
    """Lift slope against aspect ratio."""
    figure, axes = empty("aspect ratio", "lift slope [1/rad]")
    aspects = np.geomspace(0.2, 20.0, 80)
    curve(
        axes,
        aspects[aspects < 2.6],
        lambda a: 0.5 * np.pi * a,
        "slender wing, Jones 1946",
        CURVES[4],
    )
    curve(
        axes, aspects, lambda a: 2 * np.pi * a / (2 + np.sqrt(a**2 + 4)), "Helmbold 1942", CURVES[1]
    )
    curve(
        axes, aspects[aspects > 1], lambda a: 2 * np.pi * a / (a + 2),
        "lifting line, ellipse, Prandtl 1918", CURVES[0],
    )  # fmt: skip
    curve(
        axes, aspects[aspects < 2.6], lambda a: np.degrees(1.0) / (36.5 / a + 2.0 * a),
        "tests, Hoerner 1975", CURVES[3], ls="--",
    )  # fmt: skip

    def rectangle(a: float) -> float:
        case = {"upper": trapezoid(a), "extrapolate": True}
        return value_of(case, "derivative", {"key": "CL_alpha"})

    def rounded(a: float) -> float:
        return value_of({"upper": ellipse(a)}, "derivative", {"key": "CL_alpha"})

    places = [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 14.0, 20.0]
    ours(axes, places, rectangle, "lattice, rectangle", CURVES[2])
    ours(axes, places[2:], rounded, "lattice, ellipse", CURVES[2], "s")
    published(axes, [1.0, 4.0 / np.pi], [1.46023, 1.790002], "Tuck 1993, Jordan 1973", "black")
    axes.set_xscale("log")
    axes.set_ylim(0.0, 6.3)
    axes.legend(fontsize=8)
    return figure, (
        "Lift slope of flat wings. Formulas from memory. The lattice leaves the slender limit and"
        " comes to the lifting line from below."
    )


def tip_figure() -> Drawn:
    """Dihedral effect of the tips alone."""
    figure, axes = empty(
        "fold line, fraction of the half span", "dihedral effect of tips over that of whole wings"
    )
    etas = np.linspace(0.0, 0.98, 60)
    places = [0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9]
    curve(
        axes,
        etas,
        lambda e: (1 - e**2) ** 1.5,
        "lifting line, ellipse",
        CURVES[0],
    )
    line = lifting_line.trapezoid(6.0)
    curve(
        axes, np.linspace(0.05, 0.95, 19), lambda e: lifting_line.tip_factor(line, e),
        "lifting line, rectangle of aspect ratio 6", CURVES[1],
    )  # fmt: skip

    def folded(wing: Callable[..., dict[str, object]], cut: float) -> float:
        case = {"upper": wing(6.0, tips_from=cut), "fold_deg": 0.5}
        return value_of(case, "derivative_per_dihedral", {"key": "Cl_beta"})

    whole = {wing: folded(wing, 0.001) for wing in (ellipse, trapezoid)}
    ours(
        axes,
        places,
        lambda e: folded(ellipse, e) / whole[ellipse],
        "lattice, ellipse",
        CURVES[0],
        "s",
    )
    ours(
        axes,
        places,
        lambda e: folded(trapezoid, e) / whole[trapezoid],
        "lattice, rectangle",
        CURVES[1],
    )
    axes.legend(fontsize=8)
    return figure, (
        "Dihedral of the tips alone against dihedral of the whole wing, aspect ratio 6: lifting"
        " line (Pearson and Jones 1938 for the subject, curves derived) and tips folded by half a"
        " degree."
    )


def share_figure() -> Drawn:
    """Load share against stagger."""
    figure, axes = empty("stagger over chord, upper wing ahead", "lift of upper over lower wing")
    staggers = np.linspace(-1.0, 1.5, 40)
    for gap, color in ((0.75, CURVES[1]), (1.0, CURVES[0]), (1.5, CURVES[2])):

        def plane(stagger: float, gap: float = gap) -> float:
            return sections.plate_ratio(gap, stagger)

        def wide(stagger: float, gap: float = gap) -> float:
            case = {
                "upper": trapezoid(LONG), "lower": trapezoid(LONG), "gap_m": gap,
                "stagger_m": stagger, "alpha_deg": 0.01, "rows": 12, "strips": 12,
            }  # fmt: skip
            return value_of(case, "centre_upper_over_lower", {})

        def finite(stagger: float, gap: float = gap) -> float:
            case = {
                "upper": trapezoid(6.0), "lower": trapezoid(6.0), "gap_m": gap,
                "stagger_m": stagger, "alpha_deg": 0.01,
            }  # fmt: skip
            return value_of(case, "upper_over_lower_lift", {})

        curve(axes, staggers, plane, f"plane flow, gap {gap:g} chords", color)
        ours(axes, [-0.5, 0.0, 0.5, 1.0], wide, "lattice, endless wings", color)
        ours(axes, [-0.5, 0.0, 0.5, 1.0], finite, "lattice, aspect ratio 6", color, "s")
    axes.legend(fontsize=7, loc="upper left")
    return figure, (
        "Share of the load against stagger: two plates in plane flow by a series (derived; the"
        " theory is Kutta's, 1911, and Munk's, 1922) and the lattice, endless and of aspect"
        " ratio 6."
    )


def rolling_figure() -> Drawn:
    """Roll damping against aspect ratio."""
    figure, axes = empty("aspect ratio", "roll damping, -Cl_p [1]")
    aspects = np.linspace(0.3, 20.0, 80)
    curve(axes, aspects, lambda a: np.pi * a / (4 * (a + 4)), "lifting line, ellipse", CURVES[0])
    curve(
        axes,
        aspects[aspects < 3.5],
        lambda a: np.pi * a / 32,
        "slender triangle, Jones 1946",
        CURVES[4],
    )
    places = [2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0]

    def damping(wing: dict[str, object]) -> float:
        return -value_of({"upper": wing}, "derivative", {"key": "Cl_p"})

    ours(axes, places, lambda a: damping(ellipse(a)), "lattice, ellipse", CURVES[0], "s")
    ours(
        axes, [0.3, 0.5, 1.0, 2.0], lambda a: damping({"shape": "delta", "aspect_ratio": a}),
        "lattice, triangle", CURVES[4], "^",
    )  # fmt: skip
    published(axes, [6.0], [0.87 * np.pi * 6 / 40], "Swanson and Priddy 1945", "black")
    axes.legend(fontsize=8)
    return figure, (
        "Damping in roll: lifting line (Pearson and Jones 1938, closed form derived), slender wing"
        " (from memory), lifting surface of Swanson and Priddy (read), and the lattice."
    )


def drawn_figures() -> dict[str, Drawn]:
    """Figure and caption by name."""
    return {
        "lift_slope": slope_figure(),
        "sigma": sigma_figure(),
        "span_efficiency": efficiency_figure(),
        "tip_dihedral": tip_figure(),
        "load_share": share_figure(),
        "roll_damping": rolling_figure(),
        "rotor_elements": elements_figure(),
        "rotor_blades": blades_figure(),
        "past_stall": past_stall_figure(),
    }
