"""What a file may say of fins, and what is refused where it may not."""

import pytest

from vlm.description import load_biplane_text
from vlm.errors import InputRefused

CRAFT = """\
title = "Invented"
[upper]
span_m = 0.84
root_chord_m = 0.17
end_chord_m = 0.17
[lower]
span_m = 0.84
root_chord_m = 0.17
end_chord_m = 0.17
[arrangement]
gap_m = 0.36
"""
CHORDS = "root_chord_m = 0.1\nend_chord_m = 0.1\n"
KEEL = f'name = "keel"\nx_m = 0.5\nspan_m = 0.2\n{CHORDS}'
BETWEEN = f'name = "keel"\nx_m = 0.0\ny_m = 0.2\n{CHORDS}joined_to = "lower"\n'


def read(*fins: str, craft: str = CRAFT):
    return load_biplane_text(craft + "".join(f"[[fins]]\n{fin}" for fin in fins), "f.toml")


def test_a_fin_is_upright_on_the_centreline_unless_it_says_otherwise() -> None:
    (fin,) = read(KEEL).fins
    assert fin.is_on_plane
    assert fin.stands_on == ()
    assert not read(KEEL + "dihedral_deg = 0\n").fins[0].is_on_plane
    assert not read(KEEL + "y_m = 0.1\n").fins[0].is_on_plane


def test_a_file_with_fins_is_read_again_from_its_canonical_text() -> None:
    craft = read(KEEL, BETWEEN.replace("keel", "plates") + 'end_joined_to = "upper"\n')
    assert load_biplane_text(craft.to_toml(), "again") == craft


MONOPLANE = CRAFT[: CRAFT.index("[lower]")]
CASES = {
    "no end": (
        (KEEL.replace("span_m = 0.2\n", ""),),
        "fins.0.span_m is missing; give it, or end_joined_to",
    ),
    "height on a wing": (
        (BETWEEN + "z_m = 0.1\nspan_m = 0.1\n",),
        "fins.0.z_m = 0.1; with joined_to the root stands on the wing: leave z_m out",
    ),
    "both ends on one wing": (
        (BETWEEN + 'end_joined_to = "lower"\n',),
        'fins.0.end_joined_to = "lower"; this needs joined_to with the other wing',
    ),
    "a span that follows": (
        (BETWEEN + 'end_joined_to = "upper"\nspan_m = 0.36\n',),
        "fins.0.span_m = 0.36; with end_joined_to it follows from where the end meets the wing:"
        " leave it out",
    ),
    "place of an end that is free": (
        (KEEL + "end_x_m = 0.6\n",),
        "fins.0.end_x_m is given without end_joined_to; leave it out",
    ),
    "turned on a wing": (
        (BETWEEN + "span_m = 0.1\nincidence_deg = 2\n",),
        "fins.0.incidence_deg = 2; the root of a joined fin lies along the wing's chord: it must"
        " be 0",
    ),
    "turned in the plane of symmetry": (
        (KEEL + "incidence_deg = 2\n",),
        "fins.0.incidence_deg = 2; an upright fin on the centreline lies in the plane of"
        " symmetry: it must be 0",
    ),
    "cambered in the plane of symmetry": (
        (KEEL + 'camber = "2412"\n',),
        'fins.0.camber = "2412"; an upright fin on the centreline lies in the plane of symmetry:'
        ' it must be "flat"',
    ),
    "a steep pair": (
        (KEEL + "dihedral_deg = 80\n",),
        "fins.0.dihedral_deg = 80 with y_m = 0; a pair that meets at the centreline has -75 to 75,"
        " one plate in the plane of symmetry has 90 or -90",
    ),
    "a name twice": ((KEEL, KEEL), 'fins.1.name = "keel"; another fin has that name'),
    "the name of a wing": (
        (KEEL.replace('"keel"', '"upper"'),),
        "fins.0.name = \"upper\"; it must not be upper or lower, which are the wings",
    ),
    "a name with spaces": (
        (KEEL.replace('"keel"', '"my keel"'),),
        'fins.0.name = "my keel"; it may hold letters, digits, "-" and "_"',
    ),
    "port": ((KEEL + "y_m = -0.1\n",), "fins.0.y_m = -0.1; a length can't be negative"),
    "misspelt": (
        (KEEL + "sweeep_deg = 3\n",),
        "fins.0.sweeep_deg is not a known key; did you mean sweep_deg?",
    ),
    "a section that is not there": (
        (KEEL + 'section = "plate"\n',),
        'fins.0.section = "plate"; there is no [sections.plate]',
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_refusals(case: str) -> None:
    fins, message = CASES[case]
    with pytest.raises(InputRefused) as caught:
        read(*fins)
    assert message in str(caught.value)
    assert str(caught.value).startswith("f.toml: ")


def test_a_fin_can_not_stand_on_a_wing_that_is_not_there() -> None:
    with pytest.raises(InputRefused, match=r'fins\.0\.joined_to = "lower"; the craft has no lower'):
        read(BETWEEN + "span_m = 0.1\n", craft=MONOPLANE)
