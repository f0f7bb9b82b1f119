"""Zero points, luminance and the rayleigh against published values and other packages."""

import importlib

import astropy.units as u
import numpy as np
import pytest

from expocalc.base.curve import Curve, Spectrum, integrate
from expocalc.base.photometry import (
    RAYLEIGH,
    VEGA_V,
    ab_continuum,
    ab_magnitude,
    luminance_cd_m2,
    photon_energy_erg,
    standard_band,
    vega_magnitude,
    vega_spectrum,
)
from expocalc.light.lamps import bare_lamp
from expocalc.light.lights import LineLight
from expocalc.light.natural import natural_sky

CIE_LAMPS = ("led-2700K", "led-3000K", "led-4000K", "led-5000K", "led-6600K", "sodium-high-pressure", "metal-halide")


@pytest.mark.parametrize("light", [bare_lamp("sodium-high-pressure"), bare_lamp("led-2700K"), natural_sky()])
def test_luminance_of_a_cie_v_magnitude(light):
    # Bara 2017, Int. J. Sustainable Lighting 19, abstract: L = 10.96e4 x 10**(-0.4 m) cd/m2, m in AB and CIE V:
    # whatever the spectrum.
    constant = luminance_cd_m2(light) * 10 ** (0.4 * ab_magnitude(light, standard_band("cie-V")))
    assert constant == pytest.approx(10.96e4, abs=0.005e4, rel=0)


@pytest.mark.parametrize("lamp", CIE_LAMPS)
def test_luminance_of_a_johnson_v_magnitude_depends_on_the_lamp(lamp):
    # Bara, Aube, Barentine & Zamorano 2020, MNRAS 493, 2429, abstract: at 0 mag/arcsec2 in Johnson-Cousins V
    # 1.11e5 to 1.34e5 cd/m2 (AB) and 1.18e5 to 1.43e5 (Vega) over their spectra. Their zero point of Vega, their V band
    # and their lamps are not ours: 4 %.
    light = bare_lamp(lamp)
    luminance = luminance_cd_m2(light)
    vega = luminance * 10 ** (0.4 * vega_magnitude(light, "bessell-V"))
    ab = luminance * 10 ** (0.4 * ab_magnitude(light, standard_band("bessell-V")))
    assert 1.18e5 * 0.96 < vega < 1.43e5
    assert 1.11e5 < ab < 1.34e5 * 1.04


def test_two_lamps_lie_within_the_published_interval_as_it_stands():
    # Same source, no margin: high-pressure sodium near its upper end, a warm LED near its lower end.
    constants = [10 ** (0.4 * vega_magnitude(bare_lamp(x), "bessell-V")) for x in ("led-2700K", "sodium-high-pressure")]
    assert 1.18e5 < constants[0] < 1.25e5 < 1.36e5 < constants[1] < 1.43e5


@pytest.mark.parametrize(("band", "f_lambda"), [("B", 6.32e-9), ("V", 3.631e-9), ("R", 2.177e-9), ("I", 1.126e-9)])
def test_energy_flux_at_magnitude_zero(band, f_lambda):
    # Bessell, Castelli & Plez 1998, A&A 333, 231, table A2, erg s-1 cm-2 A-1, from memory. They use a model of Vega and
    # other zero points per band (R and I of Vega 0.01 to 0.02 off 0.03): 2.5 %.
    response = standard_band(f"bessell-{band}")
    energy = integrate(vega_spectrum(), response) * photon_energy_erg(1.0)  # of the photons, times their wavelength
    mean = energy / integrate(response, Curve([300, 1100], [300, 1100])) / 10 * 10 ** (0.4 * VEGA_V)
    assert mean == pytest.approx(f_lambda, rel=0.025)


def test_about_a_thousand_photons_at_v_zero():
    # Common practice, no source: 1000 photon s-1 cm-2 A-1 at V = 0, good to 3 % in V only.
    def photons(band):
        response = standard_band(band)
        return integrate(vega_spectrum(), response) / integrate(response) / 10 * 10 ** (0.4 * VEGA_V)

    assert photons("bessell-V") == pytest.approx(1000, rel=0.03)
    assert photons("bessell-B") > 1300
    assert photons("bessell-I") < 500


def _vega_of_the_package():
    import sedpy
    from astropy.io import fits

    path = next(p for p in map(str, sedpy.__path__)) + "/data/alpha_lyr_stis_011.fits"
    with fits.open(path) as hdus:
        return np.array(hdus[1].data["WAVELENGTH"], float), np.array(hdus[1].data["FLUX"], float)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize("band", ["U", "B", "V", "R", "I"])
def test_ab_magnitude_of_vega_as_another_package_computes_it(band):
    # speclite's own integration of the unthinned CALSPEC file, on its own grid.
    filters = importlib.import_module("speclite.filters")
    importlib.import_module("sedpy")
    angstrom, flux = _vega_of_the_package()
    theirs = filters.load_filter(f"bessell-{band}").get_ab_magnitude(
        flux * u.Unit("erg/(s cm2 Angstrom)"), angstrom * u.Angstrom
    )
    ours = ab_magnitude(Spectrum(vega_spectrum()), standard_band(f"bessell-{band}"))
    assert ours == pytest.approx(theirs, abs=0.0015)


@pytest.mark.parametrize(("band", "offset"), [("B", -0.09), ("V", 0.02), ("R", 0.21), ("I", 0.45)])
def test_ab_magnitude_of_vega_as_published(band, offset):
    # Blanton & Roweis 2007, AJ 133, 734, table 1, from memory: another spectrum of Vega, hence 0.035.
    ours = ab_magnitude(Spectrum(vega_spectrum()), standard_band(f"bessell-{band}"))
    assert ours == pytest.approx(offset, abs=0.035)


def test_ab_magnitude_is_the_same_in_every_band():
    # Oke & Gunn 1983, ApJ 266, 713: flat in F_nu is one magnitude everywhere.
    light = Spectrum(ab_continuum(21.7))
    for band in ("bessell-B", "bessell-I", "sdss-r", "cie-V", "meter"):
        assert ab_magnitude(light, standard_band(band)) == pytest.approx(21.7, abs=1e-9)


# The wavelengths behind the published values, and erg s-1 cm-2 arcsec-2 of one rayleigh there.
@pytest.mark.parametrize(
    ("line", "nm", "erg", "half_digit"),
    [
        # 5.661e-18 and 7.643e-18: 3.71546e-14 / wavelength in A, a page on the units of diffuse H-alpha light
        ("H-alpha", 656.28, 5.661e-18, 0.0005e-18),
        ("H-beta", 486.13, 7.643e-18, 0.0005e-18),
        ("O III", 500.684, 7.421e-18, 0.0005e-18),
    ],
)
def test_rayleigh_in_energy(line, nm, erg, half_digit):
    assert RAYLEIGH * photon_energy_erg(nm) == pytest.approx(erg, abs=half_digit, rel=0)
    light = LineLight(line=line, brightness=f"{erg} erg/(s cm2 arcsec2)")
    assert light.brightness.value == pytest.approx(1, rel=1e-4)


def test_rayleigh_at_h_alpha_per_steradian():
    # WHAM sky survey, header of catalogue II/249: 1 R = 2.4e-7 erg s-1 cm-2 sr-1 at H-alpha
    per_steradian = RAYLEIGH * photon_energy_erg(656.28) * (180 * 3600 / np.pi) ** 2
    assert per_steradian == pytest.approx(2.4e-7, abs=0.05e-7, rel=0)


def test_rayleigh_of_astropy():
    theirs = (1 * u.R).to_value("ph / (s cm2 arcsec2)")
    assert pytest.approx(theirs, rel=1e-9) == RAYLEIGH
