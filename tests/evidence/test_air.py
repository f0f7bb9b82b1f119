"""Airmass and extinction against published values, another package and a published sky model."""

import importlib

import numpy as np
import pytest

from expocalc.light.air import dust_mag, extinction_curve, ozone_mag, rayleigh_mag, transmission
from expocalc.light.airmass import kasten_young_1989, pickering_2002

# tests/test_atmosphere.py of pvlib: zenith distances 89.9, 80 and 0 deg
PVLIB_Z = np.array([89.9, 80.0, 0.0])


def test_kasten_young_vector():
    np.testing.assert_allclose(kasten_young_1989(PVLIB_Z), [36.467, 5.586, 1.000], rtol=0, atol=0.0005)


def test_pickering_vector():
    np.testing.assert_allclose(pickering_2002(90 - PVLIB_Z), [37.064, 5.581, 1.000], rtol=0, atol=0.0005)


@pytest.mark.parametrize(("zenith_deg", "published"), [(60, 1.9939), (85, 10.3058), (90, 37.9196)])
def test_kasten_young_table(zenith_deg, published):
    # Kasten & Young 1989, Appl. Opt. 28, 4735, table II, from memory
    assert float(kasten_young_1989(zenith_deg)) == pytest.approx(published, rel=2e-4)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_airmass_of_another_package():
    atmosphere = importlib.import_module("pvlib.atmosphere")
    z = np.linspace(0, 89, 90)
    for ours, model in ((kasten_young_1989(z), "kastenyoung1989"), (pickering_2002(90 - z), "pickering2002")):
        np.testing.assert_allclose(ours, atmosphere.get_relative_airmass(z, model), rtol=1e-12)


def test_both_airmasses_agree_where_people_image():
    altitude = np.linspace(20, 90, 71)
    np.testing.assert_allclose(pickering_2002(altitude), kasten_young_1989(90 - altitude), rtol=0.0015)


def test_rayleigh_of_bird_and_riordan():
    # Bird & Riordan 1986, J. Climate Appl. Meteorol. 25, 87, eq. 4, at the sea: transmission of one airmass
    um = np.array([0.4, 0.44, 0.5, 0.55, 0.6563])
    theirs = 2.5 / np.log(10) / (um**4 * (115.6406 - 1.335 / um**2))
    np.testing.assert_allclose(rayleigh_mag(um), theirs, rtol=0.01)


def test_rayleigh_of_hansen_and_travis():
    # Hansen & Travis 1974, Space Sci. Rev. 16, 527, eq. 2.30, at 1013.25 hPa (from memory)
    um = np.array([0.4, 0.44, 0.5, 0.55, 0.6563])
    depth = 0.008569 * um**-4 * (1 + 0.0113 * um**-2 + 0.00013 * um**-4)
    np.testing.assert_allclose(rayleigh_mag(um), 2.5 / np.log(10) * depth, rtol=0.015)


@pytest.mark.parametrize(
    ("nm", "published"),
    [
        (360, 0.585),
        (400, 0.385),
        (440, 0.267),
        (500, 0.178),
        (540, 0.156),
        (560, 0.150),
        (600, 0.127),
        (650, 0.085),
        (698, 0.074),
    ],
)
def test_extinction_of_palomar(nm, published):
    # Table of Palomar, 1700 m, mag/airmass (home.fnal.gov/~annis/astrophys/filters/palomar.html), against the average
    # of Green 1992: dust differs from night to night by more than this tolerance.
    assert float(extinction_curve("country", 1700)(nm)) == pytest.approx(published, abs=0.03)


def test_molecules_and_ozone_of_a_published_sky_model(component_sky):
    # Noll et al. 2012, A&A 543, A92, at 2640 m: their Rayleigh scattering follows another formula (Liou 2002), their
    # ozone is a monthly mean computed line by line: 2 % and 0.006 mag.
    nm = np.array([350, 400, 450, 500, 550, 600, 650, 700])
    where = np.searchsorted(component_sky["lam"], nm)
    theirs = -2.5 * np.log10(component_sky["trans_rs"][where])
    np.testing.assert_allclose(rayleigh_mag(nm / 1000, 2.64), theirs, rtol=0.02)
    theirs = -2.5 * np.log10(component_sky["trans_o3"][where])
    np.testing.assert_allclose(ozone_mag(nm / 1000), theirs, rtol=0, atol=0.006)


@pytest.mark.parametrize(("nm", "low", "high"), [(436, 0.25, 0.48), (550, 0.15, 0.30)])
def test_extinction_of_a_town_by_the_sea(nm, low, high):
    # Common practice, no source: B 0.25 to 0.35 and V 0.15 to 0.25 at sea level, and more with a town's dust.
    assert low < float(extinction_curve("country", 0)(nm)) < float(extinction_curve("town", 0)(nm)) < high


def test_dust_of_green():
    # Green 1992, ICQ 14, 55: 0.05 at 1 um, height of scale 1.5 km (from memory)
    assert float(dust_mag(1.0)) == pytest.approx(0.05)
    assert float(dust_mag(1.0, 1.5)) == pytest.approx(0.05 / np.e)


def test_a_magnitude_of_extinction_passes_39_8_percent():
    # Pogson 1856: five magnitudes are a factor of 100
    assert float(transmission(extinction_curve(1.0), 5.0)(550)) == pytest.approx(0.01)
