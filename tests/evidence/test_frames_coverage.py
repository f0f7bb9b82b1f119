"""Intervals that frames give: of 400 simulated sets 68 in 100 hold the truth, within 5; what was put in comes out."""

import numpy as np
import pytest
from astropy.io import fits
from astropy.nddata import CCDData
from ccdproc import subtract_bias, subtract_dark
from scipy import stats

from expocalc.frames.measure.activation import activation
from expocalc.frames.measure.background import background
from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.darks import BiasLevel, DarkPoint, DarkRate, dark_rates, hot_share, less_bias
from expocalc.frames.measure.pair import BLOCK, compare
from expocalc.frames.measure.stars import find_stars, under_stars
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.measure.transfer import fit_line, full_well, linearity, unsaturated
from expocalc.frames.read.fits import read_frame
from expocalc.frames.simulate.detector import Unevenness, even_detector, uneven_detector
from expocalc.frames.simulate.scene import even_scene
from expocalc.frames.simulate.shoot import bias, dark, flat, sub
from expocalc.gear.dark_current import arrhenius
from expocalc.gear.gain import GainSetting

SETS = 400
SHAPE = (64, 64)
CAMERA = GainSetting(read_noise="1.5 electron", electrons_per_adu=0.25, bias_level=500, full_well="15000 electron")


def holds_68(hits):
    assert len(hits) >= SETS
    assert 0.63 <= np.mean(hits) <= 0.73, f"{np.mean(hits):.3f} of the intervals hold the truth"


def pattern(map_):
    """Variance within squares, as the bench tells pattern from shading."""
    down, across = (side // BLOCK for side in map_.shape)
    blocks = map_.reshape(down, BLOCK, across, BLOCK)
    apart = blocks - blocks.mean(axis=(1, 3), keepdims=True)
    return apart.var() * BLOCK**2 / (BLOCK**2 - 1)


@pytest.fixture(scope="module")
def benches():
    hits = {"electrons per ADU": [], "read noise": [], "PRNU": [], "DSNU": []}
    for seed in range(SETS):
        detector = uneven_detector(CAMERA, 0.0, SHAPE, seed, Unevenness(flat_share=0.01))
        rng = np.random.default_rng(10_000 + seed)
        dark = compare([bias(detector, rng)], [bias(detector, rng)])
        pairs = [
            compare([flat(detector, e, rng)], [flat(detector, e, rng)], dark_adu=500) for e in (500, 2000, 5000, 10000)
        ]
        darks = [dark] * len(pairs)
        line = fit_line(pairs, darks, unsaturated(pairs, darks))
        hits["electrons per ADU"].append(abs(line.electrons_per_adu - 0.25) < line.error)
        hits["read noise"].append(abs(dark.variance_adu2 - 36) < dark.variance_error_adu2)
        level = pairs[-1].mean_adu - 500
        true = pattern(detector.flat) * level**2 + pattern(detector.offset_e) / 0.25**2
        hits["PRNU"].append(abs(pairs[-1].pattern_adu2 - true) < pairs[-1].pattern_error_adu2)
        hits["DSNU"].append(abs(dark.pattern_adu2 - pattern(detector.offset_e) / 0.25**2) < dark.pattern_error_adu2)
    return hits


@pytest.mark.parametrize("name", ["electrons per ADU", "read noise", "PRNU", "DSNU"])
def test_bench(benches, name):
    holds_68(benches[name])


@pytest.mark.parametrize("full_e", [3000.0, 15000.0])
def test_full_well(full_e):
    # the pair above is full in all pixels: what is left in doubt is the electrons per ADU, as the bench has it
    camera = GainSetting(
        read_noise="1.5 electron", electrons_per_adu=0.25, bias_level=500, full_well=f"{full_e} electron"
    )
    hits = []
    for seed in range(SETS):
        detector = uneven_detector(camera, 0.0, SHAPE, seed, Unevenness(flat_share=0.01))
        rng = np.random.default_rng(30_000 + seed)
        dark = compare([bias(detector, rng)], [bias(detector, rng)])
        pairs = [
            compare([flat(detector, share * full_e, rng)], [flat(detector, share * full_e, rng)], dark_adu=500)
            for share in (0.15, 0.4, 0.65, 1.4)
        ]
        darks = [dark] * len(pairs)
        good = unsaturated(pairs, darks)
        line = fit_line(pairs, darks, good)
        k, share = line.electrons_per_adu, line.error / line.electrons_per_adu
        at, low, high = (k * level for level in full_well(pairs, darks, good, k))
        hits.append(low - at * share <= full_e <= high + at * share)
    holds_68(hits)


def test_a_well_that_is_nearly_full_lies_between_two_levels():
    # a pair that has lost half its noise is no full one: the well is above the line's last level and below nothing seen
    detector = uneven_detector(CAMERA, 0.0, SHAPE, 1, Unevenness(flat_share=0.01))
    rng = np.random.default_rng(1)
    dark = compare([bias(detector, rng)], [bias(detector, rng)])
    pairs = [
        compare([flat(detector, e, rng)], [flat(detector, e, rng)], dark_adu=500) for e in (3000, 8000, 12000, 15000)
    ]
    good = unsaturated(pairs, [dark] * 4)
    assert good.tolist() == [True, True, True, False]
    _, low, high = full_well(pairs, [dark] * 4, good, 0.25)
    assert low == pytest.approx(48000, rel=0.01)
    assert high < 60000


@pytest.mark.parametrize("bend", [0.01, 0.03, 0.1])
def test_linearity(bend):
    # a camera that bends by so much at its top: the mean deviation of levels without any noise is the truth
    seconds = np.array([1.0, 2.0, 4.0, 6.0, 8.0])
    straight = seconds * 1500.0
    bent = straight * (1 - bend * straight / 15000)
    true = linearity(seconds, bent / 0.25, np.full(5, 1e-9), 60_000).error
    hits = []
    rng = np.random.default_rng(5)
    detector = even_detector(CAMERA, 0.0, SHAPE)
    dark = compare([bias(detector, rng)], [bias(detector, rng)])
    for _ in range(SETS):
        pairs = [compare([flat(detector, e, rng)], [flat(detector, e, rng)], dark_adu=500) for e in bent]
        level = np.array([one.mean_adu for one in pairs]) - dark.mean_adu
        found = linearity(seconds, level, np.array([one.mean_error_adu for one in pairs]), 60_000)
        hits.append(found.low <= true <= found.high)
    holds_68(hits)


def test_a_straight_camera_may_be_straight():
    # the noise alone makes a mean of magnitudes: 0 is within the interval all the same
    seconds = np.array([1.0, 2.0, 4.0, 6.0, 8.0])
    rng = np.random.default_rng(6)
    level, error = seconds * 6000, np.full(5, 10.0)
    hits = [linearity(seconds, level + rng.normal(0, error), error, 60_000).low == 0 for _ in range(SETS)]
    holds_68(hits)


@pytest.mark.parametrize("share", [1e-3, 5e-3])
def test_hot_share(share):
    hits = []
    for seed in range(SETS):
        detector = uneven_detector(CAMERA, 0.01, (128, 128), seed, Unevenness(hot_share=share, hot_e_s=0.5))
        rng = np.random.default_rng(40_000 + seed)
        less = dark(detector, 300.0, rng) - 500.0
        _, low, high = hot_share(less, dark(detector, 300.0, rng) - 500.0)
        hits.append(low <= share <= high)
    holds_68(hits)


@pytest.mark.parametrize(("sky_e", "read_e"), [(5.0, 1.5), (60.0, 1.5), (2.0, 3.0)])
def test_sky(sky_e, read_e):
    # few electrons (skewed), many, and read noise above light; stars in each, masked as the tool masks them
    hits = []
    rng = np.random.default_rng(20)
    for _ in range(SETS):
        stars = even_scene(0.0, (128, 128)).with_stars(rng.uniform(5, 122, (3, 2)), 10 ** rng.uniform(2, 4.5, 3), 2.6)
        frame = np.rint((rng.poisson(sky_e + stars.light_e_s) + rng.normal(0, read_e, (128, 128))) / 0.25 + 500)
        rough = background([frame])
        covered = under_stars(find_stars(frame, rough), frame.shape, rough.noise_adu)
        found = background([frame], stars=[covered])
        hits.append(abs((found.level_adu - 500) * 0.25 - sky_e) < found.error_adu * 0.25)
    holds_68(hits)


@pytest.mark.parametrize("lengths", [(300.0,), (300.0, 300.0), (60.0, 600.0), (10.0, 100.0, 300.0)])
def test_dark_current(lengths):
    # hot pixels count in the mean, and must not widen its interval
    hits = []
    for seed in range(SETS):
        detector = uneven_detector(CAMERA, 0.01, SHAPE, seed, Unevenness(hot_share=5e-4, hot_e_s=0.5))
        rng = np.random.default_rng(20_000 + seed)
        first, second = bias(detector, rng), bias(detector, rng)
        level = BiasLevel.of([compare([first], [second])])
        points = []
        for seconds in lengths:
            _, mean, error = less_bias(dark(detector, seconds, rng), first, level)
            points.append(
                DarkPoint(
                    seconds=seconds, temperature_deg_c=-10.0, electrons=mean * 0.25, error_e=error * 0.25,
                    bias_error_e=level.error_adu * 0.25,
                )
            )  # fmt: skip
        (rate,) = dark_rates(points)
        hits.append(abs(rate.rate_e_s - detector.dark_e_s.mean()) < rate.error_e_s)
    holds_68(hits)


TEMPERATURES = np.array([-20.0, -10.0, 0.0, 10.0, 20.0])


def laws(count, glow, error):
    """Activation laws fitted to rates of so many temperatures, many times: two numbers each, cheap."""
    at = TEMPERATURES[:count] if count > 2 else TEMPERATURES[1:3]
    true = arrhenius(0.002, -10.0, at, 0.65) + glow
    rng = np.random.default_rng(4)
    for _ in range(2 * SETS):
        seen = true * (1 + error * rng.standard_normal(count))
        yield activation(
            [
                DarkRate(temperature_deg_c=t, rate_e_s=r, error_e_s=error * r0, start_e=None, bend=None)
                for t, r, r0 in zip(at, seen, true, strict=True)
            ]
        )


@pytest.mark.parametrize(
    ("count", "glow"), [(2, 0.0), (3, 0.0), (3, 0.002), (4, 0.0), (4, 0.0005), (4, 0.002), (4, 0.01), (5, 0.002)]
)
def test_activation(count, glow):
    # between two temperatures no glow is looked for; from three on it is fitted, and may not be there
    holds_68([law.low_ev - 5e-4 <= 0.65 <= law.high_ev + 5e-4 for law in laws(count, glow, 0.03)])


@pytest.mark.parametrize(("count", "glow"), [(3, 0.002), (4, 0.002), (4, 0.01), (5, 0.002)])
def test_glow(count, glow):
    holds_68([law.glow_low_e_s <= glow <= law.glow_high_e_s for law in laws(count, glow, 0.03)])


def test_calibration_arithmetic_against_ccdproc(tmp_path):
    # bias and a dark taken off, scaled to electron per second: their frames, our mesh, one mean
    detector = even_detector(CAMERA, 0.05, (256, 256))
    rng = np.random.default_rng(6)
    frame = sub(even_scene(0.4, (256, 256)), detector, 120.0, rng)
    dark = sub(even_scene(0.0, (256, 256)), detector, 120.0, rng)
    paths = [tmp_path / f"{name}.fits" for name in ("sub", "dark")]
    for path, data in zip(paths, (frame, dark), strict=True):
        fits.PrimaryHDU(data.astype(np.uint16), fits.Header({"EXPTIME": 120.0, "EGAIN": 0.25})).writeto(path)
    ours = measure_sub([read_frame(paths[0])], Behind(dark=read_frame(paths[1])))
    light, below, zero = (CCDData(data, unit="adu") for data in (frame, dark, np.full(frame.shape, 500.0)))
    theirs = subtract_dark(
        subtract_bias(light, zero), subtract_bias(below, zero), dark_exposure=120 * _s(), data_exposure=120 * _s()
    )
    expected = float(theirs.data.mean()) * 0.25 / 120
    assert ours.colours["mono"].sky_e_s == pytest.approx(expected, rel=2e-3)
    low, high = ours.colours["mono"].low_e_s, ours.colours["mono"].high_e_s
    assert low - (high - low) < 0.4 < high + (high - low)


def _s():
    from astropy import units as u

    return u.s


def test_star_widths_and_light():
    # Gaussian stars of known width: median within 1 % (2 % where they nearly touch), light within 2 %
    rng = np.random.default_rng(9)
    for fwhm in (1.8, 2.6, 4.0, 7.5):
        places = np.stack(np.meshgrid(np.arange(30, 480, 45), np.arange(30, 480, 45)), -1).reshape(-1, 2)
        places = places + rng.uniform(-0.5, 0.5, places.shape)
        light = 10 ** rng.uniform(3.8, 4.6, len(places))
        scene = even_scene(0.0, (512, 512)).with_stars(places, light, fwhm)
        frame = rng.normal(500 + scene.light_e_s, 5.0)
        stars = find_stars(frame, background([frame]))
        assert stars.count == len(places)
        assert stars.usual_fwhm_px == pytest.approx(fwhm, rel=0.01 if fwhm < 5 else 0.02)
        nearest = np.hypot(*(places[:, None, :] - np.stack([stars.row, stars.column], 1)[None]).transpose(2, 0, 1))
        at = nearest.argmin(axis=1)
        assert np.median(nearest.min(axis=1)) < 0.05
        if fwhm < 5:  # wider ones lift the sky between them
            assert np.median(stars.flux_adu[at] / light) == pytest.approx(1.0, rel=0.02)


def test_the_test_can_tell():
    # an interval of half the width would hold 38 in 100
    assert stats.norm.cdf(0.5) - stats.norm.cdf(-0.5) < 0.63
