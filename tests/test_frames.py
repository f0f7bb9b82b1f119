"""Simulated frames: shapes, limits, seeds, and what is refused."""

import math

import numpy as np
import pytest

from expocalc.budget.calibration import Calibration
from expocalc.frames.measure.picture import binned, measured_snr, shared_limits, smoothed, stretch
from expocalc.frames.measure.stars import _light
from expocalc.frames.simulate.detector import Unevenness, even_detector, uneven_detector
from expocalc.frames.simulate.masters import calibrate, masters, mean_of
from expocalc.frames.simulate.scene import even_scene, star_shares
from expocalc.frames.simulate.shoot import bias, dark, flat, sub
from expocalc.frames.simulate.stack import STACKING, calibrated_subs, dither_offsets, stack, stack_of, stacks_of
from expocalc.gear.gain import GainSetting

PERFECT = Calibration()
NOWHERE = np.zeros((2, 2), dtype=bool)


def rng(seed=1):
    return np.random.default_rng(seed)


def setting(**changes):
    fields = {"read_noise": "1.5 electron", "electrons_per_adu": 0.5, "bias_level": 200, "full_well": "15000 electron"}
    return GainSetting(**{**fields, **changes})


# Scene


def test_patch_and_background_do_not_meet():
    scene = even_scene(0.5, (32, 48)).with_patch(0.1, 6, middle=(10, 20))
    assert scene.shape == (32, 48)
    assert scene.patch.sum() == 36
    assert not (scene.patch & scene.clear).any()
    assert scene.light_e_s[scene.patch] == pytest.approx(0.6, rel=1e-12)
    assert scene.light_e_s[scene.clear] == pytest.approx(0.5, rel=1e-12)


def test_mosaic():
    scene = even_scene([0.2, 0.5, 0.3], (8, 8)).with_patch([0.0, 0.1, 0.2], 4)
    share = {colour: float(scene.pixels(colour).mean()) for colour in scene.colours}
    assert share == {"R": 0.25, "G": 0.5, "B": 0.25}
    for colour, light in {"R": 0.2, "G": 0.6, "B": 0.5}.items():
        assert scene.light_e_s[scene.patch & scene.pixels(colour)] == pytest.approx(light, rel=1e-12)


def test_a_star_s_light_is_all_there():
    scene = even_scene(0.0, (64, 64)).with_stars([[30.3, 31.8]], [100.0], 3.0)
    assert scene.light_e_s.sum() == pytest.approx(100, rel=1e-9)
    assert np.unravel_index(scene.light_e_s.argmax(), (64, 64)) == (30, 32)


def test_stars_add_up_and_leave_clear_sky():
    scene = even_scene(0.5, (64, 64)).with_stars([[10, 10], [50, 40]], [30.0, 70.0], 2.5)
    assert scene.light_e_s.sum() == pytest.approx(0.5 * 64**2 + 100, rel=1e-9)
    assert not scene.clear[10, 10]
    assert scene.clear[30, 10]


def test_a_star_on_a_mosaic_has_a_rate_per_colour():
    scene = even_scene([0.0, 0.0, 0.0], (64, 64)).with_stars([[32, 32]], [[10.0, 20.0, 0.0]], 8.0)
    got = [float(scene.light_e_s[scene.pixels(c)].sum()) for c in "RGB"]
    assert got == pytest.approx([2.5, 10, 0], rel=1e-3)


def test_star_on_a_corner_of_four_pixels():
    share = star_shares([4.5], 10, 2.0)[0]
    assert share[4] == pytest.approx(share[5], rel=1e-12)


# Frames


def test_same_seed_same_frames():
    detector = uneven_detector(setting(), 0.01, (16, 16), seed=3)
    scene = even_scene(0.5, (16, 16))
    assert (sub(scene, detector, 60.0, rng(4)) == sub(scene, detector, 60.0, rng(4))).all()
    assert (sub(scene, detector, 60.0, rng(4)) != sub(scene, detector, 60.0, rng(5))).any()


def test_frames_do_not_change_what_they_are_made_from():
    detector, scene = uneven_detector(setting(), 0.01, (16, 16), seed=3), even_scene(0.5, (16, 16))
    before = [scene.light_e_s.copy(), detector.dark_e_s.copy(), detector.flat.copy(), detector.offset_e.copy()]
    for frame in (sub(scene, detector, 60.0, rng()), dark(detector, 60.0, rng()), bias(detector, rng())):
        calibrate(frame, masters(detector, 60.0, PERFECT, rng()), detector.setting)
    flat(detector, 5000.0, rng())
    after = [scene.light_e_s, detector.dark_e_s, detector.flat, detector.offset_e]
    assert all((a == b).all() for a, b in zip(after, before, strict=True))


def test_stored_numbers_are_native_steps():
    frame = sub(even_scene(3.0), even_detector(setting(native_step=16, bits=12), 0.0, (128, 128)), 60.0, rng())
    assert set(np.unique(frame % 16)) == {0}


def test_full_well():
    frame = sub(even_scene(1e5, (8, 8)), even_detector(setting(read_noise="0 electron"), 0.0, (8, 8)), 60.0, rng())
    assert (frame == 200 + 15000 / 0.5).all()


def test_full_converter():
    detector = even_detector(setting(bits=12), 0.0, (8, 8))
    assert (sub(even_scene(1e5, (8, 8)), detector, 60.0, rng()) == 4095).all()


def test_nothing_below_zero_is_stored():
    detector = even_detector(setting(bias_level=0), 0.0, (64, 64))
    assert bias(detector, rng()).min() == 0


def test_bias_level_where_none_is_given():
    detector = even_detector(setting(bias_level=None), 0.0, (128, 128))
    frame = bias(detector, rng())
    assert frame.min() > 0
    assert frame.mean() == pytest.approx(detector.bias_adu, abs=4 * 3 / 128)


def test_dither_moves_the_sky_over_the_detector():
    scene = even_scene(0.0, (16, 16)).with_patch(10.0, 1, middle=(4, 5))
    detector = even_detector(setting(read_noise="0 electron"), 0.0, (16, 16))
    moved = sub(scene, detector, 60.0, rng(), (2, 3))
    assert np.argwhere(moved > 200).tolist() == [[6, 8]]


def test_red_stays_on_red():
    scene, detector = even_scene([1.0, 2.0, 3.0], (8, 8)), even_detector(setting(), 0.0, (8, 8))
    with pytest.raises(ValueError, match=r"offset must be even on a mosaic.*got \(1, 2\)"):
        sub(scene, detector, 60.0, rng(), (1, 2))


def test_hot_pixels_go_with_the_dark():
    detector = uneven_detector(setting(), 0.0, (64, 64), 1, Unevenness(hot_share=0.02, hot_e_s=5.0))
    hot = detector.dark_e_s > 1
    assert 0.01 < hot.mean() < 0.03
    frame = sub(even_scene(0.1, (64, 64)), detector, 60.0, rng())
    calibrated = calibrate(frame, masters(detector, 60.0, PERFECT, rng()), detector.setting)
    assert calibrated[hot].mean() == pytest.approx(6, abs=4 * math.sqrt(308 / hot.sum()))


# Calibration


def test_perfect_masters_take_all_pattern_away():
    quiet = setting(read_noise="0 electron", electrons_per_adu=0.1, bits=32, full_well="1e8 electron")
    detector = uneven_detector(quiet, 0.05, (16, 16), 2, Unevenness(offset_e=5, dark_share=1, flat_share=0.1))
    scene = even_scene(1e5, (16, 16))
    # 1e7 electrons: photon noise is 10^-3.5, where the flat's pattern is 10 %; dark pixels have more noise
    taken = calibrate(sub(scene, detector, 100.0, rng()), masters(detector, 100.0, PERFECT, rng()), quiet)
    assert taken / 1e7 == pytest.approx(1, abs=6 * 10**-3.5)


def test_a_leftover_pattern_stays():
    detector = uneven_detector(setting(), 0.0, (64, 64), 2, Unevenness(leftover_e=20.0))
    picture = calibrate(
        mean_of(50, lambda: sub(even_scene(0.1, (64, 64)), detector, 10.0, rng())),
        masters(detector, 10.0, PERFECT, rng()),
        detector.setting,
    )
    assert np.corrcoef(picture.ravel(), detector.leftover_e.ravel())[0, 1] > 0.98


def test_mean_of_one():
    assert mean_of(1, lambda: np.ones(3)).tolist() == [1, 1, 1]


# Stacks


def test_dithered_subs_lie_on_each_other():
    scene = even_scene(0.0, (16, 16)).with_patch(50.0, 2)
    detector = even_detector(setting(read_noise="0 electron"), 0.0, (16, 16))
    offsets = dither_offsets(6, 1, 9, rng())
    frames = calibrated_subs(scene, detector, masters(detector, 60.0, PERFECT, rng()), 60.0, offsets, rng())
    assert frames.shape == (6, 16, 16)
    assert ((frames > 100) == scene.patch).all()


def test_offsets():
    offsets = dither_offsets(7, 3, 4, rng(), step_px=2)
    assert offsets.shape == (7, 2)
    assert set(np.unique(offsets)) <= {0, 2, 4}
    assert (offsets[:3] == offsets[0]).all()
    assert (offsets[3:6] == offsets[3]).all()


def test_no_box_no_dither():
    assert not dither_offsets(5, 1, 0, rng()).any()


@pytest.mark.parametrize("how", STACKING)
def test_stack_of_equal_frames(how):
    frame = rng().normal(size=(4, 5))
    assert stack(np.stack([frame] * 9), how) == pytest.approx(frame, rel=1e-12)


def test_stack_does_not_change_its_frames():
    frames = rng().normal(size=(9, 4, 5))
    before = frames.copy()
    for how in STACKING:
        stack(frames, how)
    assert (frames == before).all()


def test_each_picture_holds_those_before():
    scene, detector = even_scene(0.3, (32, 32)), even_detector(setting(), 0.0, (32, 32))
    first, second = stacks_of(scene, detector, 60.0, (100, 101), rng())
    # one more sub changes the mean of a hundred by a hundredth of its own noise
    assert (second - first).std() == pytest.approx(math.sqrt(18 + 1.5**2) / 100, rel=0.15)
    assert (first == stack_of(scene, detector, 60.0, 100, rng())).all()


def test_full_well_in_a_stack():
    scene = even_scene(0.1, (32, 32)).with_stars([[16, 16]], [1e5], 2.0)
    assert stack_of(scene, even_detector(setting(), 0.0, (32, 32)), 60.0, 10, rng()).max() == 15000


# Measures


def test_binning_keeps_the_mean_and_drops_the_rest():
    picture = rng().normal(size=(7, 9))
    assert binned(picture, 3).shape == (2, 3)
    assert binned(picture, 3).mean() == pytest.approx(picture[:6].mean(), rel=1e-12)
    assert (binned(picture, 1) == picture).all()


def test_smoothing_keeps_the_light():
    picture = rng().normal(5, 1, (32, 48))
    assert smoothed(picture, 3.0).mean() == pytest.approx(picture.mean(), rel=1e-12)
    assert smoothed(picture, 0.0) == pytest.approx(picture, rel=1e-12)


def test_limits_are_shared():
    low, high = shared_limits([np.zeros(100), np.linspace(0, 10, 100)])
    assert low == 0
    assert 9 < high <= 10
    assert shared_limits([np.ones(5)]) == (1.0, 2.0)


def test_stretch_of_a_gap():
    assert np.isnan(stretch(np.array([np.nan]), 0, 1)).all()


def test_measured_without_grain():
    patch = np.eye(4, dtype=bool)
    assert measured_snr(patch * 1.0, patch, ~patch).snr_patch == math.inf


# Refusals


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: even_scene([0.1, 0.2]), r"sky_e_s must be one rate \(mono\) or three .* got 2"),
        (lambda: even_scene(-0.1), "sky_e_s must be finite and at least 0 electron/s, got"),
        (lambda: even_scene(math.nan), "sky_e_s must be finite"),
        (lambda: even_scene([1, 2, 3], (7, 8)), "shape must be two even, whole numbers .* got 7 x 8"),
        (lambda: even_scene(1, (0, 8)), "got 0 x 8"),
        (lambda: even_scene(1, (99999, 8)), "from 1 to 16384 pixel"),
        (lambda: even_scene(1, (8, 8)).with_patch(0.1, 9), "patch must lie within the scene of 8 x 8 pixels"),
        (lambda: even_scene(1, (8, 8)).with_patch([0.1, 0.2], 3), "patch_e_s must be one rate"),
        (lambda: even_scene(1, (8, 8)).with_stars([[1, 1]], [-5.0], 2.0), "finite light of at least 0"),
        (lambda: even_scene(1, (8, 8)).with_stars([[1, 1]], [5.0], 0.0), "fwhm_px must be above 0 pixel, got 0"),
        (lambda: even_scene(1).pixels("R"), "colour must be one of mono, got 'R'"),
        (lambda: even_detector(setting(), -1.0, (8, 8)), "dark_e_s must be at least 0 electron/s, got -1"),
        (lambda: uneven_detector(setting(), math.nan, (8, 8), 1), "dark_e_s must be at least 0"),
        (lambda: Unevenness(flat_share=-1), "flat_share must be at least 0 and finite, got -1"),
        (lambda: Unevenness(hot_share=2), "hot_share must be at most 1, got 2"),
        (lambda: sub(even_scene(1, (8, 8)), even_detector(setting(), 0, (8, 9)), 1.0, rng()), "must have one shape"),
        (lambda: sub(even_scene(1, (8, 8)), even_detector(setting(), 0, (8, 8)), 0.0, rng()), "sub_s must be above 0"),
        (lambda: dark(even_detector(setting(), 0, (8, 8)), math.inf, rng()), "sub_s must be above 0 s, got inf"),
        (lambda: mean_of(0, lambda: np.ones(1)), "count must be at least 1, got 0"),
        (lambda: dither_offsets(0, 1, 5, rng()), "a dither needs subs, every and step_px of at least 1"),
        (lambda: stack(np.ones((3, 2, 2)), "average"), "stacking must be one of mean, clipped mean, median, got"),
        (lambda: stacks_of(even_scene(1), even_detector(setting(), 0, (128, 128)), 1.0, (5, 5), rng()), "increase"),
        (lambda: stacks_of(even_scene(1), even_detector(setting(), 0, (128, 128)), 1.0, (), rng()), "increase"),
        (lambda: stack_of(even_scene(1), even_detector(setting(), 0, (128, 128)), -1.0, 5, rng()), "sub_s must be"),
        (lambda: binned(np.ones((4, 4)), 5), "side_px must be 1 to 4 pixel, got 5"),
        (lambda: smoothed(np.ones((4, 4)), -1.0), "fwhm_px must be at least 0 pixel"),
        (lambda: stretch(np.ones(3), 2.0, 2.0), "low must be below high, got 2 and 2"),
        (lambda: measured_snr(np.ones((2, 2)), NOWHERE, ~NOWHERE), "needs a pixel of patch and two of background"),
    ],
)
def test_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_what_is_no_star_has_a_light_all_the_same():
    """Medians of moments, each for itself, that no Gaussian has."""
    box, seen = np.ones((3, 5, 5)), np.ones((3, 5, 5), dtype=bool)
    offsets, zero = np.arange(-2, 3), np.zeros(3)
    light = _light(box, seen, (offsets, zero, zero), (np.full(3, 0.5), np.full(3, 0.5), np.full(3, 2.0)))
    assert np.all(np.isfinite(light))
    assert np.all(light > 0)
