"""Slopes, tails and ranges of the model's light that a table or a law fixes."""

import numpy as np
import pytest

from expocalc.base.photometry import vega_magnitude
from expocalc.light.air import dust_mag, rayleigh_mag
from expocalc.light.lamps import LAMPS, bare_lamp
from expocalc.light.mix import METER_STARS_S10
from expocalc.light.moon_colour import REFLECTANCE_SLOPE, scattered_sunlight
from expocalc.light.natural import planck_photons, star_field, sun_photons, zodiacal_light
from expocalc.light.reading import BORTLE, bortle_classes, nanolambert
from expocalc.light.sky import Sky


def scattering(light, blue_nm, red_nm):
    """What scattering alone makes of the ratio of blue to red light: the Sun's and the Moon's own taken out."""
    moon = [sun_photons()(nm) * nm**REFLECTANCE_SLOPE for nm in (blue_nm, red_nm)]
    return light.continuum(blue_nm) / light.continuum(red_nm) * moon[1] / moon[0]


def test_molecules_scatter_moonlight_as_they_dim_stars():
    """Hayes & Latham 1975, ApJ 197, 593: extinction by molecules, whose light is scattered light."""
    molecules, _ = scattered_sunlight()
    for blue, red in ((400, 700), (450, 650), (500, 600)):
        assert scattering(molecules, blue, red) == pytest.approx(
            rayleigh_mag(blue / 1e3) / rayleigh_mag(red / 1e3), rel=0.05
        )


def test_moonlight_by_dust_is_bluer_than_its_source_but_less_than_dust_dims_stars():
    """Its extinction goes as wavelength^-1.3 (Green 1992, International Comet Quarterly 14, 55).

    Scattered moonlight shows it flatter (Jones et al. 2019, A&A 624, A39), yet not grey: one power for all wavelengths.
    """
    _, dust = scattered_sunlight()
    powers = []
    for blue, red in ((400, 700), (450, 650), (500, 600), (700, 950)):
        assert 1 < scattering(dust, blue, red) < dust_mag(blue / 1e3) / dust_mag(red / 1e3)
        powers.append(np.log(scattering(dust, blue, red)) / np.log(red / blue))
    np.testing.assert_allclose(powers, powers[0], rtol=1e-6)


def test_moonlight_of_both_kinds_is_one_at_550_nm():
    molecules, dust = scattered_sunlight()
    assert molecules.continuum(550) == pytest.approx(float(dust.continuum(550)), rel=1e-4)


@pytest.mark.parametrize("lamp", LAMPS)
def test_a_lamp_keeps_its_last_power_beyond_the_table(lamp):
    """CIE 015 ends at 780 nm; beyond it the model assumes the same power per nm up to 1100 nm."""
    light = bare_lamp(lamp).continuum
    np.testing.assert_allclose(light([800, 900, 1100]), light(780) * np.array([800, 900, 1100]) / 780, rtol=1e-9)
    assert light(780) > 0 or lamp == "sodium-low-pressure"


def test_a_bortle_class_reaches_as_far_as_its_compilers_disagree():
    """Lists of V for a class differ by 0.3 to 0.5 mag (from memory): 0.3 beyond its own range it ends."""
    for number, (bright, dark) in BORTLE.items():
        for v in (bright - 0.25, dark + 0.25):
            best, worst = bortle_classes(v)
            assert best <= number <= worst
    assert bortle_classes(19.1 + 0.35) == (5, 5)
    assert bortle_classes(20.4 - 0.35) == (5, 5)


@pytest.mark.parametrize("lamp", LAMPS)
def test_a_lamp_falls_in_a_straight_line_to_300_nm(lamp):
    light = bare_lamp(lamp).continuum
    assert light(300) == 0
    assert light(340) == pytest.approx(float(light(380)) / 2)


@pytest.mark.parametrize("kelvin", [4500, 5000, 9000])
def test_a_black_body_peaks_in_photons_where_wien_says(kelvin):
    """x e^x / (e^x - 1) = 4 for photons per unit of wavelength: 3669.7 um K."""
    body = planck_photons(kelvin)
    assert body.wavelength_nm[np.argmax(body.value)] == pytest.approx(3669.7e3 / kelvin, abs=1.5)


def test_zodiacal_light_is_the_reddened_sun():
    """Leinert et al. 1998, A&AS 127, 1, eq. 22 at 90 degrees of elongation: 0.9 below 500 nm, 0.6 above."""
    light, sun = zodiacal_light().continuum, sun_photons()

    def reddened(nm):
        return float(light(nm) / sun(nm) / (light(500) / sun(500)))

    assert reddened(350) == pytest.approx(1 + 0.9 * np.log10(350 / 500), rel=1e-3)
    assert reddened(900) == pytest.approx(1 + 0.6 * np.log10(900 / 500), rel=1e-3)


def test_light_of_many_stars_is_yellow():
    """Integrated starlight has B - V of about 0.8 (from memory)."""
    b, v = (vega_magnitude(star_field(), f"bessell-{band}") for band in "BV")
    assert 0.7 < b - v < 0.95


def test_stars_in_a_meter_s_field():
    """Benn & Ellison 1998, New Astron. Rev. 42, 503: stars give 13 nL of a dark zenith."""
    assert nanolambert(vega_magnitude(star_field(METER_STARS_S10), "bessell-V")) == pytest.approx(13, rel=0.05)


def test_a_gradient_is_level_at_the_zenith():
    """Its magnitude grows with the square of the distance: a quarter at half the way to 45 degrees."""
    assert Sky(bortle=5, gradient="0.4 mag").factor_at(67.5) == pytest.approx(10 ** (0.4 * 0.1))


def test_a_bortle_class_is_never_surer_than_its_compilers():
    """Half the width of a class, but 0.3 mag at least."""
    for number, (bright, dark) in BORTLE.items():
        assert Sky(bortle=number).brightness_error.value == pytest.approx(max((dark - bright) / 2, 0.3))
