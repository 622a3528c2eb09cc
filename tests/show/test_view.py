"""Pictures, VTK files and pages of a craft; the explorer driven by its callbacks off screen."""

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from chromium import barriers, browser, opened

from vlm.description import load_biplane, load_biplane_text
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.show.page import embedded_json, escaped, filled
from vlm.show.scenes.explorer import Explorer
from vlm.show.scenes.pictures import (
    DIRECTIONS,
    axis_names,
    caption,
    checked_direction,
    foot,
    save_polydata,
    still,
)
from vlm.show.scenes.scene import LOAD, PRESSURE, Scales, meshes, pyvista, surface_mesh
from vlm.show.scenes.scene_page import scene_document, scene_page
from vlm.show.text.layout import with_error
from vlm.show.words import number_lines, sign_words
from vlm.study.point.point import solve_point
from vlm.study.point.session import Scene, Session, Setting

GRID = Grid(3, 8)
FOLDED = Setting(left_deg=40.0, right_deg=-60.0, alpha_deg=6.0)
HINGE_RGB = np.array([0xA0, 0x26, 0x6B])


@cache
def session() -> Session:
    return Session(load_biplane("tideline"), GRID)


@cache
def folded_scene() -> Scene:
    return session().scene(FOLDED)


def inked(pixels: np.ndarray) -> np.ndarray:
    """Where a picture is not white, shape (height, width)."""
    return np.any(pixels < 200, axis=2)


def purple(pixels: np.ndarray) -> np.ndarray:
    """Where panels are in the positive half of the colours: more blue than green."""
    whole = pixels.astype(int)
    return (whole[..., 2] - whole[..., 1] > 40) & (whole[..., 0] > whole[..., 1] + 15)


def test_the_mesh_holds_the_scene_with_units_in_its_names(tmp_path: Path) -> None:
    save_polydata(folded_scene(), tmp_path / "scene.vtp")
    mesh = pyvista().read(tmp_path / "scene.vtp")
    assert mesh.n_cells == sum(s.pressure.size for s in folded_scene().surfaces)
    pressures = np.concatenate([s.pressure.ravel() for s in folded_scene().surfaces])
    assert mesh.cell_data["pressure_difference_Pa"] == pytest.approx(pressures)
    assert set(np.unique(mesh.cell_data["side"])) == {0, 1}
    area = np.sum(mesh.compute_cell_sizes(length=False, volume=False)["Area"])
    # Planform of the file: (0.84 + 2 * 0.36 + 0.84) * 0.17 m^2.
    assert area == pytest.approx(0.408, rel=1e-9)
    assert list(tmp_path.iterdir()) == [tmp_path / "scene.vtp"]


def test_triangles_hold_the_same_surfaces(tmp_path: Path) -> None:
    """STL is triangles alone: their area is the planform of the file, in metres."""
    save_polydata(folded_scene(), tmp_path / "scene.stl")
    mesh = pyvista().read(tmp_path / "scene.stl")
    assert mesh.n_cells == 2 * sum(s.pressure.size for s in folded_scene().surfaces)
    assert mesh.area == pytest.approx(0.408, rel=1e-5)
    assert list(tmp_path.iterdir()) == [tmp_path / "scene.stl"]


def test_tips_of_the_mesh_stand_at_their_folds() -> None:
    mesh = surface_mesh(folded_scene())
    tips = mesh.extract_cells(mesh.cell_data["tip"] == 1)
    port = tips.extract_cells(tips.cell_data["side"] == 0)
    # 0.42 m out to the hinge, then 0.36 m at 40 degrees up, port side.
    assert port.bounds[2] == pytest.approx(-0.42 - 0.36 * np.cos(np.radians(40.0)))
    assert port.bounds[5] == pytest.approx(0.36 * np.sin(np.radians(40.0)), abs=1e-9)


def test_a_picture_shows_port_up_on_the_left_from_behind() -> None:
    """From behind port is left; its tip is folded up, the starboard one down."""
    pixels = still(folded_scene(), "rear", size=(500, 400), numbers=False)
    height, width, _ = pixels.shape
    ink = inked(pixels[: int(0.7 * height)])  # the axes and the words stand below
    ink[:, int(0.86 * width) :] = False
    rows, columns = np.nonzero(ink)
    left = rows[columns == columns.min()].mean()
    right = rows[columns > columns.max() - 3].mean()
    assert left < right


def test_pictures_from_all_directions_differ_and_have_lift_in_colour() -> None:
    seen = {
        name: still(folded_scene(), name, size=(420, 320), numbers=False) for name in DIRECTIONS
    }
    for name, pixels in seen.items():
        assert inked(pixels).mean() > 0.005, name
    assert purple(seen["top"]).sum() > 300
    names = list(seen)
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            assert np.mean(np.any(seen[one] != seen[other], axis=2)) > 0.01


def test_colours_turn_with_the_sign_of_the_lift() -> None:
    """Nose down far enough the wings push down: the other half of the colours."""
    down = session().scene(Setting(alpha_deg=-9.0))
    pixels = still(down, "top", size=(420, 320), numbers=False)
    whole = pixels[:, : int(0.85 * 420)].astype(int)
    orange = (whole[..., 0] - whole[..., 2] > 60).sum()
    assert orange > 10 * max(purple(pixels[:, : int(0.85 * 420)]).sum(), 1)


def test_loads_are_drawn_to_scale_along_the_wings() -> None:
    scales = Scales.of(folded_scene())
    ribbon = meshes(folded_scene(), scales).load
    surface = folded_scene().surfaces[0]
    count = len(surface.strip_load) + 2
    reach = np.linalg.norm(ribbon.points[count : 2 * count] - ribbon.points[:count], axis=1)
    assert reach[1:-1] / scales.metre_per_load == pytest.approx(np.abs(surface.strip_load))


@pytest.mark.parametrize("value", [np.nan, 0.0, 1e-9])
def test_signs_of_nothing_are_not_reported_as_directions(value: float) -> None:
    assert sign_words("Cl", value, 1e-6) in ("", "no roll")


def test_signs_are_reported_in_words() -> None:
    assert sign_words("Cl", 0.01, 0.001) == "rolls to starboard"
    assert sign_words("Cl_beta", -0.1, 0.01) == "stable dihedral effect"
    assert sign_words("Cl_beta", -0.1, None) == ""
    assert sign_words("Cl_beta", -0.1, 0.2) == "sign not known"
    assert any("lift up" in line for line in number_lines({"CL": 0.4}, {"CL": 0.1}))
    (unknown,) = number_lines({"Cl_beta": -0.1}, {"Cl_beta": 0.2})
    assert unknown.endswith("sign not known")


def test_a_picture_s_numbers_have_the_errors_of_point() -> None:
    """The ± is that of two lattices, not the least that one lattice's is taken for."""
    seen = session()
    setting = Setting(20.0, -30.0, 4.0, 2.0)
    scene = seen.scene_with_errors(setting)
    report = solve_point(seen.craft, setting.folds, setting.flight_state, grid=seen.grid)
    assert scene.errors == report.half_widths
    words = caption(scene).splitlines()
    for name, value in (("CL", report.coefficients.CL), ("Cl_beta", None)):
        value = report.derivatives["body"]["Cl_beta"] if value is None else value
        (line,) = [one for one in words if one.split()[:1] == [name]]
        assert with_error(value, report.half_widths[name]) in line
    (line,) = [one for one in words if one.startswith("upper port")]
    moment = report.hinges["upper_left"].moment
    assert with_error(moment, report.half_widths["hinge_moment_upper_left_N_m"]) in line
    assert "±" not in caption(seen.scene(setting))


def test_the_foot_of_a_picture_tells_what_the_orange_lines_are() -> None:
    """They are drawn for tips alone."""
    assert "orange: the air's force on each tip" in foot(folded_scene(), "from behind")
    fixed = Session(load_biplane("plank"), GRID).scene(Setting(alpha_deg=4.0))
    assert "orange" not in foot(fixed, "from behind")


def test_directions_are_checked() -> None:
    assert checked_direction("top") == "top"
    with pytest.raises(InputRefused, match="three-quarter"):
        checked_direction("below")


# --- the page ---------------------------------------------------------------------------------


def test_texts_from_outside_stay_texts() -> None:
    wicked = "</script><script>alert(1)</script>&@data@"
    assert "<" not in embedded_json({"a": wicked})
    assert json.loads(embedded_json({"a": wicked}))["a"] == wicked
    assert "<" not in escaped(wicked)
    assert filled("<p>@title@</p>", {"title": "@data@", "data": "x"}) == "<p>@data@</p>"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as running:
        yield running


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "scene.html"
    path.write_text(scene_page(folded_scene()), encoding="utf-8")
    return path


def test_nothing_bars_readers_from_the_scene(chromium: Any, page_file: Path) -> None:
    for scheme in ("light", "dark"):
        with opened(chromium, page_file, color_scheme=scheme) as watched:
            assert barriers(watched.page) == []


def test_the_page_turns_by_drag_keys_and_buttons_without_network(
    chromium: Any, page_file: Path
) -> None:
    with opened(chromium, page_file, viewport={"width": 1000, "height": 700}) as watched:
        page = watched.page
        pictures = [canvas_of(page)]
        box = page.locator("#view").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 120, y + 30)
        page.mouse.up()
        pictures.append(canvas_of(page))
        page.locator("#view").focus()
        page.keyboard.press("ArrowLeft")
        pictures.append(canvas_of(page))
        page.keyboard.press("+")
        pictures.append(canvas_of(page))
        page.get_by_role("button", name="rear").click()
        pictures.append(canvas_of(page))
        page.get_by_label("Colours").select_option(LOAD)
        page.get_by_role("button", name="top").click()
        pictures.append(canvas_of(page))
        assert len(set(pictures)) == len(pictures)
        assert watched.complaints == []
        assert watched.requests == [page_file.resolve().as_uri()]


def canvas_of(page: Any) -> str:
    return str(page.evaluate("document.getElementById('view').toDataURL()"))


def test_the_page_tells_the_value_under_the_pointer(chromium: Any, page_file: Path) -> None:
    with opened(chromium, page_file, viewport={"width": 1000, "height": 700}) as watched:
        page = watched.page
        page.get_by_role("button", name="top").click()
        box = page.locator("#view").bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2 + 20, box["y"] + box["height"] / 2)
        assert "here: pressure difference [Pa]" in page.inner_text("#under")


def test_a_wicked_title_does_no_harm(chromium: Any, tmp_path: Path) -> None:
    text = 'title = "</title></script><script>console.log(1)</script>"\n[upper]\nspan_m = 1.0\n'
    craft = load_biplane_text(text + "root_chord_m = 0.2\nend_chord_m = 0.2\n", "wicked.toml")
    path = tmp_path / "wicked.html"
    path.write_text(scene_page(Session(craft, GRID).scene(Setting())), encoding="utf-8")
    with opened(chromium, path) as watched:
        assert watched.page.inner_text("h1").startswith("</title></script>")
        assert watched.complaints == []


def test_the_page_draws_what_the_scene_holds() -> None:
    document = scene_document(folded_scene())
    panels = sum(s.pressure.size for s in folded_scene().surfaces)
    assert len(document["panels"]) == panels == len(document["colourings"][PRESSURE]["values"])
    assert document["colours"][0] != document["colours"][-1]


# --- the explorer -----------------------------------------------------------------------------


@pytest.fixture
def explorer(tmp_path: Path) -> Iterator[Explorer]:
    told: list[str] = []
    window = Explorer(
        session(), Setting(), file="tideline", folder=tmp_path,
        off_screen=True, tell=told.append,
    )  # fmt: skip
    window.told = told  # type: ignore[attr-defined]
    yield window
    window.plotter.close()


def slide(window: Explorer, field: str, value: float) -> None:
    """What a hand on the slider does."""
    widget = window.sliders[field]
    widget.GetRepresentation().SetValue(value)
    widget.InvokeEvent("InteractionEvent")


def press(window: Explorer, key: str) -> None:
    window.plotter.iren.interactor.SetKeySym(key)
    window.plotter.iren.interactor.InvokeEvent("KeyPressEvent")


def test_sliders_fold_the_drawn_craft(explorer: Explorer) -> None:
    before = explorer.pixels()
    slide(explorer, "left_deg", 45.2)
    assert explorer.setting.left_deg == 45.0
    assert explorer.setting.right_deg == 0.0
    after = explorer.pixels()
    assert np.mean(np.any(before != after, axis=2)) > 0.01
    mesh = explorer._parts.surface
    assert mesh.bounds[5] == pytest.approx(0.36 * np.sin(np.radians(45.0)))
    pressures = np.concatenate([s.pressure.ravel() for s in explorer.scene.surfaces])
    assert mesh.cell_data[PRESSURE] == pytest.approx(pressures)


def test_every_slider_changes_its_own_number(explorer: Explorer) -> None:
    for field, value in {"right_deg": -30.0, "alpha_deg": 7.0, "beta_deg": 5.0,
                         "airspeed_m_s": 20.0}.items():  # fmt: skip
        slide(explorer, field, value)
        assert getattr(explorer.setting, field) == value
    numbers = explorer.scene.numbers
    assert numbers["CY"] != 0.0


def test_locked_tips_move_together(explorer: Explorer) -> None:
    slide(explorer, "left_deg", 20.0)
    press(explorer, "l")
    assert explorer.setting.right_deg == 20.0
    slide(explorer, "right_deg", -35.0)
    assert (explorer.setting.left_deg, explorer.setting.right_deg) == (-35.0, -35.0)
    assert explorer.sliders["left_deg"].GetRepresentation().GetValue() == -35.0
    press(explorer, "l")
    slide(explorer, "left_deg", 10.0)
    assert (explorer.setting.left_deg, explorer.setting.right_deg) == (10.0, -35.0)


def test_keys_step_through_configurations_and_swap(explorer: Explorer) -> None:
    seen = []
    for _ in range(6):
        press(explorer, "n")
        seen.append((explorer.setting.left_deg, explorer.setting.right_deg))
    # The file's five configurations, in order, and the first again.
    assert seen == [(0, 0), (15, 15), (-90, -90), (0, -45), (-45, 0), (0, 0)]
    slide(explorer, "left_deg", 30.0)
    press(explorer, "x")
    assert (explorer.setting.left_deg, explorer.setting.right_deg) == (0.0, 30.0)


def test_directions_and_colourings_change_the_picture(explorer: Explorer) -> None:
    first = explorer.pixels()
    press(explorer, "d")
    second = explorer.pixels()
    press(explorer, "d")
    press(explorer, "d")
    press(explorer, "d")
    press(explorer, "c")
    third = explorer.pixels()
    assert np.any(first != second)
    assert np.any(second != third)
    slide(explorer, "alpha_deg", 9.0)
    assert explorer._parts.surface.active_scalars_name == LOAD


def test_pictures_are_kept_under_new_names(explorer: Explorer, tmp_path: Path) -> None:
    press(explorer, "k")
    press(explorer, "k")
    kept = sorted(path.name for path in tmp_path.iterdir())
    assert kept == ["foldspan-1.png", "foldspan-2.png"]
    assert (tmp_path / "foldspan-1.png").read_bytes().startswith(b"\x89PNG")


def test_the_window_bears_its_caution_and_the_ranges_of_its_sliders(explorer: Explorer) -> None:
    shown, _ = shown_text(explorer, "caution")
    assert "an estimate, not a flight clearance" in shown
    keys, _ = shown_text(explorer, "help")
    assert len(keys.splitlines()) < 9  # above the tips of every shipped craft
    assert len(shown.splitlines()) < 3
    title = explorer.sliders["left_deg"].GetRepresentation().GetTitleText()
    assert title == "port fold [deg], -90 to 120"


def test_the_reported_command_reproduces_the_numbers(explorer: Explorer, run_foldspan: Any) -> None:
    slide(explorer, "left_deg", 25.0)
    slide(explorer, "alpha_deg", 6.0)
    press(explorer, "t")
    (command,) = explorer.told
    words = command.split()
    assert words[0] == "foldspan"
    run = run_foldspan(*words[1:], "--no-errors", "--json")  # the lattice is among the words
    answer = json.loads(run.stdout)
    assert (answer["lattice"]["rows"], answer["lattice"]["strips"]) == (GRID.rows, GRID.strips)
    for name in ("CL", "Cl"):
        number = answer["coefficients"][name]
        assert number == pytest.approx(explorer.scene.numbers[name], rel=1e-5)


def test_the_window_says_how_its_curves_are_read(explorer: Explorer) -> None:
    shown = explorer.plotter.actors["numbers"].GetText(2)
    assert "port red, starboard green" in shown


def test_a_setting_that_cannot_be_built_leaves_the_last_one(explorer: Explorer) -> None:
    assert explorer.moved(left_deg=20.0)
    assert not explorer.moved(left_deg=150.0)
    assert explorer.setting.left_deg == 20.0
    assert "fold_max_deg" in explorer.message


def test_a_craft_without_tips_has_no_fold_sliders() -> None:
    window = Explorer(Session(load_biplane("plank"), GRID), Setting(), off_screen=True)
    try:
        assert set(window.sliders) == {"alpha_deg", "beta_deg", "airspeed_m_s"}
        press(window, "n")
        assert "no configurations" in window.message
        slide(window, "alpha_deg", 3.0)
        assert window.setting.alpha_deg == 3.0
    finally:
        window.plotter.close()


# --- the commands -----------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["png", "vtp", "html"])
def test_view_writes_what_its_name_asks_for(ending: str, run_foldspan: Any, tmp_path: Path) -> None:
    run = run_foldspan(
        "view", "tideline", "--fold", "30", "--rows", "3", "--strips", "8", "-o", f"out.{ending}",
        cwd=tmp_path,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    starts = {"png": b"\x89PNG", "vtp": b"<?xml", "html": b"<!doctype html>"}
    assert (tmp_path / f"out.{ending}").read_bytes().startswith(starts[ending])
    assert run.stdout == ""


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("-o", "x.jpg"), ".vtp"),
        (("-o", "none/x.png"), "no folder"),
        (("-o", "x.png", "--from", "below"), "three-quarter"),
        (("-o", "x.png", "--airspeed", "0"), "positive"),
    ],
)
def test_view_refuses_what_it_cannot_write(
    options: tuple[str, ...], says: str, run_foldspan: Any, tmp_path: Path
) -> None:
    run = run_foldspan("view", "tideline", *options, cwd=tmp_path)
    assert run.returncode == 2
    assert says in run.stderr
    assert list(tmp_path.iterdir()) == []


def test_explore_asks_for_a_screen(run_foldspan: Any) -> None:
    run = run_foldspan("explore", "tideline", DISPLAY="", WAYLAND_DISPLAY="")
    assert run.returncode == 2
    assert "screen" in run.stderr


def test_the_slider_shows_the_step_that_holds(explorer: Explorer) -> None:
    """Between two steps the number over the slider is that of the setting, not of the hand."""
    slide(explorer, "left_deg", 20.0)
    slide(explorer, "left_deg", 20.4)
    assert explorer.setting.left_deg == 20.0
    assert explorer.sliders["left_deg"].GetRepresentation().GetValue() == 20.0


def shown_text(window: Explorer, name: str) -> tuple[str, Any]:
    """A text of the window, and how it is set."""
    actor = window.plotter.actors[name]
    text = actor.GetInput() if hasattr(actor, "GetInput") else None
    if text is None:
        text = next(actor.GetText(n) for n in range(8) if actor.GetText(n))
    return text, actor.GetTextProperty()


def test_texts_stand_apart_and_readable(explorer: Explorer) -> None:
    """Keys below each other, numbers in one column on a ground of their own."""
    keys, _ = shown_text(explorer, "help")
    assert len({len(line) for line in keys.splitlines()}) == 1
    explorer.moved(left_deg=-77.0, right_deg=10.0, beta_deg=3.0)
    numbers, setting = shown_text(explorer, "numbers")
    assert setting.GetBackgroundOpacity() > 0.5
    rows = [line for line in numbers.splitlines() if re.match(r"C[LlmnY]\w* +-?\d", line)]
    assert len(rows) > 6
    assert len({re.match(r"\w+ +-?[\d.e-]+", row).end() for row in rows}) == 1  # type: ignore[union-attr]
    assert max(map(len, numbers.splitlines())) < 60


def test_refusals_are_red_and_news_is_not(explorer: Explorer) -> None:
    press(explorer, "n")
    text, setting = shown_text(explorer, "message")
    assert text.startswith("configuration ")
    calm = setting.GetColor()
    explorer.moved(left_deg=150.0)
    text, setting = shown_text(explorer, "message")
    assert "fold_max_deg" in text.replace("\n", " ")
    assert setting.GetColor() != calm
    assert max(map(len, text.splitlines())) <= 100


def test_what_is_drawn_is_the_setting(explorer: Explorer) -> None:
    """The last picture drawn holds the message and the sliders too, not only the craft."""
    slide(explorer, "left_deg", -70.0)
    explorer.pixels()  # opens the window, without which nothing is drawn
    drawn: list[tuple[float, str]] = []

    def seen(*_: object) -> None:
        value = explorer.sliders["left_deg"].GetRepresentation().GetValue()
        drawn.append((value, shown_text(explorer, "message")[0].strip()))

    explorer.plotter.render_window.AddObserver("EndEvent", seen)
    press(explorer, "n")
    assert drawn[-1] == (0.0, "configuration open")
    explorer.moved(left_deg=150.0)
    assert "fold_max_deg" in drawn[-1][1].replace("\n", " ")
    assert explorer.sliders["left_deg"].GetRepresentation().GetValue() == 0.0


@pytest.mark.parametrize("wide", [1280, 390])
def test_numbers_of_the_page_do_not_wrap(chromium: Any, page_file: Path, wide: int) -> None:
    """As many lines on the screen as there are in the text, on a laptop and on a phone."""
    viewport = {"width": wide, "height": 844}
    with opened(chromium, page_file, viewport=viewport) as watched:
        lines, shown = watched.page.evaluate(
            """(() => { const e = document.querySelector('aside pre');
                 return [e.textContent.split('\\n').length,
                   e.getBoundingClientRect().height / parseFloat(getComputedStyle(e).lineHeight)];
               })()"""
        )
        assert round(shown) == lines


def test_traces_stand_under_the_craft_and_follow_angles_and_air(explorer: Explorer) -> None:
    assert explorer._traces is not None
    assert explorer._tracer is not None
    drawn = explorer._traces._curves
    before = [curve.y.copy() for _, curve in drawn["hinge_moment_N_m"]]
    slide(explorer, "airspeed_m_s", 24.0)
    after = [curve.y for _, curve in drawn["hinge_moment_N_m"]]
    # Twice the airspeed, four times the moment.
    for one, four in zip(before, after, strict=True):
        assert four == pytest.approx(4.0 * np.asarray(one), rel=1e-6)
    slide(explorer, "left_deg", -30.0)
    port, starboard = explorer._traces._folds["CL"]
    assert (port.x[0], starboard.x[0]) == (-30.0, 0.0)
    # The closed box stands apart from the open tips.
    assert next(part.stop - part.start for part, _ in drawn["CL"]) == 1


def test_each_chart_holds_its_own_quantity_within_its_ends(explorer: Explorer) -> None:
    assert explorer._traces is not None
    assert explorer._tracer is not None
    slide(explorer, "alpha_deg", 7.0)
    slide(explorer, "right_deg", 30.0)
    trace = explorer._tracer.trace(explorer.setting)
    for name, title in (("CL", "CL"), ("Cl_beta", "Cl_beta"), ("hinge_moment_N_m", "moment")):
        parts = explorer._traces._curves[name]
        assert np.concatenate([c.x for _, c in parts]) == pytest.approx(trace.folds_deg)
        assert np.concatenate([c.y for _, c in parts]) == pytest.approx(trace.values[name])
        chart = explorer._traces._charts[name]
        assert chart.title.startswith(title)
        low, high = chart.y_range
        assert low < min(0.0, trace.values[name].min())
        assert high > max(0.0, trace.values[name].max())
        port, starboard = explorer._traces._folds[name]
        assert set(port.x) == {explorer.setting.left_deg}
        assert set(starboard.x) == {30.0}
        assert tuple(port.y) == tuple(starboard.y) == (low, high)


def test_loads_that_would_leave_the_window_are_drawn_on_another_scale(explorer: Explorer) -> None:
    first = explorer._scales
    slide(explorer, "airspeed_m_s", 13.0)
    assert explorer._scales is first
    slide(explorer, "airspeed_m_s", 40.0)
    assert explorer._scales is not first
    assert "another scale" in explorer.message
    longest = max(float(np.abs(s.strip_load).max()) for s in explorer.scene.surfaces)
    assert longest * explorer._scales.metre_per_load <= 0.3 * explorer.scene.size


@pytest.mark.parametrize(
    ("direction", "names"),
    [("front", ("", "y starboard", "z up")), ("rear", ("", "y starboard", "z up")),
     ("side", ("x aft", "", "z up")), ("top", ("x aft", "y starboard", "")),
     ("three-quarter", ("x aft", "y starboard", "z up"))],
)  # fmt: skip
def test_an_axis_along_the_view_has_no_name_that_would_stand_over_the_others(direction, names):
    assert axis_names(direction) == names
