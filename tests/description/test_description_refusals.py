"""Every refusal of a geometry file names file, key, value, what is allowed and the nearest key."""

import re

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from vlm.description import Biplane, Station, Tips, Wing, load_biplane_text
from vlm.description.refusals import MOST_LINES
from vlm.errors import InputRefused, nearest_name

GOOD = """\
title = "Invented"
[upper]
span_m = 0.84
root_chord_m = 0.17
end_chord_m = 0.17
camber = "2412"
[upper.tips]
span_m = 0.36
end_chord_m = 0.12
fold_min_deg = -95.0
fold_max_deg = 60.0
[lower]
span_m = 0.84
root_chord_m = 0.17
end_chord_m = 0.17
[arrangement]
gap_m = 0.36
[configurations]
dash = { fold_deg = -90 }
"""
SPAN = "span_m = 0.84"
TRAPEZOID = "span_m = 0.84\nroot_chord_m = 0.17\nend_chord_m = 0.17"
REFERENCE = "\n[reference]\n"


def changed(old, new):
    assert old in GOOD
    return GOOD.replace(old, new, 1)


def stations(*rows):
    return changed(TRAPEZOID, f"stations = [{', '.join(f'{{ {row} }}' for row in rows)}]")


ROOT = "y_m = 0, x_m = 0, chord_m = 0.17"

# What is done to the good file, and the whole message after the file's name.
CASES = {
    "no unit": (
        changed(SPAN, "span = 0.84"),
        "upper.span is not a known key; did you mean span_m?",
    ),
    "millimetres": (
        changed(SPAN, "span_mm = 840"),
        "upper.span_mm is not a known key; did you mean span_m?",
    ),
    "misspelt key": (
        changed("span_m = 0.36", "spann_m = 0.36"),
        "upper.tips.spann_m is not a known key; did you mean span_m?",
    ),
    "misspelt block": (
        changed("[lower]", "[lowr]"),
        "lowr is not a known key; did you mean lower?",
    ),
    "misspelt inner block": (
        changed("[upper.tips]", "[upper.tip]"),
        "upper.tip is not a known key; did you mean tips?",
    ),
    "key of another block": (
        changed(SPAN, f"{SPAN}\nflare_deg = 5"),
        "upper.flare_deg is not a known key; flare_deg belongs in upper.tips",
    ),
    "key like no other": (
        changed("gap_m = 0.36", "gap_m = 0.36\nqqq = 1"),
        "arrangement.qqq is not a known key; known here: gap_m, stagger_m",
    ),
    "text for a number": (
        changed(SPAN, 'span_m = "0.84"'),
        'upper.span_m = "0.84"; it must be a number in metres',
    ),
    "truth for a number": (
        changed(SPAN, "span_m = true"),
        "upper.span_m = true; it must be a number in metres",
    ),
    "date for a number": (
        changed(SPAN, "span_m = 1979-05-27"),
        "upper.span_m = 1979-05-27; it must be a number in metres",
    ),
    "list for a number": (
        changed(SPAN, "span_m = [1, 2]"),
        "upper.span_m = [1, 2]; it must be a number in metres",
    ),
    "table for a number": (
        changed(SPAN, "span_m = { a = 1 }"),
        "upper.span_m = a table; it must be a number in metres",
    ),
    "number for a text": (
        changed('"2412"', "2412"),
        'upper.camber = 2412; it must be a text in "quotation marks"',
    ),
    "number for a table": (
        "title = 'x'\nupper = 2",
        "upper = 2; it must be a table [upper]",
    ),
    "list for a table": (
        changed("[lower]", "[[lower]]"),
        "lower = [a table]; it must be a table [lower]",
    ),
    "nan": (changed(SPAN, "span_m = nan"), "upper.span_m = nan; it must be a finite number"),
    "infinity": (changed(SPAN, "span_m = -inf"), "upper.span_m = -inf; it must be a finite number"),
    "negative length": (
        changed("span_m = 0.36", "span_m = -0.36"),
        "upper.tips.span_m = -0.36; a length must be positive",
    ),
    "zero gap": (
        changed("gap_m = 0.36", "gap_m = 0"),
        "arrangement.gap_m = 0; a length must be positive",
    ),
    "negative area": (
        f"{GOOD}{REFERENCE}area_m2 = -1",
        "reference.area_m2 = -1; an area must be positive",
    ),
    "too steep": (
        changed(SPAN, f"{SPAN}\nsweep_deg = 90"),
        "upper.sweep_deg = 90; it must be at most 85 degrees",
    ),
    "half a turn": (
        changed("fold_min_deg = -95.0", "fold_min_deg = -180"),
        "upper.tips.fold_min_deg = -180; it must be more than -180 degrees",
    ),
    "missing chord": (
        changed("root_chord_m = 0.17\n", ""),
        "upper.root_chord_m is missing; give span_m, root_chord_m, end_chord_m,"
        " or a list of stations",
    ),
    "missing title": (
        changed('title = "Invented"\n', ""),
        'title is missing; it must be a text in "quotation marks"',
    ),
    "empty title": (changed('"Invented"', '" "'), 'title = " "; it must not be empty'),
    "title of two lines": (
        changed('"Invented"', '"a\\nb"'),
        'title = "a\\nb"; it must be one line of characters that can be printed',
    ),
    "title without end": (
        changed('"Invented"', f'"{"x" * 300}"'),
        f'title = "{"x" * 56} ..."; it has 300 characters; at most 200 are allowed',
    ),
    "missing arrangement": (
        changed("[arrangement]\ngap_m = 0.36\n", ""),
        "arrangement is missing; two wings need arrangement.gap_m",
    ),
    "missing gap": (
        changed("gap_m = 0.36", "stagger_m = 0.1"),
        "arrangement.gap_m is missing; it must be a number in metres",
    ),
    "monoplane with a gap": (
        changed(f"[lower]\n{TRAPEZOID}\n", ""),
        "arrangement is given, but there is no lower wing; leave it out",
    ),
    "unknown mean line": (
        changed('"2412"', '"24x2"'),
        'upper.camber = "24x2"; a mean line is NACA four digits such as "2412", "flat",'
        " or the path of a file of x/c, z/c (.csv, .dat, .txt)",
    ),
    "missing mean line file": (
        changed('"2412"', '"nowhere/nope.csv"'),
        'upper.camber = "nowhere/nope.csv"; nowhere/nope.csv: there is no such file,'
        " nor a folder nowhere",
    ),
    "short point": (
        f"{GOOD}{REFERENCE}moment_point_m = [1, 2]",
        "reference.moment_point_m.2 is missing; it must be a number in metres",
    ),
    "long point": (
        f"{GOOD}{REFERENCE}moment_point_m = [1, 2, 3, 4]",
        "reference.moment_point_m = [1, 2, 3, 4]; it must be a list of 3 numbers in metres,"
        ' or "centre of gravity"',
    ),
    "text in a point": (
        f'{GOOD}{REFERENCE}moment_point_m = [1, "2", 3]',
        'reference.moment_point_m.1 = "2"; it must be a number in metres',
    ),
    "unknown point": (
        f'{GOOD}{REFERENCE}moment_point_m = "cg"',
        'reference.moment_point_m = "cg"; it must be three lengths [x, y, z] in metres,'
        ' or "centre of gravity"',
    ),
    "no masses": (
        f'{GOOD}{REFERENCE}moment_point_m = "centre of gravity"',
        'reference.moment_point_m = "centre of gravity"; this needs a block [mass]',
    ),
    "half a setting": (
        changed("{ fold_deg = -90 }", "{ left_deg = -90 }"),
        "configurations.dash.right_deg is missing; give fold_deg for both sides,"
        " or left_deg and right_deg",
    ),
    "double setting": (
        changed("{ fold_deg = -90 }", "{ fold_deg = 1, left_deg = 2 }"),
        "configurations.dash.fold_deg can't stand beside left_deg or right_deg; give one form",
    ),
    "bare setting": (
        changed("{ fold_deg = -90 }", "-90"),
        "configurations.dash = -90; it must be a table [configurations.dash]",
    ),
    "setting beyond the stop": (
        changed("{ fold_deg = -90 }", "{ left_deg = 0, right_deg = -96 }"),
        "configurations.dash: a fold of -96 degrees on the starboard side passes"
        " upper.tips.fold_min_deg = -95; the limits allow -95 to 60",
    ),
    "nameless setting": (
        changed("dash =", '"" ='),
        'configurations: the name "": it must not be empty',
    ),
    "limits without the flat tip": (
        changed("fold_max_deg = 60.0", "fold_max_deg = -5"),
        "upper.tips.fold_max_deg = -5; it must be 0 or more",
    ),
    "limits above the flat tip": (
        changed("fold_min_deg = -95.0", "fold_min_deg = 5"),
        "upper.tips.fold_min_deg = 5; it must be 0 or less",
    ),
    "dead linkage": (
        changed("span_m = 0.36", "span_m = 0.36\nlinkage = 0"),
        "upper.tips.linkage = 0; a tip that never folds is part of its wing",
    ),
    "both forms": (
        changed(SPAN, f"{SPAN}\nstations = [{{ {ROOT} }}]"),
        "upper.span_m = 0.84; this can't stand beside stations, which hold it already:"
        " leave one of the two out",
    ),
    "one station": (
        stations(ROOT),
        "upper.stations holds 1; at least 2 are needed, root and end",
    ),
    "stations out of order": (
        stations(ROOT, "y_m = 0.4, x_m = 0, chord_m = 0.17", ROOT.replace("0,", "0.3,", 1)),
        "upper.stations.2.y_m = 0.3; y_m must grow from station to station,"
        " and the one before has 0.4",
    ),
    "two stations at one place": (
        stations(ROOT, "y_m = 0.4, x_m = 0, chord_m = 0.17", "y_m = 0.4, x_m = 0, chord_m = 0.1"),
        "upper.stations.2.y_m = 0.4; y_m must grow from station to station,"
        " and the one before has 0.4",
    ),
    "stations off the centreline": (
        stations(ROOT.replace("x_m = 0", "x_m = 0.1"), "y_m = 0.4, x_m = 0, chord_m = 0.1"),
        "upper.stations.0.x_m = 0.1; the first station is the one the others count from:"
        " its y_m, x_m and z_m must be 0",
    ),
    "station to port": (
        stations(ROOT, "y_m = -0.4, x_m = 0, chord_m = 0.17"),
        "upper.stations.1.y_m = -0.4; a length can't be negative",
    ),
    "station without a unit": (
        stations(ROOT, "y_m = 0.4, x_m = 0, chord = 0.17"),
        "upper.stations.1.chord is not a known key; did you mean chord_m?",
    ),
    "tip that does not continue its wing": (
        changed(
            "span_m = 0.36\nend_chord_m = 0.12",
            f"stations = [{{ {ROOT.replace('0.17', '0.16')} }},"
            " { y_m = 0.4, x_m = 0, chord_m = 0.1 }]",
        ),
        "upper.tips.stations.0.chord_m = 0.16; a tip continues its wing: at the hinge the chord"
        " must be the wing's end chord, 0.17",
    ),
    "tip with a step in twist": (
        changed(
            "span_m = 0.36\nend_chord_m = 0.12",
            f"stations = [{{ {ROOT}, twist_deg = 2 }}, {{ y_m = 0.4, x_m = 0, chord_m = 0.1 }}]",
        ),
        "upper.tips.stations.0.twist_deg = 2; a tip continues its wing at the hinge:"
        " it must be 0 there",
    ),
    "not TOML": (
        changed(SPAN, "span_m = = 0.84"),
        "line 3, column 10: not valid TOML: invalid value, in the line: span_m = = 0.84",
    ),
    "key twice": (
        changed(SPAN, f"{SPAN}\n{SPAN}"),
        "line 4, column 14: not valid TOML: cannot overwrite a value, in the line: span_m = 0.84",
    ),
    "cut off": ("title = ", "end of file: not valid TOML: invalid value"),
    "decimal comma": (
        changed(SPAN, "span_m = 0,84"),
        "line 3, column 11: not valid TOML: expected newline or end of document after a"
        " statement, in the line: span_m = 0,84",
    ),
    "digits without end": (
        changed(SPAN, f"span_m = {'9' * 5000}"),
        "not valid TOML: Exceeds the limit (4300 digits) for integer string conversion:"
        " value has 5000 digits",
    ),
    "brackets without end": (f"x = {'[' * 5000}", "tables and lists are nested too deeply"),
    "deep lists": (
        f"{GOOD}\n[x]\ny = {'[' * 30}1{']' * 30}",
        "tables and lists are nested too deeply",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_refusal_says_where_what_and_what_is_allowed(case):
    text, said = CASES[case]
    with pytest.raises(InputRefused) as caught:
        load_biplane_text(text, "invented.toml")
    lines = str(caught.value).splitlines()
    assert lines[0] == f"invented.toml: {said}"
    # A misspelt key is reported together with the one that is missing for it.
    assert all("missing" in line for line in lines[1:])
    assert len(lines) == 1 or "not a known key" in said or case == "number for a table"
    assert caught.value.exit_status == 2


def test_the_good_file_is_taken():
    assert load_biplane_text(GOOD, "invented.toml").title == "Invented"


def test_all_that_is_wrong_is_reported_at_once_and_misspelt_keys_first():
    text = changed("gap_m = 0.36", "gap = 0.36").replace("span_m = 0.36", "span_m = -1")
    with pytest.raises(InputRefused) as caught:
        load_biplane_text(text, "g.toml")
    assert str(caught.value).splitlines() == [
        "g.toml: arrangement.gap is not a known key; did you mean gap_m?",
        "g.toml: upper.tips.span_m = -1; a length must be positive",
        "g.toml: arrangement.gap_m is missing; it must be a number in metres",
    ]


def test_a_file_full_of_mistakes_gets_a_short_answer():
    text = GOOD + "".join(f"\nx{i} = 1" for i in range(40))
    with pytest.raises(InputRefused, match="and 32 more") as caught:
        load_biplane_text(text)
    assert len(str(caught.value).splitlines()) == MOST_LINES + 1


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("spann_m", "span_m"),
        ("span", "span_m"),
        ("Span-M", "span_m"),
        ("chord", "end_chord_m"),
        ("swep_deg", "sweep_deg"),
        ("zzz", None),
        ("", None),
    ],
)
def test_nearest_name(word, near):
    assert nearest_name(word, ["span_m", "root_chord_m", "end_chord_m", "sweep_deg"]) == near


KEYS = st.text(max_size=4) | st.sampled_from(
    [*Biplane.model_fields, *Wing.model_fields, *Tips.model_fields, *Station.model_fields]
)
VALUES = st.recursive(
    st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.floats()
    | st.text(max_size=5)
    | st.just("2412"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(KEYS, VALUES | st.dictionaries(KEYS, VALUES, max_size=4), max_size=5))
def test_whatever_stands_in_a_file_is_a_craft_or_gets_a_clear_message(data):
    text = tomli_w.dumps(data)
    try:
        said = load_biplane_text(text, "any.toml").source_name
    except InputRefused as refusal:
        said = str(refusal)
    assert all(line.startswith("any.toml") for line in said.splitlines())
    assert not re.search(r"pydantic|validation error|Traceback", said)
