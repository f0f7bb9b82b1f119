"""Naked-eye limits, nanolamberts and Bortle classes against published values."""

import math
from itertools import pairwise

import pytest

from expocalc.light.instruments import sky_readings
from expocalc.light.reading import (
    BORTLE,
    naked_eye_limit_of_v,
    nanolambert,
    v_of_naked_eye_limit,
    v_of_nanolambert,
    v_per_limit,
)
from expocalc.light.sky import Sky


def test_nanolambert_of_a_dark_sky():
    # Krisciunas & Schaefer 1991, PASP 103, 1033: a zenith of 79.0 nL is V = 21.587
    assert nanolambert(21.587) == pytest.approx(79.0, abs=0.05)
    assert v_of_nanolambert(79.0) == pytest.approx(21.587, abs=0.0005)


def test_a_tenth_star_per_square_degree():
    # Common practice, no source: 1 S10(V) is 27.78 mag/arcsec2, and 100 nL are 21.3
    assert 10 + 2.5 * math.log10(3600**2) == pytest.approx(27.78, abs=0.005)
    assert v_of_nanolambert(100.0) == pytest.approx(21.3, abs=0.05)


@pytest.mark.parametrize("v", [18.5, 19.0, 20.0, 21.0, 21.5, 22.0])
def test_limit_of_the_rods(v):
    # The widely copied closed form of Schaefer 1990, PASP 102, 212 without extinction, common practice, no source:
    # 7.93 - 5 lg(10**(4.316 - V/5) + 1)
    closed = 7.93 - 5 * math.log10(10 ** (4.316 - v / 5) + 1)
    assert naked_eye_limit_of_v(v) == pytest.approx(closed, abs=0.01)


@pytest.mark.parametrize("v", [15.0, 16.0, 17.0, 18.0])
def test_limit_of_the_cones(v):
    # Schaefer 1990, PASP 102, 212: above 1500 nL log C = -8.35, log K = -5.90 (from memory); the rods' closed form,
    # common practice, no source, must not be used there: it is too bright by up to 1 mag at V = 17.
    footcandle = 10**-8.35 * (1 + math.sqrt(10**-5.90 * nanolambert(v))) ** 2
    assert naked_eye_limit_of_v(v) == pytest.approx(-16.57 - 2.5 * math.log10(footcandle), abs=1e-9)
    closed = 7.93 - 5 * math.log10(10 ** (4.316 - v / 5) + 1)
    assert naked_eye_limit_of_v(v) > closed + 0.1


@pytest.mark.parametrize("v", [20.5, 21.0, 21.5, 22.0])
def test_limit_of_a_later_author(v):
    # Crumey 2014, MNRAS 442, 2600: 0.3834 mu - 1.4400 - 2.5 lg F for 20 < mu < 22 (from memory), F from 1.4 (keen) to
    # 2.4; Schaefer's observer lies between the two within 0.1 mag.
    keen, poor = (0.3834 * v - 1.44 - 2.5 * math.log10(f) for f in (1.4, 2.4))
    assert poor - 0.1 < naked_eye_limit_of_v(v) < keen + 0.1


@pytest.mark.parametrize("k", [0.0, 0.172, 0.27, 0.4])
@pytest.mark.parametrize("v", [18.5, 19.0, 20.0, 21.0, 22.0])
def test_limit_goes_there_and_back(v, k):
    assert v_of_naked_eye_limit(naked_eye_limit_of_v(v, k), k) == pytest.approx(v, abs=1e-6)


@pytest.mark.parametrize("limit", [5.0, 5.5, 6.0])
def test_extinction_left_out_makes_the_sky_too_bright(limit):
    # An independent rebuild of Schaefer's formula found 0.35 to 0.48 mag for k = 0.26
    assert 0.3 < v_of_naked_eye_limit(limit, 0.26) - v_of_naked_eye_limit(limit) < 0.6


@pytest.mark.parametrize("v", [18.6, 19.5, 20.5, 21.5])
def test_slope_of_the_limit(v):
    rise = v_of_naked_eye_limit(naked_eye_limit_of_v(v) + 0.05) - v_of_naked_eye_limit(naked_eye_limit_of_v(v) - 0.05)
    assert v_per_limit(v) == pytest.approx(rise / 0.1, rel=0.01)


@pytest.mark.parametrize("limit", [-1.0, 3.5, 4.1])
def test_a_limit_that_tells_nothing_is_refused(limit):
    with pytest.raises(ValueError, match=r"naked_eye_limit must be at least 4\.3 mag, got .*; give bortle = 8"):
        v_of_naked_eye_limit(limit)
    with pytest.raises(ValueError, match=r"at least 4\.1 mag"):
        v_of_naked_eye_limit(min(limit, 4.0), 0.26)


def test_limit_of_a_black_sky():
    with pytest.raises(ValueError, match=r"naked_eye_limit must be below 7\.93 mag"):
        v_of_naked_eye_limit(8.0)


# Bortle 2001, Sky & Telescope 101, no. 2, 126: faintest star per class (classes 4 to 8 from memory)
BORTLE_LIMITS = {
    1: (7.6, 8.0),
    2: (7.1, 7.5),
    3: (6.6, 7.0),
    4: (6.1, 6.5),
    5: (5.6, 6.0),
    6: (5.5, 5.5),
    7: (5.0, 5.0),
    8: (4.5, 4.5),
}


@pytest.mark.parametrize("number", BORTLE_LIMITS)
def test_bortle_himself_saw_fainter_stars(number):
    # His limits are those of a keen eye: the average eye of Schaefer 1990 reaches 0.2 to 1.4 mag less in the class.
    low, high = BORTLE_LIMITS[number]
    ours = naked_eye_limit_of_v(sum(BORTLE[number]) / 2)
    assert 0.2 < (low + high) / 2 - ours < 1.4


def test_bortle_classes_join():
    edges = [BORTLE[number] for number in sorted(BORTLE)]
    for (bright, dark), (_, next_dark) in pairwise(edges):
        assert bright < dark
        assert next_dark == bright


def test_luminance_of_a_natural_sky():
    # Falchi et al. 2016, Sci. Adv. 2, e1600377, introduction: about 22 mag/arcsec2, equivalent to 1.7e-4 cd/m2. By
    # Bara et al. 2020 (MNRAS 493, 2429) V = 22.0 (Vega) is 187 to 227 ucd/m2: their 1.7e-4 rests on an older constant.
    luminance = sky_readings(Sky(zenith_brightness="22.0 mag/arcsec2")).luminance_cd_m2
    assert luminance == pytest.approx(1.7e-4, rel=0.12)
    assert 187e-6 * 0.99 < luminance < 227e-6
