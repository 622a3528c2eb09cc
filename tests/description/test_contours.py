"""Mean lines from the coordinates of closed contours, against the lines they were made of.

Contours of four-digit sections by their published formula: I. H. Abbott and A. E. von Doenhoff,
Theory of Wing Sections, section 6.4 (thickness at right angles to the mean line), written to five
places as tables of coordinates are.
"""

from pathlib import Path

import numpy as np
import pytest

from vlm.cli.main import main
from vlm.description.camber import camber_of, thickness_of
from vlm.errors import InputRefused
from vlm.lattice.camber import camber_height, camber_slope

HALF_COSINE = 0.5 * (1.0 - np.cos((np.arange(4096) + 0.5) * np.pi / 4096))


def four_digits(spec: str, count: int):
    """Upper and lower side, shape (count, 2) each, from the leading edge."""
    m, p, thick = int(spec[0]) / 100, int(spec[1]) / 10, int(spec[2:]) / 100
    x = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, count)))
    half = 5.0 * thick * (
        0.2969 * np.sqrt(x) - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4
    )  # fmt: skip
    turn = np.arctan(camber_slope(spec, x))
    line = camber_height(spec, x)
    across = np.stack([-np.sin(turn), np.cos(turn)], axis=1) * half[:, None]
    middle = np.stack([x, line], axis=1)
    assert m > 0.0
    assert p > 0.0
    return middle + across, middle - across


def rows(points, mark: str = " ") -> str:
    return "".join(f"{x:.5f}{mark}{z:.5f}\n" for x, z in points)


def around(upper, lower) -> str:
    return "A section, 61 points\n" + rows(np.concatenate([upper[::-1], lower[1:]]))


def listed(upper, lower) -> str:
    return f"A section\n  {len(upper)}.  {len(lower)}.\n\n{rows(upper)}\n{rows(lower)}"


def without_counts(upper, lower) -> str:
    return rows(upper) + rows(lower)


def percent_from_below(upper, lower) -> str:
    """In per cent of the chord, lower side first, semicolons and decimal commas."""
    text = rows(100.0 * np.concatenate([lower[::-1], upper[1:]]), ";")
    return "x;z\n" + text.replace(".", ",")


WAYS = (around, listed, without_counts, percent_from_below)


def zero_lift_deg(spec: str, folder: Path | None = None) -> float:
    """Glauert's thin-section integral, (1/pi) int dz/dx (1 - cos t) dt."""
    slope = camber_slope(spec, HALF_COSINE, folder)
    return float(np.degrees(np.mean(slope * 2.0 * HALF_COSINE)))


@pytest.mark.parametrize("write", WAYS)
@pytest.mark.parametrize("spec", ["2412", "4412", "6315"])
def test_the_mean_line_of_a_four_digit_contour(spec: str, write, tmp_path: Path) -> None:
    """Zero-lift angle within 0.01 degrees and height within 2e-4 chords behind the nose.

    The bands are what five places and 33 stations leave; heights midway along z, without the
    normals, would be off by 1.6e-3 chords and 0.1 degrees.
    """
    (tmp_path / "s.dat").write_text(write(*four_digits(spec, 31)), encoding="utf-8")
    behind = HALF_COSINE[HALF_COSINE > 0.03]
    height = camber_height("s.dat", behind, tmp_path)
    np.testing.assert_allclose(height, camber_height(spec, behind), atol=2e-4)
    assert zero_lift_deg("s.dat", tmp_path) == pytest.approx(zero_lift_deg(spec), abs=0.01)


def test_a_contour_off_its_chord_is_turned_and_scaled(tmp_path: Path) -> None:
    """A section set at 5 degrees and twice as large has the same mean line."""
    upper, lower = four_digits("4412", 41)
    turn = np.radians(5.0)
    turned = 2.0 * np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    moved = [side @ turned.T + np.array([3.0, -1.0]) for side in (upper, lower)]
    (tmp_path / "s.txt").write_text(listed(*moved), encoding="utf-8")
    x = np.linspace(0.05, 1.0, 40)
    np.testing.assert_allclose(
        camber_height("s.txt", x, tmp_path), camber_height("4412", x), atol=3e-4
    )


def test_a_symmetric_contour_has_no_camber(tmp_path: Path) -> None:
    upper, _ = four_digits("1412", 31)
    upper[:, 1] = np.abs(upper[:, 1])
    mirrored = upper * np.array([1.0, -1.0])
    (tmp_path / "s.dat").write_text(listed(upper, mirrored), encoding="utf-8")
    np.testing.assert_allclose(camber_height("s.dat", HALF_COSINE, tmp_path), 0.0, atol=1e-12)


def test_a_mean_line_is_still_a_mean_line(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text("x_c\tz_c\n0\t0\n0,5\t0,02\n1\t0\n", encoding="utf-8")
    line = camber_of("m.csv", tmp_path)
    assert line.contour is None
    assert line.points == ((0.0, 0.0), (0.5, 0.02), (1.0, 0.0))


CROSSED = [
    (1.0, 0.0),
    (0.8, 0.02),
    (0.6, 0.03),
    (0.4, 0.03),
    (0.2, 0.03),
    (0.1, 0.02),
    (0.0, 0.0),
    (0.1, -0.02),
    (0.2, 0.05),
    (0.4, -0.03),
    (0.6, -0.03),
    (0.8, -0.02),
    (1.0, 0.0),
]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (rows([(0, 0), (0.5, 0.1), (0.2, 0.1), (1, 0)]), "in no order that is known"),
        (rows([(1, 0), (0.5, 0.1), (0, 0), (0.5, -0.1), (1, 0)]), "needs 6 a side"),
        (rows(CROSSED), "the sides cross near x/c = 0.2"),
        ("0 0 0\n1 0 0\n0 0 0\n", "two numbers a row"),
        ("0 0\n0.5 x\n1 0\n", "line 2: '0.5 x'"),
        ("", "needs at least 3 rows"),
    ],
)
def test_what_is_no_contour_is_refused(text: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "s.dat").write_text(text, encoding="utf-8")
    with pytest.raises(InputRefused, match=re_escaped(said)):
        camber_of("s.dat", tmp_path)


def re_escaped(text: str) -> str:
    import re

    return re.escape(text)


def test_a_craft_with_a_contour_flies_and_its_sweep_is_repeated(tmp_path: Path, capsys) -> None:
    """As with the mean line it was made of: lift within 0.1 %; the dataset carries the contour."""
    (tmp_path / "s.dat").write_text(around(*four_digits("2412", 41)), encoding="utf-8")
    grid = ["--rows", "3", "--strips", "8"]
    plank = 'title = "Plank"\n[upper]\nspan_m = 1.2\nroot_chord_m = 0.2\nend_chord_m = 0.2\n'
    lifts = []
    for camber in ("s.dat", "2412"):
        file = tmp_path / "plank.toml"
        file.write_text(plank + f'camber = "{camber}"\n', encoding="utf-8")
        out = tmp_path / f"{camber[:4]}.nc"
        words = ["sweep", str(file), "--folds", "0", "--alphas", "4", "--out", str(out), *grid]
        assert main(words) == 0
        import xarray as xr

        with xr.open_dataset(out) as data:
            lifts.append(float(data["CL"].squeeze()))
    assert lifts[0] == pytest.approx(lifts[1], rel=1e-3)
    (tmp_path / "s.dat").unlink()
    capsys.readouterr()
    assert main(["rerun", str(tmp_path / "s.da.nc")]) == 0


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("spec", ["2412", "4409", "6618"])
def test_the_thickness_of_a_contour_is_that_of_its_four_digits(
    spec: str, way, tmp_path: Path
) -> None:
    """Measured upright on the chord, which takes a little off at right angles to a mean line."""
    (tmp_path / "section.csv").write_text(way(*four_digits(spec, 61)), encoding="utf-8")
    found = thickness_of("section.csv", tmp_path)
    assert found == pytest.approx(int(spec[2:]) / 100.0, rel=0.02)
    assert thickness_of(spec) == int(spec[2:]) / 100.0


def test_what_has_no_thickness(tmp_path: Path) -> None:
    (tmp_path / "line.csv").write_text("x_c,z_c\n0,0\n0.5,0.03\n1,0\n", encoding="utf-8")
    assert thickness_of("line.csv", tmp_path) is None
    assert thickness_of("flat") is None
    assert thickness_of("0012") == 0.12
