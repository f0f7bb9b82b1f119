"""The natural sky against published dark skies: some it was fitted to (and says so), some it never saw."""

import numpy as np
import pytest

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import RAYLEIGH, ab_magnitude, luminance_cd_m2, standard_band, vega_magnitude
from expocalc.light.natural import natural_sky, star_field, zodiacal_light


# Patat 2003, A&A 400, 1183: Paranal at solar maximum, zenith, Vega mag/arcsec2. B, V, R and I were fitted, U was not.
@pytest.mark.parametrize(
    ("band", "mag", "tolerance"),
    [("U", 22.3, 0.2), ("B", 22.6, 0.15), ("V", 21.6, 0.15), ("R", 20.9, 0.15), ("I", 19.7, 0.15)],
)
def test_paranal(band, mag, tolerance):
    assert vega_magnitude(natural_sky(), f"bessell-{band}") == pytest.approx(mag, abs=tolerance)


# Benn & Ellison 1998, New Astron. Rev. 42, 503: La Palma, high latitudes, solar minimum, Vega (from memory). Not
# fitted. Ours is a sky of the solar maximum: brighter by up to 0.35 mag where airglow rules (V, I).
@pytest.mark.parametrize(("band", "mag"), [("B", 22.7), ("V", 21.9), ("R", 21.0), ("I", 20.0)])
def test_la_palma(band, mag):
    ours = vega_magnitude(natural_sky(), f"bessell-{band}")
    assert -0.35 < ours - mag < 0.1


def test_mauna_kea():
    # Krisciunas 1997, PASP 109, 1181: yearly means of V 21.287 to 21.906 over a solar cycle, B - V = 0.930. Not fitted.
    v = vega_magnitude(natural_sky(), "bessell-V")
    assert 21.287 < v < 21.906
    assert vega_magnitude(natural_sky(), "bessell-B") - v == pytest.approx(0.930, abs=0.08)


# Rubin Observatory, SMTN-002: dark zenith, AB. Not fitted; its bands are not quite those of SDSS: 0.2 mag.
@pytest.mark.parametrize(("band", "mag"), [("u", 23.05), ("g", 22.25), ("r", 21.20), ("i", 20.46), ("z", 19.61)])
def test_rubin_bands(band, mag):
    assert ab_magnitude(natural_sky(), standard_band(f"sdss-{band}")) == pytest.approx(mag, abs=0.2)


# Rubin Observatory, throughputs repository (commit 0bcec2a), darksky.dat, in rayleigh per angstrom. The continuum was
# fitted to these eight: what is tested is that the shipped tables still hold that fit.
@pytest.mark.parametrize(
    ("nm", "level"),
    [
        (486.1, 0.785),
        (500.7, 0.784),
        (515, 0.803),
        (550, 0.932),
        (600, 1.23),
        (656.3, 1.17),
        (658.4, 1.18),
        (671.6, 1.37),
    ],
)
def test_regression_rubin_levels(nm, level):
    assert float(natural_sky().continuum(nm)) / RAYLEIGH / 10 == pytest.approx(level, rel=0.06)


def test_luminance():
    # Bara et al. 2020, MNRAS 493, 2429: V = 22.0 (Vega) is 187 to 227 ucd/m2, here scaled to the V of this sky
    v = vega_magnitude(natural_sky(), "bessell-V")
    at_22 = luminance_cd_m2(natural_sky()) * 10 ** (0.4 * (v - 22))
    assert 187e-6 * 0.99 < at_22 < 227e-6


def test_a_narrow_filter_at_a_dark_site():
    # Airglow H-alpha alone: 2 to 15 R (Roach & Gordon 1973, from memory); the rest of 3 nm is the level of Rubin
    three_nm = Curve.boxes([(654.8, 657.8)], [1.0])
    rayleigh = natural_sky().through(three_nm) / RAYLEIGH
    assert 1.17 * 30 * 0.95 + 2 < rayleigh < 1.17 * 30 * 1.05 + 15


def test_zodiacal_light_against_the_space_telescope():
    # Leinert et al. 1998, A&AS 127, 1, table 17: 60 S10 at the ecliptic pole is V = 23.3
    assert vega_magnitude(zodiacal_light(60), "bessell-V") == pytest.approx(23.3, abs=0.05)
    # STIS Instrument Handbook: "high" zodiacal light V = 22.1; 100 S10, a usual place, is fainter
    assert vega_magnitude(zodiacal_light(100), "bessell-V") > 22.1


def _spectrum(table, *columns):
    seen = (table["lam"] >= 300) & (table["lam"] <= 1101)
    photons = sum(table[column][seen] for column in columns) * 1e-7  # per m2 and um to per cm2 and nm
    return Spectrum(Curve(table["lam"][seen], photons))


@pytest.mark.parametrize(("band", "tolerance"), [("U", 0.4), ("B", 0.25), ("V", 0.25), ("R", 0.25), ("I", 0.25)])
def test_regression_component_sky(component_sky, band, tolerance):
    # Noll et al. 2012, A&A 543, A92, moonless, at the ecliptic pole, solar flux 130. Our nodes were started from such a
    # sky: no evidence, only a guard. Fainter in V as its zodiacal light is that of the pole.
    theirs = _spectrum(component_sky, "flux_ssl", "flux_zl", "flux_ael", "flux_arc")
    response = standard_band(f"bessell-{band}")
    assert ab_magnitude(natural_sky(), response) == pytest.approx(ab_magnitude(theirs, response), abs=tolerance)


def test_light_between_the_stars(component_sky):
    # Noll et al. 2012: starlight scattered by the air, most of what fills the gaps; in V, as its colour is not ours
    theirs = vega_magnitude(_spectrum(component_sky, "flux_ssl"), "bessell-V")
    assert vega_magnitude(star_field(), "bessell-V") == pytest.approx(theirs, abs=0.4)


def test_colour_of_zodiacal_light(component_sky):
    # Noll et al. 2012 took colour and level from Leinert et al. 1998 too, but the Sun from elsewhere, and dimmed it by
    # the air: 0.035 mag, half of what the reddening makes. At the pole 60 S10 less extinction; ours has 100.
    theirs, ours = _spectrum(component_sky, "flux_zl"), zodiacal_light()
    for blue, red in (("B", "V"), ("V", "R"), ("R", "I")):
        colours = [
            vega_magnitude(light, f"bessell-{blue}") - vega_magnitude(light, f"bessell-{red}")
            for light in (theirs, ours)
        ]
        assert np.diff(colours) == pytest.approx(0, abs=0.035)
