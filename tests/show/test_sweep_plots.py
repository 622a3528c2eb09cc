"""Plots of sweeps: labels that keep apart, units and signs on axes, bands, maps with gaps."""

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.collections import PathCollection
from matplotlib.contour import ContourSet

from vlm.show.labelling import end_labels, label, spread_apart, titled
from vlm.show.plots.contours import contour_map
from vlm.show.plots.sweep import curve_axes, map_axes, sweep_figure
from vlm.show.style import plot_style
from vlm.study.point.contact import branches

FOLDS = np.linspace(-60.0, 60.0, 5)
ATTRIBUTES = {"title": "An invented craft"}


def symmetric() -> xr.Dataset:
    """Curves that meet at the right end."""
    alphas = [0.0, 4.0, 8.0]
    values = np.array([[(60.0 - f) * (1.0 + a) / 60.0 for a in alphas] for f in FOLDS])
    names = ("CL", "CDi", "span_efficiency", "Cl_beta")
    data = dict.fromkeys(names, (("fold", "alpha", "beta"), values[..., None]))
    data["CL_error"] = (("fold", "alpha", "beta"), 0.1 + 0.0 * values[..., None])
    data["best_span_efficiency"] = (("fold",), 2.0 + 0.0 * FOLDS)
    data["failure"] = (("fold",), np.full(5, ""))
    return xr.Dataset(data, {"fold": FOLDS, "alpha": alphas, "beta": [0.0]}, ATTRIBUTES)


def asymmetric() -> xr.Dataset:
    port, starboard = np.meshgrid(FOLDS, FOLDS, indexing="ij")
    values = (port - starboard)[..., None, None] / 100.0
    values[0, 0] = np.nan
    axes = ("fold_left", "fold_right", "alpha", "beta")
    data = dict.fromkeys(("CL", "Cl", "Cn"), (axes, values))
    data["failure"] = (axes[:2], np.full((5, 5), ""))
    places = {"fold_left": FOLDS, "fold_right": FOLDS, "alpha": [4.0], "beta": [0.0]}
    return xr.Dataset(data, places, ATTRIBUTES)


def extents(figure: object, axes: object) -> list:
    figure.draw_without_rendering()
    return [text.get_window_extent() for text in axes.texts]


@given(st.lists(st.floats(-100.0, 100.0), min_size=1, max_size=12))
def test_spread_places_keep_their_order_distance_and_mean(places: list[float]) -> None:
    """A least-diamonds fit under an order keeps the mean (a property of the projection)."""
    moved = spread_apart(places, 3.0)
    order = np.argsort(places, kind="stable")
    assert np.all(np.diff(moved[order]) >= 3.0 - 1e-9)
    assert np.mean(moved) == pytest.approx(np.mean(places), abs=1e-9)


def test_places_that_are_apart_stay() -> None:
    assert spread_apart([5.0, 0.0, 20.0], 4.0).tolist() == [5.0, 0.0, 20.0]


def test_labels_of_curves_that_meet_do_not_overlap() -> None:
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(4.0, 3.0))
        lines = [axes.plot([0.0, 1.0], [float(i), 0.001 * i])[0] for i in range(5)]
        end_labels(axes, [(line, f"case {i}") for i, line in enumerate(lines)])
        boxes = extents(figure, axes)
        assert len(boxes) == 5
        for i, one in enumerate(boxes):
            assert not any(one.overlaps(other) for other in boxes[i + 1 :])


def test_an_axis_says_symbol_and_unit_and_a_title_the_sign() -> None:
    assert label("CL") == "$C_L$"
    assert label("Cl_beta").endswith("[1/rad]")
    assert titled("Cl") == "rolling moment coefficient $C_l$\npositive: starboard wing down"


def test_curves_carry_error_bands_and_come_back_as_their_axes() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        assert curve_axes(axes, symmetric(), "CL", [0.0, 8.0]) is axes
        assert len(axes.lines) == 2
        assert len(axes.collections) == 2
        band = axes.collections[0].get_paths()[0].get_extents()
        assert band.height == pytest.approx(1.0 * 2.0 + 0.2)
        assert "[deg]" in axes.get_xlabel()


def test_maps_hatch_unknown_pairs_and_name_their_bar() -> None:
    with plot_style() as plt:
        figure, axes = plt.subplots()
        assert map_axes(axes, asymmetric(), "Cl") is axes
        bar = figure.axes[-1]
        assert bar.get_ylabel() == label("Cl")
        low, high = bar.get_ylim()
        assert low == pytest.approx(-high)
        assert axes.patch.get_hatch()
        assert axes.get_xlabel().endswith("hatched: surfaces would cross")


def test_colour_bars_have_short_ticks() -> None:
    with plot_style() as plt:
        figure, axes = plt.subplots()
        map_axes(axes, asymmetric(), "CL")
        figure.draw_without_rendering()
        ticks = [t.get_text() for t in figure.axes[-1].get_yticklabels()]
        assert ticks
        assert all(len(t.strip("−")) <= 4 for t in ticks)


def test_a_map_without_a_value_says_so() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        assert contour_map(axes, FOLDS, FOLDS, np.full((5, 5), np.nan), signed=True) is None
        assert "no pair" in axes.texts[0].get_text()


def test_nothing_is_drawn_between_contact_and_the_next_fold() -> None:
    """A tip that touches at -90 deg leaps: pairs there are diamonds, with no colour beside."""
    folds = np.array([-90.0, -60.0, -30.0, 0.0, 30.0])
    values = 0.01 * np.add.outer(folds, 2.0 * folds)
    joined = np.zeros((5, 5), dtype=bool)
    joined[0, :] = joined[:, 0] = True
    branch = branches(joined, np.isfinite(values))
    with plot_style() as plt:
        _, axes = plt.subplots()
        contour_map(axes, folds, folds, values, signed=True, branch=branch)
        drawn = [one for one in axes.collections if isinstance(one, ContourSet)]
        ends = [path.get_extents().min for one in drawn for path in one.get_paths() if len(path)]
        assert np.min(ends) == pytest.approx(-60.0)
        diamonds = [one for one in axes.collections if isinstance(one, PathCollection)]
        places = np.concatenate([one.get_offsets() for one in diamonds])
        assert {tuple(place) for place in places} == {
            (port, starboard) for port in folds for starboard in folds if -90.0 in (port, starboard)
        }
        assert "a tip touches" in axes.get_xlabel()


def test_a_map_without_contact_is_one_piece() -> None:
    with plot_style() as plt:
        _, axes = plt.subplots()
        branch = branches(np.zeros((5, 5), dtype=bool), np.ones((5, 5), dtype=bool))
        contour_map(axes, FOLDS, FOLDS, np.add.outer(FOLDS, FOLDS), signed=True, branch=branch)
        assert not [one for one in axes.collections if isinstance(one, PathCollection)]
        assert "touches" not in axes.get_xlabel()


@pytest.mark.parametrize(("made", "panels"), [(symmetric, 4), (asymmetric, 6)])
def test_a_sweep_has_its_figure(made: object, panels: int) -> None:
    with plot_style():
        figure = sweep_figure(made())
        assert len(figure.axes) == panels
        assert "not a flight clearance" in figure.get_suptitle()


def test_titles_say_what_is_of_wings_and_fins_alone() -> None:
    from matplotlib import pyplot as plt

    dataset = symmetric()
    counted = dataset.assign(Cn_beta_with_rotors=dataset["Cl_beta"])
    with plot_style():
        for one, is_said in ((dataset, False), (counted, True)):
            for name in ("Cl_beta", "CL"):
                axes = curve_axes(plt.figure().add_subplot(), one, name, [4.0])
                title = axes.get_title(loc="left")
                assert title.endswith("wings and fins alone") == (is_said and name == "Cl_beta")
            plt.close("all")
        pairs = asymmetric()
        pairs = pairs.assign(Cl_beta=pairs["Cl"], Cn_beta_with_rotors=pairs["Cl"])
        title = map_axes(plt.figure().add_subplot(), pairs, "Cl_beta").get_title(loc="left")
        assert title.endswith("\nwings and fins alone")
        plt.close("all")
