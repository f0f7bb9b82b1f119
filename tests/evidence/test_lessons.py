"""The workshop's answers and pictures against outside facts: statistics of scipy, closed forms, the plan's numbers."""

import importlib
import math

import numpy as np
import pytest
from scipy import integrate, stats

from expocalc.budget.answer import filter_named
from expocalc.gear.response import response
from expocalc.light.moon import Moon, moon_factor, moon_spectrum
from workbook.workshop.blind_model import LAPSE, SNRS, TILES, Answer, chance_right, threshold
from workbook.workshop.experiments import EXPERIMENTS, photon_rain
from workbook.workshop.experiments.dark_site import under
from workbook.workshop.experiments.exercises import EXERCISES, MOON_H, MOON_TIMES, NIGHT, SUB_MIN
from workbook.workshop.experiments.five_percent import run as run_five
from workbook.workshop.experiments.moon import with_moon
from workbook.workshop.experiments.rig import H_ALPHA, O_III, SIDE_PX, demo, rig_of
from workbook.workshop.experiments.shell import sight
from workbook.workshop.experiments.short_or_long import hours_ratio
from workbook.workshop.experiments.smoothing import run as run_smoothing

MODULES = {name: importlib.import_module(experiment.run.__module__) for name, experiment in EXPERIMENTS.items()}


def answer(lesson):
    task = EXERCISES[lesson]
    assert task.low <= task.answer() <= task.high
    return task.answer()


# The exercises, each against a fact from outside the model


def test_grain_of_ten_thousand_photons():
    # a Poisson number of mean 10 000, by scipy
    assert answer(1) == pytest.approx(100 * stats.poisson(10_000).std() / 10_000)


def test_twice_the_read_noise():
    # t = R^2 / (K [(1 + 0.05)^2 - 1]) = 9.756 R^2 / K, all rates in K (CCD equation: Howell 2006, ch. 4)
    rates = [9.756 * read_noise_e**2 for read_noise_e in (1.4, 2.8)]
    assert answer(2) == pytest.approx(SUB_MIN * rates[1] / rates[0], rel=2e-3)  # the steps of the file add a little
    assert round(rig_of().shortest_sub_s() / 60) == SUB_MIN  # the demo plan's camera is the one with 1.4


def test_hours_for_twice_the_snr():
    # standard error of a mean: it falls with the square root of the number of values
    assert answer(3) == pytest.approx(4 * 2**2)


def test_dark_hours_of_moonlit_ones():
    # under sky noise alone, as the question has it, hours go as the sky
    assert answer(4) == pytest.approx(MOON_H / MOON_TIMES, rel=1e-3)


def test_a_night_by_the_clock():
    """The night of the exercise, gone through step by step."""
    clock_s, subs = 60.0 * NIGHT.stops_min, 0
    end_s = 8 * 3600
    while True:
        takes = 300 + 2 + (20 if (subs + 1) % 3 == 0 else 0)
        if clock_s + takes > end_s:
            break
        clock_s, subs = clock_s + takes, subs + 1
    assert answer(5) == pytest.approx(subs * 300 / 3600 * 0.88)


# What the experiments say


def test_photon_rain_is_poisson():
    rain = photon_rain.run(4.0)
    frame = np.rint(rain.tiles[0].brightness * 8)  # shown from 0 to twice the mean
    counts = np.array([(frame == k).sum() for k in range(8)])
    expected = stats.poisson(4).pmf(range(8)) * frame.size
    assert stats.chisquare([*counts, frame.size - counts.sum()], [*expected, frame.size - expected.sum()]).pvalue > 1e-4
    # the test can tell: light of mean 4.2 fails it
    wrong = stats.poisson(4.2).pmf(range(8)) * frame.size
    assert stats.chisquare([*counts, frame.size - counts.sum()], [*wrong, frame.size - wrong.sum()]).pvalue < 1e-4


@pytest.mark.parametrize("read_noise_e", [0.0, 1.4, 8.0])
def test_price_of_short_subs(read_noise_e):
    # T_needed / T_ideal = 1 + R^2 / (K t) for each (CCD equation: Howell 2006, ch. 4)
    rate = rig_of().rate_e_s
    expected = (1 + read_noise_e**2 / rate / 60) / (1 + read_noise_e**2 / rate / 600)
    assert hours_ratio(read_noise_e) == pytest.approx(expected)


def test_five_per_cent_of_noise_is_ten_of_hours():
    found = run_five(5.0)
    assert found.planned[0] / found.planned[1] == pytest.approx(1.05, rel=1e-3)
    assert found.planned[2] / found.planned[1] == pytest.approx(math.sqrt(1.1025), rel=2e-3)  # whole subs


def test_subs_and_hours_of_a_darker_sky():
    # sky-limited: hours go as the sky; a sub that drowns read noise goes as one over it
    town, dark = under(19.1), under(21.0)
    rates = dark.rate_e_s / town.rate_e_s
    assert dark.shortest_sub_s() / town.shortest_sub_s() == pytest.approx(1 / rates)
    assert dark.hours(dark.shortest_sub_s(), 10.0) / town.hours(town.shortest_sub_s(), 10.0) == pytest.approx(rates)


def test_the_moon_is_bluer_than_the_lamps():
    # scattered moonlight is bluish (Krisciunas & Schaefer 1991 scatter by molecules, as wavelength^-4)
    def times(light, illuminated):
        rig = rig_of(light, sky__zenith_brightness="21.5 mag/arcsec2")
        return with_moon(rig, light, illuminated, 60.0).sky_e_s / rig.sky_e_s

    assert times(O_III, 1.0) > times(H_ALPHA, 1.0) > 2
    assert times(H_ALPHA, 0.0) == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("light", [H_ALPHA, O_III])
@pytest.mark.parametrize("mag", ["18", "21.5"])
def test_moonlight_is_the_same_over_every_sky(light, mag):
    # the lesson adds it once and for all; the library's factor for this very sky says the same
    case = demo().with_values({("sky", "zenith_brightness"): f"{mag} mag/arcsec2"}).case
    altitude_deg = float(case.target.altitude.value)
    moon = Moon(illuminated=1.0, altitude="45 deg", separation="60 deg")
    k = float(case.sky.extinction_curve(float(case.site.elevation.value))(550.0))
    seen = response(case.telescope, filter_named(case, f"{light} 5 nm"), case.camera, "mono")
    expected = moon_factor(case.sky, seen, moon_spectrum(moon, altitude_deg, k), altitude_deg)
    rig = rig_of(light, sky__zenith_brightness=f"{mag} mag/arcsec2")
    assert with_moon(rig, light, 1.0, 60.0).sky_e_s / rig.sky_e_s == pytest.approx(expected)


@pytest.mark.parametrize("width_px", [4.0, 8.0])
def test_halves_of_empty_sky_agree_by_chance_only(width_px):
    # correlation of independent pictures: none, within 4 standard errors of as many values as smoothing leaves
    found = run_smoothing(width_px, 0.0)
    assert abs(found.measured[0]) < 4 * found.sigma[0]


# Frames against the plan, over many seeds


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_frames_agree_with_the_plan(name, monkeypatch):
    """Sum of squared deviations in standard errors, over ten seeds: chi-squared, unless frames and plan differ."""
    deviations = []
    for seed in range(10):
        monkeypatch.setattr(MODULES[name], "_SEED", 5000 + 37 * seed)
        found = EXPERIMENTS[name].run(**EXPERIMENTS[name].start)
        deviations.append((np.array(found.measured) - found.planned) / found.sigma)
    deviations = np.array(deviations)
    # pictures of one run may hold the same photons: each column on its own, and ten runs apart
    for column in deviations.T:
        assert stats.chi2(column.size).sf(column @ column) > 1e-4
        assert abs(column.mean()) < 4 / math.sqrt(column.size)


def test_the_test_of_frames_can_fail(monkeypatch):
    deviations = []
    for seed in range(10):
        monkeypatch.setattr(MODULES["hours"], "_SEED", 5000 + 37 * seed)
        found = EXPERIMENTS["hours"].run(brightness_r=12.0)
        deviations.append((np.array(found.measured) - 0.9 * np.array(found.planned)) / found.sigma)
    column = np.array(deviations)[:, -1]
    assert abs(column.mean()) > 4 / math.sqrt(column.size)


@pytest.mark.parametrize("light", [H_ALPHA, O_III])
def test_the_rig_is_the_plans(light):
    row = next(row for row in demo().solve().rows if row.light == light)
    rig = rig_of(light)
    assert (rig.target_e_s, rig.sky_e_s, rig.dark_e_s) == pytest.approx((row.target_e_s, row.sky_e_s, row.dark_e_s))
    assert rig.snr(row.sub_s, 1, 1.0) == pytest.approx(row.snr_one_sub)
    assert rig.shortest_sub_s(0.05) == pytest.approx(row.sub_shortest_s)
    # the plan's stack has a clipped mean and real darks, so it is a little worse
    side = float(demo().case.target.patch.value) / rig.scale_arcsec
    assert 1 < rig.snr(row.sub_s, row.kept, side) / row.snr_patch < 1.06


def test_measured_on_the_shell_itself():
    """The measure on a picture of known signal and grain."""
    seen = sight(rig_of())
    rng = np.random.default_rng(3)
    picture = 50 + 2.0 * seen.shell + rng.normal(0, 4.0, seen.shell.shape)
    assert abs(seen.snr(picture) - 2.0 / 4.0 * SIDE_PX) < 4 * seen.snr_sigma(5.0)


# The blind test


@pytest.mark.parametrize("snr", [0.0, 1.0, 2.0, 5.0])
def test_one_of_six(snr):
    # Green & Swets 1966, ch. 3 (from memory), by scipy's own integral
    expected, _ = integrate.quad(lambda x: stats.norm.pdf(x - snr) * stats.norm.cdf(x) ** (TILES - 1), -10, 15)
    assert chance_right(snr) == pytest.approx(expected, abs=1e-6)


def test_the_threshold_of_known_eyes_is_found():
    # eyes that use 0.4 of the SNR, simulated: the brightest of six normal numbers is picked, but for slips
    share, rounds, rng = 0.4, 4000, np.random.default_rng(9)
    answers = []
    for snr in SNRS:
        seen = rng.standard_normal((rounds, TILES))
        seen[:, 0] += share * snr
        slipped = rng.random(rounds) < LAPSE
        picked = np.where(slipped, rng.integers(0, TILES, rounds), seen.argmax(axis=1))
        answers += [Answer(snr=float(snr), right=bool(right)) for right in picked == 0]
    half_way = (1 + 1 / TILES) / 2
    assert chance_right(threshold(answers).snr, share) == pytest.approx(half_way, abs=0.02)
