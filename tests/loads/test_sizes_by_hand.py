"""Sizes, shares and moments read off made-up tables, worked out with loops.

The definitions are those of the docs (accuracy): a quantity's natural size is the sum of the
magnitudes of its parts, by mirrored pair of patches and by pair of unit flows. No other source.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import Floats
from vlm.loads.all_sizes import all_sizes, hinge_sizes
from vlm.loads.coefficients import (
    contracted,
    named_coefficients,
    neutral_point,
    span_efficiency,
)
from vlm.loads.misses import largest_misses
from vlm.loads.model_spread import SHARE, spread_scale, spread_sizes, wake_spread
from vlm.loads.parts import about_hinges, hinge_loads, strip_circulations, surface_shares
from vlm.loads.sizes import natural_sizes, span_efficiency_size, surface_sizes
from vlm.loads.state import FlightState

AREA, SPAN, CHORD = 0.4, 1.25, 0.3
REFERENCE = SimpleNamespace(
    area=AREA, span=SPAN, chord=CHORD, aspect_ratio=SPAN**2 / AREA, moment_point=np.zeros(3)
)
STATE = FlightState(
    alpha=0.2, beta=-0.1, p_hat=0.03, q_hat=-0.01, r_hat=0.02, airspeed=11.0, density=1.1
)


def line(scale: float) -> SimpleNamespace:
    """A hinge whose moment is that of y and half of the force along z."""
    return SimpleNamespace(
        moment=lambda force, moment, _: scale * (moment[..., 1] + force[..., 2] / 2)
    )


def made() -> SimpleNamespace:
    """Three patches to starboard, a wing, its tip and a fin, and their images; seven columns."""
    random = np.random.default_rng(3)
    kinds = (
        ("upper", "fixed", [0.2, 0.3]),
        ("upper", "upper_right", [0.05]),
        ("keel", "fixed", [0.1]),
    )
    patches = [
        SimpleNamespace(wing=wing, body=body.replace("right", side), width=np.array(width))
        for side in ("right", "left") for wing, body, width in kinds
    ]  # fmt: skip
    half = random.normal(size=(6, 7, 7))
    drag = np.einsum("pab,pcb->pac", half, half)
    tables = SimpleNamespace(
        wrench=random.normal(size=(6, 7, 7, 6)), drag=drag, total_drag=drag.sum(axis=0),
        strips=random.normal(size=(8, 7)),
    )  # fmt: skip
    tables.total = tables.wrench.sum(axis=0)
    tables.best_efficiency = np.asarray(1.1)
    lattice = SimpleNamespace(
        patches=patches, hinges={"upper_right": line(1.0), "upper_left": line(-2.0)},
        reference=REFERENCE, folds={"upper_right": -0.6, "upper_left": 0.2},
    )  # fmt: skip
    return SimpleNamespace(
        reference=REFERENCE, columns=7, lattice=lattice, tables=lambda _: tables, known=tables
    )


def amounts() -> Floats:
    """The air's three components, and the rates 2 p_hat / b, 2 q_hat / c, 2 r_hat / b."""
    a, b = 0.2, -0.1
    return np.array([
        np.cos(a) * np.cos(b), -np.sin(b), np.sin(a) * np.cos(b),
        0.03 * 2 / SPAN, -0.01 * 2 / CHORD, 0.02 * 2 / SPAN, 0.0,
    ])  # fmt: skip


LIFT = np.array([-np.sin(0.2), 0.0, np.cos(0.2)])


def named(wrench: Floats) -> dict[str, float]:
    """Coefficients by the signs of the conventions: roll and yaw turn against the axes x and z."""
    return {
        "CL": 2.0 * wrench[:3] @ LIFT / AREA,
        "CY": 2.0 * wrench[1] / AREA,
        "Cl": -2.0 * wrench[3] / (AREA * SPAN),
        "Cm": 2.0 * wrench[4] / (AREA * CHORD),
        "Cn": -2.0 * wrench[5] / (AREA * SPAN),
    }


def by_loops(loads: SimpleNamespace, patches: list[int], change: Floats | None = None) -> dict:
    """Sizes of the coefficients of some patches and their images, or of their slopes."""
    table, u = loads.known.wrench, amounts()
    sizes = dict.fromkeys(("CL", "CY", "Cl", "Cm", "Cn"), 0.0)
    for patch in patches:
        pair = table[patch] + table[patch + 3]
        for a in range(6):
            for b in range(a, 6):
                both = pair[a, b] + (pair[b, a] if a != b else 0.0)
                amount = u[a] * u[b] if change is None else change[a] * u[b] + u[a] * change[b]
                for name, value in named(both * amount).items():
                    sizes[name] += abs(value)
    return sizes


def test_natural_sizes_are_sums_of_magnitudes() -> None:
    loads = made()
    found, wanted = natural_sizes(loads, STATE), by_loops(loads, [0, 1, 2])  # type: ignore[arg-type]
    wanted["Cm"] += wanted["CL"]
    u = amounts()
    parts = [
        loads.known.total_drag[a, b] * u[a] * u[b] * 2.0 / AREA for a in range(6) for b in range(6)
    ]
    pairs = [
        2.0 / AREA * u[a] * u[b] * loads.known.total_drag[a, b] * (1.0 if a == b else 2.0)
        for a in range(6) for b in range(a, 6)
    ]  # fmt: skip
    wanted["CDi"] = np.sqrt(sum(parts) * sum(abs(part) for part in pairs))
    for name, size in wanted.items():
        assert found[name] == pytest.approx(size, rel=1e-12), name


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("alpha", [-np.sin(0.2) * np.cos(0.1), 0.0, np.cos(0.2) * np.cos(0.1), 0, 0, 0]),
        ("beta", [np.cos(0.2) * np.sin(0.1), -np.cos(0.1), np.sin(0.2) * np.sin(0.1), 0, 0, 0]),
        ("p", [0, 0, 0, 2 / SPAN, 0, 0]),
        ("q", [0, 0, 0, 0, 2 / CHORD, 0]),
        ("r", [0, 0, 0, 0, 0, 2 / SPAN]),
    ],
)
def test_sizes_of_derivatives(name: str, change: list[float]) -> None:
    loads = made()
    found = natural_sizes(loads, STATE)  # type: ignore[arg-type]
    wanted = by_loops(loads, [0, 1, 2], np.array(change))
    wanted["Cm"] += wanted["CL"]
    for key, size in wanted.items():
        assert found[f"{key}_{name}"] == pytest.approx(size, rel=1e-12), key


def test_sizes_of_one_surface() -> None:
    loads = made()
    wanted = by_loops(loads, [2])
    found = surface_sizes(loads, STATE, "keel")  # type: ignore[arg-type]
    assert found == pytest.approx({"CL": wanted["CL"], "CY": wanted["CY"]})


def test_the_size_of_span_efficiency_is_the_larger_share() -> None:
    """e = 0.8 at CL = 0.5 of 0.6 and CDi = 0.02 of 0.03: 0.8 times 1.2 or 1.5."""
    values = {"CL": np.array([0.5, -0.5, 0.0]), "CDi": 0.02, "span_efficiency": 0.8}
    sizes = {"CL": np.array([0.6, 0.9, 0.6]), "CDi": 0.03}
    np.testing.assert_allclose(span_efficiency_size(values, sizes), [1.2, 1.44, 0.0])


TIPS = {"upper": (0.05, 0.25)}


def test_hinges_have_the_moment_and_the_size_of_their_own_tip() -> None:
    """Over rho U^2; coefficients on half of that, the tip's area and span."""
    loads, u = made(), amounts()
    sizes = hinge_sizes(loads, STATE, TIPS)  # type: ignore[arg-type]
    found = hinge_loads(loads, STATE, TIPS)  # type: ignore[arg-type]
    for body, patch, scale in (("upper_right", 1, 1.0), ("upper_left", 4, -2.0)):
        table = loads.known.wrench[patch]
        terms = scale * (table[..., 4] + table[..., 2] / 2.0) * u[:, None] * u
        moment, parts = terms.sum(), 0.0
        for a in range(6):
            parts += abs(terms[a, a])
            for b in range(a + 1, 6):
                parts += abs(terms[a, b] + terms[b, a])
        assert found[body].moment == pytest.approx(moment * 1.1 * 11.0**2)
        assert found[body].coefficient == pytest.approx(2.0 * moment / (0.05 * 0.25))
        assert sizes[f"hinge_moment_{body}_N_m"] == pytest.approx(parts * 1.1 * 11.0**2)
        assert sizes[f"hinge_moment_coefficient_{body}"] == pytest.approx(
            2.0 * parts / (0.05 * 0.25)
        )


def test_sizes_in_other_axes_of_folds_and_of_single_wings() -> None:
    """Each of two sizes by the magnitude of its share in the other axes; folds at half a span."""
    loads = made()
    plain = natural_sizes(loads, STATE)  # type: ignore[arg-type]
    values = {"CL": 0.4, "CDi": 0.02, "span_efficiency": 0.7, "best_span_efficiency": -1.2}
    areas = {"upper": 0.25, "fin_keel": 0.03}
    found = all_sizes(loads, STATE, values, areas, TIPS)  # type: ignore[arg-type]
    sine, cosine = np.sin(0.2), np.cos(0.2)
    assert found["best_span_efficiency"] == 1.2
    surface = plain["CDi"] + sine * plain["CL"]
    assert found["CDi_surface"] == pytest.approx(surface)
    for ending in ("", "_beta", "_p", "_r"):
        roll, yaw = plain[f"Cl{ending}"], plain[f"Cn{ending}"]
        assert found[f"Cl{ending}_stability"] == pytest.approx(cosine * roll + sine * yaw)
        assert found[f"Cn{ending}_stability"] == pytest.approx(cosine * yaw + sine * roll)
    for ending in ("_p", "_r"):
        assert found[f"CY{ending}_stability"] == pytest.approx(plain["CY_p"] + plain["CY_r"])
    roll, yaw = 0.5 * plain["CL"], 0.5 * surface
    for side in ("left", "right"):
        assert found[f"CL_fold_{side}"] == pytest.approx(plain["CL"])
        assert found[f"Cl_fold_{side}"] == pytest.approx(roll)
        assert found[f"Cn_fold_{side}"] == pytest.approx(yaw)
        assert found[f"Cl_fold_{side}_stability"] == pytest.approx(cosine * roll + sine * yaw)
        assert found[f"Cn_fold_{side}_stability"] == pytest.approx(cosine * yaw + sine * roll)
    keel = surface_sizes(loads, STATE, "keel")  # type: ignore[arg-type]
    assert found["CL_upper"] == pytest.approx(plain["CL"] * 0.4 / 0.25)
    assert found["CL_fin_keel"] == pytest.approx(keel["CL"] * 0.4 / 0.03)
    assert found["CY_fin_keel"] == pytest.approx(keel["CY"] * 0.4 / 0.03)
    assert (found["CDi_share_upper"], found["CDi_share_fin_keel"]) == (1.0, 1.0)
    assert "hinge_moment_upper_left_N_m" in found


def test_allowances_for_the_wake() -> None:
    """Equation (16): 2 sum |Gamma| ds / (U S) over A, and 1 + 2 (1 - cos 0.6) for folds of -0.6
    and 0.2; the neutral point's size is the chord, the hinge moment's one."""
    loads = made()
    gamma = loads.known.strips @ amounts()
    np.testing.assert_allclose(strip_circulations(loads, STATE), gamma)  # type: ignore[arg-type]
    load = 2.0 * np.abs(gamma) @ np.array([0.2, 0.3, 0.05, 0.1] * 2) / AREA
    scale = load / (SPAN**2 / AREA) * (1.0 + 2.0 * (1.0 - np.cos(0.6)))
    assert spread_scale(loads, STATE) == pytest.approx(scale)  # type: ignore[arg-type]
    sizes, spread = spread_sizes(loads, STATE), wake_spread(loads, STATE)  # type: ignore[arg-type]
    assert (sizes["neutral_point_m"], sizes["hinge_moment_coefficient"]) == (CHORD, 1.0)
    assert spread["neutral_point_m"] == pytest.approx(0.028 * CHORD * scale)
    assert spread["Cl_beta"] == pytest.approx(0.19 * scale * sizes["Cl_beta"])
    assert set(spread) == set(SHARE)
    loads.lattice.folds = {}
    flat = load / (SPAN**2 / AREA)
    assert spread_scale(loads, STATE) == pytest.approx(flat)  # type: ignore[arg-type]


def test_surfaces_share_lift_side_force_and_drag() -> None:
    loads, u = made(), amounts()
    found = surface_shares(loads, STATE, ("upper", "keel"))  # type: ignore[arg-type]
    whole = u @ loads.known.total_drag @ u
    for name, own in (("upper", (0, 1, 3, 4)), ("keel", (2, 5))):
        force = sum(np.einsum("abc,a,b->c", loads.known.wrench[i], u, u)[:3] for i in own)
        drag = sum(u @ loads.known.drag[i] @ u for i in own)
        assert [float(v) for v in found[name]] == pytest.approx(
            [force @ LIFT, force[1], drag / whole]
        )
    loads.known.total_drag = 0.0 * loads.known.total_drag
    assert np.isnan(surface_shares(loads, STATE, ("keel",))["keel"][2])  # type: ignore[arg-type]


def test_coefficients_of_a_wrench_by_the_conventions() -> None:
    """Force (1, 2, 3), moment (0.1, 0.2, 0.3) over rho U^2; stability axes turn by alpha."""
    found = named_coefficients(np.array([1, 2, 3, 0.1, 0.2, 0.3]), STATE, REFERENCE)  # type: ignore[arg-type]
    a, b = 0.2, -0.1
    roll, yaw = -0.2 / (AREA * SPAN), -0.6 / (AREA * SPAN)
    wind = np.array([np.cos(a) * np.cos(b), -np.sin(b), np.sin(a) * np.cos(b)])
    assert found == pytest.approx({
        "CL": 2 * (3 * np.cos(a) - np.sin(a)) / AREA,
        "CDi_surface": 2 * np.array([1, 2, 3]) @ wind / AREA,
        "CY": 4 / AREA, "Cl": roll, "Cm": 0.4 / (AREA * CHORD), "Cn": yaw,
        "Cl_stability": np.cos(a) * roll + np.sin(a) * yaw,
        "Cn_stability": np.cos(a) * yaw - np.sin(a) * roll,
    })  # fmt: skip
    assert all(type(value) is float for value in found.values())


def test_span_efficiency_and_neutral_point() -> None:
    """e = CL^2 / (pi A CDi); x = x_m - c Cm_alpha / CL_alpha."""
    value = span_efficiency(0.5, 0.02, REFERENCE)  # type: ignore[arg-type]
    assert value == pytest.approx(0.25 / (np.pi * SPAN**2 / AREA * 0.02))
    many = span_efficiency(np.array([0.5, 0.1]), np.array([0.0, 0.01]), REFERENCE)  # type: ignore[arg-type]
    assert np.isnan(many[0])
    assert many[1] == pytest.approx(0.01 / (np.pi * SPAN**2 / AREA * 0.01))
    reference = SimpleNamespace(chord=0.3, moment_point=np.array([0.05, 0.0, 0.0]))
    x, margin = neutral_point(
        SimpleNamespace(reference=reference),
        {"Cm_alpha": -0.5, "CL_alpha": 5.0},  # type: ignore[arg-type]
    )
    assert (x, margin) == pytest.approx((0.08, 0.1))


def test_forms_and_misses() -> None:
    random = np.random.default_rng(1)
    table, left, right = (random.normal(size=s) for s in ((2, 3, 4, 5), (2, 3), (2, 4)))
    found = contracted(table, left, right)
    for b in range(2):
        wanted = sum(left[b, i] * right[b, j] * table[b, i, j] for i in range(3) for j in range(4))
        np.testing.assert_allclose(found[b], wanted)
    pairs = [
        ({"CL": np.array([1.0, 2.0]), "CY": 0.0, "Cm": 3}, {"CL": np.array([1.5, 1.9]), "CY": 1.0}),
        ({"CL": np.array([0.0, 0.3]), "Cn": 2.0}, {"CL": np.array([0.1, 0.1]), "Cn": 5.0}),
    ]  # fmt: skip
    assert largest_misses(pairs) == pytest.approx({"CL": 0.5, "CY": 1.0, "Cn": 3.0})


def test_moments_about_hinges_are_of_their_own_patches() -> None:
    loads = made()
    wrench = np.arange(6.0)[:, None] * np.ones(6)
    found = about_hinges(loads.lattice, wrench)
    # Patch 1 of the right tip: 1 + 1 / 2; patch 4 of the left one: 4 (1 + 1 / 2) times -2.
    assert (float(found["upper_right"]), float(found["upper_left"])) == (1.5, -12.0)
