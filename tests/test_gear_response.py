"""The whole gear: what meets, what is refused where two parts meet, and what is found again in a cache."""

import dataclasses

import astropy.units as u
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expocalc.base.curve import integrate
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.image import field_arcmin, peak_share, pixel_scale_arcsec, star_fwhm_arcsec
from expocalc.gear.response import response
from expocalc.gear.telescope import Telescope

TELESCOPE = Telescope(aperture="102 mm", focal_length="510 mm", throughput=0.92)
CAMERA = Camera(
    pixel="3.8 um",
    columns=6200,
    rows=4150,
    quantum_efficiency=0.8,
    dark_current={"rate": "0.002 electron/s", "at": "-10 deg_C", "doubles_every": "6 K"},
    gain="high",
    gains={
        "high": {"read_noise": "1.4 e-", "electrons_per_adu": 0.25, "full_well": "15000 e-"},
        "low": {"read_noise": "3.4 e-", "electrons_per_adu": 0.8, "full_well": "50000 e-"},
    },
)
COLOUR = dataclasses.replace(CAMERA, mosaic="RGGB", quantum_efficiency="back-lit colour")
RED = Filter(name="Red", passbands=[{"centre": "650 nm", "width": "100 nm", "peak": 0.95}])


def test_shares_multiply():
    curve = response(TELESCOPE, RED, CAMERA)
    assert float(curve(650)) == pytest.approx(0.95 * 0.92 * 0.8, rel=1e-9)
    assert float(curve(500)) == 0


def test_tables_multiply_at_each_wavelength():
    telescope = dataclasses.replace(TELESCOPE, throughput=[[300, 0.5], [1100, 0.9]])
    camera = dataclasses.replace(CAMERA, quantum_efficiency=[[300, 0.9], [1100, 0.1]])
    curve = response(telescope, RED, camera)
    at = np.linspace(605, 695, 500)
    expected = 0.95 * (0.5 + 0.4 * (at - 300) / 800) * (0.9 - 0.8 * (at - 300) / 800)
    np.testing.assert_allclose(curve(at), expected, rtol=1e-6)


def test_mosaic_colours():
    red, green, blue = (float(response(TELESCOPE, RED, COLOUR, colour)(656.3)) for colour in COLOUR.colours)
    assert red > 5 * green > 5 * blue > 0
    with pytest.raises(ValueError, match="colour must be one of mono, got 'R'"):
        response(TELESCOPE, RED, CAMERA, "R")


@pytest.mark.parametrize(
    ("telescope", "camera", "words"),
    [
        (
            dataclasses.replace(TELESCOPE, throughput=[[400, 0.9], [650, 0.9]]),
            CAMERA,
            'throughput must cover all that the filter "Red" passes, .* to 699.78 nm, got a table from 400 to 650 nm',
        ),
        (
            TELESCOPE,
            dataclasses.replace(CAMERA, quantum_efficiency=[[620, 0.9], [1000, 0.5]]),
            'quantum_efficiency must cover all that the filter "Red" passes',
        ),
        (
            TELESCOPE,
            dataclasses.replace(COLOUR, mosaic_curves={"R": [[620, 0.9], [1000, 0.5]], "G": 0.5, "B": 0.5}),
            'mosaic_curves R must cover all that the filter "Red" passes',
        ),
    ],
)
def test_a_filter_wider_than_a_table_is_refused(telescope, camera, words):
    with pytest.raises(ValueError, match=words):
        response(telescope, RED, camera, camera.colours[0])


def test_a_table_that_just_holds_the_filter_is_enough():
    camera = dataclasses.replace(CAMERA, quantum_efficiency=[[596, 0.8], [700, 0.8]])
    assert float(response(TELESCOPE, RED, camera)(699)) > 0.6


@pytest.mark.parametrize("change", [{"temperature": "0 deg_C"}, {"gain": "low"}, {"pixel": "5 um"}])
def test_what_is_not_optical_computes_nothing_anew(change):
    for camera in (CAMERA, COLOUR):
        colour = camera.colours[0]
        curve = response(TELESCOPE, RED, camera, colour)
        assert response(TELESCOPE, RED, dataclasses.replace(camera, **change), colour) is curve
        assert response(dataclasses.replace(TELESCOPE, blur="3 arcsec"), RED, camera, colour) is curve


def test_what_is_optical_does():
    curve = response(TELESCOPE, RED, CAMERA)
    assert response(TELESCOPE, RED, dataclasses.replace(CAMERA, quantum_efficiency=0.7)) is not curve
    assert response(dataclasses.replace(TELESCOPE, throughput=0.8), RED, CAMERA) is not curve
    assert response(dataclasses.replace(TELESCOPE, aperture="90 mm"), RED, CAMERA) is not curve


@settings(deadline=None, max_examples=40)
@given(width=st.floats(2, 80), factor=st.floats(0.1, 0.95), lower=st.floats(0.05, 0.95))
def test_less_of_anything_is_less(width, factor, lower):
    wide = Filter(name="w", passbands=[{"centre": 650 * u.nm, "width": width * u.nm}])
    narrow = Filter(name="n", passbands=[{"centre": 650 * u.nm, "width": factor * width * u.nm}])
    all_ = integrate(response(TELESCOPE, wide, CAMERA))
    assert integrate(response(TELESCOPE, narrow, CAMERA)) < all_
    poor = dataclasses.replace(CAMERA, quantum_efficiency=0.8 * lower)
    assert integrate(response(TELESCOPE, wide, poor)) == pytest.approx(lower * all_, rel=1e-9)


def test_scale_goes_with_pixel_over_focal_length():
    twice = dataclasses.replace(TELESCOPE, focal_length="1020 mm")
    assert pixel_scale_arcsec(TELESCOPE, CAMERA) == pytest.approx(2 * pixel_scale_arcsec(twice, CAMERA))
    width, height = field_arcmin(TELESCOPE, CAMERA)
    assert width / height == pytest.approx(6200 / 4150, rel=1e-3)
    assert width == pytest.approx(6200 * pixel_scale_arcsec(TELESCOPE, CAMERA) / 60, rel=1e-3)


def test_star_width_where_one_cause_rules():
    huge = Telescope(aperture="50 m", focal_length="250 m")
    assert float(star_fwhm_arcsec(huge, 3.0, 1.0, 0.0, 500.0)) == pytest.approx(3, rel=1e-4)
    assert float(star_fwhm_arcsec(huge, 3.0, 2.0, 0.0, 500.0)) == pytest.approx(3 * 2**0.6, rel=1e-4)
    assert float(star_fwhm_arcsec(huge, 3.0, 1.0, 0.0, 1000.0)) == pytest.approx(3 * 2**-0.2, rel=1e-4)
    blurred = dataclasses.replace(huge, blur="4 arcsec")
    assert float(star_fwhm_arcsec(blurred, 0.0, 1.0, 0.0, 500.0)) == pytest.approx(4, rel=1e-4)
    assert float(star_fwhm_arcsec(blurred, 3.0, 1.0, 0.0, 500.0)) == pytest.approx(5, rel=1e-4)
    small = Telescope(aperture="50 mm", focal_length="250 mm")
    assert float(star_fwhm_arcsec(small, 0.0, 1.0, 0.0, 500.0)) == pytest.approx(
        small.diffraction_fwhm_arcsec(500.0), rel=1e-12
    )


def test_star_width_broadcasts():
    fwhm = star_fwhm_arcsec(TELESCOPE, np.array([[2.0], [3.0]]), np.array([1.0, 1.5, 2.0]), 0.8, 550.0)
    assert fwhm.shape == (2, 3)
    assert (np.diff(fwhm, axis=0) > 0).all()
    assert (np.diff(fwhm, axis=1) > 0).all()


@given(fwhm=st.floats(0.05, 50), factor=st.floats(1.01, 5))
def test_a_wider_star_has_a_lower_peak(fwhm, factor):
    narrow, wide = peak_share([fwhm, fwhm * factor])
    assert 0 < wide <= narrow <= 1
