"""``foldspan new``: a file that is valid at once, explained, and that the commands can answer."""

import json
import math
import tomllib
from pathlib import Path

import jsonschema
import pytest

from vlm.cli.main import main
from vlm.description import keys
from vlm.description.loading import load_biplane
from vlm.description.ranges import craft_range_findings
from vlm.flight.craft.mass_properties import craft_mass_properties
from vlm.lattice.cellule import Grid, build_cellule
from vlm.study.check.hover import hover_of
from vlm.study.power.study import PowerPlan, power_study

SIZES = ("--mass", "2", "--span", "1.5")
WAYS = [
    (),
    ("--monoplane", "--rotors", "2"),
    ("--monoplane",),
    ("--tip-span", "0"),
    ("--tip-span", "0.5"),
    ("--blocks", "none"),
    ("--blocks", "mass,rotors,actuator,schedule,log"),
    ("--chord", "0.2", "--gap", "0.3", "--rotor-radius", "0.1", "--battery", "60"),
]


def made(folder: Path, *words: str) -> Path:
    """A file written by the command."""
    path = folder / "gull.toml"
    assert main(["new", str(path), *SIZES, *words]) == 0
    return path


@pytest.mark.parametrize("words", WAYS, ids=" ".join)
def test_every_way_gives_a_valid_and_plausible_file(words: tuple[str, ...], tmp_path: Path) -> None:
    path = made(tmp_path, *words)
    craft = load_biplane(str(path))
    assert craft_range_findings(craft) == []
    first = path.read_text().splitlines()[0]
    assert first == "#:schema foldspan.schema.json"
    schema = json.loads((tmp_path / first.partition(" ")[2]).read_text())
    jsonschema.validate(tomllib.loads(path.read_text()), schema)
    assert max(len(line) for line in path.read_text().splitlines()) <= 100


def test_the_whole_craft_has_the_mass_and_the_balance_that_were_stated(tmp_path: Path) -> None:
    """Gathered from its parts by the theorem of parallel axes, not by the rule's own sums."""
    craft = load_biplane(str(made(tmp_path)))
    found = craft_mass_properties(craft, build_cellule(craft, Grid(rows=2, strips=8)), {})
    assert found.mass == pytest.approx(2.0, rel=1e-3)
    assert found.centre[0] == pytest.approx(0.2 * craft.upper.root_chord_m, rel=5e-3)
    assert found.centre[1] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("mass", "span"), [(0.4, 0.7), (1.5, 1.2), (2.0, 1.0), (6.0, 2.4)])
def test_the_craft_cruises_within_its_limits(mass: float, span: float, tmp_path: Path) -> None:
    """Both tips flat and lowered, at both ends and in the middle of its own range of airspeeds: the
    difference of thrust between the rotors above and below balances it in pitch."""
    path = tmp_path / "gull.toml"
    assert main(["new", str(path), "--mass", str(mass), "--span", str(span)]) == 0
    craft = load_biplane(str(path))
    assert craft.schedule is not None
    ends = craft.schedule.airspeed_min_m_s, craft.schedule.airspeed_max_m_s
    plan = PowerPlan(
        settings={name: craft.configurations[name].folds for name in ("open", "dash")},
        speeds=(ends[0], 0.5 * sum(ends), ends[1]),
        grid=Grid(rows=2, strips=8),
        intervals=False,
    )
    for curve in power_study(craft, plan).curves.values():
        assert [point.limit for point in curve.points] == ["", "", ""]
        assert all(point.is_allowed for point in curve.points)


def test_every_key_is_explained_with_unit_and_every_optional_one_is_named(tmp_path: Path) -> None:
    lines = made(tmp_path, "--blocks", "mass,rotors,actuator,schedule,log").read_text().splitlines()
    text = " ".join(line.lstrip("# ") for line in lines)
    for block in ("upper", "upper.tips", "mass", "actuator", "propulsion", "schedule"):
        for key in keys.known_keys(tuple(block.split("."))):
            if keys.is_block((*block.split("."), key)):
                continue
            meaning = keys.description_at((*block.split("."), key)).partition("[")[0]
            words = meaning.replace("``", "").split()[:4]
            assert " ".join(words).rstrip(".") in text, (block, key)
            assert key in text
    assert text.count("ESTIMATE: ") > 30


def test_the_rotors_hover_the_craft_and_the_box_closes(tmp_path: Path) -> None:
    craft = load_biplane(str(made(tmp_path)))
    hover = hover_of(craft, build_cellule(craft, Grid(rows=2, strips=8)))
    assert hover is not None
    assert hover.possible
    assert hover.disc_loading_N_m2 == pytest.approx(100.0, rel=0.02)
    discs = [rotor.position_m for rotor in craft.rotors]
    least = min(math.dist(a, b) for i, a in enumerate(discs) for b in discs[:i])
    assert least > 2.0 * craft.rotors[0].radius_m
    assert main(["check", str(tmp_path / "gull.toml"), "--folds", "-90", "--json"]) == 0


def test_an_existing_file_is_never_replaced(tmp_path: Path, capsys) -> None:
    path = made(tmp_path)
    before = path.read_bytes()
    capsys.readouterr()
    assert main(["new", str(path), "--mass", "3", "--span", "2"]) == 2
    assert "never replaces" in capsys.readouterr().err
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("a.toml",), "--mass is missing"),
        (("a", *SIZES), "write a.toml"),
        (("a.toml", "--mass", "-1", "--span", "1"), "--mass = -1; it must be positive"),
        (("a.toml", *SIZES, "--rotors", "3"), "--rotors = 3; allowed are 2 and 4"),
        (("a.toml", *SIZES, "--tip-span", "0.8"), "--tip-span = 0.8; it must lie between 0"),
        (("a.toml", *SIZES, "--monoplane", "--gap", "0.3"), "--gap belongs to two wings"),
        (("a.toml", *SIZES, "--blocks", "mas"), "did you mean mass?"),
        (("x/a.toml", *SIZES), "there is no folder x"),
    ],
)
def test_refusals(words, said: str, tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", *words]) == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("word", ["init", "create", "template"])
def test_other_words_lead_there(word: str, capsys) -> None:
    assert main([word]) == 2
    assert f"{word} is not a command; did you mean new?" in capsys.readouterr().err


def test_what_is_not_written_is_said_with_the_keys_that_give_it(tmp_path: Path, capsys) -> None:
    """And with these keys the file is a craft whose two wings fold."""
    path = made(tmp_path)
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines if str(path) not in line) <= 80
    said = " ".join(" ".join(lines).split())
    assert "Only the upper wing has tips." in said
    assert "[lower.tips], with keys as [upper.tips] and [mass.lower_tip]" in said
    assert "4 rotors, each a block [[rotors]]" in said
    text = path.read_text()
    tables = tomllib.loads(text)

    def block(name: str, table: dict[str, object]) -> str:
        lines = (f"{key} = {json.dumps(value)}" for key, value in table.items())
        return "\n".join(["", f"[{name}]", *lines, ""])

    copied = {"lower.tips": tables["upper"]["tips"], "mass.lower_tip": tables["mass"]["upper_tip"]}
    # Shorter, so that tips folded inward pass one another.
    copied["lower.tips"] |= {"span_m": 0.3 * copied["lower.tips"]["span_m"]}
    both = tmp_path / "both.toml"
    both.write_text(text + "".join(block(name, table) for name, table in copied.items()))
    assert set(load_biplane(str(both)).tips) == {"upper", "lower"}
    for words in (("--monoplane",), ("--tip-span", "0")):
        (tmp_path / "gull.toml").unlink()
        made(tmp_path, *words)
        assert "lower" not in capsys.readouterr().out
