"""The sky: one reading in, every band out."""

import math
from dataclasses import replace

import astropy.units as u
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base.curve import Curve
from expocalc.base.photometry import BANDS, ab_magnitude, luminance_cd_m2, standard_band, vega_magnitude
from expocalc.light.instruments import sky_readings
from expocalc.light.lamps import LAMPS, bare_lamp, lamp_spectrum
from expocalc.light.measured import MeasuredSky
from expocalc.light.mix import DARKEST_V
from expocalc.light.natural import natural_sky
from expocalc.light.sky import READING_BANDS, Sky

O_III = Curve.boxes([(499.2, 502.2)], [1.0])
NATURAL_V = vega_magnitude(natural_sky(), "bessell-V")


def sky(v=19.1, **more):
    return Sky(zenith_brightness=f"{v} mag/arcsec2", **more)


def test_the_solved_sky_meets_its_reading():
    # Through the whole spectrum, not through the kept integrals that solved it.
    assert vega_magnitude(sky(19.1).spectrum, "bessell-V") == pytest.approx(19.1, abs=1e-9)
    by_eye = sky(19.1, reading_band="cie-V").spectrum
    assert ab_magnitude(by_eye, standard_band("cie-V")) == pytest.approx(19.1, abs=1e-9)
    assert luminance_cd_m2(Sky(luminance="2.5 mcd/m2").spectrum) == pytest.approx(2.5e-3, rel=1e-9)
    assert vega_magnitude(Sky(bortle=6).spectrum, "bessell-V") == pytest.approx((18.4 + 19.1) / 2, abs=1e-9)


def test_a_meter_sees_stars_that_pixels_do_not():
    dark, bright = (sky(v, reading_band="meter") for v in (21.3, 19.1))
    seen = [x.brightness("meter") - x.zenith_brightness.value for x in (dark, bright)]
    # 50 S10 are V = 23.5, of a sky of 21.3 about an eighth
    assert seen[0] == pytest.approx(-2.5 * math.log10(1 - 10 ** (-0.4 * (23.53 + 0.1 - 21.3))), abs=0.03)
    assert 0 < seen[1] < 0.03
    assert sky_readings(dark).meter == pytest.approx(21.3, abs=1e-9)


@pytest.mark.parametrize("lamp", LAMPS)
def test_the_spectrum_and_the_kept_integrals_agree(lamp):
    one = sky(18.0, lamps={lamp: 1.0})
    for curve in (O_III, standard_band("bessell-R"), standard_band("sdss-u")):
        assert one.through(curve) == pytest.approx(one.spectrum.through(curve), rel=1e-12)


def test_brightness_in_a_band_is_that_of_the_spectrum():
    one = sky(20.0)
    for band in BANDS:
        expected = (
            vega_magnitude(one.spectrum, band)
            if band.startswith("bessell")
            else ab_magnitude(one.spectrum, standard_band(band))
        )
        assert one.brightness(band) == pytest.approx(expected, abs=1e-9)


@given(v=st.floats(14, NATURAL_V - 0.05), step=st.floats(0.01, 2))
def test_brighter_reading_is_more_light_in_every_band(v, step):
    darker, brighter = sky(v), sky(v - step)
    for band in BANDS:
        assert brighter.brightness(band) < darker.brightness(band)
    assert brighter.through(O_III) > darker.through(O_III)


@given(v=st.floats(14, 22.2), band=st.sampled_from(READING_BANDS))
def test_readings_go_there_and_back(v, band):
    first = sky_readings(sky(v))
    values = {"bessell-V": first.bessell_v, "cie-V": first.cie_v, "meter": first.meter}
    again = sky_readings(sky(values[band], reading_band=band))
    for name in ("bessell_v", "cie_v", "meter", "luminance_cd_m2"):
        assert getattr(again, name) == pytest.approx(getattr(first, name), rel=1e-9)
    by_luminance = Sky(luminance=first.luminance_cd_m2 * u.Unit("cd/m2"))
    assert by_luminance.brightness("bessell-V") == pytest.approx(v, abs=1e-9)


def test_naked_eye_limit_goes_there_and_back():
    for limit in (4.1, 5.0, 6.0, 6.3):
        assert sky_readings(Sky(naked_eye_limit=limit)).naked_eye_limit == pytest.approx(limit, abs=1e-6)


def test_five_magnitudes_of_town_light_are_a_factor_of_100():
    faint, bright = sky(18.0), sky(13.0)
    natural = natural_sky().through(O_III)
    v = natural_sky().through(standard_band("bessell-V"))
    ratio = (bright.through(O_III) - natural) / (faint.through(O_III) - natural)
    in_v = (bright.through(standard_band("bessell-V")) - v) / (faint.through(standard_band("bessell-V")) - v)
    assert ratio == pytest.approx(in_v, rel=1e-9)
    assert ratio == pytest.approx(100, rel=0.05)


def test_darker_than_natural_has_no_lamps():
    one = sky(NATURAL_V + 0.3)
    assert one.darker_than_natural
    assert one.mix.town == 0
    assert one.mix.natural == pytest.approx(10 ** (-0.4 * 0.3), rel=1e-9)
    lit = sky(NATURAL_V - 0.3)
    assert not lit.darker_than_natural
    assert lit.mix.natural == 1
    assert lit.mix.town > 0


def test_light_is_continuous_where_the_lamps_go_out():
    before, after = sky(NATURAL_V - 1e-6), sky(NATURAL_V + 1e-6)
    assert before.through(O_III) == pytest.approx(after.through(O_III), rel=1e-5)


@pytest.mark.parametrize(
    "reading",
    [
        {"zenith_brightness": "22.4 mag/arcsec2"},
        {"zenith_brightness": "23 mag/arcsec2", "reading_band": "meter"},
        {"zenith_brightness": "24 mag/arcsec2", "reading_band": "meter"},  # fainter than the stars alone
        {"luminance": "0.1 mcd/m2"},
        {"naked_eye_limit": 7.5},
    ],
)
def test_no_sky_is_darker_than_22_3(reading):
    with pytest.raises(ValueError, match=r"must not mean a sky darker than 22\.3 mag/arcsec2 in V|below 7\.66 mag"):
        Sky(**reading)


def test_22_3_itself_is_allowed():
    assert sky(22.3).darker_than_natural


@pytest.mark.parametrize(
    ("readings", "got"),
    [({}, "got none"), ({"bortle": 4, "naked_eye_limit": 6.0}, "got bortle and naked_eye_limit")],
)
def test_exactly_one_reading(readings, got):
    with pytest.raises(ValueError, match=f"sky must have exactly one of zenith_brightness, bortle, .*{got}"):
        Sky(**readings)


@pytest.mark.parametrize(
    ("fields", "error", "words"),
    [
        ({"zenith_brightness": 19.1}, TypeError, "zenith_brightness needs a unit convertible to mag/arcsec2"),
        ({"zenith_brightness": "19.1 m"}, u.UnitsError, "zenith_brightness must be convertible to mag/arcsec2"),
        ({"zenith_brightness": "nan mag/arcsec2"}, ValueError, "zenith_brightness must be a finite number"),
        ({"zenith_brightness": "inf mag/arcsec2"}, ValueError, "zenith_brightness must be a finite number"),
        ({"zenith_brightness": "-3 mag/arcsec2"}, ValueError, "zenith_brightness must be at least 10"),
        ({"bortle": 0}, ValueError, "bortle must be at least 1"),
        ({"bortle": 10}, ValueError, "bortle must be at most 9"),
        ({"bortle": 4.5}, ValueError, "bortle must be a whole number"),
        ({"luminance": "0 cd/m2"}, ValueError, "luminance must be above 0 cd/m2"),
        ({"luminance": "2.5 mag"}, u.UnitsError, "luminance must be convertible to cd/m2"),
        ({"naked_eye_limit": math.nan}, ValueError, "naked_eye_limit must be a finite number"),
        ({"bortle": 5, "reading_band": "V"}, ValueError, "reading_band must be one of bessell-V, cie-V, meter"),
        ({"bortle": 5, "brightness_error": "-1 mag/arcsec2"}, ValueError, "brightness_error must be at least 0"),
        ({"bortle": 5, "gradient": "-0.1 mag"}, ValueError, "gradient must be at least 0 mag"),
        ({"bortle": 5, "extinction": "twon"}, ValueError, 'extinction must be one of .*did you mean "town"'),
        ({"bortle": 5, "lamps": {"led-4000": 1}}, ValueError, 'lamps must be of .*did you mean "led-4000K"'),
        ({"bortle": 5, "lamps": {"led-4000K": 0.6}}, ValueError, "lamps must be shares that sum to 1, got a sum"),
        ({"bortle": 5, "lamps": {"led-4000K": 1.5, "mercury": -0.5}}, ValueError, "lamps led-4000K must be at most 1"),
        ({"bortle": 5, "lamps": {"led-4000K": math.nan}}, ValueError, "lamps led-4000K must be a finite number"),
        ({"bortle": 5, "lamps": {}}, TypeError, "lamps must map lamps to their shares"),
        ({"bortle": 5, "lamps": "led-4000K"}, TypeError, "lamps must map lamps to their shares"),
        ({"bortle": 5, "measured": "0.1 electron/s"}, TypeError, "measured must map filters"),
        ({"bortle": 5, "measured": {"Ha": "0.1 s"}}, u.UnitsError, "measured Ha must be convertible to electron/s"),
        ({"bortle": 5, "measured": {"Ha": 0.1}}, TypeError, "measured Ha needs a unit"),
        ({"bortle": 5, "measured": {"Ha": "-1 electron/s"}}, ValueError, "measured Ha must be at least 0"),
        ({"bortle": 5, "measured": {"Ha": {"L": "1 electron/s"}}}, ValueError, "measured Ha must hold .*got L"),
        ({"bortle": 5, "measured": {"Ha": {}}}, ValueError, "measured Ha must hold .*got nothing"),
    ],
)
def test_bad_input_is_one_sentence(fields, error, words):
    with pytest.raises(error, match=words) as caught:
        Sky(**fields)
    assert "\n" not in str(caught.value)


def test_units_are_converted():
    assert Sky(luminance="2,5 mcd/m2").luminance.value == Sky(luminance="0.0025 cd/m2").luminance.value
    assert sky("19,1").zenith_brightness.value == 19.1
    assert Sky(zenith_brightness=19.1 * u.Unit("mag/arcsec2")).mix == sky(19.1).mix


def test_measured_skies():
    measured = sky(
        measured={
            "Ha 5 nm": "0.11 electron/s",
            "O III": "20.9 mag/arcsec2",
            "Dual": {"R": "0.5 e-/s", "G": "18 electron/min"},
        }
    ).measured
    assert measured["Ha 5 nm"] == MeasuredSky(electron_s=0.11)
    assert measured["O III"] == MeasuredSky(mag_ab=20.9)
    assert measured["Dual"].colours == {"R": 0.5, "G": pytest.approx(0.3)}


def test_a_sky_can_be_made_from_another():
    first = sky(19.1, measured={"Ha": "0.1 electron/s"}, gradient="0.4 mag", extinction=[[400, 0.5], [700, 0.1]])
    second = replace(first, zenith_brightness="20 mag/arcsec2")
    assert second.measured == first.measured
    assert second.extinction == first.extinction
    assert second.brightness("bessell-V") == pytest.approx(20)


@pytest.mark.parametrize(
    ("reading", "error"),
    [
        ({"zenith_brightness": "20 mag/arcsec2"}, 0.1),
        ({"zenith_brightness": "20 mag/arcsec2", "reading_band": "meter"}, 0.2),
        ({"bortle": 5}, 0.65),
        ({"naked_eye_limit": 4.5}, 0.5 * 1.307),
        ({"naked_eye_limit": 5.5}, 0.5 * 1.585),
    ],
)
def test_usual_error_of_a_reading(reading, error):
    assert Sky(**reading).brightness_error.value == pytest.approx(error, rel=0.01)
    assert Sky(**reading, brightness_error="0.05 mag/arcsec2").brightness_error.value == 0.05


def test_keen_eyes_mean_the_darkest_sky_and_no_darker():
    assert Sky(naked_eye_limit=6.8).brightness("bessell-V") == pytest.approx(DARKEST_V)
    assert Sky(naked_eye_limit=6.2).brightness("bessell-V") < DARKEST_V - 0.1
    with pytest.raises(ValueError, match="must not mean a sky darker"):
        Sky(naked_eye_limit=7.2)


def test_gradient():
    flat, steep = sky(), sky(gradient="0.4 mag")
    assert flat.factor_at(30) == 1
    assert steep.factor_at(90) == 1
    assert steep.factor_at(45) == pytest.approx(10**0.16)
    factors = [steep.factor_at(altitude) for altitude in np.linspace(90, 10, 9)]
    assert np.all(np.diff(factors) > 0)


def test_lamps_matter_more_in_a_narrow_filter_than_in_v():
    led, sodium = sky(18.5, lamps={"led-4000K": 1.0}), sky(18.5, lamps={"sodium-high-pressure": 1.0})
    assert led.through(O_III) / sodium.through(O_III) > 3


def test_a_mix_lies_between_its_lamps():
    mixes = ({"led-4000K": 1.0}, {"led-4000K": 0.5, "sodium-high-pressure": 0.5}, {"sodium-high-pressure": 1.0})
    led, mixed, sodium = (sky(18.5, lamps=mix).through(O_III) for mix in mixes)
    assert sodium < mixed < led


def test_unknown_lamp():
    for function in (bare_lamp, lamp_spectrum):
        with pytest.raises(ValueError, match=r'lamp must be one of .*did you mean "mercury"'):
            function("mercuri")


def test_bortle_classes_of_a_town():
    assert sky_readings(sky(19.0)).bortle == "5 to 6"
    assert sky_readings(sky(22.2)).bortle == "1"
    assert sky_readings(sky(15.0)).bortle == "9"


def test_a_moved_slider_reads_nothing_and_integrates_nothing(monkeypatch):
    sky(19.1).through(O_III)

    def fail(*_):
        pytest.fail("a curve was integrated again")

    monkeypatch.setattr("expocalc.base.curve.integrate", fail)
    monkeypatch.setattr("expocalc.base.curve._multiply", fail)
    moved = sky(19.2, lamps={"led-4000K": 0.5, "sodium-high-pressure": 0.5})
    assert moved.through(O_III) > 0
