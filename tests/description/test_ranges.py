"""Numbers that no craft can have, and numbers that few have.

The ranges are common practice and say so; what is checked here is that each number meets its range,
that what is shipped lies within, and that slips of unit are found.
"""

import math
from pathlib import Path

import pytest

from vlm.cli.main import main
from vlm.description.files import shipped_folders
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.ranges import RANGES, craft_range_findings, range_finding
from vlm.description.schema import biplane_json_schema
from vlm.errors import InputRefused

SHIPPED = sorted({path.stem for folder in shipped_folders() for path in folder.glob("*.toml")})


@pytest.mark.parametrize("key", RANGES)
def test_a_range_is_in_order_and_says_where_it_comes_from(key: str) -> None:
    one = RANGES[key]
    assert one.possible[0] <= one.usual[0] < one.usual[1] <= one.possible[1]
    assert one.source
    assert one.unit


@pytest.mark.parametrize("key", [key for key in RANGES if "." in key and " " not in key])
def test_a_range_is_of_a_key_that_there_is(key: str) -> None:
    """A key that was renamed would never meet its range."""
    schema = biplane_json_schema()
    names = {n for block in schema["$defs"].values() for n in block.get("properties", {})}
    assert key.rpartition(".")[2] in names | set(schema["properties"])


@pytest.mark.parametrize("name", SHIPPED)
def test_nothing_shipped_is_unusual(name: str) -> None:
    assert craft_range_findings(load_biplane(name)) == []


SLIPS = {
    "a motor that wastes 99 %": ("propulsion.motor_efficiency=0.01", "propulsion.motor_efficiency"),
    "a mass in tonnes": ("mass.body_kg=0.00186", "mass, radius of gyration over span"),
    "a mass in grams": ("mass.body_kg=1860", "mass, over wing area"),
    "no mass at all": ("mass.body_kg=1e-6", "mass, radius of gyration over span"),
    "a radius in millimetres": ("rotors.0.radius_m=120", "rotors.*.radius_m"),
    "a chord in millimetres": ("upper.root_chord_m=170", "wing.root_chord_m"),
    "a battery in kJ": (
        "propulsion.battery_energy_Wh=900", "battery energy over mass of the craft"
    ),
    "a plate for a section": ("sections.foil.cd_least=1.5", "sections.*.cd_least"),
    "a torque in kg cm": ("actuator.servo_stall_torque_N_m=250", "actuator.servo_stall_torque_N_m"),
    "a speed in km/h": ("schedule.airspeed_max_m_s=120", "schedule.airspeed_max_m_s"),
    "inertias in g m2": (
        "mass.body_inertia_kg_m2=[36, 28, 54]", "mass, radius of gyration over span"
    ),
    "a reference area in dm2": ("reference.area_m2=40", "reference area over wing area"),
    "a reference span in mm": ("reference.span_m=1200", "reference span over wing span"),
    "a reference chord in km": ("reference.chord_m=0.0002", "reference chord over wing chord"),
    "a moment point in mm": (
        "reference.moment_point_m=[80, 0, 0]", "moment point's distance over wing span"
    ),
    "a line as steep as no thin wing's": ("upper.camber=9109", "mean line, slope"),
    "drag areas in cm2": ("drag_areas.0.area_m2=55", "drag areas over wing area"),
}  # fmt: skip


@pytest.mark.parametrize(("change", "key"), SLIPS.values(), ids=SLIPS)
def test_slips_of_unit_are_found(change: str, key: str) -> None:
    found = craft_range_findings(load_biplane("tideline", [change]))
    assert f"usual: {key}" in [one.code for one in found]
    for one in found:
        low, high = RANGES[one.code.removeprefix("usual: ")].usual
        assert not low <= one.value <= high
        assert one.limit in (low, high)


@pytest.mark.parametrize("value", [0.7, 12.0, 0.4])
def test_usual_numbers_are_no_doubt(value: float) -> None:
    assert range_finding("density", value) is None or value == 12.0


PLANK = 'title = "x"\n[upper]\nspan_m = 1.2\nroot_chord_m = 0.2\nend_chord_m = 0.2\n'


def line(folder: Path, *points: str) -> str:
    (folder / "line.csv").write_text("\n".join(("x_c,z_c", "0,0", *points, "1,0")) + "\n")
    return f'{PLANK}camber = "line.csv"\n'


def test_a_mean_line_that_closes_like_a_wall_is_refused(tmp_path: Path) -> None:
    """It gave a lift coefficient of -5000 with status 0, and a bug in trim."""
    text = line(tmp_path, "0.5,0.02", "0.9999,0.45")
    with pytest.raises(InputRefused, match=r"slope = -4500; at least -3 is possible"):
        load_biplane_text(text, "x.toml", folder=tmp_path)


def test_a_steep_mean_line_is_a_doubt(tmp_path: Path) -> None:
    craft = load_biplane_text(line(tmp_path, "0.5,0.02", "0.95,0.08"), "x.toml", folder=tmp_path)
    (found,) = craft_range_findings(craft)
    assert found.code == "usual: mean line, slope"
    assert found.value == pytest.approx(-1.6)


def section(folder: Path, rows: list[str]) -> str:
    (folder / "foil.csv").write_text("\n".join(("alpha_deg,cl,cd", *rows)) + "\n")
    return f'{PLANK}section = "foil"\n[sections.foil]\nform = "table"\ntable = "foil.csv"\n'


GOOD = ["-8,-0.7,0.02", "-4,-0.3,0.012", "0,0.1,0.01", "4,0.5,0.012", "8,0.9,0.02"]


@pytest.mark.parametrize(
    ("row", "key"),
    [
        ("4,0.5,1.5", "section table, cd within 6 deg"),
        ("4,0.5,0.0000012", "section table, least cd"),
        ("4,5,0.012", "section table, cl"),
        ("7,0.8,3.0", "section table, cd"),
        ("-3.9,0.5,0.012", "section table, step of cl"),
    ],
)
def test_a_mutated_cell_of_a_section_is_found(row: str, key: str, tmp_path: Path) -> None:
    text = section(tmp_path, GOOD)
    assert craft_range_findings(load_biplane_text(text, "x.toml", folder=tmp_path)) == []
    text = section(tmp_path, [*GOOD[:3], row, GOOD[4]])
    found = craft_range_findings(load_biplane_text(text, "x.toml", folder=tmp_path))
    assert f"usual: {key}" in [one.code for one in found]


def test_no_rotor_gives_more_than_it_takes(tmp_path: Path) -> None:
    """J CT / CP is thrust times speed over shaft power; at rest the ideal is momentum theory's."""
    text = (Path(__file__).parents[2] / "geometries/tideline.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[[rotors]]")
    block = '[[rotors]]\nname = "one"\nposition_m = [0.0, 0.1, 0.0]\nradius_m = 0.12\n' \
        'spin = "right"\nform = "table"\ntable = "rotor.csv"\n'  # fmt: skip
    craft = f"{head}{block}{rest[rest.index('[propulsion]') :]}"
    heads = "advance_ratio,thrust_coefficient,power_coefficient"
    ideal = 0.1**1.5 * math.sqrt(2.0 / math.pi)
    for rows, words in (
        (
            ("0,0.1,0.05", "0.5,0.08,0.03", "0.8,0,0.01"),
            "efficiency = 1.33333; at most 1",
        ),
        (
            (f"0,0.1,{0.99 * ideal}", "0.5,0.01,0.03", "0.8,0,0.01"),
            "merit at rest = 1.0101",
        ),
    ):
        (tmp_path / "rotor.csv").write_text("\n".join((heads, *rows)) + "\n")
        with pytest.raises(InputRefused, match=r"no machine|momentum theory") as told:
            load_biplane_text(craft, "x.toml", folder=tmp_path)
        assert words in str(told.value)


@pytest.mark.usefixtures("answers_kept")
@pytest.mark.parametrize(
    "words",
    [
        ("point", "plank", "--alpha", "4", "--airspeed", "0.1"),
        ("point", "plank", "--alpha", "4", "--density", "1e-6"),
        ("point", "tideline", "--alpha", "4", "--set", "propulsion.motor_efficiency=0.01"),
        ("check", "tideline", "--set", "mass.body_kg=1e-6"),
        ("sweep", "plank", "--fold", "0", "--density", "12", "--out", "out.csv"),
        ("lateral", "turnstone", "--folds", "0", "--set", "mass.body_kg=1860"),
    ],
)
def test_strict_takes_nothing_unusual(
    words: tuple[str, ...], tmp_path, capsys, monkeypatch
) -> None:
    """Every command that reads a craft has the option; what is reported once is reported once."""
    monkeypatch.chdir(tmp_path)
    grid = () if words[0] == "check" else ("--rows", "2", "--strips", "6")
    assert main([*words, *grid]) == 0
    printed = capsys.readouterr()
    if words[0] == "check":  # warnings are its answer
        assert "is usual" in printed.out
        assert "doubt" not in printed.err
        lines = ["what is usual"]
    else:
        lines = [one for one in printed.err.splitlines() if one.startswith("warning: ")]
    assert any("what is usual" in one for one in lines)
    assert len(set(lines)) == len(lines)
    assert main([*words, *grid, "--strict"]) == 3
    assert "which --strict does not allow" in capsys.readouterr().err


@pytest.mark.parametrize("factor", [1000.0, 0.001])
def test_every_length_a_thousand_times_too_large_or_small_for_the_mass(factor: float) -> None:
    """Millimetres taken for metres, or metres for kilometres, wing by wing and all at once."""
    craft = load_biplane("tideline")
    changes = [
        f"{where}.{key}={getattr(block, key) * factor}"
        for where, block in (
            ("upper", craft.upper),
            ("lower", craft.lower),
            ("upper.tips", craft.upper.tips),
            ("arrangement", craft.arrangement),
        )
        for key in ("span_m", "root_chord_m", "end_chord_m", "gap_m", "stagger_m")
        if getattr(block, key, None) is not None
    ]
    found = {one.code for one in craft_range_findings(load_biplane("tideline", changes))}
    assert {"usual: mass, over wing area", "usual: wing.span_m"} <= found
