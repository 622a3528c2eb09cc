"""The report: its numbers against the solver, and the page in a real browser."""

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from chromium import barriers, browser, contrast, opened
from craft_for_logs import Truth, log_format, log_text
from numpy.polynomial import Polynomial
from picture_layout import faults_of_what_is_drawn
from thin_craft import thin

from vlm.cli.main import main
from vlm.description import FoldAngles, load_biplane, load_biplane_text
from vlm.findings import Finding
from vlm.flight.motion.roll_contest import Contest
from vlm.lattice.cellule import Grid
from vlm.plain import spans
from vlm.show.page import escaped
from vlm.show.report import answer, closing
from vlm.show.report.flying import log, mission, power, schedule
from vlm.show.report.page import report_page
from vlm.show.report.parts import MAP_SIZE, inlined, range_text, svg_of, table
from vlm.show.report.studies import lateral, roll
from vlm.show.report.verdict import Verdict, condensed, open_questions, verdicts
from vlm.show.scenes.schemes import themed
from vlm.show.style import plot_style
from vlm.show.text.layout import number, with_error
from vlm.study.lateral.results import Derivatives, LateralStudy, ModeBlock
from vlm.study.point.fold_map import fold_map, interpolated, line_weights
from vlm.study.point.point import solve_point
from vlm.study.point.session import Session, Setting
from vlm.study.power.results import power_document
from vlm.study.power.study import PowerPlan, power_study
from vlm.study.report.data import ReportData, ReportPlan, gathered_report
from vlm.study.report.studies import STUDIES
from vlm.study.roll.results import Rotors
from vlm.study.sweep.plan import axis_values

GRID = Grid(2, 6)
SECTIONS = ["answer", "geometry", "sweep", "map", "lateral", "roll", "schedule", "mission", "hinge",
            "basis"]  # fmt: skip


@cache
def data() -> ReportData:
    steps: list[tuple[int, int]] = []
    plan = ReportPlan("tideline", step_deg=30.0, grid=GRID)
    # Power curves take longer than all else; their section has a test of its own.
    craft = thin("tideline").model_copy(update={"rotors": (), "propulsion": None})
    found = gathered_report(craft, plan, lambda _, done, total: steps.append((done, total)))
    assert steps[-1][0] == steps[-1][1]
    assert [done for done, _ in steps] == sorted(done for done, _ in steps)
    return found


@pytest.fixture(scope="module")
def drawn_page() -> tuple[str, list[list[str]]]:
    """A page with every study, the schedule and the mission too, and the faults of its figures."""
    both = {**data().studies, **flown().studies}
    with faults_of_what_is_drawn() as found:
        page = report_page(replace(data(), studies=both))
    return page, found


@pytest.fixture(scope="module")
def report(drawn_page: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(drawn_page[0], encoding="utf-8")
    return path


@contextmanager
def unfolded(running: Any, path: Path, **options: Any) -> Iterator[Any]:
    """A page with all its detail open."""
    with opened(running, path, **options) as watched:
        watched.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        yield watched


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as running:
        yield running


def test_rolls_table_holds_each_moment_with_its_error_and_what_the_rotors_can_do() -> None:
    """Each cell is the study's own value; the rotors' comes from the row of the same airspeed."""
    study = data().roll
    assert study is not None
    contests = tuple(
        Contest(row.airspeed_m_s, rotors_N_m=0.01 * row.airspeed_m_s) for row in study.airspeeds
    )
    study = replace(study, rotors=Rotors("full, with rotors", airspeeds=contests))
    section = roll(replace(data(), studies={"roll": study}))
    assert section is not None
    lines = section.body.partition("Roll authority against airspeed")[2].split("<tr>")
    flown = [row for row in study.airspeeds if row.reason is None]
    assert flown
    for row in flown:
        speed, at = row.airspeed_m_s, row.strongest
        assert at is not None
        cells = next(line for line in lines if line.startswith(f'<td class="n">{speed:g}</'))
        assert escaped(with_error(at.rolling_moment_N_m, at.half_width_N_m)) in cells
        assert escaped(at.sense) in cells
        assert f">{number(0.01 * speed, 3)}</" in cells


def with_levels(study: LateralStudy, *levels: Derivatives) -> LateralStudy:
    """A study with other level flights, in order; the last one for all that follow."""
    place = {row.fold_deg: i for i, (row, _, _) in enumerate(study.level_flights)}
    folds = [
        replace(row, level=levels[min(place[row.fold_deg], len(levels) - 1)])
        if row.fold_deg in place
        else row
        for row in study.folds
    ]
    return replace(study, folds=tuple(folds))


def with_modes(block: ModeBlock | None, first: dict[str, Any], others: Any) -> ModeBlock:
    """A block of modes, the first and all others changed."""
    assert block is not None
    head, *rest = block.modes
    changed = (replace(head, **first), *(replace(mode, **others) for mode in rest))
    return replace(block, modes=changed)


def test_the_first_screen_says_what_grows_and_what_is_not_known() -> None:
    """Growing roots stand first; a number whose error reaches over zero stands as not known."""
    study = data().lateral
    assert study is not None
    row, level, body = study.level_flights[0]
    unknown_sign = replace(
        level, dihedral_effect="sign not known", body={**body, "Cl_beta": -0.002},
        errors={"Cl_beta": 0.001}, spread={"Cl_beta": 0.004},
    )  # fmt: skip
    study = with_levels(study, unknown_sign, replace(level, dihedral_effect="stable"))
    speed, modes = study.state["airspeed_m_s"], []
    for one in study.modes:
        if one.airspeed_m_s != speed or one.reason is not None:
            modes.append(one)
            continue
        place = sum(other.airspeed_m_s == speed for other in modes if other.reason is None)
        grows = {
            "growth": "grows",
            "double_time_s": 0.5 + place,
            "real_1_s": 1.0,
            "real_half_width_1_s": 0.1,
        }
        sure = {"growth": "decays"}
        unsure = {"growth": "sign not known"} if place == 0 else sure
        modes.append(
            replace(
                one,
                longitudinal=with_modes(one.longitudinal, grows, {}),
                lateral=with_modes(one.lateral, unsure, sure),
            )
        )
    flown = [one for one in modes if one.airspeed_m_s == speed and one.reason is None]
    found = replace(data(), studies={"lateral": replace(study, modes=tuple(modes))})
    (first, *_), *_ = verdicts(found)
    assert first.startswith("Unstable in level flight at ")
    assert "in pitch at every fold looked" in first
    assert "doubles in 0.500 ± 0.050 s" in first
    unknown = [text for text, _ in open_questions(found)]
    assert f"Whether it is stable in roll and yaw at {flown[0].fold_left_deg:.3g} deg." in unknown
    where = f"at {row.fold_deg:.3g}°: -0.0020 ± 0.0050 per radian."
    assert any(text.endswith(where) for text in unknown)
    assert escaped(where) in answer.section(found).body


def test_the_first_screen_has_five_sentences_the_rest_is_folded_away(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = [Verdict(f"Sentence {n}.", f"Further {n}.", "lateral") for n in range(7)]
    monkeypatch.setattr(answer, "verdicts", lambda _: found)
    body = answer.section(replace(data(), sweep=None, map=None)).body
    shown, _, folded = body.partition("<details><summary>What else was found")
    assert re.findall(r"(?:Sentence|Further) \d", shown) == [f"Sentence {n}" for n in range(5)]
    rest = [f"Further {n}" for n in range(5)]
    rest += [text for n in (5, 6) for text in (f"Sentence {n}", f"Further {n}")]
    assert re.findall(r"(?:Sentence|Further) \d", folded) == rest


def test_the_first_screen_tells_of_a_roll_that_reverses_and_of_constraints_not_known() -> None:
    """As the commands do; what is not known stands among what is not."""
    rows = [
        SimpleNamespace(
            name="free in yaw", departs=True, cut_off="sideslip reaches 60 deg", cut_off_at_s=1.51,
            reverses=True, commanded="to starboard", ends="to port", reversed_at_s=1.41,
            end_is_known=True,
        ),
        SimpleNamespace(name="held", departs=False, reverses=False, end_is_known=True),
    ]  # fmt: skip
    history = SimpleNamespace(histories=rows, duration_s=4.0, left_deg=15.0, right_deg=-90.0)
    roll = SimpleNamespace(reversals=[], bank_history=history)
    unsure = "Not known whether rolling moment is kept at 13 m/s: margin 0.011 ± 0.016 N m."
    schedule = {"answer": ["Fold 5 deg.", unsure], "flown": {}}
    found = replace(data(), studies={"roll": roll, "schedule": schedule})
    first, second = verdicts(found)
    assert first.text.startswith(
        "Folded to port 15.0, starboard -90.0 deg it departs, free in yaw: sideslip reaches 60 deg"
        " after 1.51 s"
    )
    assert "commanded to starboard, it ends to port (from 1.41 s on)" in first.further
    assert (second.text, second.further) == ("Fold 5 deg.", "")
    assert [text for text, _ in open_questions(found)] == [
        "Whether rolling moment is kept at 13 m/s: margin 0.011 ± 0.016 N m."
    ]
    rows.pop(0)
    assert [one.section for one in verdicts(found)] == ["schedule"]


def test_top_speed_is_not_folded_away_behind_five_other_verdicts() -> None:
    others = [Verdict(f"{name}.", "", name) for name in ("lateral", "mission")]
    schedule = Verdict("Leave the tips flat.", "Active: roll.", "schedule")
    more = [Verdict("Above.", "", "log"), Verdict("Largest.", "", "hinge")]
    power = Verdict("Fastest with dash: 28.0 ± 1.1 m/s; power ends it.", "Longest.", "power")
    found = condensed([*others, schedule, *more, power], 5)
    assert [one.section for one in found] == ["lateral", "mission", "schedule", "log", "hinge"]
    assert found[2].text == (
        "Leave the tips flat; fastest with dash: 28.0 ± 1.1 m/s; power ends it."
    )
    assert found[2].further == "Active: roll. Longest."
    few = [*others, schedule, power]
    assert condensed(few, 5) == few


def test_a_verdict_takes_no_word_from_a_fold_whose_sign_is_not_known() -> None:
    study = data().lateral
    assert study is not None
    level = replace(study.level_flights[0][1], dihedral_effect="sign not known")
    found = replace(data(), studies={"lateral": with_levels(study, level)})
    assert not any("Dihedral" in one.text + one.further for one in verdicts(found))


def test_values_of_a_grid_are_written_as_ranges() -> None:
    assert spans([30.0, -90.0, -60.0, -30.0], [-90, -60, -30, 0, 30]) == "-90° to -30° and 30°"


# --- what is gathered -------------------------------------------------------------------------


@pytest.mark.parametrize("count", [2, 3, 4, 7])
def test_interpolation_returns_cubics_exactly(count: int) -> None:
    """A polynomial of the interpolation's degree comes back (the property that defines it)."""
    nodes = np.sort(np.random.default_rng(1).uniform(-90.0, 90.0, count))
    curve = Polynomial(
        np.random.default_rng(2).normal(size=min(4, count)) * [1, 0.1, 0.01, 1e-3][: min(4, count)]
    )
    for place in np.linspace(nodes[0], nodes[-1], 9):
        first, weights = line_weights(nodes, place)
        assert weights @ curve(nodes[first : first + len(weights)]) == pytest.approx(curve(place))


def test_interpolation_goes_around_what_has_no_value() -> None:
    nodes = np.arange(6.0)
    values = np.add.outer(nodes, 2.0 * nodes)
    values[5, 5] = np.nan
    assert interpolated(nodes, values, 3.5, 3.5) == pytest.approx(10.5)
    assert np.isnan(interpolated(nodes, values, 4.5, 4.5))


def test_interpolation_never_reaches_across_contact() -> None:
    """Beside contact only its own row has a value; further on only free nodes count."""
    nodes = np.array([-90.0, -85.0, -60.0, -30.0, 0.0])
    values = np.add.outer(nodes, 2.0 * nodes)
    values[0, :] += 1000.0
    values[:, 0] += 1000.0
    touching = (nodes < -89.0, nodes < -89.0)
    assert np.isnan(interpolated(nodes, values, -88.0, 0.0, touching))
    assert np.isnan(interpolated(nodes, values, -10.0, -87.0, touching))
    assert interpolated(nodes, values, -90.0, -45.0, touching) == pytest.approx(820.0)
    for fold in (-85.0, -80.0, -45.0, 0.0):
        expected = fold + 2.0 * -70.0
        assert interpolated(nodes, values, fold, -70.0, touching) == pytest.approx(expected)


def test_a_map_has_a_fold_beside_contact() -> None:
    """Tideline's tips touch the lower wing at -90 deg; nothing touches at their upper limit."""
    found = data().map
    assert found is not None
    assert list(found.folds_deg[:2]) == [-90.0, -85.0]
    assert found.folds_deg[-1] - found.folds_deg[-2] > 5.0
    for side in found.touching:
        assert list(np.flatnonzero(side)) == [0]


def test_the_map_holds_direct_solutions_and_their_mirror_images() -> None:
    """Angles of attack between the wake's five nodes lie within 1e-5 of the greatest value."""
    found = data().map
    assert found is not None
    folds = found.folds_deg
    i, j = 1, len(folds) - 2
    state = Setting(alpha_deg=8.0).flight_state
    solved = solve_point(
        data().craft, FoldAngles(folds[i], folds[j]), state, grid=GRID, errors=False
    )
    k = list(found.alphas_deg).index(8.0)
    name = "hinge_moment_coefficient_upper_left"
    expected = {
        "CL": solved.coefficients.CL,
        "Cl": solved.coefficients.Cl,
        name: solved.hinges["upper_left"].coefficient,
    }
    for key, value in expected.items():
        near = 1e-5 * float(np.nanmax(np.abs(found.values[key])))
        assert found.values[key][i, j, k] == pytest.approx(value, abs=near)
    mirrored = found.values["Cl"][j, i, k]
    assert mirrored == pytest.approx(-found.values["Cl"][i, j, k], rel=1e-9)
    strips = sorted(found.circulation[i, j, k] * state.airspeed)
    near = 1e-5 * max(strips)
    assert strips == pytest.approx(sorted(s.circulation_m2_s for s in solved.strips), abs=near)


def test_pairs_that_cannot_be_built_keep_their_reason() -> None:
    text = """
title = "Two wings in each other's way"
[upper]
span_m = 0.6
root_chord_m = 0.2
end_chord_m = 0.2
[upper.tips]
span_m = 0.5
end_chord_m = 0.2
[lower]
span_m = 1.2
root_chord_m = 0.2
end_chord_m = 0.2
[arrangement]
gap_m = 0.3
"""
    found = fold_map(Session(load_biplane_text(text, "way.toml"), GRID), (-80.0, 0.0), (4.0,))
    assert np.isnan(found.values["CL"][0, 0]).all()
    assert np.isfinite(found.values["CL"][1, 1]).all()
    assert found.failures[-80.0, -80.0]


@pytest.mark.parametrize("values", [[-90.0, -45.0, 0.0], [0.0, 5.0, 11.0], [3.0]])
def test_ranges_are_written_as_the_command_line_reads_them(values: list[float]) -> None:
    assert axis_values(range_text(values), "--fold") == tuple(values)


def test_a_study_that_is_not_there_says_why() -> None:
    bare = data().craft.model_copy(
        update={"mass": None, "actuator": None, "reference": data().craft.reference}
    )
    found = gathered_report(
        bare, ReportPlan("bare", step_deg=90.0, grid=GRID, alphas_deg=(0.0, 4.0))
    )
    assert found.studies == {}
    assert "[mass]" in found.reasons["lateral"]
    assert lateral(found) is None
    assert "the file has no [mass]" in closing.section(found).body


def test_power_and_its_crossings_stand_in_the_report() -> None:
    craft = load_biplane("tideline")
    folds = {name: craft.configurations[name].folds for name in ("open", "dash")}
    plan = PowerPlan(settings=folds, speeds=(0.0, 8.0, 12.0, 20.0), grid=GRID, intervals=False)
    document = power_document(power_study(craft, plan))
    section = power(replace(data(), studies={"power": document}))
    assert section is not None
    assert section.body.count("<figure") == 8
    least = number(document["configurations"]["open"]["speeds"]["least_power_W"])
    assert f'<td class="n">{least}</td>' in section.body or f"<td>{least}</td>" in section.body
    first = answer.section(replace(data(), studies={"power": document})).body
    assert "Longest aloft with" in first


@cache
def flown() -> ReportData:
    """The report of a craft with a schedule and a mission, on a coarse lattice."""
    from test_missions import small_craft

    from vlm.description.mission import Leg
    from vlm.study.mission import study
    from vlm.study.mission.answer import mission_document
    from vlm.study.schedule.document import schedule_document
    from vlm.study.schedule.study import schedule_study

    craft, legs = small_craft(), (Leg(kind="loiter", time_s=600.0),)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(study, "TIP_SPANS", (0.5,))
        found = study.mission_study(craft, legs, folds=3, grid=Grid(2, 8))
    planned = schedule_study(craft, folds=3, grid=Grid(2, 8))
    scheduled = schedule_document(planned)
    return replace(data(), studies={"schedule": scheduled, "mission": mission_document(found)})


def test_a_mission_stands_in_the_report() -> None:
    document = flown().studies["mission"]
    section = mission(flown())
    assert section is not None
    assert number(document["schedule"]["energy_Wh"], 3) in section.body
    said = escaped(document["answer"].replace(" deg", "°"))
    assert said in section.body
    assert said in answer.section(flown()).body
    for against in ("against fixed tips: ", "against any span: "):
        assert section.body.count(f"<li>{against}") == 2


def test_a_schedule_stands_in_the_report() -> None:
    """Each airspeed has its best fold and the fold flown; what cannot be flown says why."""
    document = deepcopy(flown().studies["schedule"])
    for place, row in enumerate(document["ideal"]):
        row["flown_fold_deg"] = 3.25 + place  # apart from the best, to tell the columns
    section = schedule(replace(data(), studies={"schedule": document}))
    assert section is not None
    table_rows = re.findall(r"<tr>(<td.*?)</tr>", section.body)
    cells = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in table_rows]
    for ideal, row in zip(document["ideal"], cells, strict=False):
        assert row[0] == number(ideal["airspeed_m_s"], 3)
        if ideal["fold_deg"] is None:
            assert ideal["forbidden_by"] in row[5]
        else:
            assert row[1] == number(ideal["fold_deg"], 3)
            assert row[2] == number(ideal["electrical_power_W"])
            assert row[6] == number(ideal["flown_fold_deg"], 3)
    points = [row for row in cells if len(row) == 2]
    assert [row[1] for row in points] == [number(f) for f in document["flown"]["fold_deg"]]
    assert section.body.count("<figure") == 1
    assert 'd="' in section.body


def test_warnings_of_a_schedule_stand_in_the_report() -> None:
    document = deepcopy(flown().studies["schedule"])
    document["findings"] = [
        asdict(
            Finding("roll_reversal", "the roll command reverses", 14.0, 15.0, "m/s", "stated", "")
        )
    ]
    page = closing.section(replace(data(), studies={"schedule": document}))
    assert "the roll command reverses" in page.body


def test_a_report_without_a_schedule_leaves_its_sections_out() -> None:
    bare = replace(data(), studies={})
    assert schedule(bare) is None
    assert mission(bare) is None


def test_a_log_stands_in_the_report(tmp_path: Path) -> None:
    """Bins of an invented log whose power is known in closed form."""
    path = tmp_path / "invented.csv"
    path.write_text(log_text(Truth({}), seed=1, seconds=20.0, passes=1), encoding="utf-8")
    craft = data().craft.model_copy(update={"log": log_format()})
    study = next(s for s in STUDIES if s.name == "log")
    plan = replace(data().plan, log=path)
    assert study.missing(craft, plan) == ""
    assert "[log]" in study.missing(load_biplane("plank"), plan)
    section = log(replace(data(), plan=plan, studies={"log": study.made(craft, plan)}))
    assert section is not None
    assert "Measured power, loiter" in section.body
    assert "log-difference" in section.body
    # Curves are named where they end.
    (drawn,) = re.findall(r'<figure id="log-power".*?</figure>', section.body, flags=re.S)
    assert "legend" not in drawn
    assert re.search(r"<text[^>]*>loiter</text>", drawn)
    assert "invented.csv --plots" in section.body


# --- the page as text -------------------------------------------------------------------------


def test_every_section_is_there_and_linked(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    assert re.findall(r'<section id="(\w+)">', text) == SECTIONS
    # The answer stands above the contents, which lead to all the rest.
    contents = text[text.index("<nav") : text.index("</nav>")]
    assert re.findall(r'href="#(\w+)"', contents) == SECTIONS[1:]
    assert text.index('<section id="answer">') < text.index("<nav") < text.index('id="geometry"')


def test_names_in_the_page_are_unique_and_links_lead_somewhere(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    names = re.findall(r'\sid="([^"]+)"', text)
    assert len(names) == len(set(names))
    targets = set(re.findall(r'(?:xlink:)?href="#([^"]+)"', text)) | set(
        re.findall(r"url\(#([^)]+)\)", text)
    )
    assert targets <= set(names)


def test_the_page_holds_nothing_from_elsewhere(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    assert not re.findall(r'\s(?:src|href)="(?!#)[^"]*"', text)
    assert "@import" not in text


def test_figures_carry_the_command_that_makes_them(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    figures = re.findall(r"<figure.*?</figure>", text, flags=re.S)
    assert len(figures) > 20
    for figure in figures:
        assert 'role="img"' in figure
        assert re.search(r"<code>foldspan \w+ tideline", figure)


def test_cautions_input_and_version_stand_in_the_page(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    assert "An estimate, not a flight clearance" in text
    assert "no brake certificate" in text
    assert "title = &quot;Tideline, a shore-survey biplane&quot;" in text
    assert "foldspan 0." in text


def test_wicked_names_stay_text() -> None:
    wicked = '<img src=x onerror="alert(1)">'
    plank = gathered_report(load_biplane("plank"), ReportPlan("plank", grid=GRID))
    craft = plank.craft.model_copy(update={"title": wicked})
    page = report_page(replace(plank, craft=craft, reasons={"log": wicked}))
    assert wicked not in page
    assert page.count("&lt;img src=x") >= 2


def test_tables_set_numbers_to_the_right() -> None:
    text = table("t", ["name", "value [m]"], [["a", "1.0"], ["b", "-"], ["c", "2 ± 0.1"]])
    assert text.count('<td class="n">') == 3
    assert "<td>a</td>" in text


def test_a_figure_drawn_once_is_the_one_that_matplotlib_saves(tmp_path: Path) -> None:
    """Against ``savefig``, which draws twice: text, colour bar and layout alike."""

    def draw(axes: Any) -> None:
        drawn = axes.contourf(np.outer(np.arange(4.0), np.arange(5.0)))
        axes.set_xlabel("fold [deg]")
        axes.figure.colorbar(drawn, ax=axes, label="a long label [N m]")

    with plot_style() as plt:
        saved, axes = plt.subplots(figsize=MAP_SIZE, layout="compressed")
        draw(axes)
        saved.savefig(tmp_path / "a.svg", metadata={"Date": None, "Creator": None})
    assert svg_of("a", draw, MAP_SIZE) == themed(inlined((tmp_path / "a.svg").read_text(), "a"))


def test_svgs_are_renamed_apart() -> None:
    inner = '<g id="{0}a"/><use {1}href="#{0}a"/><g clip-path="url(#{0}a)"/></svg>'
    svg = '<?xml version="1.0"?><svg width="1pt" height="2pt" viewBox="0 0 1 2">'
    assert inlined(svg + inner.format("", "xlink:"), "x") == (
        '<svg viewBox="0 0 1 2">' + inner.format("x-", "")
    )


# --- the page in a browser --------------------------------------------------------------------


def shown(page: Any) -> dict[str, str]:
    """The table at the setting: first cells and values."""
    rows = page.locator("#map-numbers tbody tr").all()
    return {
        row.locator("td").nth(0).inner_text(): row.locator("td").nth(1).inner_text() for row in rows
    }


def move(page: Any, ident: str, value: float) -> None:
    """What a hand on a slider does."""
    page.locator(f"#{ident}").fill(f"{value:g}")


def test_the_page_opens_without_complaint_or_network(chromium: Any, report: Path) -> None:
    for wide, scheme in ((1280, "light"), (390, "dark")):
        viewport = {"width": wide, "height": 800}
        with unfolded(chromium, report, viewport=viewport, color_scheme=scheme) as watched:
            watched.page.mouse.wheel(0, 20000)
            watched.page.wait_for_timeout(100)
            assert watched.complaints == []
            assert watched.requests == [report.resolve().as_uri()]
            width = watched.page.evaluate("document.documentElement.scrollWidth")
            assert width <= wide


def test_nothing_bars_readers_from_the_page(chromium: Any, report: Path) -> None:
    with unfolded(chromium, report) as watched:
        assert barriers(watched.page) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["ellipse", "plank", "teasel", "thistle", "tideline", "turnstone", "winnow"]
)
def test_nothing_bars_readers_from_a_shipped_craft_s_report(
    chromium: Any, name: str, tmp_path: Path
) -> None:
    out = tmp_path / "report.html"
    coarse = ["--rows", "2", "--strips", "6", "--step", "60", "--without", "schedule"]
    if name == "teasel":
        coarse += ["--without", "roll"]  # its strips do not settle on so coarse a lattice
    assert main(["report", name, *coarse, "--out", str(out)]) == 0
    for scheme in ("light", "dark"):
        with unfolded(chromium, out, color_scheme=scheme) as watched:
            assert barriers(watched.page) == []


def test_what_bars_readers_is_found(chromium: Any, tmp_path: Path) -> None:
    """A button without a name, as empty heads of tables once had."""
    path = tmp_path / "page.html"
    path.write_text("<!doctype html><html lang=en><title>t</title><button></button></html>")
    with opened(chromium, path) as watched:
        (said,) = barriers(watched.page)
    assert said.startswith("button-name (critical, 1)")


def test_sliders_show_the_solvers_numbers(chromium: Any, report: Path) -> None:
    """At a node the page shows what the solver gives; hinge moments grow with airspeed squared."""
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        page = watched.page
        move(page, "port-fold", 30)
        move(page, "starboard-fold", -60)
        move(page, "alpha-at", 6)
        move(page, "airspeed-at", 18)
        state = Setting(alpha_deg=6.0, airspeed_m_s=18.0).flight_state
        solved = solve_point(data().craft, FoldAngles(30.0, -60.0), state, grid=GRID, errors=False)
        values = shown(page)
        expected = {
            "lift coefficient CL": solved.coefficients.CL,
            "rolling moment coefficient Cl": solved.coefficients.Cl,
            "side force coefficient CY": solved.coefficients.CY,
            "hinge moment upper port [N m]": solved.hinges["upper_left"].moment,
        }
        for name, value in expected.items():
            assert float(values[name]) == pytest.approx(value, rel=5e-3), name
        assert "rolls to starboard" in page.inner_text("#map-numbers")


def test_the_map_s_words_leave_open_what_rotors_may_turn(chromium: Any, tmp_path: Path) -> None:
    """Rotors that add half a unit turn a stable dihedral effect, not an unstable one; where what
    they add is not known, both."""
    found = data().map
    assert found is not None
    path = tmp_path / "map.html"
    assert data().sweep is not None
    names = ("Cl_beta_error", "Cl_beta_spread")
    sure = data().sweep.assign(dict.fromkeys(names, 0.0 * data().sweep["Cl_beta"]))
    for added, is_known in ((0.5, True), (np.nan, False)):
        rotors = {"Cl_beta": np.full((len(found.alphas_deg), 2), [added, 0.1])}
        mapped = replace(data(), sweep=sure, map=replace(found, rotors=rotors), studies={})
        page = report_page(mapped)
        path.write_text(page, encoding="utf-8")
        with unfolded(chromium, path) as watched:
            said = {}
            for fold in (60, -60):
                move(watched.page, "port-fold", fold)
                move(watched.page, "starboard-fold", fold)
                text = watched.page.locator("#map-numbers").inner_text()
                (said[fold],) = [one for one in text.splitlines() if "Cl_beta" in one]
        assert said[60].endswith("\tstable dihedral effect without its rotors")
        assert said[-60].endswith("unstable dihedral effect") == is_known
        assert ", wings and fins alone" in said[60]
        assert "4° angle of attack, wings and fins alone." in page
    assert "wings and fins alone" not in report_page(data())


def test_between_nodes_the_page_interpolates_as_the_check_does(chromium: Any, report: Path) -> None:
    found = data().map
    assert found is not None
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        k = list(found.alphas_deg).index(4.0)
        for port, starboard in ((13, -47), (-70, -47), (-90, -80)):
            move(watched.page, "port-fold", port)
            move(watched.page, "starboard-fold", starboard)
            places = (float(port), float(starboard), found.touching)
            for name, text in (
                ("CL", "lift coefficient CL"),
                ("Cl", "rolling moment coefficient Cl"),
            ):
                expected = interpolated(found.folds_deg, found.values[name], *places)[k]
                # Three digits are shown.
                assert float(shown(watched.page)[text]) == pytest.approx(expected, rel=5e-3)
        move(watched.page, "port-fold", -88)
        assert shown(watched.page)["lift coefficient CL"] == "–"
        assert "about to touch" in watched.page.inner_text("#map-says")


def test_the_front_view_follows_the_sliders(chromium: Any, report: Path) -> None:
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        page = watched.page
        # Port is on the left: its tip's outer end rises on the screen when the fold grows.
        ends = (
            "[...document.querySelectorAll('#craft-front .wing')]"
            ".map(l => [+l.getAttribute('x2'), +l.getAttribute('y2')])"
        )
        flat = min(page.evaluate(ends))
        move(page, "port-fold", 60)
        lines = page.evaluate(ends)
        assert min(lines)[0] > flat[0]
        assert min(y for _, y in lines) < flat[1] - 30
        page.get_by_label("tips together").check()
        move(page, "starboard-fold", 90)
        assert page.locator("#port-fold").input_value() == "90"
        page.get_by_role("button", name="dash").click()
        assert page.locator("#starboard-fold").input_value() == "-90"


def test_sliders_and_tables_work_from_the_keyboard(chromium: Any, report: Path) -> None:
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        page = watched.page
        page.locator("#port-fold").focus()
        page.keyboard.press("ArrowRight")
        assert page.locator("#port-fold").input_value() == "1"
        assert page.locator("#port-fold").get_attribute("aria-valuetext") == "1 degrees"
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid"
        head = page.locator("#sweep .table th").nth(1)
        head.locator("button").focus()
        page.keyboard.press("Enter")
        assert head.get_attribute("aria-sort") == "ascending"
        column = [
            float(v.split()[0])
            for v in page.locator("#sweep .table td:nth-child(2)").all_inner_texts()
            if v != "-"
        ]
        assert column == sorted(column)
        page.keyboard.press("Enter")
        assert head.get_attribute("aria-sort") == "descending"


def test_a_press_on_the_map_moves_the_tips(chromium: Any, report: Path) -> None:
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        page = watched.page
        page.locator("#map-small").scroll_into_view_if_needed()
        box = page.locator("#map-small").bounding_box()
        page.mouse.click(box["x"] + box["width"] * 70 / 420, box["y"] + box["height"] * 20 / 400)
        # Near the upper left corner: port folded far down, starboard far up.
        assert float(page.locator("#port-fold").input_value()) < -70
        assert float(page.locator("#starboard-fold").input_value()) > 100


def test_tables_copy_as_tabbed_text(chromium: Any, report: Path) -> None:
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        page = watched.page
        text = page.evaluate("tabbed(document.querySelector('#geometry table'))")
        lines = text.splitlines()
        assert lines[0].startswith("wing\tflat span [m]")
        assert lines[1].split("\t")[0] == "upper"
        page.locator("#geometry .copy").first.click()
        page.wait_for_timeout(100)
        assert page.locator("#geometry .copy").first.inner_text() in (
            "copied", "copying is not allowed here",
        )  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_has_contrast(chromium: Any, report: Path, scheme: str) -> None:
    """At least 4.5 to 1 for text (WCAG 2.2, 1.4.3), against the ground it stands on."""
    with unfolded(chromium, report, color_scheme=scheme) as watched:
        pairs = watched.page.evaluate(
            """[...document.querySelectorAll('h1,h2,h3,p,li,a,td,th button,figcaption,code,button,'
                + 'label,caption,pre,.soft')].map(e => {
              let ground = e;
              const solid = (n) => getComputedStyle(n).backgroundColor;
              while (ground && solid(ground) === 'rgba(0, 0, 0, 0)') ground = ground.parentElement;
              return [getComputedStyle(e).color, ground ? solid(ground) : 'rgb(255, 255, 255)'];
            })"""
        )
        ratios = {(a, b): contrast(a, b) for a, b in map(tuple, pairs)}
        assert len(ratios) >= 4
        assert min(ratios.values()) >= 4.5, ratios


def test_a_phone_shows_every_figure_whole_with_letters_of_12_px(
    chromium: Any, report: Path
) -> None:
    """Nothing scrolls sideways; letters but for what stands raised or lowered in a symbol."""
    with unfolded(chromium, report, viewport={"width": 390, "height": 844}) as watched:
        figures = watched.page.evaluate(
            """[...document.querySelectorAll('.paper svg')].map(svg => {
                 const box = svg.getBoundingClientRect(), paper = svg.parentElement;
                 const scale = box.width / svg.viewBox.baseVal.width;
                 return {name: svg.closest('figure').id, left: box.left, right: box.right,
                   hidden: paper.scrollWidth - paper.clientWidth,
                   letters: Math.min(...[...svg.querySelectorAll('text')]
                     .map(t => parseFloat(getComputedStyle(t).fontSize) * scale))}; })"""
        )
        assert len(figures) > 20
        small = {one["name"]: one["letters"] for one in figures if one["letters"] < 12.0}
        assert small == {}
        cut = [one for one in figures if one["left"] < 0 or one["right"] > 390 or one["hidden"] > 0]
        assert cut == []


def test_words_and_figures_fill_the_rows_of_a_wide_screen(chromium: Any, report: Path) -> None:
    """Two figures alone would leave a third of their row blank."""
    with opened(chromium, report, viewport={"width": 1440, "height": 900}) as watched:
        rows = watched.page.evaluate(
            """[...document.querySelectorAll('.figures:has(> .said)')]
               .map(row => [...row.children].map(one => one.getBoundingClientRect()))
               .map(boxes => ({tops: new Set(boxes.map(box => box.top)).size,
                               left: boxes[0].left, right: boxes.at(-1).right}))"""
        )
        whole = watched.page.locator("#sweep").bounding_box()
    assert len(rows) >= 4
    assert {row["tops"] for row in rows} == {1}
    assert [row["left"] for row in rows] == pytest.approx([whole["x"]] * len(rows), abs=2.0)
    ends = [row["right"] for row in rows]
    assert ends == pytest.approx([whole["x"] + whole["width"]] * len(rows), abs=2.0)


def test_both_ends_of_a_signed_scale_are_reported_apart_in_grey(
    chromium: Any, report: Path
) -> None:
    """Cl rolls to port where the port tip is lowered: minus there, plus on the other side."""
    with unfolded(chromium, report, viewport={"width": 1280, "height": 900}) as watched:
        signs = watched.page.evaluate(
            "[...document.querySelectorAll('#map-small .sign')]"
            ".map(t => [+t.getAttribute('x'), +t.getAttribute('y'), t.textContent])"
        )
        assert {sign for _, _, sign in signs} == {"+", "−"}
        # Mirrored about the diagonal, where Cl is zero and bears no sign.
        left, low = (sorted(signs, key=lambda one: one[axis])[:: 1 - 2 * axis] for axis in (0, 1))
        assert left[1][2] == "−"
        assert low[1][2] == "+"
        assert watched.page.locator("#map-ends .bar").is_visible()
        watched.page.locator("#map-of").select_option("CL")
        assert watched.page.locator("#map-small .sign").count() == 0


# Text of pictures, less what is written over filled maps, whose colours stay (see schemes.py).
FIGURE_TEXT = """[...document.querySelectorAll('.paper svg text')]
    .map(t => getComputedStyle(t).fill)
    .filter(c => c !== 'rgb(3, 3, 3)' && c !== 'rgb(254, 254, 254)')"""


@pytest.mark.parametrize(
    ("scheme", "ground"), [("light", "rgb(255, 255, 255)"), ("dark", "rgb(18, 24, 31)")]
)
def test_pictures_follow_the_readers_scheme(
    chromium: Any, report: Path, scheme: str, ground: str
) -> None:
    """Their ground is the page's, and their text is readable on it (WCAG 2.2, 1.4.3)."""
    with unfolded(chromium, report, color_scheme=scheme) as watched:
        page = watched.page
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == ground
        grounds = page.evaluate(
            "[...document.querySelectorAll('.paper svg > g > g:first-child > path')]"
            ".map(p => getComputedStyle(p).fill)"
        )
        assert len(grounds) > 20
        assert set(grounds) == {ground}
        ratios = {colour: contrast(colour, ground) for colour in page.evaluate(FIGURE_TEXT)}
        assert len(ratios) >= 4
        assert min(ratios.values()) >= 4.5, ratios


def test_paper_is_light_whatever_the_screen(chromium: Any, report: Path) -> None:
    with unfolded(chromium, report, color_scheme="dark") as watched:
        watched.page.emulate_media(media="print", color_scheme="dark")
        assert "rgb(230, 237, 244)" not in watched.page.evaluate(FIGURE_TEXT)
        assert "rgb(0, 0, 0)" in watched.page.evaluate(FIGURE_TEXT)


@pytest.mark.parametrize("wide", [1366, 390])
@pytest.mark.parametrize("ident", ["schedule", "mission"])
def test_schedule_and_mission_fit_the_screen(
    chromium: Any, report: Path, wide: int, ident: str
) -> None:
    viewport = {"width": wide, "height": 844}
    with unfolded(chromium, report, viewport=viewport) as watched:
        page = watched.page
        assert page.locator(f"nav a[href='#{ident}']").count() == 1
        assert page.evaluate("document.documentElement.scrollWidth") <= wide
        figures = page.locator(f"#{ident} figure").all()
        assert figures
        for figure in figures:
            box = figure.bounding_box()
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= wide
        # Nothing in the section but what scrolls by itself sticks out of the screen.
        out = page.evaluate(
            """(id) => [...document.querySelectorAll(`#${id} *`)].filter(e =>
                 !e.closest('.scroll, .paper') && e.getBoundingClientRect().right > innerWidth + 1)
                 .map(e => e.tagName)""",
            ident,
        )
        assert out == []
        assert watched.complaints == []


def test_what_scrolls_can_be_reached_from_the_keyboard(chromium: Any, report: Path) -> None:
    """Every region that scrolls takes the focus (WCAG 2.2, 2.1.1)."""
    with unfolded(chromium, report, viewport={"width": 390, "height": 844}) as watched:
        found = watched.page.evaluate(
            """[...document.querySelectorAll('.scroll, .paper')]
                 .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.tabIndex)"""
        )
        assert found
        assert set(found) == {0}


def test_contrast_is_measured_as_published() -> None:
    """WCAG 2.2: black on white is 21 to 1; #777777 on white is 4.48 (from memory)."""
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21.0)
    assert contrast("rgb(119, 119, 119)", "rgb(255, 255, 255)") == pytest.approx(4.48, abs=0.01)


def test_it_prints_on_a4(chromium: Any, report: Path) -> None:
    with opened(chromium, report) as watched:
        paper = watched.page.pdf(prefer_css_page_size=True)
        assert paper.startswith(b"%PDF")
        boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", paper)
        assert 0 < len(boxes) <= 10
        # A4 is 210 by 297 mm (ISO 216); a point is 1/72 inch.
        for width, height in boxes:
            assert float(width) == pytest.approx(595.3, abs=1.0)
            assert float(height) == pytest.approx(841.9, abs=1.0)
        watched.page.emulate_media(media="print")
        assert not watched.page.locator(".copy").first.is_visible()
        assert not watched.page.locator("#port-fold").is_visible()
        assert watched.page.locator("#craft-front").is_visible()


def test_figures_fill_their_rows_on_paper(chromium: Any, report: Path) -> None:
    """186 mm of A4 lie between the margins: 703 px at 96 px for each inch."""
    with opened(chromium, report, viewport={"width": 703, "height": 1000}) as watched:
        watched.page.emulate_media(media="print")
        rows = watched.page.evaluate(
            """() => [...document.querySelectorAll('.figures')]
                 .filter(e => e.offsetParent)
                 .map(e => [e.clientWidth, e.children.length,
                            ...[...e.children].flatMap(c => [c.offsetTop, c.offsetWidth])])"""
        )
        assert len(rows) > 4
        for width, _, *places in rows:
            last = places[-2]  # the lowest row of this block
            used = sum(w for top, w in zip(places[::2], places[1::2], strict=True) if top == last)
            assert used > 0.8 * width


# --- the command ------------------------------------------------------------------------------


def test_the_command_writes_a_page_for_a_craft_without_tips(
    run_foldspan: Any, tmp_path: Path
) -> None:
    run = run_foldspan(
        "report", "plank", "-o", "r.html", "--rows", "2", "--strips", "6", cwd=tmp_path
    )
    assert run.returncode == 0, run.stderr
    text = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert re.findall(r'<section id="(\w+)">', text) == ["answer", "geometry", "basis"]
    assert "It has no folding tips" in text
    assert "left out: roll" in run.stderr
    assert run.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["r.html"]


@pytest.mark.parametrize(
    ("options", "says"),
    [(("-o", "r.pdf"), ".html"), (("-o", "none/r.html"), "no folder"),
     (("-o", "r.html", "--alpha", "80"), "alpha")],
)  # fmt: skip
def test_the_command_refuses(
    options: tuple[str, ...], says: str, run_foldspan: Any, tmp_path: Path
) -> None:
    run = run_foldspan("report", "plank", *options, cwd=tmp_path)
    assert run.returncode == 2
    assert says in run.stderr


def test_the_maps_script_data_has_no_gaps_in_it(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    found = re.search(r'id="fold-map">(.*?)</script>', text, flags=re.S)
    assert found
    document = json.loads(found[1])
    n, a = len(document["folds"]), len(document["alphas"])
    assert np.array(document["values"]["CL"], dtype=float).shape == (n, n, a)
    strips = sum(len(s["normals"]) for s in document["surfaces"])
    assert np.array(document["circulation"], dtype=float).shape == (n, n, a, strips)


def test_texts_of_the_reports_figures_stand_apart(drawn_page: Any) -> None:
    """No two texts of a figure meet and none leaves it, as in the pictures of commands."""
    _, drawn = drawn_page
    assert len(drawn) > 15
    assert [fault for one in drawn for fault in one] == []
