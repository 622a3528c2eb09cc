"""Keys set on the command line: what they change, and what is refused."""

import numpy as np
import pytest

from vlm.description import load_biplane, load_biplane_text
from vlm.description.overrides import apply_overrides
from vlm.errors import InputRefused

WING = "{ span_m = 1.0, root_chord_m = 0.2, end_chord_m = 0.2 }"
MONOPLANE = f'title = "Invented"\nupper = {WING}\n'
STATIONS = """\
title = "Invented"
[upper]
stations = [
  { y_m = 0, x_m = 0, chord_m = 0.2 },
  { y_m = 0.3, x_m = 0, chord_m = 0.2 },
  { y_m = 0.5, x_m = 0, chord_m = 0.1 },
]
"""


def test_a_number_is_set_and_the_rest_stays():
    plain, wide = load_biplane("tideline"), load_biplane("tideline", ["arrangement.gap_m=0.5"])
    assert wide.arrangement.gap_m == 0.5
    assert wide.upper == plain.upper
    assert wide.source.overrides == ("arrangement.gap_m=0.5",)
    assert wide.source_text == plain.source_text


def test_a_place_in_a_list_counts_from_zero():
    craft = load_biplane_text(STATIONS, overrides=["upper.stations.2.chord_m=0.05"])
    assert [station.chord_m for station in craft.upper.stations] == [0.2, 0.2, 0.05]


@pytest.mark.parametrize(
    ("override", "value"),
    [
        ("title=Two words", "Two words"),
        ('title="In quotation marks"', "In quotation marks"),
        ("title=12", "12"),
        ("title = a = b", "a = b"),
    ],
)
def test_text_needs_no_quotation_marks(override, value):
    assert load_biplane_text(MONOPLANE, overrides=[override]).title == value


def test_four_digits_stay_text():
    """camber is a text, so digits are not read as a number."""
    assert load_biplane_text(MONOPLANE, overrides=["upper.camber=0012"]).upper.camber == "0012"


def test_blocks_and_lists_are_made_where_the_file_has_none():
    overrides = [
        "reference.area_m2=0.4",
        "reference.moment_point_m=[0.1, 0, -0.1]",
        "upper.tips={ span_m = 0.2, end_chord_m = 0.1 }",
        "upper.tips.fold_max_deg=50",
        'configurations."tips up".fold_deg=40',
    ]
    craft = load_biplane_text(MONOPLANE, overrides=overrides)
    assert craft.reference.moment_point_m == (0.1, 0.0, -0.1)
    assert craft.upper.tips.fold_limits_deg == (-179.0, 50.0)
    assert craft.configurations["tips up"].fold_deg == 40.0


def test_the_last_of_two_counts():
    assert (
        load_biplane_text(MONOPLANE, overrides=["upper.span_m=2", "upper.span_m=3"]).upper.span_m
        == 3
    )


def test_the_tables_given_are_not_changed():
    data = {"upper": {"stations": [{"chord_m": 1.0}]}}
    changed = apply_overrides(data, ["upper.stations.0.chord_m=2.0"])
    assert data["upper"]["stations"][0]["chord_m"] == 1.0
    assert changed["upper"]["stations"][0]["chord_m"] == 2.0


def test_changed_copies_of_a_description():
    """By key path, as studies over a key make them; numpy numbers are taken as numbers."""
    craft = load_biplane("tideline")
    changed = craft.overridden({"arrangement.gap_m": np.float64(0.5), "title": "Wider"})
    assert (changed.arrangement.gap_m, changed.title) == (0.5, "Wider")
    assert changed.source.overrides == ("arrangement.gap_m=0.5", 'title="Wider"')
    assert changed.overridden(["arrangement.gap_m=0.36", f"title={craft.title}"]) == craft
    assert craft.arrangement.gap_m == 0.36


@pytest.mark.parametrize(
    ("override", "said"),
    [
        ("arrangement.gapp_m=0.5", "arrangement.gapp_m is not a known key; did you mean gap_m?"),
        ("arrangement.gap=0.5", "arrangement.gap is not a known key; did you mean gap_m?"),
        ("arangement.gap_m=1", "arangement is not a known key; did you mean arrangement?"),
        (
            "upper.span_m.x=1",
            "upper.span_m.x is not a known key; upper.span_m has no keys of its own",
        ),
        ("arrangement.gap_m", "write KEY=VALUE, such as arrangement.gap_m=0.5"),
        ("=3", "write KEY=VALUE, such as arrangement.gap_m=0.5"),
        ("upper..span_m=1", "'upper..span_m' is not a key such as arrangement.gap_m"),
        ("upper.span_m =x=1", "'x=1' is not a value such as 0.5, true or [0, 1]"),
        ("upper.span_m=", "'' is not a value such as 0.5, true or [0, 1]"),
        ("upper.span_m=1\nx=2", r"'1\nx=2' is not a value such as 0.5, true or [0, 1]"),
        ("upper.stations.3.chord_m=1", "upper.stations holds 3, places 0 to 2; there is no 3"),
        ("upper.stations.-1.chord_m=1", "upper.stations.-1 is not a known key"),
        ("reference.moment_point_m.0=1", "the file has no list reference.moment_point_m"),
        ('upper "span_m"=1', "is not a key such as arrangement.gap_m"),
    ],
)
def test_refusals_name_the_option(override, said):
    with pytest.raises(InputRefused) as caught:
        load_biplane_text(STATIONS, "g.toml", [override])
    assert str(caught.value).startswith("--set ")
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_place_where_the_file_has_a_number():
    text = MONOPLANE.replace(WING, "5")
    with pytest.raises(InputRefused, match="upper is not a table in the file"):
        load_biplane_text(text, overrides=["upper.span_m=1"])


def test_a_value_the_models_refuse_is_named_with_the_file():
    with pytest.raises(
        InputRefused, match=r"g\.toml: upper\.span_m = -1; a length must be positive"
    ):
        load_biplane_text(MONOPLANE, "g.toml", ["upper.span_m=-1"])


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ("arrangement.gap_m=1", "give a list of KEY=VALUE texts"),
        ({"arrangement.gap_m": None}, "None can't be written as a TOML value"),
        ({"arrangement.gap_m": object}, "can't be written as a TOML value"),
    ],
)
def test_changes_that_are_no_values(changes, said):
    with pytest.raises(InputRefused, match=said):
        load_biplane("tideline").overridden(changes)
