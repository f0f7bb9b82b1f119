"""Targets and their light."""

import math

import astropy.units as u
import numpy as np
import pytest

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import (
    RAYLEIGH,
    ab_magnitude,
    photon_energy_erg,
    standard_band,
    vega_magnitude,
    vega_spectrum,
)
from expocalc.light.emission import LINES
from expocalc.light.lights import ContinuumLight, LineLight, StarLight, read_light
from expocalc.light.target import Target

EVERYTHING = Curve.constant(1.0)
HA = {"line": "H-alpha", "brightness": "12 R"}


def test_a_line_holds_its_photons():
    assert LineLight(line="H-alpha", brightness="12 R").spectrum.through(EVERYTHING) == pytest.approx(12 * RAYLEIGH)


@pytest.mark.parametrize(("line", "follows", "ratio"), [("O III", 495.89, 2.98), ("N II", 654.80, 3.05)])
def test_the_second_line_follows_the_first(line, follows, ratio):
    light = LineLight(line=line, brightness="9 R").spectrum
    assert light.line[0] == pytest.approx(9 * RAYLEIGH)
    assert light.line_nm[1] == follows
    assert light.line[0] / light.line[1] == pytest.approx(ratio)


def test_s_ii_is_the_sum_of_both():
    light = LineLight(line="S II", brightness="9 R").spectrum
    assert light.through(EVERYTHING) == pytest.approx(9 * RAYLEIGH)
    assert light.line[0] / light.line[1] == pytest.approx(1.4)


@pytest.mark.parametrize("line", LINES)
def test_energy_and_photons_are_one_brightness(line):
    light = LineLight(line=line, brightness="1e-17 erg/s/cm2/arcsec2").spectrum
    energy = sum(n * photon_energy_erg(nm) for n, nm in zip(light.line, light.line_nm, strict=True))
    named = {"O III": 1 + 495.89**-1 * 500.68 / 2.98, "N II": 1 + 654.80**-1 * 658.35 / 3.05}.get(line, 1.0)
    assert energy == pytest.approx(1e-17 * named, rel=1e-5)


def test_companions_come_along():
    light = LineLight(line="H-alpha", brightness="10 R", companions={"N II": 0.3})
    assert light.name == "H-alpha"
    photons = dict(zip(light.spectrum.line_nm, light.spectrum.line / RAYLEIGH, strict=True))
    assert photons == {656.28: pytest.approx(10), 658.35: pytest.approx(3), 654.80: pytest.approx(3 / 3.05)}


def test_h_alpha_alone_implies_no_n_ii():
    assert LineLight(line="H-alpha", brightness="10 R").spectrum.line_nm.tolist() == [656.28]


@pytest.mark.parametrize("shape", ["flat", "sun"])
@pytest.mark.parametrize(
    ("system", "band"), [("AB", "sdss-r"), ("AB", "bessell-B"), ("Vega", "bessell-V"), ("Vega", "bessell-R")]
)
def test_a_continuum_has_its_magnitude_in_its_band(shape, system, band):
    light = ContinuumLight(continuum="25.2 mag/arcsec2", system=system, band=band, shape=shape).spectrum
    found = vega_magnitude(light, band) if system == "Vega" else ab_magnitude(light, standard_band(band))
    assert found == pytest.approx(25.2, abs=1e-9)


def test_v_is_the_band_where_one_is_needed():
    light = ContinuumLight(continuum="25.2 mag/arcsec2", system="Vega")
    assert vega_magnitude(light.spectrum, "bessell-V") == pytest.approx(25.2)


def test_a_star_like_vega():
    star = StarLight(star="0.03 mag", system="Vega", band="bessell-V").spectrum
    band = standard_band("bessell-V")
    assert star.through(band) == pytest.approx(Spectrum(vega_spectrum()).through(band), rel=1e-9)


def test_five_magnitudes_are_a_factor_of_100():
    faint, bright = (StarLight(star=f"{m} mag").spectrum.through(EVERYTHING) for m in (15, 10))
    assert bright / faint == pytest.approx(100)


def test_light_is_read_by_its_kind():
    assert isinstance(read_light(HA), LineLight)
    assert isinstance(read_light({"continuum": "25 mag/arcsec2", "shape": "sun"}), ContinuumLight)
    assert isinstance(read_light({"star": "15.0 mag"}), StarLight)


@pytest.mark.parametrize(
    ("light", "error", "words"),
    [
        ({}, ValueError, "light must have exactly one of line, continuum, star, got nothing"),
        ({"lines": "H-alpha"}, ValueError, "exactly one of line, continuum, star, got lines"),
        (HA | {"star": "15 mag"}, ValueError, "got line and star"),
        ({"line": "H-alpha"}, ValueError, "light with line must have a brightness"),
        (HA | {"brightnes": "3 R"}, ValueError, "got 'brightnes'; did you mean \"brightness\""),
        (HA | {"line": "Halpha"}, ValueError, 'line must be one of .*did you mean "H-alpha"'),
        (HA | {"brightness": 12}, TypeError, "brightness needs a unit convertible to R"),
        (HA | {"brightness": "12 mag"}, u.UnitsError, "brightness must be convertible to R"),
        (HA | {"brightness": "-1 R"}, ValueError, "brightness must be at least 0 R"),
        (HA | {"brightness": "nan R"}, ValueError, "brightness must be a finite number"),
        (HA | {"brightness": "-4e-18 erg/(s cm2 arcsec2)"}, ValueError, "brightness must be at least 0"),
        (HA | {"companions": {"NII": 0.3}}, ValueError, 'companions must be of .*did you mean "N II"'),
        (HA | {"companions": {"H-alpha": 0.3}}, ValueError, "companions must be other lines than H-alpha"),
        (HA | {"companions": {"N II": -0.3}}, ValueError, "companions N II must be at least 0"),
        (HA | {"companions": 0.3}, TypeError, "companions must map lines"),
        ({"continuum": "25.2 mag"}, u.UnitsError, "continuum must be convertible to mag/arcsec2"),
        ({"continuum": "25 mag/arcsec2", "system": "ab"}, ValueError, "system must be one of AB, Vega"),
        ({"continuum": "25 mag/arcsec2", "band": "V"}, ValueError, "band must be one of"),
        ({"star": "15 mag/arcsec2"}, u.UnitsError, "star must be convertible to mag"),
        ("H-alpha", TypeError, "light must be a mapping"),
    ],
)
def test_bad_light_is_one_sentence(light, error, words):
    with pytest.raises(error, match=words) as caught:
        read_light(light)
    assert "\n" not in str(caught.value)


def test_target_has_usual_values():
    target = Target(light=[HA])
    assert (target.altitude.value, target.patch.value, target.right_ascension) == (60, 10, None)
    assert [light.name for light in target.light] == ["H-alpha"]
    assert Target(light=target.light).light == target.light


@pytest.mark.parametrize(
    ("right_ascension", "declination", "degrees"),
    [
        ("20h 45m 38s", "+30d 43m 12s", (311.408333, 30.72)),
        ("20:45:38", "-30:43:12", (311.408333, -30.72)),
        ("20h45m", "-0d 30m", (311.25, -0.5)),
        ("311.4 deg", "−30° 43′ 12″", (311.4, -30.72)),
        ("5 35 17", "30,5 deg", (83.820833, 30.5)),
    ],
)
def test_positions(right_ascension, declination, degrees):
    target = Target(light=[HA], right_ascension=right_ascension, declination=declination)
    found = target.right_ascension.to_value("deg"), target.declination.to_value("deg")
    np.testing.assert_allclose(found, degrees, rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    ("fields", "error", "words"),
    [
        ({"light": []}, ValueError, "light must hold at least one light"),
        ({"light": 12}, TypeError, "light must be a list"),
        ({"altitude": "0 deg"}, ValueError, "altitude must be above 0 deg"),
        ({"altitude": "91 deg"}, ValueError, "altitude must be at most 90 deg"),
        ({"altitude": math.nan * u.deg}, ValueError, "altitude must be a finite number"),
        ({"patch": "0 arcsec"}, ValueError, "patch must be above 0 arcsec"),
        ({"patch": "10 px"}, u.UnitsError, "patch must be convertible to arcsec"),
        ({"name": ""}, ValueError, "name must be one line"),
        ({"right_ascension": "20h 45m"}, ValueError, "a position must have .* got no declination"),
        ({"declination": "30 deg"}, ValueError, "a position must have .* got no right_ascension"),
        ({"right_ascension": 20.75, "declination": "30 deg"}, TypeError, "right_ascension needs a unit"),
        ({"right_ascension": "20h 75m", "declination": "30 deg"}, ValueError, "right_ascension must lie from 0 to 360"),
        ({"right_ascension": "25h 10m", "declination": "30 deg"}, ValueError, "right_ascension must lie from 0 to 360"),
        ({"right_ascension": "20h 45m", "declination": "91 deg"}, ValueError, "declination must be at most 90 deg"),
    ],
)
def test_bad_targets_are_one_sentence(fields, error, words):
    with pytest.raises(error, match=words) as caught:
        Target(**({"light": [HA]} | fields))
    assert "\n" not in str(caught.value)


def test_units_are_converted():
    assert Target(light=[HA], patch="0.25 arcmin").patch.value == pytest.approx(15)
