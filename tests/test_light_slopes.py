"""Slopes, tails and ranges of the model's light that a table or a law fixes."""

import numpy as np
import pytest

from expocalc.light.air import dust_mag, rayleigh_mag
from expocalc.light.lamps import LAMPS, bare_lamp
from expocalc.light.moonlight import REFLECTANCE_SLOPE, scattered_sunlight
from expocalc.light.natural import sun_photons
from expocalc.light.reading import BORTLE, bortle_classes


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


def test_dust_scatters_moonlight_as_it_dims_stars():
    """Green 1992, International Comet Quarterly 14, 55: dust goes as wavelength^-1.3."""
    _, dust = scattered_sunlight()
    for blue, red in ((400, 700), (450, 650), (500, 600)):
        assert scattering(dust, blue, red) == pytest.approx(dust_mag(blue / 1e3) / dust_mag(red / 1e3), rel=1e-6)


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
