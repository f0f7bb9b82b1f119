"""Extinction as a plan may give it, and what comes out at the edges."""

import math

import numpy as np
import pytest

from expocalc.light.air import EXTINCTIONS, extinction_curve, rayleigh_mag, read_extinction, transmission
from expocalc.light.airmass import airmass, kasten_young_1989, pickering_2002


@pytest.mark.parametrize("function", [kasten_young_1989, pickering_2002])
def test_airmass_of_any_shape_and_nan_below_the_horizon(function):
    angle = np.array([[10.0, 50.0, 80.0], [-1.0, 91.0, math.nan]])
    found = function(angle)
    assert found.shape == (2, 3)
    assert np.isfinite(found[0]).all()
    assert np.isnan(found[1]).all()
    assert found[0, 1] == pytest.approx(float(function(50.0)))


def test_airmass_grows_towards_the_horizon():
    assert np.all(np.diff(airmass(np.linspace(90, 0, 91))) > 0)
    assert float(airmass(90.0)) == pytest.approx(1, abs=0.001)


def test_molecules_thin_with_height_and_redden():
    assert float(rayleigh_mag(0.5, 7.996)) == pytest.approx(float(rayleigh_mag(0.5)) / math.e)
    assert np.all(np.diff(rayleigh_mag(np.linspace(0.3, 1.1, 50))) < 0)


@pytest.mark.parametrize("name", EXTINCTIONS)
def test_named_extinctions_fall_with_height(name):
    nm = np.linspace(300, 1100, 81)
    low, high = (extinction_curve(name, metres)(nm) for metres in (0, 2000))
    assert np.all(low > high)
    assert np.all(high >= 0)


def test_a_number_holds_everywhere_and_at_any_height():
    assert extinction_curve(0.25, 2000)([300, 700, 1100]).tolist() == [0.25] * 3


def test_a_table_holds_beyond_its_ends():
    curve = extinction_curve([[400, 0.5], [700, 0.1]])
    np.testing.assert_allclose(curve([300, 400, 550, 700, 1100]), [0.5, 0.5, 0.3, 0.1, 0.1])


def test_air_dims_more_the_more_there_is():
    curve = extinction_curve("town")
    shares = [float(transmission(curve, x)(500)) for x in (1.0, 2.0, 4.0)]
    assert 1 > shares[0] > shares[1] > shares[2] > 0
    assert shares[1] == pytest.approx(shares[0] ** 2)


@pytest.mark.parametrize(
    ("value", "error", "words"),
    [
        ("sea", ValueError, "extinction must be one of town, country, a number"),
        (-0.1, ValueError, "extinction must be at least 0"),
        (math.nan, ValueError, "extinction must be a finite number"),
        (True, TypeError, "extinction must be a number"),
        (None, TypeError, "extinction must be a number"),
        ([[400, 0.5]], ValueError, "extinction must have two or more rows"),
        ([400, 0.5], ValueError, "extinction must have two or more rows"),
        ([[400, 0.5], [400, 0.1]], ValueError, "extinction must have rows of increasing wavelength"),
        ([[400, 0.5], [700, math.inf]], ValueError, "extinction in mag/airmass must be a finite number"),
        ([[400, 0.5], [700, "x"]], ValueError, "extinction in mag/airmass must be a number"),
    ],
)
def test_bad_extinction_is_one_sentence(value, error, words):
    with pytest.raises(error, match=words) as caught:
        read_extinction("extinction", value)
    assert "\n" not in str(caught.value)
