"""The star's image and the telescope's geometry against the outside.

Sources
-------
- Peak-pixel shares: astropy.convolution.discretize_model integrates a Gaussian over pixels; the list of shares was
  worked out from the error function apart from this code. Moffat profiles: Trujillo et al. 2001, MNRAS 328, 977.
- Diffraction: the Airy pattern (2 J1(x)/x)² with scipy's Bessel function.
- Eight lenses: Abraham & van Dokkum 2014, PASP 126, 55 (143 mm f/2.8 lenses; eight act as one of 404 mm, f/0.99).
- 80 mm at f/6 is 480 mm, and about 1.2 arcsec per pixel of 2.9 um: common practice, no source.
"""

import dataclasses

import numpy as np
import pytest
from astropy.convolution import discretize_model
from astropy.modeling.models import Gaussian2D, Moffat2D
from scipy.optimize import brentq
from scipy.special import j1

from expocalc.gear.camera import Camera
from expocalc.gear.image import FWHM_PER_SIGMA, field_arcmin, peak_share, pixel_scale_arcsec, star_fwhm_arcsec
from expocalc.gear.telescope import AIRY_FWHM, Telescope

# full width at half maximum [pixel], share of the light in the middle pixel, half a unit of its last digit
SHARES = [
    (1.0, 0.579, 0.0005),
    (1.5, 0.322, 0.0005),
    (2.0, 0.1971, 0.00005),
    (2.5, 0.1313, 0.00005),
    (3.0, 0.0932, 0.00005),
    (4.0, 0.0536, 0.00005),
]


def camera(pixel="2.9 um"):
    return Camera(
        pixel=pixel,
        columns=4000,
        rows=3000,
        quantum_efficiency=0.8,
        dark_current={"rate": "0 electron/s", "at": "0 deg_C", "activation": "0.63 eV"},
        gains={"only": {"read_noise": "1 e-", "electrons_per_adu": 1, "full_well": "1e4 e-"}},
    )


@pytest.mark.parametrize(("fwhm_px", "share", "half_digit"), SHARES)
def test_peak_share(fwhm_px, share, half_digit):
    assert float(peak_share(fwhm_px)) == pytest.approx(share, abs=half_digit, rel=0)


@pytest.mark.parametrize("fwhm_px", [1.5, 2.0, 3.0])
def test_peak_share_by_integration_over_pixels(fwhm_px):
    sigma = fwhm_px / FWHM_PER_SIGMA
    star = Gaussian2D(1 / (2 * np.pi * sigma**2), 0, 0, sigma, sigma)
    pixels = discretize_model(star, (-2, 3), (-2, 3), mode="integrate")
    assert float(peak_share(fwhm_px)) == pytest.approx(pixels.max(), abs=1e-6)


@pytest.mark.parametrize(("beta", "share"), [(4.765, 0.167), (3.0, 0.146)])
def test_a_gaussian_is_the_careful_choice(beta, share):
    # At a width of 2 pixels: a star with wings fills its brightest pixel less than the Gaussian says.
    core = 2 / (2 * np.sqrt(2 ** (1 / beta) - 1))
    star = Moffat2D((beta - 1) / (np.pi * core**2), 0, 0, core, beta)
    peak = discretize_model(star, (-1, 2), (-1, 2), mode="integrate").max()
    assert peak == pytest.approx(share, abs=0.0005, rel=0)
    assert peak < float(peak_share(2.0))


def test_diffraction_width_is_that_of_the_airy_pattern():
    half = brentq(lambda x: (2 * j1(x) / x) ** 2 - 0.5, 1.0, 2.0)
    assert pytest.approx(2 * half / np.pi, abs=0.0005, rel=0) == AIRY_FWHM
    telescope = Telescope(aperture="100 mm", focal_length="500 mm")
    radians = 2 * half * 550e-9 / (np.pi * 0.1)
    assert telescope.diffraction_fwhm_arcsec(550) == pytest.approx(np.degrees(radians) * 3600, rel=1e-3)


def test_eight_lenses_are_one():
    one = Telescope(aperture="143 mm", focal_length="400 mm")
    whole = Telescope(aperture="404 mm", focal_length="400 mm")
    assert one.focal_ratio == pytest.approx(2.8, abs=0.05, rel=0)
    assert whole.focal_ratio == pytest.approx(0.99, abs=0.005, rel=0)
    assert 8 * one.area_cm2 == pytest.approx(whole.area_cm2, rel=2 * 0.5 / 404 + 2 * 0.5 / 143)  # both are rounded
    assert np.sqrt(8 * one.area_cm2 * 400 / np.pi) == pytest.approx(404, abs=0.5, rel=0)


def test_a_common_small_telescope():
    # common practice, no source
    telescope = Telescope(aperture="80 mm", focal_length="480 mm")
    assert telescope.focal_ratio == 6
    assert pixel_scale_arcsec(telescope, camera()) == pytest.approx(1.2, abs=0.05, rel=0)


def test_scale_and_field_agree():
    telescope, sensor = Telescope(aperture="160 mm", focal_length="1120 mm"), camera("9 um")
    # Chonis et al. 2011, AJ 142, 166: 0.16 m f/7, 9-um pixels: 1.66 arcsec per pixel, 110.6 arcmin over 4008 pixels
    assert pixel_scale_arcsec(telescope, sensor) == pytest.approx(1.66, abs=0.005, rel=0)
    width, _ = field_arcmin(telescope, dataclasses.replace(sensor, columns=4008))
    assert width == pytest.approx(110.6, abs=0.2, rel=0)  # their focal length is rounded


def test_guiding_alone_is_a_gaussian_of_its_rms():
    # Two million positions with 1 arcsec in total; the width of each axis' spread is FWHM_PER_SIGMA / sqrt(2).
    telescope = Telescope(aperture="10000 mm", focal_length="50000 mm")
    x, y = np.random.default_rng(7).normal(0, np.sqrt(0.5), (2, 2_000_000))
    assert np.sqrt(np.mean(x**2 + y**2)) == pytest.approx(1, rel=0.002)
    ours = float(star_fwhm_arcsec(telescope, 0.0, 1.0, 1.0, 550.0))
    assert ours == pytest.approx(x.std() * FWHM_PER_SIGMA, rel=0.003)
