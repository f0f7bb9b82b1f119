"""Simulated frames against the plan's numbers, closed forms and reference libraries, within 4 of their own sigma."""

import math
from pathlib import Path

import numpy as np
import pytest
from astropy.convolution import discretize_model
from astropy.modeling.models import Gaussian2D
from astropy.stats import SigmaClip
from scipy import integrate, stats

from expocalc.budget.answer import filter_named
from expocalc.budget.calibration import Calibration
from expocalc.budget.estimator import Estimator
from expocalc.budget.noise import sub_snr, sub_variance_e2
from expocalc.budget.patch import Habits, Patch, resized
from expocalc.budget.rates import rates
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import patch_of
from expocalc.frames.measure.picture import binned, measured_snr, smoothed
from expocalc.frames.simulate.detector import Unevenness, even_detector, uneven_detector
from expocalc.frames.simulate.masters import calibrate, masters, mean_of
from expocalc.frames.simulate.scene import even_scene, scene_of
from expocalc.frames.simulate.shoot import bias, dark, flat, sub
from expocalc.frames.simulate.stack import calibrated_subs, dither_offsets, stack, stack_of
from expocalc.gear.gain import GainSetting
from expocalc.plan import Plan

PLANS = Path(__file__).parents[2] / "notebooks" / "plans"
SHAPE = (128, 128)
PIXELS = SHAPE[0] * SHAPE[1]
PERFECT = Calibration()


def setting(**changes):
    fields = {"read_noise": "1.5 electron", "electrons_per_adu": 0.25, "bias_level": 500, "full_well": "15000 electron"}
    return GainSetting(**{**fields, **changes})


def within(value, expected, sigma):
    assert abs(value - expected) < 4 * sigma, f"{value:g} is not {expected:g} within 4 x {sigma:g}"


def variance_sigma(variance, poisson, count):
    """Standard error of a sample variance (Kendall & Stuart, ch. 10); of Poisson, the fourth cumulant is the mean."""
    return math.sqrt((poisson + 2 * variance**2) / count)


# One sub: mean and variance, one row per regime in which each term rules: target, sky, dark, read noise
@pytest.mark.parametrize(
    ("target", "sky", "dark_e_s", "read_e", "sub_s"),
    [
        (20.0, 0.1, 0.001, 1.0, 60.0),
        (0.02, 8.0, 0.01, 1.5, 120.0),
        (0.02, 0.05, 2.0, 1.5, 100.0),
        (0.01, 0.02, 0.0, 9.0, 30.0),
    ],
)
def test_one_sub(target, sky, dark_e_s, read_e, sub_s):
    camera = setting(read_noise=f"{read_e} electron")
    detector = even_detector(camera, dark_e_s, SHAPE)
    frame = sub(even_scene(target + sky, SHAPE), detector, sub_s, np.random.default_rng(11))
    electrons = calibrate(frame, masters(detector, sub_s, PERFECT, np.random.default_rng(1)), camera)
    total = target + sky + dark_e_s
    variance = sub_variance_e2(total, sub_s, camera.read_variance_e2)
    within(electrons.mean(), (target + sky) * sub_s, math.sqrt(variance / PIXELS))
    spread = variance_sigma(variance, total * sub_s, PIXELS)
    within(electrons.var(ddof=1), variance, spread)
    planned = sub_snr(target, total, sub_s, camera.read_variance_e2)
    within(target * sub_s / electrons.std(ddof=1), planned, planned * spread / (2 * variance))


@pytest.mark.parametrize(("kind", "variance"), [("bias", 1.5**2), ("emva", 1.5**2 + 2.0**2 / 12)])
def test_read_noise_of_both_kinds(kind, variance):
    # EMVA 1288 Release 4.0: its read noise leaves out the steps, 1/12 step^2; one measured from biases holds them.
    # Half the variance of the difference of two biases, in steps of 2 electrons.
    detector = uneven_detector(setting(electrons_per_adu=0.5, native_step=4, read_noise_kind=kind), 0.0, SHAPE, seed=2)
    one, two = (bias(detector, np.random.default_rng(seed)) for seed in (5, 6))
    within((one - two).var(ddof=1) / 2 * 0.5**2, variance, variance * math.sqrt(2 / PIXELS))


def test_photon_transfer():
    # EMVA 1288: the slope of variance over mean is 1 / (electrons per ADU), whatever the flat's pattern
    detector = uneven_detector(setting(), 0.0, SHAPE, seed=3, unevenness=Unevenness(flat_share=0.02))
    rng = np.random.default_rng(7)
    level = np.array([500.0, 2000.0, 5000.0, 10000.0])
    pairs = [(flat(detector, e, rng), flat(detector, e, rng)) for e in level]
    mean = np.array([(a + b).mean() / 2 - 500 for a, b in pairs])
    variance = np.array([(a - b).var() / 2 for a, b in pairs])
    slope = np.polyfit(mean, variance, 1, w=1 / variance)[0]
    within(1 / slope, 0.25, 0.25 * math.sqrt(2 / PIXELS))


def test_mean_dark():
    detector = uneven_detector(setting(), 0.05, SHAPE, seed=4, unevenness=Unevenness(dark_share=0.5))
    rng = np.random.default_rng(1)
    electrons = (mean_of(20, lambda: dark(detector, 60.0, rng)) - detector.bias_adu) * 0.25 - detector.offset_e
    within((electrons / 60).mean(), detector.dark_e_s.mean(), math.sqrt((3 + 2.25) / 20 / PIXELS) / 60)


# Stars


@pytest.mark.parametrize("fwhm", [1.5, 3.3])
def test_star_against_astropy(fwhm):
    sigma = fwhm / math.sqrt(8 * math.log(2))
    model = Gaussian2D(1 / (2 * math.pi * sigma**2), 3.2, 2.7, sigma, sigma)
    theirs = discretize_model(model, (0, 6), (0, 6), mode="integrate")
    ours = even_scene(0.0, (6, 6)).with_stars([[2.7, 3.2]], [1.0], fwhm).light_e_s
    assert ours == pytest.approx(theirs, abs=1e-7)


# Stacks


def variance_of_median(count):
    """Of an odd number of standard normal values, by integrating the median's density (Kendall & Stuart, ch. 14)."""
    half = count // 2

    def weighted(x):
        below = stats.norm.cdf(x)
        ways = math.exp(math.lgamma(count + 1) - 2 * math.lgamma(half + 1))
        return x**2 * ways * (below * (1 - below)) ** half * stats.norm.pdf(x)

    return integrate.quad(weighted, -6, 6)[0]


@pytest.mark.parametrize("count", [5, 31])
def test_median_of_normal_values(count):
    frames = np.random.default_rng(8).normal(50.0, 3.0, (count, *SHAPE))
    expected = 9 * variance_of_median(count)
    within(stack(frames, "median").var(ddof=1), expected, expected * math.sqrt(2 / PIXELS))


def test_clipped_mean_against_astropy():
    frames = np.random.default_rng(9).normal(50.0, 3.0, (20, 16, 16))
    frames[np.random.default_rng(10).random(frames.shape) < 0.02] += 200
    clipped = SigmaClip(
        sigma=2.5, maxiters=1, cenfunc="median", stdfunc=lambda values, axis: np.nanstd(values, axis=axis, ddof=1)
    )(frames, axis=0)
    assert stack(frames, "clipped mean", 2.5) == pytest.approx(np.asarray(clipped.mean(axis=0)), rel=1e-12)


def test_drawn_at_once_is_the_same_as_sub_by_sub():
    # Two-sample Kolmogorov-Smirnov on 16384 pixels each, of few electrons: 0.4 per sub, read noise 0.8
    camera = setting(read_noise="0.8 electron", electrons_per_adu=0.05, bias_level=500)
    detector = even_detector(camera, 0.002, SHAPE)
    scene, made = even_scene(0.005, SHAPE), masters(detector, 60.0, PERFECT, np.random.default_rng(1))
    still = np.zeros((10, 2), dtype=int)
    one_by_one = stack(calibrated_subs(scene, detector, made, 60.0, still, np.random.default_rng(12)))
    at_once = stack_of(scene, detector, 60.0, 10, np.random.default_rng(13))
    assert stats.ks_2samp(one_by_one.ravel(), at_once.ravel()).pvalue > 1e-4
    # the test can tell: thirteen subs instead of ten fail it
    more = stack_of(scene, detector, 60.0, 13, np.random.default_rng(13))
    assert stats.ks_2samp(one_by_one.ravel(), more.ravel()).pvalue < 1e-4
    variance = sub_variance_e2(0.007, 60.0, 0.8**2) / 10
    for picture in (one_by_one, at_once):
        within(picture.mean(), 0.3, math.sqrt(variance / PIXELS))
        within(picture.var(ddof=1), variance, variance_sigma(variance, 0.42 / 1000, PIXELS))


def test_square_root_of_hours():
    scene, detector = even_scene(0.4, SHAPE).with_patch(0.02, 16), even_detector(setting(), 0.002, SHAPE)
    grain = [
        measured_snr(stack_of(scene, detector, 120.0, 30 * h, np.random.default_rng(h)), scene.patch, scene.clear).noise
        for h in (1, 2, 5, 10, 40)
    ]
    for h, found in zip((1, 2, 5, 10, 40), grain, strict=True):
        expected = math.sqrt(sub_variance_e2(0.402, 120.0, 2.25) / (30 * h))
        within(found, expected, expected / math.sqrt(2 * PIXELS))


# Stack and patch, calibration and dither: ours measured on many realisations, against the plan's formula


def patch_noise_e(shoot, side, runs):
    """Standard deviation of the mean over squares, and its standard error from the scatter of the runs."""
    variance = [binned(shoot(seed), side).var(ddof=1) for seed in range(runs)]
    mean = float(np.mean(variance))
    return math.sqrt(mean), float(np.std(variance, ddof=1)) / math.sqrt(runs) / (2 * math.sqrt(mean))


SIGNAL, SKY, DARK, SUB_S, SUBS = 0.05, 0.5, 0.02, 60.0, 24
CASES = {
    "perfect": ({}, PERFECT, Unevenness(), None),
    "few darks, still": ({}, Calibration(darks=5), Unevenness(), None),
    "few darks, dithered": ({}, Calibration(darks=5), Unevenness(), (2, 9)),
    "few flats, still": ({}, Calibration(flats=2, flat_e=500.0), Unevenness(), None),
    "few flats, dithered": ({}, Calibration(flats=2, flat_e=500.0), Unevenness(), (1, 6)),
    "leftover, still": ({}, PERFECT, Unevenness(leftover_e=2.0, leftover_flat=0.02), None),
    "leftover, dithered": ({}, PERFECT, Unevenness(leftover_e=2.0, leftover_flat=0.02), (1, 9)),
    "clipped": ({"stacking": "clipped mean", "clip": 2.5}, PERFECT, Unevenness(), None),
    "median": ({"stacking": "median", "native_step_e": 0.25}, PERFECT, Unevenness(), None),
}


@pytest.mark.parametrize("side", [1, 4])
@pytest.mark.parametrize("name", CASES)
def test_patch_of_a_stack(name, side):
    estimator, calibration, unevenness, dither = CASES[name]
    estimator = Estimator(**estimator)
    camera, shape = setting(), (96, 96)
    scene = even_scene(SIGNAL + SKY, shape)

    def shoot(seed):
        rng = np.random.default_rng(100 + seed)
        detector = uneven_detector(camera, DARK, shape, seed, unevenness)
        made = masters(detector, SUB_S, calibration, rng)
        offsets = dither_offsets(SUBS, *dither, rng) if dither else np.zeros((SUBS, 2), dtype=int)
        frames = calibrated_subs(scene, detector, made, SUB_S, offsets, rng)
        return stack(frames, estimator.stacking, estimator.clip)

    noise, sigma = patch_noise_e(shoot, side, 10)
    known = Calibration(
        darks=calibration.darks,
        flats=calibration.flats,
        flat_e=calibration.flat_e,
        fixed_e=unevenness.leftover_e,
        flat_pattern=unevenness.leftover_flat,
    )
    habits = Habits(
        estimator=estimator,
        calibration=known,
        dither_every=dither[0] if dither else math.inf,
        dither_box_px=dither[1] if dither else 0.0,
    )
    patch = Patch(
        side_px=float(side),
        sub_s=SUB_S,
        signal_e_s=np.array([SIGNAL]),
        light_e_s=np.array([SKY]),
        dark_e_s=DARK,
        read_variance_e2=camera.read_variance_e2,
    )
    expected = SIGNAL * SUB_S / float(snr_per_patch(patch, habits, SUBS))
    # the tables of the median and the clipped mean are good to 1 %
    within(noise, expected, sigma + (0.0025 * expected if estimator.stacking != "mean" else 0.0))


def test_darks_add_noise():
    # 20 darks under 120 undithered subs, the dark's share of a sub's variance 1/11: sqrt(1 + 120/20/11) = 1.243
    camera, shape = setting(), (128, 128)
    dark_e2 = DARK * SUB_S + 2.25
    sky = 10 * dark_e2 / SUB_S
    detector = even_detector(camera, DARK, shape)
    picture = stack_of(even_scene(sky, shape), detector, SUB_S, 120, np.random.default_rng(3))
    made = masters(detector, SUB_S, Calibration(darks=20), np.random.default_rng(4))
    worse = picture - (made.dark_adu - detector.bias_adu) * 0.25
    growth = math.sqrt(1 + 120 / 20 / 11)
    within(worse.std() / picture.std(), growth, growth / math.sqrt(PIXELS))


# Whole plans


@pytest.mark.parametrize("file", sorted(PLANS.glob("*.toml")), ids=lambda path: path.stem)
def test_plans(file):
    case = Plan.read(file).case
    for row in Plan.read(file).solve().rows:
        rate = rates(case, filter_named(case, row.filter_name))
        if row.light not in rate.extended:
            continue
        side, subs = 8, 40
        scene = scene_of(rate, row.light, side, SHAPE)
        detector = even_detector(case.camera.setting, rate.dark_e_s, SHAPE)
        made = masters(detector, row.sub_s, PERFECT, np.random.default_rng(1))
        frame = calibrate(sub(scene, detector, row.sub_s, np.random.default_rng(2)), made, case.camera.setting)
        picture = stack_of(scene, detector, row.sub_s, subs, np.random.default_rng(3))
        planned = resized(patch_of(case, rate, row.light, row.sub_s), float(side))
        snr2 = 0.0
        for at, colour in enumerate(rate.colours):
            pixels = scene.clear & scene.pixels(colour)
            light = float(planned.light_e_s[at]) * row.sub_s
            dark_e = rate.dark_e_s * row.sub_s
            variance = light + dark_e + case.camera.setting.read_variance_e2
            within(frame[pixels].mean(), light, math.sqrt(variance / pixels.sum()))
            spread = variance_sigma(variance, light + dark_e, pixels.sum())
            within(frame[pixels].var(ddof=1), variance, spread)
            within(picture[pixels].mean(), light, math.sqrt(variance / subs / pixels.sum()))
            spread = variance_sigma(variance / subs, (light + dark_e) / subs**3, pixels.sum())
            within(picture[pixels].var(ddof=1), variance / subs, spread)
            snr2 += measured_snr(picture, scene.patch & scene.pixels(colour), pixels).snr_patch ** 2
        # one measurement of an SNR is off by 1 (the noise it is measured in); each further colour adds its own square
        expected = float(snr_per_patch(planned, Habits(), subs))
        extra = len(rate.colours)
        within(math.sqrt(max(snr2 - (extra - 1), 0.0)), expected, math.sqrt(1 + extra / max(expected, 1) ** 2))


# What lessons show


def test_binning_by_software():
    # n independent pixels: noise of the mean falls with the square root of n
    picture = stack_of(even_scene(1.0, SHAPE), even_detector(setting(), 0.0, SHAPE), 60.0, 20, np.random.default_rng(5))
    for side in (2, 4):
        ratio = binned(picture, side).std(ddof=1) * side / picture.std(ddof=1)
        within(ratio, 1.0, math.sqrt(side**2 / PIXELS))


def test_smoothing_invents_blobs():
    # A Gaussian passes 1 / (4 pi sigma^2) of white noise's variance, and leaves neighbours alike: exp(-r^2 / 4 sigma^2)
    picture = np.random.default_rng(6).normal(0.0, 1.0, (512, 512))
    sigma = 4.0 / math.sqrt(8 * math.log(2))
    soft = smoothed(picture, 4.0)
    independent = 512**2 / (4 * math.pi * sigma**2)
    expected = 1 / (4 * math.pi * sigma**2)
    within(soft.var(), expected, expected * math.sqrt(2 / independent))
    alike = (soft * np.roll(soft, 2, axis=0)).mean() / soft.var()
    within(alike, math.exp(-1 / sigma**2), 2 / math.sqrt(independent))


def test_ten_short_or_one_long():
    # Same light, ten subs or one: equal without read noise; variance 10 R^2 instead of R^2 with it (closed form)
    for read_e in (0.0, 1.5, 8.0):
        camera = setting(read_noise=f"{read_e} electron", electrons_per_adu=0.01, bits=32)
        detector, scene = even_detector(camera, 0.0, SHAPE), even_scene(0.1, SHAPE)
        ten = 10 * stack_of(scene, detector, 60.0, 10, np.random.default_rng(1))
        one = stack_of(scene, detector, 600.0, 1, np.random.default_rng(2))
        expected = (60 + 10 * read_e**2) / (60 + read_e**2)
        within(ten.var(ddof=1) / one.var(ddof=1), expected, expected * 2 / math.sqrt(PIXELS))
