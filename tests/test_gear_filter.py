"""Passbands and filters: what is refused, and what must hold whatever the numbers."""

import dataclasses
import math

import astropy.units as u
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from expocalc.base.curve import RANGE_NM, Curve, integrate
from expocalc.base.photometry import standard_band
from expocalc.gear.cone import beam, pupil_average
from expocalc.gear.filter import Filter
from expocalc.gear.passband import Passband, in_cone, reach_nm
from expocalc.gear.telescope import Telescope

GOOD = {"centre": "656.3 nm", "width": "5 nm"}

BAD = [
    ({}, ValueError, "passband must have exactly one of centre and width, table, or standard"),
    ({**GOOD, "standard": "bessell-V"}, ValueError, "passband must have exactly one of"),
    ({"centre": "656.3 nm"}, ValueError, "passband must have both centre and width, width is missing"),
    ({"width": "5 nm"}, ValueError, "passband must have both centre and width, centre is missing"),
    ({**GOOD, "centre": 656.3}, TypeError, "centre needs a unit convertible to nm"),
    ({**GOOD, "centre": "6563 nm"}, ValueError, "centre must be at most 1100 nm, got 6563 nm"),
    ({**GOOD, "centre": "nan nm"}, ValueError, "centre must be a finite number"),
    ({**GOOD, "width": "0 nm"}, ValueError, "width must be at least 0.05 nm"),
    ({**GOOD, "width": "-3 nm"}, ValueError, "width must be at least 0.05 nm"),
    ({**GOOD, "width": "5 s"}, u.UnitsError, "width must be convertible to nm"),
    ({**GOOD, "width": "780 nm"}, ValueError, "passband must lie within 300 to 1100 nm.*got 266.3 to 1046.3 nm"),
    ({**GOOD, "peak": 0}, ValueError, "peak must be above 0"),
    ({**GOOD, "peak": 1.1}, ValueError, "peak must be at most 1"),
    ({**GOOD, "peak": math.nan}, ValueError, "peak must be a finite number"),
    ({**GOOD, "shape": "gausian"}, ValueError, 'shape must be one of cavities, box, gaussian.*did you mean "gaussian"'),
    ({**GOOD, "index": 1.0}, ValueError, "index must be at least 1.2"),
    ({**GOOD, "designed_for": "2"}, ValueError, "designed_for must be a focal ratio, got '2'; write it like \"f/2\""),
    ({**GOOD, "designed_for": "f/0.1"}, ValueError, "designed_for must be at least 0.5"),
    ({"standard": "V"}, ValueError, "standard must be one of .*bessell-V"),
    ({"standard": "bessell-V", "designed_for": "f/2"}, ValueError, "no designed_for beside a standard"),
    ({"standard": "bessell-V", "shape": "gaussian"}, ValueError, "no shape beside a standard"),
    ({"table": [[400, 0.5], [500, 0.5]], "shape": "gaussian"}, ValueError, "no shape beside a table"),
    ({"table": [[400, 0.5], [500, 0.5]], "peak": 0.9}, ValueError, "no peak beside a table"),
    ({"table": [[400, 0.5], [500, 95]]}, ValueError, "table must hold shares between 0 and 1, got 95"),
    ({"table": [[900, 0.9], [1200, 0.9]]}, ValueError, "passband must lie within 300 to 1100 nm.*900 to 1200 nm"),
    ({"table": "nowhere.ecsv"}, ValueError, r"the table nowhere.ecsv can't be read"),
]


@pytest.mark.parametrize(("fields", "kind", "words"), BAD)
def test_refused(fields, kind, words):
    with pytest.raises(kind, match=words):
        Passband(**fields)


@pytest.mark.parametrize(
    ("passbands", "kind", "words"),
    [
        ([], TypeError, "passbands must be a list of one or more passbands"),
        (GOOD, TypeError, "passbands must be a list of one or more passbands"),
        ([5], TypeError, "passbands must be a table of keys and values"),
        ([{**GOOD, "widht": "3 nm"}], ValueError, 'passbands has no key "widht"; did you mean "width"'),
        ([GOOD, {**GOOD, "width": "0 nm"}], ValueError, "passbands 2: width must be at least 0.05 nm"),
        ([GOOD, {"centre": "658 nm", "width": "5 nm"}], ValueError, "together pass at most all light, got 1.8"),
    ],
)
def test_filter_refused(passbands, kind, words):
    with pytest.raises(kind, match=words):
        Filter(name="F", passbands=passbands)


@pytest.mark.parametrize(("name", "kind"), [("", ValueError), (5, TypeError), ("two\nlines", ValueError)])
def test_filter_name_refused(name, kind):
    with pytest.raises(kind, match="name must be"):
        Filter(name=name, passbands=[GOOD])


@pytest.mark.parametrize("blocking", [0, 20, math.nan])
def test_blocking_refused(blocking):
    with pytest.raises(ValueError, match="blocking must be"):
        Filter(name="F", passbands=[GOOD], blocking=blocking)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("wavelength a b\n400 0.1 0.2\n500 0.2 0.3\n", "table must be a file of two columns.*got 3 in filter.ecsv"),
        ("wavelength t\n400 10\n500 92\n", r"shares between 0 and 1, got 92.*in the file filter.ecsv"),
        ("wavelength t\n500 0.1\n400 0.2\n", r"wavelengths must increase.*in the file filter.ecsv"),
        ("", "the table filter.ecsv must have a line of column names"),
    ],
)
def test_filter_file_refused(tmp_path, text, words):
    path = tmp_path / "filter.ecsv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=words):
        Passband(table=path)


def test_filter_file(tmp_path):
    path = tmp_path / "filter.ecsv"
    path.write_text("wavelength,transmission\n400,0\n450,0.8\n500,0\n", encoding="utf-8")
    assert float(Passband(table=path).curve(425)) == pytest.approx(0.4)
    assert float(Passband(table=str(path)).curve(425)) == pytest.approx(0.4)


def test_units_are_one():
    nm = Passband(centre="656.3 nm", width="5 nm")
    angstrom = Passband(centre="6563 AA", width=50 * u.AA)
    np.testing.assert_allclose(nm.curve.wavelength_nm, angstrom.curve.wavelength_nm, rtol=1e-12)


def test_width_is_at_half_maximum():
    gaussian = Passband(centre="500 nm", width="20 nm", peak=0.8, shape="gaussian").curve
    np.testing.assert_allclose(gaussian([490, 500, 510]), [0.4, 0.8, 0.4], rtol=2e-3)
    assert integrate(gaussian) == pytest.approx(0.8 * 20 * math.sqrt(math.pi / math.log(16)), rel=2e-3)
    box = Passband(centre="500 nm", width="20 nm", peak=0.8, shape="box").curve
    assert integrate(box) == pytest.approx(16, rel=1e-6)
    cavities = Passband(centre="500 nm", width="20 nm", peak=0.8, shape="cavities").curve
    np.testing.assert_allclose(cavities([490, 500, 510]), [0.4, 0.8, 0.4], rtol=2e-3)
    assert integrate(cavities) == pytest.approx(16 * (math.pi / 6) / math.sin(math.pi / 6), rel=2e-3)


@pytest.mark.parametrize(("width", "shape"), [("3 nm", "cavities"), ("20 nm", "cavities"), ("20.1 nm", "box")])
def test_only_narrow_filters_have_slopes_unless_named(width, shape):
    assert Passband(centre="600 nm", width=width).shape == shape
    assert Passband(centre="600 nm", width=width, shape="gaussian").shape == "gaussian"
    assert Passband(standard="bessell-V").shape is None


def test_a_standard_band_stays_as_published():
    passband = Passband(standard="bessell-V")
    published = standard_band("bessell-V")
    for curve in (passband.curve, in_cone(passband, 2.0)):
        np.testing.assert_array_equal(curve.wavelength_nm, published.wavelength_nm)
        np.testing.assert_array_equal(curve.value, published.value)
    assert Passband(standard="bessell-V", peak=0.8).curve.value.max() == pytest.approx(0.8)


@pytest.mark.parametrize("designed_for", ["f/2", "F/2,0", "f / 2.0", 2])
def test_designed_for_is_read(designed_for):
    passband = Passband(**GOOD, designed_for=designed_for)
    assert passband.designed_for == 2
    assert dataclasses.replace(passband, width="3 nm").designed_for == 2


def test_two_passbands_add():
    dual = Filter(name="dual", passbands=[{"centre": "500.7 nm", "width": "7 nm"}, GOOD])
    telescope = Telescope(aperture="100 mm", focal_length="500 mm")
    curve = dual.curve_in(telescope)
    np.testing.assert_allclose(curve([500.7, 580, 656.28]), [0.9, 0, 0.9], atol=5e-4)
    assert curve is dual.curve_in(dataclasses.replace(telescope, blur="2 arcsec"))


def test_touching_passbands_are_one_in_a_cone():
    halves = [{"centre": f"{nm} nm", "width": "10 nm", "shape": "box"} for nm in (650, 660)]
    telescope = Telescope(aperture="250 mm", focal_length="500 mm")
    parts = Filter(name="parts", passbands=halves).curve_in(telescope)
    whole = Filter(name="whole", passbands=[{"centre": "655 nm", "width": "20 nm", "shape": "box"}]).curve_in(telescope)
    at = np.linspace(640, 668, 200)
    np.testing.assert_allclose(parts(at), whole(at), atol=1e-3)


def test_blocking_leaks_everywhere_else():
    telescope = Telescope(aperture="100 mm", focal_length="500 mm")
    box = {**GOOD, "shape": "box"}
    tight = Filter(name="F", passbands=[box]).curve_in(telescope)
    leaky = Filter(name="F", passbands=[box], blocking=3).curve_in(telescope)
    np.testing.assert_allclose(leaky([300, 500, 656.28, 1100]), [1e-3, 1e-3, 0.9, 1e-3], rtol=1e-6)
    assert integrate(leaky) - integrate(tight) == pytest.approx(1e-3 * (800 - 5), rel=0.01)
    assert reach_nm(leaky) == pytest.approx(reach_nm(tight), abs=0.02)


passbands = st.builds(
    lambda centre, width, peak, shape, index: Passband(
        centre=centre * u.nm, width=width * u.nm, peak=peak, shape=shape, index=index
    ),
    centre=st.floats(400, 1000),
    width=st.floats(1, 100),
    peak=st.floats(0.1, 1),
    shape=st.sampled_from(["cavities", "box", "gaussian"]),
    index=st.floats(1.4, 2.5),
)


@settings(deadline=None, max_examples=60)
@given(passband=passbands, focal_ratio=st.floats(1.4, 30), obstruction=st.floats(0, 0.7))
def test_the_pupil_average_keeps_the_light(passband, focal_ratio, obstruction):
    # The integral over wavelength shrinks by the mean of v = sqrt(1 - u/n²) over u: between its ends, to the second
    # order at their middle.
    assume(passband.curve.support_nm[0] > RANGE_NM[0] + 20)  # none of it moves out of the model's range
    low, high = beam(focal_ratio, obstruction)
    whole, averaged = integrate(passband.curve), integrate(in_cone(passband, focal_ratio, obstruction))
    middle = math.sqrt(1 - (low + high) / 2 / passband.index**2)
    assert averaged == pytest.approx(whole * middle, rel=1e-3)
    assert averaged < whole * (1 + 1e-4)


@settings(deadline=None, max_examples=60)
@given(passband=passbands, focal_ratio=st.floats(1.4, 30), obstruction=st.floats(0, 0.7), at=st.floats(0, 1))
def test_the_pupil_average_lies_between_its_moved_curves(passband, focal_ratio, obstruction, at):
    curve = in_cone(passband, focal_ratio, obstruction)
    assert curve.value.min() >= -1e-9
    assert curve.value.max() <= float(passband.peak) + 1e-9
    first, last = curve.support_nm
    low, high = passband.curve.support_nm
    assert low * math.sqrt(1 - beam(focal_ratio, 0)[1] / passband.index**2) - 1e-5 <= first
    assert last <= high + 1e-5
    assert 0 <= float(curve(first + at * (last - first))) <= float(passband.peak) + 1e-9


@settings(deadline=None, max_examples=60)
@given(passband=passbands)
def test_a_slow_beam_is_normal_incidence(passband):
    curve = in_cone(passband, 1000.0)
    centre, width = float(passband.centre.value), float(passband.width.value)
    # where the polyline of a box is upright, within 2e-4 nm of the edge, the two differ
    at = centre + width * np.array([-0.6, -0.45, -0.2, 0, 0.2, 0.45, 0.6])
    np.testing.assert_allclose(curve(at), passband.curve(at), atol=1e-3)


@settings(deadline=None, max_examples=60)
@given(width=st.floats(1, 50), factor=st.floats(0.1, 0.95), focal_ratio=st.floats(1.5, 15))
def test_a_narrower_filter_passes_less(width, factor, focal_ratio):
    wide = Passband(centre="656.3 nm", width=width * u.nm)
    narrow = dataclasses.replace(wide, width=width * factor * u.nm)
    assert integrate(in_cone(narrow, focal_ratio)) < integrate(in_cone(wide, focal_ratio))
    assert float(in_cone(narrow, focal_ratio)(656.28)) <= float(in_cone(wide, focal_ratio)(656.28)) + 1e-3


def test_a_tilt_that_goes_to_zero_is_none():
    passband = Passband(**GOOD)
    at = np.linspace(648, 660, 40)
    np.testing.assert_allclose(in_cone(passband, 3.0, 0.3, 0.01)(at), in_cone(passband, 3.0, 0.3)(at), atol=0.01)


def test_rings_of_a_tilted_cone_hold_equal_light_between_its_limits():
    rings = beam(4.0, 0.0, 6.0)
    half = math.degrees(math.atan(1 / 8))
    assert (np.diff(rings) > 0).all()
    assert rings[0] < 1e-4
    assert rings[-1] == pytest.approx(math.sin(math.radians(6 + half)) ** 2, rel=0.01)


def test_a_constant_stays_constant_inside():
    curve = pupil_average(Curve.constant(0.7), beam(2.0, 0.0), 2.0)
    np.testing.assert_allclose(curve(np.linspace(300, 1090, 100)), 0.7, rtol=1e-9)


def test_light_reaches_as_far_as_a_hundredth_of_the_peak():
    """A Gaussian falls to 1 % at 3.035 sigma."""
    curve = Passband(centre="500 nm", width="23.548 nm", shape="gaussian").curve  # a sigma of 10 nm
    assert reach_nm(curve) == pytest.approx((500 - 30.35, 500 + 30.35), abs=1)
