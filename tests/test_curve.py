"""Curves and their integration against closed forms; lines that are never smeared."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base.curve import EDGE_NM, RANGE_NM, Curve, Spectrum, integrate, product

RAMP = Curve([400, 500], [0, 1])


@pytest.mark.parametrize(
    ("wavelength", "value", "words"),
    [
        ([400], [1], "two or more pairs"),
        ([400, 500], [1], "two or more pairs"),
        ([[400, 500]], [[1, 1]], "two or more"),
        ([], [], "two or more"),
        ([400, math.nan], [1, 1], "finite"),
        ([400, 500], [1, math.inf], "finite"),
        ([500, 400], [1, 1], "must increase, got 400 nm"),
        ([400, 400], [1, 1], "must increase, got 400 nm"),
    ],
)
def test_what_is_no_curve_is_refused(wavelength, value, words):
    with pytest.raises(ValueError, match=words):
        Curve(wavelength, value)


def test_curve_is_straight_between_nodes_and_zero_outside():
    assert np.array_equal(RAMP([399.9, 400, 425, 500, 500.1]), [0, 0, 0.25, 1, 0])
    assert RAMP(np.full((2, 3), 450.0)).shape == (2, 3)
    assert math.isnan(RAMP(math.nan))


def test_nobody_changes_a_curve_behind_our_back():
    given_nm = np.array([400.0, 500.0])
    curve = Curve(given_nm, [1, 2])
    given_nm[0] = 0
    assert curve.wavelength_nm[0] == 400
    with pytest.raises(ValueError, match="read-only"):
        curve.value[0] = 5


@pytest.mark.parametrize(
    ("values", "support"),
    [([0, 0, 1, 0, 0], (400, 600)), ([1, 1, 0, 0, 0], (300, 500)), ([0] * 5, (300, 300)), ([1] * 5, (300, 700))],
)
def test_support_is_where_the_curve_is_not_zero(values, support):
    assert Curve([300, 400, 500, 600, 700], values).support_nm == support


# --- integrals in closed form ---


def test_integral_of_one_curve_is_its_area():
    assert integrate(RAMP) == pytest.approx(50, rel=1e-12)
    assert integrate(Curve([400, 410, 500], [0, 1, 0])) == pytest.approx(50, rel=1e-12)
    assert integrate(Curve.constant(2.0)) == pytest.approx(2 * (RANGE_NM[1] - RANGE_NM[0]), rel=1e-12)


@pytest.mark.parametrize(("power", "area"), [(1, 50), (2, 100 / 3), (3, 25)])
def test_integral_of_powers_of_a_ramp_is_exact(power, area):
    """100 nm over power + 1."""
    assert integrate(*[RAMP] * power) == pytest.approx(area, rel=1e-12)


def test_integral_over_parts_that_do_not_meet_is_zero():
    assert integrate(Curve([300, 350], [1, 1]), Curve([400, 500], [1, 1])) == 0
    assert integrate(Curve([300, 400], [1, 1]), Curve([400, 500], [1, 1])) == 0
    assert integrate(Curve([300, 400], [0, 0]), Curve([300, 500], [1, 1])) == 0


@pytest.mark.parametrize("width_nm", [0.1, 3, 100])
def test_box_has_upright_edges(width_nm):
    box = Curve.boxes([(600, 600 + width_nm)], [0.9])
    assert np.array_equal(box([600 - 2 * EDGE_NM, 600 + 2 * EDGE_NM, 600 + width_nm + 2 * EDGE_NM]), [0, 0.9, 0])
    assert integrate(box) == pytest.approx(0.9 * width_nm, rel=1e-4)


def test_boxes_that_overlap_add_up():
    both = Curve.boxes([(500, 600), (550, 650)], [0.2, 0.5])
    assert np.allclose(both([525, 575, 625, 675]), [0.2, 0.7, 0.5, 0], rtol=0, atol=1e-12)
    assert integrate(both) == pytest.approx(0.2 * 100 + 0.5 * 100, rel=1e-6)


@st.composite
def curves(draw):
    nm = draw(st.lists(st.integers(300, 1100), min_size=2, max_size=12, unique=True).map(sorted))
    return Curve(nm, draw(st.lists(st.floats(0, 10), min_size=len(nm), max_size=len(nm))))


@given(curves(), curves(), curves())
def test_integral_against_a_dense_sum(a, b, c):
    dense = np.linspace(300, 1100, 800 * 40 + 1)
    middle = (dense[1:] + dense[:-1]) / 2
    expected = (a(middle) * b(middle) * c(middle)).sum() * (dense[1] - dense[0])
    # cells at an upright end of a curve count half or whole
    assert integrate(a, b, c) == pytest.approx(expected, rel=1e-3, abs=0.15)


@given(curves(), curves(), st.floats(0, 100))
def test_integral_is_linear_and_knows_no_order(a, b, factor):
    assert integrate(a * factor, b) == pytest.approx(factor * integrate(a, b), rel=1e-9, abs=1e-9)
    assert integrate(b, a) == pytest.approx(integrate(a, b), rel=1e-9, abs=1e-12)


@given(curves(), curves())
def test_product_is_the_product_at_its_nodes_and_a_thousandth_off_between(a, b):
    both = product(a, b)
    low, high = both.support_nm
    inside = np.linspace(low, high, 777)[1:-1]
    # the square of half a nanometre times both slopes
    steepest = max(np.abs(np.diff(c.value) / np.diff(c.wavelength_nm)).max() for c in (a, b))
    assert np.allclose(both(inside), a(inside) * b(inside), rtol=0, atol=steepest**2 / 4 + 1e-9)


# --- spectra ---

LINES = Spectrum(Curve.constant(0.1), [500.0, 656.3], [3.0, 4.0])


def test_line_is_asked_at_its_very_wavelength():
    narrow = Curve.boxes([(656.0, 657.0)], [0.5])
    assert LINES.through(narrow) == pytest.approx(0.1 * 0.5 * 1 + 4 * 0.5, rel=1e-5)
    beside = Curve.boxes([(656.4, 657.4)], [0.5])
    assert LINES.through(beside) == pytest.approx(0.1 * 0.5 * 1, rel=1e-5)


def test_line_passes_through_all_curves():
    half, quarter = Curve.constant(0.5), Curve.constant(0.25)
    assert LINES.through(half, quarter) == pytest.approx((0.1 * 800 + 7) / 8, rel=1e-12)


def test_spectra_add_and_scale():
    other = Spectrum(Curve([400, 700], [1, 1]), [400.0], [1.0])
    band = Curve.boxes([(450, 550)], [1.0])
    assert (LINES + other).through(band) == pytest.approx(LINES.through(band) + other.through(band), rel=1e-9)
    assert (LINES * 3.0).through(band) == pytest.approx(3 * LINES.through(band), rel=1e-12)
    assert Spectrum(Curve.constant(0.0)).through(band) == 0
