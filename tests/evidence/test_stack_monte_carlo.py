"""Stacks made frame by frame against the formula: electrons, masters and dithers drawn, nothing of the formula reused.

The detector is a small square that the patch moves over. Each trial draws a new detector (pattern), new masters from as
many dark and flat frames as the regime says, new dithers and new subs; the subs are calibrated, shifted back by whole
pixels, stacked, and the patch is summed. Signal is the difference between the mean sums with and without the target,
noise their scatter over trials.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from expocalc.budget.calibration import Calibration
from expocalc.budget.estimator import Estimator
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.stack import snr_per_patch

SIGMAS = 4


@dataclass(frozen=True, kw_only=True)
class Regime:
    """One way to make a stack; electrons per pixel and sub."""

    subs: int
    side: int = 4
    target: float = 10.0
    sky: float = 40.0
    dark: float = 2.0
    read: float = 2.0
    darks: int | None = None
    flats: int | None = None
    flat_e: float = 2000.0
    fixed: float = 0.0
    pattern: float = 0.0
    every: int | None = None
    box: int = 0
    stacking: str = "mean"
    clip: float = 3.0
    step: float | None = None
    background: int | None = None
    colour: str | None = None
    flatness: float = 0.0
    trials: int = 10_000


REGIMES = {
    "photons of the target": Regime(subs=12, target=300.0, sky=3.0, dark=0.0, read=1.0),
    "sky": Regime(subs=12, target=5.0, sky=200.0),
    "dark current": Regime(subs=10, target=4.0, sky=1.0, dark=60.0),
    "read noise": Regime(subs=20, target=4.0, sky=2.0, read=8.0),
    "undithered, few darks": Regime(subs=30, sky=5.0, read=4.0, darks=5),
    "undithered, few flats": Regime(subs=20, sky=300.0, flats=4),
    "undithered, pattern": Regime(subs=20, fixed=1.0, pattern=0.02),
    "one pixel, wide box": Regime(subs=60, side=1, every=3, box=20, fixed=5.0, trials=30_000),
    "one pixel, more dithers than places": Regime(subs=80, side=1, every=1, box=2, fixed=5.0, trials=30_000),
    "patch narrower than the box": Regime(subs=30, every=1, box=12, fixed=4.0, darks=10),
    "patch as wide as the box": Regime(subs=40, side=10, every=2, box=10, fixed=4.0, trials=6000),
    "patch wider than the box": Regime(subs=30, side=12, every=1, box=3, pattern=0.05, trials=6000),
    "dithered, everything": Regime(
        subs=24, side=6, every=2, box=6, darks=8, flats=6, fixed=2.0, pattern=0.02, trials=8000
    ),
    "fewer subs than between dithers": Regime(subs=6, every=10, box=8, fixed=3.0),
    "background from 48 pixels": Regime(subs=12, target=3.0, background=48, fixed=1.0),
    "background from few pixels, dithered": Regime(subs=16, side=6, target=3.0, background=36, every=1, box=9),
    "red of a mosaic, undithered": Regime(subs=16, side=8, fixed=2.0, colour="R"),
    "red of a mosaic, wide box": Regime(subs=30, side=6, every=1, box=15, fixed=5.0, colour="R"),
    "green of a mosaic, wide patch": Regime(subs=24, side=12, every=2, box=4, fixed=4.0, colour="G", trials=6000),
    "median, odd": Regime(subs=15, stacking="median", sky=200.0),
    "median, even": Regime(subs=16, stacking="median", sky=200.0),
    "median of many": Regime(subs=101, side=3, stacking="median", sky=200.0),
    "median, a third of an electron of sky": Regime(
        subs=60, target=0.6, sky=0.3, dark=0.1, read=1.0, stacking="median", step=0.25
    ),
    "median, one electron, fine steps": Regime(
        subs=31, target=1.0, sky=0.5, dark=0.0, read=1.5, stacking="median", step=0.3
    ),
    "median, coarse steps, many": Regime(
        subs=61, side=3, target=2.0, sky=4.0, dark=0.0, read=1.5, stacking="median", step=1.1
    ),
    "median, coarse steps, even": Regime(subs=20, target=2.0, sky=4.0, dark=0.0, read=1.5, stacking="median", step=1.1),
    "median, dithered pattern": Regime(subs=31, side=2, sky=100.0, stacking="median", every=1, box=20, fixed=20.0),
    "median, undithered pattern": Regime(subs=25, sky=100.0, stacking="median", fixed=3.0),
    "clipped at 2, few": Regime(subs=8, sky=200.0, stacking="clipped mean", clip=2.0),
    "clipped at 2, many": Regime(subs=60, side=3, sky=200.0, stacking="clipped mean", clip=2.0),
    "clipped at 3, few": Regime(subs=10, sky=200.0, stacking="clipped mean"),
    "clipped at 2.5, dithered pattern": Regime(
        subs=40, sky=100.0, stacking="clipped mean", clip=2.5, every=2, box=12, fixed=4.0
    ),
    "gradient": Regime(subs=40, side=6, sky=100.0, flatness=0.01, trials=8000),
}


def _sees(colour: str | None, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Whether a pixel of an RGGB mosaic carries the colour."""
    rows, columns = np.broadcast_arrays(rows % 2, columns % 2)
    if colour is None:
        return np.ones(rows.shape, dtype=bool)
    if colour == "G":
        return rows != columns
    return (rows == columns) & (rows == (0 if colour == "R" else 1))


def _stack(regime: Regime, stacked: np.ndarray) -> np.ndarray:
    """Along axis 1."""
    if regime.stacking == "mean":
        return stacked.mean(axis=1)
    median = np.median(stacked, axis=1)
    if regime.stacking == "median":
        return median
    kept = np.abs(stacked - median[:, None]) <= regime.clip * stacked.std(axis=1, ddof=1)[:, None]
    return (stacked * kept).sum(axis=1) / kept.sum(axis=1)


def _shifted(
    regime: Regime, side: int, target: float, trials: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Calibrated subs on the sky's grid (trials, subs, side, side), and where they carry the colour."""
    wide = side + regime.box
    detector = (trials, wide, wide)
    fixed = rng.normal(0, regime.fixed, detector)
    gain = rng.normal(1, regime.pattern, detector)
    offset = rng.uniform(0, regime.step, detector) if regime.step else np.zeros(detector)
    dark = np.zeros(detector)
    if regime.darks:
        frames = (regime.darks, *detector)
        dark = (rng.poisson(regime.dark, frames) + rng.normal(0, regime.read, frames)).mean(axis=0) - regime.dark
    flat = np.ones(detector)
    if regime.flats:
        flat = rng.poisson(regime.flat_e, (regime.flats, *detector)).mean(axis=0) / regime.flat_e

    places = 1 if regime.every is None else math.ceil(regime.subs / regime.every)
    moves = rng.integers(0, regime.box + 1, (trials, places, 2)).repeat(regime.every or regime.subs, axis=1)
    moves = moves[:, : regime.subs]
    rows = moves[:, :, :1, None] + np.arange(side)[:, None]
    columns = moves[:, :, 1:, None] + np.arange(side)
    at = (np.arange(trials)[:, None, None, None], rows, columns)

    light = gain[at] * (target + regime.sky)
    raw = rng.poisson(light + regime.dark) + fixed[at] + offset[at]
    raw = raw + rng.normal(0, regime.read, raw.shape)
    if regime.step:
        raw = np.rint(raw / regime.step) * regime.step
    calibrated = (raw - offset[at] - dark[at] - regime.dark) / flat[at]
    return calibrated, _sees(regime.colour, rows, columns)


def _sums(regime: Regime, target: float, rng: np.random.Generator) -> np.ndarray:
    """Sum of the patch, background taken off, in many trials: 1 for each pixel's worth."""
    found = []
    left = regime.trials
    while left > 0:
        size = min(left, max(1, 1_500_000 // (regime.subs * regime.side**2)))
        left -= size
        subs, sees = _shifted(regime, regime.side, target, size, rng)
        if regime.colour is None:
            mean = _stack(regime, subs).mean(axis=(1, 2))
        else:  # each colour is averaged over the pixels that carry it
            mean = (subs * sees).sum(axis=(1, 2, 3)) / sees.sum(axis=(1, 2, 3))
        if regime.background:
            side = round(math.sqrt(regime.background))
            elsewhere, _ = _shifted(regime, side, 0.0, size, rng)
            mean = mean - _stack(regime, elsewhere).mean(axis=(1, 2))
        if regime.flatness:
            mean = mean + rng.normal(0, regime.flatness, size) * (target + regime.sky + regime.dark)
        found.append(mean)
    return np.concatenate(found)


def _simulated(regime: Regime, seed: int) -> tuple[float, float]:
    """SNR of the patch, and its statistical error as a share."""
    rng = np.random.default_rng(seed)
    sums = _sums(regime, regime.target, rng)
    empty = _sums(replace(regime, trials=max(1000, regime.trials // 2)), 0.0, rng)
    signal, noise = sums.mean() - empty.mean(), sums.std(ddof=1)
    signal_error = math.hypot(noise / math.sqrt(sums.size), empty.std() / math.sqrt(empty.size)) / signal
    return signal / noise, math.hypot(1 / math.sqrt(2 * (sums.size - 1)), signal_error)


def _predicted(regime: Regime) -> float:
    many = math.inf
    habits = Habits(
        estimator=Estimator(stacking=regime.stacking, clip=regime.clip, native_step_e=regime.step or 0.0),
        calibration=Calibration(
            darks=regime.darks or many,
            flats=regime.flats or many,
            flat_e=regime.flat_e,
            fixed_e=regime.fixed,
            flat_pattern=regime.pattern,
        ),
        dither_every=regime.every or many,
        dither_box_px=regime.box,
        background_px=math.sqrt(regime.background) if regime.background else many,
        flatness=regime.flatness,
    )
    patch = Patch(
        side_px=regime.side,
        sub_s=1.0,
        signal_e_s=np.array([regime.target]),
        light_e_s=np.array([regime.sky]),
        dark_e_s=regime.dark,
        read_variance_e2=regime.read**2 + (regime.step or 0.0) ** 2 / 12,
        pixel_share={None: 1.0, "R": 0.25, "B": 0.25, "G": 0.5}[regime.colour],
    )
    return float(snr_per_patch(patch, habits, regime.subs))


@pytest.mark.parametrize("name", REGIMES)
def test_stack_made_frame_by_frame(name):
    regime = REGIMES[name]
    simulated, error = _simulated(regime, seed=20261124)
    assert simulated == pytest.approx(_predicted(regime), rel=SIGMAS * error)


def test_colours_of_a_mosaic_add_their_squares_and_share_the_gradient():
    """The best weights for what was simulated reach the sum of the squares; a common gradient stays."""
    rng = np.random.default_rng(20261124)
    trials, share = 20_000, {"R": 0.25, "G": 0.5, "B": 0.25}
    target, sky = {"R": 2.0, "G": 10.0, "B": 6.0}, {"R": 20.0, "G": 60.0, "B": 30.0}
    gradient = rng.normal(0, 0.01, trials)
    sums = {
        colour: _sums(
            Regime(subs=12, target=target[colour], sky=sky[colour], side=6, fixed=1.0, colour=colour, trials=trials),
            target[colour],
            rng,
        )
        for colour in share
    }
    weight = {colour: target[colour] / sums[colour].var() for colour in share}
    signal = sum(weight[colour] * target[colour] for colour in share)
    patch = Patch(
        side_px=6,
        sub_s=1.0,
        signal_e_s=np.array([target[c] for c in share]),
        light_e_s=np.array([sky[c] for c in share]),
        dark_e_s=2.0,
        read_variance_e2=4.0,
        pixel_share=np.array(list(share.values())),
    )
    habits = Habits(calibration=Calibration(fixed_e=1.0))
    error = 1 / math.sqrt(2 * trials)
    combined = sum(weight[colour] * sums[colour] for colour in share)
    assert signal / combined.std() == pytest.approx(float(snr_per_patch(patch, habits, 12)), rel=SIGMAS * error)

    level = sum(weight[c] * (target[c] + sky[c] + 2.0) for c in share)
    with_gradient = signal / (combined + gradient * level).std()
    predicted = float(snr_per_patch(patch, replace(habits, flatness=0.01), 12))
    # the formula's floor is that of the best colour, the case that no weighting exceeds: never below what was made
    assert with_gradient < predicted * (1 + SIGMAS * error)
    worst = min(target[c] / (0.01 * (target[c] + sky[c] + 2.0)) for c in share)
    assert with_gradient > 1 / math.hypot(1 / float(snr_per_patch(patch, habits, 12)), 1 / worst)


def test_photutils_aperture_error_on_a_simulated_stack():
    """photutils.aperture: sum of a square aperture and its error from an error image."""
    from photutils.aperture import RectangularAperture, aperture_photometry

    rng = np.random.default_rng(11)
    subs, side, target, sky, read = 30, 8, 3.0, 50.0, 3.0
    frames = rng.poisson(sky, (subs, 60, 60)) + rng.normal(0, read, (subs, 60, 60))
    frames[:, 26:34, 26:34] += rng.poisson(target, (subs, side, side))
    stack = frames.sum(axis=0) - subs * sky
    error = np.sqrt(frames.var(axis=0, ddof=1) * subs)
    found = aperture_photometry(stack, RectangularAperture((29.5, 29.5), side, side), error=error)
    patch = Patch(
        side_px=side, sub_s=1.0, signal_e_s=np.array([target]), light_e_s=np.array([sky]), read_variance_e2=read**2
    )
    noise = subs * side**2 * target / float(snr_per_patch(patch, Habits(), subs))
    # the variances of 64 pixels were each told from 30 values
    assert found["aperture_sum_err"][0] == pytest.approx(noise, rel=SIGMAS / math.sqrt(2 * 29 * 64))
    assert found["aperture_sum"][0] == pytest.approx(subs * side**2 * target, abs=SIGMAS * noise)


def test_background_term_of_merline_and_howell():
    """Merline & Howell 1995, Experimental Astronomy 6, 163: noise x sqrt(1 + n_pix/n_B), here 50 and 200 pixels."""
    patch = Patch(side_px=math.sqrt(50), sub_s=100.0, signal_e_s=np.array([1e-6]), light_e_s=np.array([9.0]))
    known, told = Habits(), Habits(background_px=math.sqrt(200))
    ratio = float(snr_per_patch(patch, known, 10) / snr_per_patch(patch, told, 10))
    assert ratio == pytest.approx(math.sqrt(1 + 50 / 200), rel=1e-6)
    assert ratio == pytest.approx(1.118, abs=0.0005)


def test_ccd_equation_of_astropy():
    """astropy.stats.signal_to_noise_oir_ccd: one exposure, background known."""
    from astropy.stats import signal_to_noise_oir_ccd

    theirs = signal_to_noise_oir_ccd(3600, 1.0, 2.0, 0.1, 5, 50)
    patch = Patch(
        side_px=math.sqrt(50),
        sub_s=3600.0,
        signal_e_s=np.array([1.0 / 50]),
        light_e_s=np.array([2.0]),
        dark_e_s=0.1,
        read_variance_e2=25.0,
    )
    assert float(snr_per_patch(patch, Habits(), 1)) == pytest.approx(float(theirs), rel=1e-12)
