"""Camera: what is refused, its settings, colours and dark current."""

import dataclasses
import math

import astropy.units as u
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.gear.camera import Camera
from expocalc.gear.dark_current import DarkCurrent, activation_energy_from_step, arrhenius, doubling_step
from expocalc.gear.gain import GainSetting

SETTING = {"read_noise": "1.4 electron", "electrons_per_adu": 0.25, "full_well": "15000 electron"}
DARK = {"rate": "0.002 electron/s", "at": "-10 deg_C", "doubles_every": "6 K"}
GOOD = {
    "pixel": "3.8 um",
    "columns": 6200,
    "rows": 4150,
    "quantum_efficiency": "back-lit mono",
    "dark_current": DARK,
    "gains": {"high": SETTING},
}
CURVES = {"R": [[300, 0.1], [1100, 0.9]], "G": [[300, 0.2], [1100, 0.2]], "B": 0.3}

BAD = [
    ("pixel", "0 um", ValueError, "pixel must be at least 0.3 um"),
    ("pixel", 3.8, TypeError, "pixel needs a unit convertible to um"),
    ("pixel", "3.8 s", u.UnitsError, "pixel must be convertible to um"),
    ("pixel", "nan um", ValueError, "pixel must be a finite number"),
    ("columns", 0, ValueError, "columns must be at least 1"),
    ("columns", 10.5, ValueError, "columns must be a whole number, got 10.5"),
    ("rows", -5, ValueError, "rows must be at least 1"),
    ("rows", "many", ValueError, "rows must be a number"),
    ("mosaic", "RGB", ValueError, "mosaic must be one of none, RGGB, got 'RGB'; did you mean \"RGGB\""),
    ("mosaic_curves", "usual", ValueError, 'mosaic_curves must be "typical" or have a curve for each of R, G and B'),
    ("mosaic_curves", {"R": 0.5}, ValueError, "mosaic_curves must be"),
    ("mosaic_curves", {**CURVES, "B": 2}, ValueError, "mosaic_curves B must be at most 1, got 2"),
    ("quantum_efficiency", 1.2, ValueError, "quantum_efficiency must be at most 1, got 1.2"),
    ("quantum_efficiency", 0, ValueError, "quantum_efficiency must be above 0"),
    (
        "quantum_efficiency",
        "back-lit mnoo",
        ValueError,
        'quantum_efficiency must be one of .*did you mean "back-lit mono"',
    ),
    ("quantum_efficiency", [[400, 1.5], [500, 0.5]], ValueError, "quantum_efficiency must hold shares between 0 and 1"),
    (
        "quantum_efficiency",
        [[400, math.nan], [500, 0.5]],
        ValueError,
        "quantum_efficiency share must be a finite number",
    ),
    ("gain", "low", ValueError, "gain must be one of high, got 'low'"),
    ("gain", 5, TypeError, "gain must be a text"),
    ("temperature", "-10 K", ValueError, "temperature must be at least -150 deg_C"),
    ("temperature", -10, TypeError, "temperature needs a unit convertible to deg_C"),
    ("temperature", "90 deg_C", ValueError, "temperature must be at most 60 deg_C"),
    ("dark_current", "0.002 electron/s", TypeError, "dark_current must be a table of keys and values"),
    ("dark_current", {**DARK, "rate": "-1 electron/s"}, ValueError, "dark_current: rate must be at least 0"),
    (
        "dark_current",
        {**DARK, "rate": "1 electron"},
        u.UnitsError,
        "dark_current: rate must be convertible to electron/s",
    ),
    ("dark_current", {**DARK, "doubles_every": "0 K"}, ValueError, "dark_current: doubles_every must be at least 1 K"),
    ("dark_current", {**DARK, "activation": "0.6 eV"}, ValueError, "one of doubles_every and activation, got both"),
    ("dark_current", {"rate": "1 e-/s", "at": "0 deg_C"}, ValueError, "doubles_every and activation, got neither"),
    ("dark_current", {"rate": "1 e-/s"}, ValueError, 'dark_current needs the key "at"'),
    ("dark_current", {**DARK, "doubles": "6 K"}, ValueError, 'dark_current has no key "doubles"'),
    ("glow", "-1 electron/s", ValueError, "glow must be at least 0 electron/s"),
    ("pattern", {"fixed": "0.5"}, TypeError, "pattern: fixed needs a unit"),
    ("pattern", {"flat": 1.0}, ValueError, "pattern: flat must be below 1"),
    ("pattern", {"falt": 0.1}, ValueError, 'pattern has no key "falt"; did you mean "flat"'),
    ("gains", {}, ValueError, "gains must hold one or more named settings"),
    ("gains", "high", ValueError, "gains must hold one or more named settings"),
    ("gains", {"high": {**SETTING, "bist": 16}}, ValueError, 'gains.high has no key "bist"; did you mean "bits"'),
    ("gains", {"high": {"read_noise": "1 e-"}}, ValueError, 'gains.high needs the key "electrons_per_adu"'),
    ("gains", {"high": {**SETTING, "read_noise": "-1 e-"}}, ValueError, "gains.high: read_noise must be at least 0"),
]

BAD_SETTINGS = [
    ("read_noise", "1.4 mm", u.UnitsError, "read_noise must be convertible to electron"),
    ("read_noise", math.nan * u.electron, ValueError, "read_noise must be a finite number"),
    ("electrons_per_adu", 0, ValueError, "electrons_per_adu must be above 0"),
    ("electrons_per_adu", math.inf, ValueError, "electrons_per_adu must be a finite number"),
    ("native_step", 0, ValueError, "native_step must be at least 1"),
    ("native_step", 1.5, ValueError, "native_step must be a whole number"),
    ("bias_level", -1, ValueError, "bias_level must be at least 0"),
    ("bias_level", 70000, ValueError, "bias_level must be below 65535 ADU, the most that 16 bits hold, got 70000 ADU"),
    ("full_well", "0 electron", ValueError, "full_well must be above 0 electron"),
    ("bits", 4, ValueError, "bits must be at least 8"),
    ("bits", 99, ValueError, "bits must be at most 32"),
    ("read_noise_kind", "median", ValueError, "read_noise_kind must be one of bias, emva"),
]


@pytest.mark.parametrize(("field", "value", "kind", "words"), BAD)
def test_refused(field, value, kind, words):
    with pytest.raises(kind, match=words):
        Camera(**{**GOOD, field: value})


@pytest.mark.parametrize(("field", "value", "kind", "words"), BAD_SETTINGS)
def test_setting_refused(field, value, kind, words):
    with pytest.raises(kind, match=words):
        GainSetting(**{**SETTING, field: value})


def test_gain_must_be_named_where_there_are_two():
    two = {"high": SETTING, "low": {**SETTING, "read_noise": "3.5 electron"}}
    with pytest.raises(ValueError, match="gain must be one of high, low, got none"):
        Camera(**{**GOOD, "gains": two})
    with pytest.raises(ValueError, match=r"got 'hihg'; did you mean \"high\""):
        Camera(**{**GOOD, "gains": two, "gain": "hihg"})
    assert Camera(**{**GOOD, "gains": two, "gain": "low"}).setting.read_noise.value == 3.5


def test_the_only_gain_is_in_use():
    camera = Camera(**GOOD)
    assert camera.gain == "high"
    assert camera.setting.read_noise == 1.4 * u.electron


def test_gains_do_not_change():
    given_ = {"high": dict(SETTING)}
    camera = Camera(**{**GOOD, "gains": given_})
    given_["high"]["read_noise"] = "9 electron"
    given_["low"] = SETTING
    assert camera.setting.read_noise.value == 1.4
    assert list(camera.gains) == ["high"]
    with pytest.raises(TypeError, match="does not support item assignment"):
        camera.gains["low"] = camera.setting


def test_ready_parts_pass():
    setting, dark = GainSetting(**SETTING), DarkCurrent(**DARK)
    camera = Camera(**{**GOOD, "gains": {"high": setting}, "dark_current": dark})
    assert camera.setting is setting
    assert camera.dark_current is dark
    moved = dataclasses.replace(camera, temperature="0 deg_C")
    assert moved.setting is setting
    assert moved.quantum_efficiency is camera.quantum_efficiency


def test_defaults():
    camera = Camera(**GOOD)
    assert camera.mosaic == "none"
    assert camera.colours == ("mono",)
    assert camera.colour_share == {"mono": 1}
    assert camera.temperature.value == -10
    assert camera.glow.value == 0
    assert camera.pattern.fixed.value == 0
    assert camera.pattern.flat == 0


@pytest.mark.parametrize(
    ("fields", "saturation_e"),
    [
        ({}, 15000),  # the well
        ({"full_well": "1e6 electron"}, 65535 * 0.25),  # the converter
        ({"full_well": "1e6 electron", "bias_level": 535}, 65000 * 0.25),
        ({"full_well": "1e6 electron", "bits": 12, "native_step": 16}, 4095 * 16 * 0.25),
    ],
)
def test_saturation(fields, saturation_e):
    assert GainSetting(**{**SETTING, **fields}).saturation_e == saturation_e


def test_mosaic():
    camera = Camera(**{**GOOD, "mosaic": "RGGB", "mosaic_curves": CURVES, "quantum_efficiency": 0.5})
    assert camera.colours == ("R", "G", "B")
    assert sum(camera.colour_share.values()) == 1
    np.testing.assert_allclose(
        [float(camera.efficiency(colour)(700)) for colour in "RGB"], [0.25, 0.1, 0.15], rtol=1e-9
    )
    with pytest.raises(ValueError, match="colour must be one of R, G, B, got 'mono'"):
        camera.efficiency("mono")
    with pytest.raises(ValueError, match="colour must be one of mono, got 'R'"):
        Camera(**GOOD).efficiency("R")


def test_a_mosaic_pixel_never_sees_more_than_the_bare_sensor():
    colour, mono = Camera(**{**GOOD, "mosaic": "RGGB"}), Camera(**GOOD)
    at = np.arange(300, 1101)
    for name in colour.colours:
        assert (colour.efficiency(name)(at) <= mono.efficiency("mono")(at) + 1e-12).all()


def test_units_are_one():
    minute = DarkCurrent(rate="0.12 electron/min", at="263.15 K", doubles_every="6 deg_C")
    second = DarkCurrent(**DARK)
    assert minute.rate_at(5.0) == pytest.approx(second.rate_at(5.0), rel=1e-9)
    assert Camera(**{**GOOD, "pixel": "0,0038 mm"}).pixel.value == pytest.approx(3.8, rel=1e-12)


def test_glow_does_not_fall_with_the_temperature():
    camera = Camera(**{**GOOD, "glow": "0.01 electron/s"})
    cold = dataclasses.replace(camera, temperature="-40 deg_C")
    assert cold.dark_e_s == pytest.approx(0.01 + cold.dark_current.rate_at(-40))
    assert cold.dark_current.rate_at(-40) < 0.1 * camera.dark_current.rate_at(-10)


def test_no_dark_current_stays_none():
    camera = Camera(**{**GOOD, "dark_current": {**DARK, "rate": "0 electron/s"}, "temperature": "30 deg_C"})
    assert camera.dark_e_s == 0


@given(step=st.floats(2, 15), at=st.floats(-60, 40))
def test_step_and_energy_are_inverse(step, at):
    assert doubling_step(activation_energy_from_step(step, at), at) == pytest.approx(step, rel=1e-12)


@given(t=st.floats(-60, 40), warmer=st.floats(0.1, 40), energy=st.floats(0.2, 1.5))
def test_dark_current_rises_and_comes_back(t, warmer, energy):
    up = arrhenius(1.0, t, t + warmer, energy)
    assert up > 1
    assert float(arrhenius(up, t + warmer, t, energy)) == pytest.approx(1, rel=1e-9)


def test_dark_current_broadcasts():
    rate = arrhenius(np.array([[1.0], [2.0]]), -10.0, np.array([-10.0, 0.0, 10.0]), 0.63)
    assert rate.shape == (2, 3)
    np.testing.assert_allclose(rate[:, 0], [1, 2])
