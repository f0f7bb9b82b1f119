"""Moonlight: limits, scaling, shapes, and what is refused."""

import numpy as np
import pytest

from expocalc.base.curve import Curve
from expocalc.base.photometry import vega_magnitude
from expocalc.light.moon import Moon, moon_factor, moon_spectrum
from expocalc.light.moonlight import (
    dark_sky_nl,
    dust_part,
    molecule_part,
    moon_magnitude,
    moonlight_nl,
    phase_angle_deg,
    scattering_airmass,
)
from expocalc.light.reading import nanolambert, v_of_nanolambert
from expocalc.light.sky import Sky

FULL = {"illuminated": 1, "altitude": "45 deg", "separation": "60 deg"}
BLUE, RED = Curve.boxes([(440, 460)], [1.0]), Curve.boxes([(680, 700)], [1.0])


def test_phase_counts_both_ways():
    assert moon_magnitude(-60) == moon_magnitude(60)


def test_phase_of_a_share():
    # a sphere lit by parallel light: lit share (1 + cos phase) / 2
    phase = np.array([0.0, 30.0, 90.0, 180.0])
    assert phase_angle_deg((1 + np.cos(np.radians(phase))) / 2) == pytest.approx(phase, abs=1e-6)


def test_airmass_at_the_ends():
    assert scattering_airmass([90, 0]) == pytest.approx([1, 0.04**-0.5], rel=1e-12)


def test_molecules_scatter_the_same_forward_and_back():
    assert molecule_part(30) == pytest.approx(float(molecule_part(150)), rel=1e-12)


def test_dust_scatters_forward_and_more_the_nearer():
    rho = np.array([1, 2, 5, 9.99, 10, 30, 90, 180.0])
    steep = np.diff(dust_part(rho))
    assert (np.delete(steep, 3) < 0).all()
    assert dust_part(10) / dust_part(9.99) == pytest.approx(10 ** (6.15 - 0.25) / 6.2e5, rel=0.01)


def test_no_air_scatters_nothing():
    assert moonlight_nl(0, 60, 45, 60, 0.0) == 0


def test_little_air_scatters_in_proportion():
    thin = moonlight_nl(0, 60, 45, 60, np.array([1e-5, 2e-5]))
    assert thin[1] / thin[0] == pytest.approx(2, rel=1e-4)


def test_light_falls_with_the_moon_s_magnitude():
    ratio = moonlight_nl(40, 60, 45, 60, 0.2) / moonlight_nl(10, 60, 45, 60, 0.2)
    assert -2.5 * np.log10(ratio) == pytest.approx(float(moon_magnitude(40) - moon_magnitude(10)), rel=1e-12)


def test_shapes_and_nan():
    light = moonlight_nl(np.array([[0.0], [90.0]]), np.array([30.0, 60.0, np.nan]), 45, 60, 0.2)
    assert light.shape == (2, 3)
    assert np.isnan(light[:, 2]).all()
    assert (light[0, :2] > light[1, :2]).all()


def test_below_the_horizon():
    assert moonlight_nl(0, 60, [0.0, -5.0], 60, 0.2).tolist() == [0, 0]
    assert np.isnan(moonlight_nl(0, 60, 30, -1.0, 0.2))


def test_dark_sky_brightens_then_dims():
    # airglow grows with the air it shines through, until extinction wins
    sky = dark_sky_nl(79.0, [90, 40, 1], 0.172)
    assert sky[1] > sky[0]
    assert dark_sky_nl(79.0, 1, 1.0) < 79


def test_spectrum_has_the_model_s_v():
    light = moon_spectrum(Moon(phase_angle="45 deg", altitude="20 deg", separation="50 deg"), 70.0, 0.15)
    expected = v_of_nanolambert(float(moonlight_nl(45, 50, 20, 70, 0.15)))
    assert vega_magnitude(light, "bessell-V") == pytest.approx(expected, abs=1e-9)


def test_spectrum_is_bluer_far_from_the_moon():
    # near the Moon dust scatters most, which is hardly blue
    def colour(separation):
        light = moon_spectrum(Moon(phase_angle="45 deg", altitude="45 deg", separation=separation), 45.0, 0.2)
        return vega_magnitude(light, "bessell-B") - vega_magnitude(light, "bessell-V")

    assert colour("85 deg") < colour("20 deg") - 0.1


def test_no_spectrum_without_a_moon_above_the_horizon():
    light = moon_spectrum(Moon(illuminated=1, altitude="-3 deg", separation="60 deg"), 50.0, 0.2)
    assert light.through(BLUE) == 0


def test_factor_follows_the_sky():
    light = moon_spectrum(Moon(**FULL), 55.0, 0.2)
    dark, bright = Sky(zenith_brightness="21.5 mag/arcsec2"), Sky(zenith_brightness="19 mag/arcsec2")
    assert moon_factor(dark, BLUE, light) > moon_factor(bright, BLUE, light) > 1
    assert moon_factor(dark, BLUE, light) > moon_factor(dark, RED, light)
    assert moon_factor(dark, BLUE, light * 0.0) == 1


def test_factor_knows_the_gradient():
    # the same moonlight counts less where the town's sky is brighter: excess over 10^(0.4 x 0.4) at 45 degrees
    sky = Sky(zenith_brightness="19 mag/arcsec2", gradient="0.4 mag")
    light = moon_spectrum(Moon(**FULL), 45.0, 0.2)
    excess = moon_factor(sky, BLUE, light, 45.0) - 1
    assert excess == pytest.approx((moon_factor(sky, BLUE, light, 90.0) - 1) / 10**0.16, rel=1e-9)


def test_conversion_round_trip():
    assert v_of_nanolambert(nanolambert(20.3)) == pytest.approx(20.3, abs=1e-12)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"illuminated": None}, "must have one of illuminated and phase_angle, got neither"),
        ({"phase_angle": "30 deg"}, "got both"),
        ({"illuminated": 1.2}, "illuminated must be at most 1, got 1.2"),
        ({"illuminated": None, "phase_angle": "200 deg"}, "phase_angle must be at most 180 deg"),
        ({"altitude": "95 deg"}, "altitude must be at most 90 deg"),
        ({"separation": "0.1 deg"}, "separation must be at least 1 deg"),
        ({"separation": "nan deg"}, "separation must be a finite number"),
    ],
)
def test_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        Moon(**{**FULL, **changes})


def test_a_bare_angle_is_refused():
    with pytest.raises(TypeError, match="altitude needs a unit"):
        Moon(**{**FULL, "altitude": 45})


def test_impossible_place():
    with pytest.raises(ValueError, match=r"separation must be 30 to 90 deg for a Moon 60 deg up .* got 100 deg"):
        moon_spectrum(Moon(illuminated=1, altitude="60 deg", separation="100 deg"), 30.0, 0.2)


def test_target_below_the_horizon():
    with pytest.raises(ValueError, match="target altitude must be above 0 and at most 90 deg, got -2 deg"):
        moon_spectrum(Moon(**FULL), -2.0, 0.2)


@pytest.mark.parametrize(
    ("separation", "allowed"), [("29.6 deg", True), ("28 deg", False), ("90.4 deg", True), ("92 deg", False)]
)
def test_a_separation_may_be_rounded_but_not_wrong(separation, allowed):
    moon = Moon(illuminated=1, altitude="60 deg", separation=separation)
    if allowed:
        assert moon_spectrum(moon, 30.0, 0.2).through(BLUE) > 0
    else:
        with pytest.raises(ValueError, match="separation must be 30 to 90 deg"):
            moon_spectrum(moon, 30.0, 0.2)
