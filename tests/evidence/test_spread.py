"""The spread of hours against reasoning of its own: what a doubt must bring, said without the code of the draws.

Nothing here is published; each expectation is a short formula, or the plan itself solved again at a shifted input.
"""

import dataclasses
import math
from statistics import NormalDist

import numpy as np
import pytest

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import standard_band
from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import draw
from expocalc.budget.passed import passed
from expocalc.budget.rates import rates, rates_at
from expocalc.budget.spread import spread
from expocalc.gear.response import response
from expocalc.light.airmass import natural_factor
from expocalc.light.lamps import bare_lamp
from expocalc.light.natural import natural_sky
from expocalc.plan import Plan

PLAN = """
[site]
seeing = "2.5 arcsec"
[sky]
zenith_brightness = "19 mag/arcsec2"
brightness_error = "0 mag/arcsec2"
lamps = { led-4000K = 0.6, sodium-high-pressure = 0.4 }
extinction = 0.25
[telescope]
aperture = "100 mm"
focal_length = "500 mm"
throughput = 0.8
[camera]
pixel = "3.8 um"
columns = 6000
rows = 4000
quantum_efficiency = [[300, 0.4], [500, 0.9], [1100, 0.05]]
dark_current = { rate = "0.01 electron/s", at = "-10 deg_C", doubles_every = "6 K" }
glow = "0.001 electron/s"
gains.only = { read_noise = "2 electron", electrons_per_adu = 0.25, full_well = "15000 electron" }
[[filters]]
name = "narrow"
passbands = [{ centre = "656.3 nm", width = "6 nm", shape = "gaussian" }]
[[filters]]
name = "wide"
passbands = [{ standard = "bessell-V" }]
[target]
light = [{ line = "H-alpha", brightness = "12 R" }, { continuum = "25 mag/arcsec2" }, { star = "18 mag" }]
[routine]
darks = "perfect"
flats = "perfect"
background_flatness = "perfect"
sub_length = "60 s"
[goal]
snr = 20
"""
LIMITED = {  # by the sky alone: no read noise, no dark, a target far fainter than the sky
    ("camera", "gains", "only", "read_noise"): "0 electron",
    ("camera", "dark_current", "rate"): "0 electron/s",
    ("camera", "glow"): "0 electron/s",
    ("target", "light"): [{"continuum": "31 mag/arcsec2"}],
    ("goal", "snr"): 0.5,
}
DRAWS = 20_000


@pytest.fixture(scope="module")
def plan():
    return Plan.parse(PLAN)


def only(**sizes):
    """Everything exactly known but the doubts named."""
    none = Doubt.none()
    return dataclasses.replace(none, **sizes)


def doubting_reading(plan, error_mag):
    return plan.with_values({("sky", "brightness_error"): f"{error_mag} mag/arcsec2"})


def log_sd(row):
    return float(np.std(np.log(row.kept_h)))


def row_of(found, filter_name, light):
    return next(row for row in found.rows if (row.filter_name, row.light) == (filter_name, light))


# -- what must come out of the draws, by formula


@pytest.mark.parametrize("error_mag", [0.05, 0.2])
def test_the_reading_moves_sky_limited_hours_in_its_own_band_one_for_one(plan, error_mag):
    """In V, whatever the lamps are, hours go as 10^(-0.4 mag): sd of their logarithm is 0.4 ln 10 times the error."""
    row = row_of(
        spread(doubting_reading(plan, error_mag).with_values(LIMITED).case, Doubt.none(), DRAWS), "wide", "continuum"
    )
    expected = 0.4 * math.log(10) * error_mag
    assert log_sd(row) == pytest.approx(expected, rel=4 / math.sqrt(2 * DRAWS) + 2e-3)


def test_sky_doubts_cannot_move_the_band_of_the_reading(plan):
    """With the reading exact, no doubt about lamps or natural light changes the zenith's sky in the reading's band.

    Lower down natural light brightens more than the town's, and their shares count.
    The filter is V times a throughput and an efficiency; only a flat efficiency makes it the very band of the reading.
    """
    flat = plan.with_values({**LIMITED, ("camera", "quantum_efficiency"): 0.8, ("target", "altitude"): "90 deg"})
    found = spread(flat.case, only(lamp_mix=3, lamp_colour=1.0, natural_sky=1.3), 2000)
    assert log_sd(row_of(found, "wide", "continuum")) < 1e-3
    assert log_sd(row_of(found, "narrow", "continuum")) > 0.05


def test_target_alone(plan):
    """Background-limited hours go as the inverse square of the signal."""
    row = row_of(spread(plan.with_values(LIMITED).case, only(target=1.2), DRAWS), "wide", "continuum")
    assert log_sd(row) == pytest.approx(2 * math.log(1.2), rel=4 / math.sqrt(2 * DRAWS) + 2e-3)


def test_two_doubts_share_the_variance_as_their_squares(plan):
    case = doubting_reading(plan.with_values(LIMITED), 0.3).case
    row = row_of(spread(case, only(target=1.2), DRAWS), "wide", "continuum")
    by_target, by_sky = (2 * math.log(1.2)) ** 2, (0.4 * math.log(10) * 0.3) ** 2
    # error of a share s from n draws: 2 sqrt(s (1 - s) / n) or less
    assert row.shares["target"] == pytest.approx(by_target / (by_target + by_sky), abs=4 / math.sqrt(DRAWS))
    assert row.shares["sky_reading"] == pytest.approx(by_sky / (by_target + by_sky), abs=4 / math.sqrt(DRAWS))
    assert list(row.shares) == ["target", "sky_reading"]


def test_share_of_draws_beyond_a_floor(plan):
    """With a background flat to a share e of it, the goal is out of reach where s < goal e (s + b + d)."""
    flatness, doubt = 0.0015, 1.5
    floored = plan.with_values(
        {
            ("routine", "background_flatness"): flatness,
            ("goal", "snr"): 8,
            ("filters",): plan.values["filters"][:1],
            ("target", "light"): [{"line": "H-alpha", "brightness": "10 R"}],
        }
    )
    (filter_,) = floored.case.filters
    rate = rates(floored.case, filter_)
    signal, rest = float(rate.extended["H-alpha"][0]), float(rate.sky_e_s[0] + rate.dark_e_s)
    least = 8 * flatness * rest / (1 - 8 * flatness)
    expected = NormalDist().cdf(math.log(least / signal) / math.log(doubt))
    assert 0.05 < expected < 0.95, "the case must lie near its floor"
    row = spread(floored.case, only(target=doubt), DRAWS).rows[0]
    assert row.range.out_of_reach == pytest.approx(expected, abs=4 * math.sqrt(expected * (1 - expected) / DRAWS))
    assert math.isinf(row.range.p90_h) == (row.range.out_of_reach > 0.1)


# -- one doubt at a time: the tenth and the ninth tenth of the draws are the plan solved again at a shifted input

TENTH = NormalDist().inv_cdf(0.9)
SHIFTED = {  # doubt, filter, light, what the plan is changed to at `by` standard deviations
    "target": (
        dict(target=1.2),
        "narrow",
        "H-alpha",
        lambda by: {("target", "light", 0, "brightness"): f"{12 * 1.2**by} R"},
    ),
    "efficiency": (
        dict(efficiency=1.15),
        "narrow",
        "H-alpha",
        lambda by: {("telescope", "throughput"): 0.8 * 1.15**by},
    ),
    "extinction": (dict(extinction=1.4), "wide", "continuum", lambda by: {("sky", "extinction"): 0.25 * 1.4**by}),
    "dark current": (
        dict(dark_current=5),
        "narrow",
        "H-alpha",
        lambda by: {("camera", "dark_current", "rate"): f"{0.01 * 5**by} electron/s"},
    ),
    "read noise": (
        dict(read_noise=1.3),
        "narrow",
        "H-alpha",
        lambda by: {("camera", "gains", "only", "read_noise"): f"{2 * 1.3**by} electron"},
    ),
    "seeing": (dict(seeing=1.3), "wide", "star", lambda by: {("site", "seeing"): f"{2.5 * 1.3**by} arcsec"}),
}


@pytest.mark.parametrize("name", SHIFTED)
def test_tenths_of_the_draws_are_the_plan_at_its_shifted_input(plan, name):
    doubt, filter_name, light, shift = SHIFTED[name]
    found = row_of(spread(plan.case, only(**doubt), DRAWS), filter_name, light).kept_h
    drawn = np.log(np.quantile(found, [0.1, 0.9]))
    low, high = sorted(math.log(_kept_h(plan.with_values(shift(by)), filter_name, light)) for by in (-TENTH, TENTH))
    # standard error of a tenth of n normal numbers, 1.71 sd / sqrt(n); here with the slope of the log hours
    error = 4 * 1.71 / math.sqrt(DRAWS) * (high - low) / (2 * TENTH)
    skew = 2  # the slope differs between the two ends
    np.testing.assert_allclose(drawn, [low, high], rtol=0, atol=skew * error + 1e-3)


def test_tenths_of_the_sky_reading_are_the_plan_at_another_reading(plan):
    row = row_of(spread(doubting_reading(plan, 0.3).case, Doubt.none(), DRAWS), "narrow", "H-alpha")
    low, high = (
        math.log(
            _kept_h(
                plan.with_values({("sky", "zenith_brightness"): f"{19 + by * 0.3} mag/arcsec2"}), "narrow", "H-alpha"
            )
        )
        for by in (TENTH, -TENTH)
    )
    np.testing.assert_allclose(np.log(np.quantile(row.kept_h, [0.1, 0.9])), [low, high], rtol=0, atol=0.02)


def _kept_h(plan, filter_name, light):
    """Kept hours of the plan's answer, whole subs undone by its own SNR: squares of SNR add."""
    row = next(row for row in plan.solve().rows if (row.filter_name, row.light) == (filter_name, light))
    return row.kept_h * (plan.case.goal.snr / row.snr_patch) ** 2


# -- single draws: the rates at one chosen deviation are those of the plan changed to it


def at(**deviations):
    """A draw in which inputs lie some standard deviations off, all others on their middle."""
    names = {name.replace("__", " "): value for name, value in deviations.items()}
    return lambda name: np.array([names.get(name, 0.0)])


def drawn(plan, doubt, draws, filter_at=0):
    case = plan.case
    return rates_at(passed(case, case.filters[filter_at], doubt), *draw(case, doubt, draws))


def natural_lower_down(case):
    """What the natural sky brightens by between the zenith and the target, van Rhijn's layer behind the air."""
    k = float(case.sky.extinction_curve(float(case.site.elevation.value))(550))
    return float(natural_factor(case.target.altitude.value, k))


def assert_same_rates(got, expected, rtol):
    np.testing.assert_allclose(got.sky_e_s[0], expected.sky_e_s, rtol=rtol)
    np.testing.assert_allclose(got.dark_e_s[0, 0], expected.dark_e_s, rtol=rtol)
    for name, light_e_s in {**expected.extended, **expected.stars}.items():
        np.testing.assert_allclose({**got.extended, **got.stars}[name][0], light_e_s, rtol=rtol, err_msg=name)


DRAW = {
    "nothing": ({}, {}, {}, 1e-6),
    "extinction": (dict(extinction=1.3), dict(extinction=2.0), {("sky", "extinction"): 0.25 * 1.3**2}, 1e-6),
    "efficiency": (dict(efficiency=1.1), dict(efficiency=-1.0), {("telescope", "throughput"): 0.8 / 1.1}, 1e-6),
    "dark current": (
        dict(dark_current=5),
        dict(dark_current=1.0),
        {("camera", "dark_current", "rate"): "0.05 electron/s"},
        1e-9,
    ),
    "lamps": (
        dict(lamp_mix=2),
        {"lamp_mix__sodium-high-pressure": 1.0},  # 0.6 : 0.8
        {("sky", "lamps"): {"led-4000K": 0.6 / 1.4, "sodium-high-pressure": 0.8 / 1.4}},
        1e-6,
    ),
    "filter": (
        dict(filter_centre="0.8 nm"),
        dict(filter_centre__narrow=-2.0),
        {("filters", 0, "passbands", 0, "centre"): "654.7 nm"},
        2e-3,
    ),
    "filter between nodes": (
        dict(filter_centre="0.8 nm"),
        dict(filter_centre__narrow=-2.2),
        {("filters", 0, "passbands", 0, "centre"): "654.54 nm"},
        5e-3,
    ),
}


@pytest.mark.parametrize("name", DRAW)
def test_a_draw_is_the_plan_changed(plan, name):
    doubt, deviations, change, rtol = DRAW[name]
    other = plan.with_values(change) if change else plan
    expected = rates(other.case, other.case.filters[0])
    assert_same_rates(drawn(plan, only(**doubt), at(**deviations)), expected, rtol)
    if name not in ("nothing", "dark current"):
        before = rates(plan.case, plan.case.filters[0])
        moved = [*(expected.sky_e_s / before.sky_e_s), *(expected.extended["H-alpha"] / before.extended["H-alpha"])]
        assert max(abs(np.log(moved))) > 0.03, "the change must be one"


@pytest.mark.parametrize("gradient", [None, {"at_45deg": "0.3 mag"}])
def test_thicker_air_scatters_the_moonlight_of_the_plan_changed(plan, gradient):
    moon = {"phase_angle": "30 deg", "altitude": "40 deg", "separation": "60 deg"}
    moonlit = plan.with_values({("moon",): moon, ("sky", "gradient"): gradient})
    other = moonlit.with_values({("sky", "extinction"): 0.25 * 1.3**2})
    expected = rates(other.case, other.case.filters[0])
    assert_same_rates(drawn(moonlit, only(extinction=1.3), at(extinction=2.0)), expected, 1e-6)
    assert expected.sky_e_s[0] > 1.05 * rates(moonlit.case, moonlit.case.filters[0]).sky_e_s[0]


@pytest.mark.parametrize("reading", ["21.2 mag/arcsec2", "21.6 mag/arcsec2", "21.9 mag/arcsec2"])
@pytest.mark.parametrize("by", [-2.0, 2.0])
def test_a_drawn_reading_is_that_reading_also_where_the_natural_sky_takes_over(plan, reading, by):
    dark = doubting_reading(plan.with_values({("sky", "zenith_brightness"): reading}), 0.15)
    other = plan.with_values({("sky", "zenith_brightness"): f"{float(reading[:4]) + by * 0.15} mag/arcsec2"})
    expected = rates(other.case, other.case.filters[0])
    assert_same_rates(drawn(dark, Doubt.none(), at(sky_reading=by)), expected, 1e-6)


@pytest.mark.parametrize("by", [-2.0, -0.7, 1.3, 2.0])
def test_bluer_skyglow_integrated_anew(plan, by):
    """Natural light plus lamps times (wavelength / 550)^-(1.7 + 0.8 by), solved to V = 19 by hand."""
    case = plan.case
    band = standard_band("bessell-V")
    curve = response(case.telescope, case.filters[0], case.camera, "mono")

    def town(through):
        x = np.arange(300.0, 1101.0)
        fall = Curve(x, (x / 550) ** -(1.7 + 0.8 * by))
        return sum(
            share * Spectrum(lamp.continuum, lamp.line_nm, lamp.line).through(through, fall)
            for lamp, share in ((bare_lamp(name), share) for name, share in case.sky.lamps.items())
        )

    left = case.sky.spectrum.through(band) - natural_sky().through(band)
    natural = natural_lower_down(case) * natural_sky().through(curve)
    expected = natural + left * town(curve) / town(band)
    got = drawn(plan, only(lamp_colour=0.8), at(lamp_colour=by)).sky_e_s[0, 0]
    before = case.sky.spectrum.through(curve) + natural - natural_sky().through(curve)
    per_pixel = rates(case, case.filters[0]).sky_e_s[0] / before
    assert got / per_pixel == pytest.approx(expected, rel=1e-3)
    assert abs(math.log(expected / before)) > 0.05


def test_more_natural_light_leaves_less_to_the_town(plan):
    case = plan.case
    band, curve = standard_band("bessell-V"), response(case.telescope, case.filters[0], case.camera, "mono")
    natural, sky = natural_sky(), case.sky.spectrum
    factor = 1.35
    town = (sky.through(band) - factor * natural.through(band)) / (sky.through(band) - natural.through(band))
    lower = natural_lower_down(case)
    of_town = sky.through(curve) - natural.through(curve)
    before = lower * natural.through(curve) + of_town
    expected = factor * lower * natural.through(curve) + town * of_town
    got = drawn(plan, only(natural_sky=factor), at(natural_sky=1.0)).sky_e_s[0, 0]
    assert got / rates(case, case.filters[0]).sky_e_s[0] == pytest.approx(expected / before, rel=1e-4)


def test_a_mosaic_draw_is_the_plan_changed():
    colour = Plan.parse(PLAN).with_values({("camera", "mosaic"): "RGGB"})
    other = colour.with_values({("filters", 0, "passbands", 0, "centre"): "655.5 nm"})
    expected = rates(other.case, other.case.filters[0])
    got = drawn(colour, only(filter_centre="0.8 nm"), at(filter_centre__narrow=-1.0))
    assert got.sky_e_s.shape == (1, 3)
    assert_same_rates(got, expected, 5e-3)


def test_a_filter_that_moves_off_an_airglow_line_loses_it(plan):
    """Oxygen at 557.7 nm in a dark sky, a third of the filter's width from its middle."""
    band = {"centre": "557.7 nm", "width": "4 nm", "shape": "gaussian"}
    dark = plan.with_values(
        {("sky", "zenith_brightness"): "21.9 mag/arcsec2", ("filters",): [{"name": "narrow", "passbands": [band]}]}
    )
    other = dark.with_values({("filters", 0, "passbands", 0, "centre"): "555.3 nm"})
    before, expected = (rates(p.case, p.case.filters[0]).sky_e_s[0] for p in (dark, other))
    got = drawn(dark, only(filter_centre="0.8 nm"), at(filter_centre__narrow=-3.0)).sky_e_s[0, 0]
    assert got == pytest.approx(expected, rel=5e-3)
    assert got < 0.7 * before


def test_moonlight_moves_with_the_filter(plan):
    """The Sun's calcium lines at 393 and 397 nm stand in moonlight too: a filter that leaves them gets more of it."""
    band = {"centre": "393.4 nm", "width": "3 nm", "shape": "gaussian"}
    moonlit = plan.with_values(
        {
            ("filters",): [{"name": "narrow", "passbands": [band]}],
            ("moon", "illuminated"): 1.0,
            ("moon", "altitude"): "45 deg",
            ("moon", "separation"): "60 deg",
        }
    )
    other = moonlit.with_values({("filters", 0, "passbands", 0, "centre"): "391 nm"})
    before, expected = (rates(p.case, p.case.filters[0]).moon_e_s[0] for p in (moonlit, other))
    got = drawn(moonlit, only(filter_centre="0.8 nm"), at(filter_centre__narrow=-3.0)).moon_e_s[0, 0]
    assert got == pytest.approx(expected, rel=5e-3)
    assert abs(expected / before - 1) > 0.1


def test_no_draw_is_darker_than_the_darkest_sky(plan):
    """V = 22.3 and no lamp, however far a dark reading and a quiet natural sky are drawn."""
    dark = doubting_reading(plan.with_values({("sky", "zenith_brightness"): "22.2 mag/arcsec2"}), 0.15)
    darkest = plan.with_values({("sky", "zenith_brightness"): "22.3 mag/arcsec2"})
    expected = rates(darkest.case, darkest.case.filters[0])
    quiet = drawn(dark, only(natural_sky=1.35), at(natural_sky=-4.0, sky_reading=3.0))
    assert_same_rates(quiet, expected, 1e-6)
    lit = doubting_reading(plan.with_values({("sky", "zenith_brightness"): "21.5 mag/arcsec2"}), 0.15)
    filled = drawn(lit, only(natural_sky=1.35), at(natural_sky=-4.0))  # by lamps, over the darkest natural sky
    less = drawn(lit, only(natural_sky=1.35), at(natural_sky=-6.0))
    np.testing.assert_allclose(less.sky_e_s, filled.sky_e_s, rtol=1e-12)


@pytest.mark.parametrize("value", ["0.3 electron/s", "20.5 mag/arcsec2"])
def test_a_measured_sky_is_off_by_its_own_doubt(plan, value):
    measured = plan.with_values({("sky", "measured"): {"narrow": value}})
    before = rates(measured.case, measured.case.filters[0]).sky_e_s[0]
    got = drawn(measured, only(measured_sky=1.2), at(measured_sky=-2.0)).sky_e_s[0, 0]
    assert got == pytest.approx(before / 1.2**2, rel=1e-9)
