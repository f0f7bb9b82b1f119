"""Telescope: what is refused, units, and how it scales."""

import dataclasses
import math

import astropy.units as u
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base.curve import Curve
from expocalc.gear.image import star_fwhm_arcsec
from expocalc.gear.telescope import Telescope

GOOD = {"aperture": "102 mm", "focal_length": "510 mm"}

BAD = [
    ("aperture", 102, TypeError, "aperture needs a unit convertible to mm, got the bare number 102"),
    ("aperture", "102 s", u.UnitsError, "aperture must be convertible to mm"),
    ("aperture", "0 mm", ValueError, "aperture must be above 0 mm"),
    ("aperture", "-1 mm", ValueError, "aperture must be above 0 mm, got -1 mm"),
    ("aperture", "nan mm", ValueError, "aperture must be a finite number"),
    ("aperture", "inf mm", ValueError, "aperture must be a finite number"),
    ("aperture", "big", ValueError, "aperture must be a number with its unit"),
    ("focal_length", "0 mm", ValueError, "focal_length must be above 0 mm"),
    ("focal_length", "40 mm", ValueError, "focal_length must be 0.5 to 1000 times the aperture of 102 mm, got 40 mm"),
    ("focal_length", "200 m", ValueError, "focal_length must be 0.5 to 1000 times the aperture"),
    ("obstruction", "102 mm", ValueError, "obstruction must be smaller than the aperture of 102 mm, got 102 mm"),
    ("obstruction", "20 cm", ValueError, "obstruction must be smaller than the aperture of 102 mm, got 200 mm"),
    ("obstruction", "-1 mm", ValueError, "obstruction must be at least 0 mm"),
    ("throughput", 0, ValueError, "throughput must be above 0, got 0"),
    ("throughput", 1.2, ValueError, "throughput must be at most 1, got 1.2"),
    ("throughput", math.nan, ValueError, "throughput must be a finite number"),
    ("throughput", "0.9 mm", ValueError, "throughput must be a number without a unit"),
    ("throughput", None, TypeError, "throughput must be a number"),
    ("throughput", [[400, 0.9]], ValueError, "throughput must hold two or more pairs"),
    ("throughput", [[400, 0.9], [500]], ValueError, "throughput must hold pairs of wavelength in nm and share"),
    ("throughput", [[500, 0.9], [400, 0.9]], ValueError, "throughput: a curve's wavelengths must increase"),
    ("throughput", [[400, 90], [500, 92]], ValueError, "throughput must hold shares between 0 and 1, got 92"),
    ("throughput", [[400, 0.9], [500, -0.1]], ValueError, "throughput must hold shares between 0 and 1, got -0.1"),
    ("throughput", [[400, 0], [500, 0]], ValueError, "throughput must pass some light"),
    ("throughput", [[4000, 0.9], [5000, 0.9]], ValueError, "throughput must cover a part of 300 to 1100 nm"),
    ("throughput", [[400, 0.9], [math.inf, 0.9]], ValueError, "throughput wavelength must be a finite number"),
    ("blur", "-1 arcsec", ValueError, "blur must be at least 0 arcsec"),
    ("blur", "2 mm", u.UnitsError, "blur must be convertible to arcsec"),
]


@pytest.mark.parametrize(("field", "value", "kind", "words"), BAD)
def test_refused(field, value, kind, words):
    with pytest.raises(kind, match=words):
        Telescope(**{**GOOD, field: value})


def test_units_are_one():
    small = Telescope(aperture="102 mm", focal_length="510 mm", obstruction="34 mm", blur="1.5 arcsec")
    same = Telescope(aperture=0.102 * u.m, focal_length="51 cm", obstruction="3,4 cm", blur="0.025 arcmin")
    assert small.area_cm2 == pytest.approx(same.area_cm2, rel=1e-12)
    assert small.focal_ratio == pytest.approx(same.focal_ratio, rel=1e-12)
    assert small.blur.value == pytest.approx(same.blur.value, rel=1e-12)


@given(aperture=st.floats(10, 5000), share=st.floats(0.01, 0.95))
def test_an_obstruction_takes_its_area(aperture, share):
    open_ = Telescope(aperture=aperture * u.mm, focal_length=5 * aperture * u.mm)
    obstructed = dataclasses.replace(open_, obstruction=aperture * share * u.mm)
    assert obstructed.area_cm2 < open_.area_cm2
    assert obstructed.area_cm2 == pytest.approx(open_.area_cm2 * (1 - share**2), rel=1e-9)
    assert obstructed.focal_ratio == open_.focal_ratio


@given(factor=st.floats(1.01, 20))
def test_area_goes_with_the_square_and_diffraction_with_the_inverse(factor):
    one = Telescope(**GOOD)
    larger = Telescope(aperture=one.aperture * factor, focal_length=one.focal_length * factor)
    assert larger.area_cm2 == pytest.approx(one.area_cm2 * factor**2, rel=1e-9)
    ratio = one.diffraction_fwhm_arcsec(600) / larger.diffraction_fwhm_arcsec(600)
    assert ratio == pytest.approx(factor, rel=1e-9)


def test_throughput_is_a_number_or_a_table():
    assert float(Telescope(**GOOD, throughput="92 %").throughput_curve(656)) == 0.92
    table = [[300, 0.5], [500, 0.9], [1100, 0.8]]
    telescope = Telescope(**GOOD, throughput=table)
    assert float(telescope.throughput_curve(400)) == pytest.approx(0.7)
    assert telescope.throughput_curve is Telescope(**GOOD, throughput=table).throughput_curve
    array = Telescope(**GOOD, throughput=Curve(*np.array(table).T))
    assert float(array.throughput_curve(400)) == pytest.approx(0.7)


def test_a_telescope_does_not_change():
    telescope = Telescope(**GOOD)
    with pytest.raises(dataclasses.FrozenInstanceError):
        telescope.aperture = "1 m"


def test_seeing_follows_fried_s_length():
    """Fried 1966, J. Opt. Soc. Am. 56, 1372: r0 goes as wavelength^(6/5) airmass^(-3/5), seeing as wavelength / r0."""
    telescope = Telescope(aperture="10 m", focal_length="50 m")  # diffraction is nothing

    def seeing(airmass, nm):
        return float(star_fwhm_arcsec(telescope, 3.0, airmass, 0.0, nm))

    assert seeing(2.0, 500.0) / seeing(1.0, 500.0) == pytest.approx(2**0.6, rel=1e-3)
    assert seeing(1.0, 900.0) / seeing(1.0, 450.0) == pytest.approx(2 / 2**1.2, rel=1e-3)
