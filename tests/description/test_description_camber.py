"""Mean lines against Abbott and von Doenhoff, and thin-section theory."""

import numpy as np
import pytest
from scipy.integrate import quad

from vlm.description.camber import CamberLine, camber_of
from vlm.errors import InputRefused
from vlm.lattice.camber import camber_height, camber_slope

# I. H. Abbott and A. E. von Doenhoff, Theory of Wing Sections, appendix II, mean lines of 6 %
# camber (from memory): ideal angle [deg], design lift coefficient, moment about the quarter chord.
# The book's figures stray from thin-section integrals of the same lines by up to 0.22 deg, 3 % and
# 3 %, worst for the lines with their highest point farthest from the middle.
MEAN_LINES = (
    ("62", 2.81, 0.90, -0.113),
    ("63", 1.60, 0.80, -0.134),
    ("64", 0.74, 0.76, -0.157),
    ("65", 0.0, 0.75, -0.187),
    ("66", -0.74, 0.76, -0.222),
    ("67", -1.60, 0.80, -0.266),
)


def over_the_chord(function, place, high=np.pi):
    """Integral over t, x = (1 - cos t) / 2, in two parts that meet at the highest point."""
    kink = float(np.arccos(1.0 - 2.0 * place))
    return sum(
        quad(function, a, b, epsabs=1e-12, epsrel=1e-12)[0] for a, b in ((0.0, kink), (kink, high))
    )


def slope_at(spec, t):
    return float(camber_slope(spec, np.array(0.5 * (1.0 - np.cos(t)))))


def zero_lift_angle(spec, place):
    """Glauert's thin-section integral of the slope [rad]: (1/pi) int dz/dx (1 - cos t) dt."""
    return over_the_chord(lambda t: slope_at(spec, t) * (1 - np.cos(t)), place) / np.pi


@pytest.mark.parametrize(("line", "ideal_deg", "design", "moment"), MEAN_LINES)
def test_abbott_von_doenhoff_mean_line_tables(line, ideal_deg, design, moment):
    spec, place = f"{line}00", int(line[1]) / 10
    ideal = over_the_chord(lambda t: slope_at(spec, t), place) / np.pi
    first, second = (
        2.0 / np.pi * over_the_chord(lambda t, k=k: slope_at(spec, t) * np.cos(k * t), place)
        for k in (1, 2)
    )
    assert np.degrees(ideal) == pytest.approx(ideal_deg, abs=0.22)
    assert np.pi * first == pytest.approx(design, rel=0.03)
    assert np.pi / 4.0 * (second - first) == pytest.approx(moment, rel=0.03)


def test_thin_section_theory_of_a_parabola():
    """A parabolic mean line of height f: zero lift at -2 f, moment -pi f (Glauert 1926)."""
    assert zero_lift_angle("6500", 0.5) == pytest.approx(-0.12, rel=1e-9)


def test_2412_zero_lift_angle_by_two_routes():
    """-2.077 degrees, derived: from slopes by Glauert's integral, from heights by Munk's.

    Munk's form (NACA Report 142, 1922, from memory): a0 = -(1/pi) int z dx / ((1 - x) sqrt(x (1 -
    x))), which with x = (1 - cos t) / 2 is -(2/pi) int z / (1 + cos t) dt.
    """
    heights = over_the_chord(
        lambda t: float(camber_height("2412", np.array(0.5 * (1 - np.cos(t))))) / (1 + np.cos(t)),
        0.4,
        high=np.pi - 1e-5,
    )
    from_slopes = zero_lift_angle("2412", 0.4)
    assert np.degrees(from_slopes) == pytest.approx(-2.077, abs=5e-4)
    assert -2.0 / np.pi * heights == pytest.approx(from_slopes, rel=1e-4)


def test_2412_heights_of_the_book():
    """Highest, 0.02, at 0.4; 0 at both ends; ordinates by hand from equations 6.4."""
    heights = camber_height("2412", np.array([0.0, 0.2, 0.4, 0.7, 1.0]))
    np.testing.assert_allclose(heights, [0.0, 0.015, 0.02, 0.015, 0.0], atol=1e-15)
    slopes = camber_slope("2412", np.array([0.0, 0.4, 1.0]))
    np.testing.assert_allclose(slopes, [0.1, 0.0, -1.0 / 15.0], atol=1e-15)


@pytest.mark.parametrize("spec", ["flat", "0012", "0412"])
def test_flat_lines_have_neither_height_nor_slope(spec):
    assert camber_of(spec) == CamberLine()
    x = np.linspace(0, 1, 6).reshape(2, 3)
    assert camber_slope(spec, x).shape == (2, 3)
    assert not camber_slope(spec, x).any()
    assert not camber_height(spec, x).any()


def test_a_table_gives_the_line_it_was_read_from(tmp_path):
    """The 2412 line, sampled at 41 points: heights, slopes and zero-lift angle come back."""
    x = 0.5 * (1 - np.cos(np.linspace(0, np.pi, 41)))
    rows = [f"{a:.8f}, {b:.8f}" for a, b in zip(x, camber_height("2412", x), strict=True)]
    (tmp_path / "line.csv").write_text("\n".join(["# invented", "x/c, z/c", *rows, ""]))
    between = np.linspace(0.01, 0.99, 57)
    heights = camber_height("line.csv", between, tmp_path)
    np.testing.assert_allclose(heights, camber_height("2412", between), atol=5e-6)
    slopes = camber_slope("line.csv", between, tmp_path)
    np.testing.assert_allclose(slopes, camber_slope("2412", between), atol=2e-3)
    t = (np.arange(4000) + 0.5) * np.pi / 4000
    slopes = camber_slope("line.csv", 0.5 * (1 - np.cos(t)), tmp_path)
    assert np.degrees(np.mean(slopes * (1 - np.cos(t)))) == pytest.approx(-2.077, abs=0.01)


def test_a_tabulated_slope_is_that_of_its_height(tmp_path):
    """Central differences of the height, on an uneven table of a cubic."""
    x = np.array([0.0, 0.07, 0.2, 0.33, 0.6, 0.8, 1.0])
    table = [f"{a},{0.3 * a * (1 - a) * (0.6 - a):.12f}" for a in x]
    (tmp_path / "s.csv").write_text("\n".join(table))
    at = np.linspace(0.02, 0.98, 25)
    step = 1e-6
    differenced = (
        camber_height("s.csv", at + step, tmp_path) - camber_height("s.csv", at - step, tmp_path)
    ) / (2 * step)
    np.testing.assert_allclose(camber_slope("s.csv", at, tmp_path), differenced, atol=1e-8)


def test_a_tabulated_parabola_is_a_parabola(tmp_path):
    """z = 0.24 x (1 - x) from four uneven points: exact everywhere, ends included."""
    table = [f"{x},{0.24 * x * (1 - x):.15f}" for x in (0.0, 0.3, 0.8, 1.0)]
    (tmp_path / "p.csv").write_text("\n".join(table))
    x = np.linspace(0.0, 1.0, 11)
    np.testing.assert_allclose(camber_height("p.csv", x, tmp_path), 0.24 * x * (1 - x), atol=1e-14)
    np.testing.assert_allclose(camber_slope("p.csv", x, tmp_path), 0.24 * (1 - 2 * x), atol=1e-13)


GOOD = "0,0\n0.5,0.03\n1,0\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "needs at least 3 rows"),
        ("0,0\n1,0\n", "needs at least 3 rows"),
        ("0,0\n0.5;0.03;1\n1,0\n", "line 2: '0.5;0.03;1'; a mean line or contour has two numbers"),
        ("0,0\n0,5,0,03\n1,0\n", "line 2: .* decimal points"),
        ("0,0\n0.5,nan\n1,0\n", "line 2: '0.5,nan'; a mean line or contour has two numbers"),
        ("0,0\n0.5,0.03\n0.5,0.02\n1,0\n", "line 3: x/c = 0.5 after 0.5; x/c must grow"),
        ("0.1,0\n0.5,0.03\n1,0\n", "line 1: .* a mean line runs from 0, 0"),
        ("0,0\n0.5,0.03\n1,0.02\n", "line 3: x/c, z/c = 1, 0.02"),
        ("0,0\n50,3\n100,0\n", "line 3: x/c, z/c = 100, 0; a mean line runs from"),
        ("0,0\n0.5,0.7\n1,0\n", "line 2: z/c = 0.7; a mean line stays within half a chord"),
    ],
)
def test_tables_that_are_no_mean_line(tmp_path, text, said):
    path = tmp_path / "line.csv"
    path.write_text(text)
    with pytest.raises(InputRefused, match=said) as caught:
        camber_of("line.csv", tmp_path)
    assert str(caught.value).startswith(str(path))


def test_headings_comments_blank_lines_and_a_byte_order_mark_are_passed_over(tmp_path):
    (tmp_path / "line.CSV").write_bytes(
        b"\xef\xbb\xbf# invented\r\nx/c,z/c\r\n\r\n" + GOOD.replace("\n", "\r\n").encode()
    )
    assert camber_of("line.CSV", tmp_path).points == ((0.0, 0.0), (0.5, 0.03), (1.0, 0.0))


@pytest.mark.parametrize("spec", ["24", "24123", "24a2", "2412 ", "", "Flat", "camber.xls"])
def test_texts_that_name_no_mean_line(spec):
    with pytest.raises(ValueError, match=r'"2412", "flat", or the path of a file'):
        camber_of(spec)


def test_a_cambered_line_needs_a_place_for_its_highest_point():
    with pytest.raises(ValueError, match="second digit"):
        camber_of("2012")
