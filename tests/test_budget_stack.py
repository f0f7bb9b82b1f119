import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expocalc.budget.calibration import Calibration
from expocalc.budget.dither import dither_overlap, dither_share
from expocalc.budget.estimator import Estimator, estimator_warning, median_refusal
from expocalc.budget.patch import Habits, Patch, resized
from expocalc.budget.reach import signal_for_snr, subs_for_snr
from expocalc.budget.stack import (
    ELEMENT_AREA,
    calibration_share,
    snr_ceiling,
    snr_per_element,
    snr_per_patch,
    snr_per_pixel,
    stack_snr2,
)

FAINT = Patch(
    side_px=12.0,
    sub_s=180.0,
    signal_e_s=np.array([0.02, 0.01, 0.001]),
    light_e_s=np.array([0.3, 0.4, 0.2]),
    dark_e_s=0.002,
    read_variance_e2=2.0,
    pixel_share=np.array([0.25, 0.5, 0.25]),
)
MASTERS = Calibration(darks=30, flats=30, flat_e=2e4, fixed_e=0.5, flat_pattern=1e-3)
USUAL = Habits(calibration=MASTERS, dither_every=2, dither_box_px=10, background_px=60, flatness=1e-3)
ESTIMATORS = [
    Estimator(),
    Estimator(stacking="clipped mean", clip=2.5),
    Estimator(stacking="median", native_step_e=0.25),
]


def _seen_by(colour: int) -> Patch:
    picked = {name: np.asarray(getattr(FAINT, name))[[colour]] for name in ("signal_e_s", "light_e_s", "pixel_share")}
    return replace(FAINT, **picked)


# --- dither ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("positions", [1, 2, 5, 11])
@pytest.mark.parametrize("side", [1, 2, 7, 11, 30])
def test_overlap_is_the_mean_over_all_pairs_of_places(positions, side):
    places = np.arange(positions)
    shared = np.maximum(0, 1 - np.abs(places[:, None] - places) / side).mean()
    assert dither_overlap(positions - 1, side) == pytest.approx(shared, rel=1e-12)


def test_patch_wider_than_the_box_is_not_rescued():
    """An earlier simulation: N = 120, m = 2, patch 10 px, box 10 px leaves 0.41 of the common noise, not 0.017."""
    assert dither_share(120, 2, 10, 10) == pytest.approx(0.41, abs=0.01)


def test_share_without_dither_is_all():
    np.testing.assert_array_equal(dither_share(np.array([1, 10, 1000]), math.inf, 10, 3), 1.0)


def test_one_pixel_and_a_wide_box_keep_one_part_per_dither():
    assert dither_share(100, 4, 1e6, 1) == pytest.approx(0.04, rel=1e-3)


@pytest.mark.parametrize("every", [1, 4, 30])
def test_the_stack_leaves_the_share_of_the_common_noise_that_dithers_do(every):
    """Also where there are several subs between two dithers."""
    light = Patch(side_px=6.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]))
    habits = Habits(calibration=Calibration(fixed_e=3.0), dither_every=every, dither_box_px=20)
    share = float(calibration_share(light, habits, 60)[0])
    assert share / (1 - share) == pytest.approx(60 * float(dither_share(60, every, 20, 6)) * 9 / 126, rel=1e-9)


# --- the estimate of the background ---------------------------------------------------------------------------------


def test_the_background_s_estimate_costs_noise_of_what_lies_behind_alone():
    """Merline & Howell 1995: N / sqrt(N + n (1 + n/n_B) (N_S + N_D + N_R^2)), for a target brighter than the sky."""
    light = Patch(
        side_px=6.0, sub_s=10.0, signal_e_s=np.array([5.0]), light_e_s=np.array([1.0]), dark_e_s=0.2, read_variance_e2=3
    )
    target, behind = 36 * 50.0, 36 * (1 + 36 / 144) * (10.0 + 2.0 + 3.0)
    expected = target / math.sqrt(target + behind)
    assert float(snr_per_patch(light, Habits(background_px=12), 1)) == pytest.approx(expected, rel=1e-12)


def test_a_pattern_that_stays_is_in_the_background_s_estimate_too():
    """A simulation: the sum over a patch, less as many means of the background, of patterns of 2 electrons."""
    pattern = np.random.default_rng(5).normal(0, 2, (20_000, 16 + 64))
    left = pattern[:, :16].sum(axis=1) - 16 * pattern[:, 16:].mean(axis=1)
    light = Patch(side_px=4.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]))
    habits = Habits(calibration=Calibration(fixed_e=2.0), background_px=8)
    assert float(snr_ceiling(light, habits)) == pytest.approx(16 * 6.0 / left.std(), rel=0.02)


# --- laws -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("estimator", ESTIMATORS, ids=lambda e: e.stacking)
def test_colours_add_their_squares(estimator):
    habits = replace(USUAL, flatness=0.0, estimator=estimator)
    alone = sum(stack_snr2(_seen_by(colour), habits, 40) for colour in range(3))
    assert stack_snr2(FAINT, habits, 40) == pytest.approx(float(alone), rel=1e-12)


def test_colours_do_not_add_at_the_floor():
    """No number of colours lifts the floor of the best one."""
    best = max(0.02 / 0.322, 0.01 / 0.412, 0.001 / 0.203)
    habits = Habits(flatness=0.004)
    assert snr_ceiling(FAINT, habits) == pytest.approx(best / 0.004, rel=1e-12)
    assert snr_per_patch(FAINT, habits, 1e12) == pytest.approx(best / 0.004, rel=1e-6)


def test_square_root_law_where_nothing_is_common():
    subs = np.array([10.0, 40.0, 160.0, 640.0])
    snr = snr_per_patch(FAINT, Habits(background_px=60), subs)
    np.testing.assert_allclose(snr[1:] / snr[:-1], 2.0, rtol=1e-12)
    assert snr_ceiling(FAINT, Habits(background_px=60)) == math.inf


def test_floor_bends_the_square_root_law():
    subs = np.geomspace(10, 1e9, 30)
    for habits in (Habits(calibration=MASTERS), Habits(flatness=0.01), replace(USUAL, dither_box_px=2)):
        snr, ceiling = snr_per_patch(FAINT, habits, subs), snr_ceiling(FAINT, habits)
        slope = np.diff(np.log(snr)) / np.diff(np.log(subs))
        assert np.all(np.diff(slope) < 1e-12)
        assert slope[-1] < 0.01
        assert snr[-1] < ceiling
        assert snr[-1] == pytest.approx(ceiling, rel=1e-3)


def test_twice_the_hours_is_not_twice_the_snr():
    """Common practice, no source: twice the hours is x1.41 in SNR."""
    assert snr_per_patch(FAINT, Habits(), 200) / snr_per_patch(FAINT, Habits(), 100) == pytest.approx(1.41, abs=0.005)


def test_two_magnitudes_of_sky_are_six_times_the_hours():
    """Common practice, no source: two magnitudes of sky are x6.3 in sky-limited hours."""
    dim = Patch(side_px=10.0, sub_s=300.0, signal_e_s=np.array([1e-3]), light_e_s=np.array([50.0]))
    bright = replace(dim, light_e_s=dim.light_e_s * 10**0.8)
    assert subs_for_snr(bright, Habits(), 5.0) / subs_for_snr(dim, Habits(), 5.0) == pytest.approx(6.3, abs=0.05)


def test_the_three_kinds_of_snr():
    alone = Habits()
    assert snr_per_patch(FAINT, alone, 50) == pytest.approx(12 * snr_per_pixel(FAINT, alone, 50), rel=1e-12)
    element = snr_per_element(FAINT, alone, 50, 3.0)
    assert element == pytest.approx(3 * math.sqrt(ELEMENT_AREA) * snr_per_pixel(FAINT, alone, 50), rel=1e-12)
    assert pytest.approx(2.266, abs=5e-4) == ELEMENT_AREA
    quarter = snr_per_patch(resized(FAINT, 6.0), alone, 50)
    assert quarter == pytest.approx(snr_per_patch(FAINT, alone, 50) / 2, rel=1e-12)


# --- subs and depth -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("estimator", ESTIMATORS, ids=lambda e: e.stacking)
@pytest.mark.parametrize("every", [1, 7, math.inf])
def test_subs_reach_the_goal_and_no_more(estimator, every):
    habits = replace(USUAL, estimator=estimator, dither_every=every)
    goals = float(snr_ceiling(FAINT, habits)) * np.array([0.01, 0.1, 0.3, 0.9, 0.999, 1.0001, 30.0])
    subs = subs_for_snr(FAINT, habits, goals)
    np.testing.assert_allclose(snr_per_patch(FAINT, habits, subs[:5]), goals[:5], rtol=1e-8)
    assert np.all(np.isinf(subs[5:]))


def test_no_signal_takes_for_ever():
    dark = replace(FAINT, signal_e_s=np.zeros(3))
    assert subs_for_snr(dark, USUAL, 5.0) == math.inf
    assert snr_ceiling(dark, USUAL) == 0
    assert signal_for_snr(dark, USUAL, 100, 5.0) == math.inf


def test_a_colour_without_light_changes_nothing():
    two = replace(FAINT, signal_e_s=np.array([0.02, 0.01, 0.0]))
    first = replace(FAINT, **{k: getattr(FAINT, k)[:2] for k in ("signal_e_s", "light_e_s", "pixel_share")})
    assert subs_for_snr(two, USUAL, 8.0) == subs_for_snr(first, USUAL, 8.0)


@pytest.mark.parametrize("estimator", ESTIMATORS, ids=lambda e: e.stacking)
def test_depth_is_the_inverse_of_subs(estimator):
    habits = replace(USUAL, estimator=estimator)
    times = signal_for_snr(FAINT, habits, np.array([40, 400]), 7.0)
    for n, x in zip((40, 400), times, strict=True):
        assert snr_per_patch(replace(FAINT, signal_e_s=FAINT.signal_e_s * x), habits, n) == pytest.approx(7, rel=1e-9)


def test_depth_beyond_every_signal():
    """A target brighter than everything is the background: the flatness caps its SNR at 1/epsilon."""
    assert signal_for_snr(FAINT, Habits(flatness=0.1), 1000, 9.9) < math.inf
    assert signal_for_snr(FAINT, Habits(flatness=0.1), 1000, 10.1) == math.inf


def test_arrays_broadcast_over_draws_and_subs():
    rng = np.random.default_rng(1)
    draws = replace(FAINT, signal_e_s=FAINT.signal_e_s * rng.lognormal(0, 0.3, (50, 1)))
    snr2 = stack_snr2(draws, USUAL, np.array([[10.0], [100.0]]))
    assert snr2.shape == (2, 50)
    one = replace(FAINT, signal_e_s=draws.signal_e_s[7])
    assert snr2[1, 7] == pytest.approx(float(stack_snr2(one, USUAL, 100)), rel=1e-12)
    subs = subs_for_snr(draws, USUAL, 10.0)
    assert subs.shape == (50,)
    assert subs[7] == pytest.approx(float(subs_for_snr(one, USUAL, 10.0)), rel=1e-8)
    assert signal_for_snr(draws, USUAL, 100, 10.0).shape == (50,)


def test_undithered_median_is_that_of_the_random_noise_alone():
    """What all subs share passes every estimator unchanged."""
    habits = Habits(calibration=Calibration(fixed_e=3.0), estimator=ESTIMATORS[2])
    common = stack_snr2(FAINT, Habits(calibration=Calibration(fixed_e=3.0)), 1e14)
    alone = stack_snr2(_seen_by(0), replace(habits, calibration=Calibration()), 30)
    both = stack_snr2(_seen_by(0), habits, 30)
    limit = stack_snr2(_seen_by(0), Habits(calibration=Calibration(fixed_e=3.0)), 1e14)
    assert 1 / both == pytest.approx(float(1 / alone + 1 / limit), rel=1e-6)
    assert common > limit


# --- estimator ------------------------------------------------------------------------------------------------------


def test_median_is_refused_below_two_steps():
    assert median_refusal(4.001, 1.0, 1.0) is None
    assert "1.7 steps of the converter" in str(median_refusal(3.0, 1.0, 1.0))
    coarse = replace(USUAL, estimator=Estimator(stacking="median", native_step_e=100.0))
    assert subs_for_snr(FAINT, coarse, 1.0) == math.inf
    assert subs_for_snr(FAINT, replace(coarse, dither_every=math.inf), 1.0) == math.inf


def test_median_is_refused_where_electrons_stand_apart():
    assert "steps of one electron" in str(median_refusal(1.0, 0.1, 0.05))
    assert median_refusal(1.0, 0.9, 0.05) is None


def test_warning_of_few_clipped_subs():
    assert "never reject a lone outlier among 9 subs" in str(estimator_warning("clipped mean", 9))
    assert "may miss a lone outlier among 14 subs" in str(estimator_warning("clipped mean", 14))
    assert estimator_warning("clipped mean", 15) is None
    assert estimator_warning("median", 4) is None


# --- properties -----------------------------------------------------------------------------------------------------

rate = st.floats(1e-6, 1e4)
positive = {
    "signal": st.lists(rate, min_size=3, max_size=3),
    "light": st.lists(rate, min_size=3, max_size=3),
    "dark": st.floats(0, 100),
    "read": st.floats(0, 2500),
    "side": st.floats(1, 500),
    "sub": st.floats(0.1, 3600),
}


@st.composite
def _cases(draw):
    v = {name: draw(kind) for name, kind in positive.items()}
    patch = Patch(
        side_px=v["side"],
        sub_s=v["sub"],
        signal_e_s=np.array(v["signal"]),
        light_e_s=np.array(v["light"]),
        dark_e_s=v["dark"],
        read_variance_e2=v["read"],
        pixel_share=np.array([0.25, 0.5, 0.25]),
    )
    habits = Habits(
        estimator=draw(st.sampled_from(ESTIMATORS[:2])),
        calibration=Calibration(
            darks=draw(st.sampled_from([1, 20, math.inf])),
            flats=draw(st.sampled_from([1, 20, math.inf])),
            flat_e=2e4,
            fixed_e=draw(st.floats(0, 50)),
            flat_pattern=draw(st.floats(0, 0.05)),
        ),
        dither_every=draw(st.sampled_from([1, 3, math.inf])),
        dither_box_px=draw(st.floats(0, 100)),
        background_px=draw(st.sampled_from([10.0, 500.0, math.inf])),
        flatness=draw(st.sampled_from([0.0, 1e-3, 0.05])),
    )
    return patch, habits, draw(st.integers(1, 20_000))


@settings(deadline=None, max_examples=200)
@given(_cases(), st.floats(1, 100))
def test_more_light_and_subs_never_lower_snr(case, times):
    patch, habits, subs = case
    snr2 = float(stack_snr2(patch, habits, subs)) * (1 - 1e-9)
    assert stack_snr2(patch, habits, subs * times) >= snr2
    for colour in range(3):
        brighter = patch.signal_e_s.copy()
        brighter[colour] *= times
        assert stack_snr2(replace(patch, signal_e_s=brighter), habits, subs) >= snr2
    collected = {name: getattr(patch, name) * times for name in ("signal_e_s", "light_e_s")}  # more aperture
    assert stack_snr2(replace(patch, **collected), habits, subs) >= snr2


@settings(deadline=None, max_examples=200)
@given(_cases(), st.floats(1, 100))
def test_more_sky_dark_and_read_noise_never_raise_snr(case, times):
    patch, habits, subs = case
    snr2 = float(stack_snr2(patch, habits, subs)) * (1 + 1e-9)
    for name in ("light_e_s", "dark_e_s", "read_variance_e2"):
        assert stack_snr2(replace(patch, **{name: getattr(patch, name) * times}), habits, subs) <= snr2


@pytest.mark.parametrize("estimator", ESTIMATORS, ids=lambda e: e.stacking)
def test_hundred_thousand_random_plans_end_or_plainly_do_not(estimator):
    rng = np.random.default_rng(20261124)
    draws = 100_000 if estimator.stacking != "median" else 20_000

    def log(low, high, *shape):
        return np.exp(rng.uniform(math.log(low), math.log(high), (draws, *shape)))

    def some(values, *shape):
        return rng.choice(values, (draws, *shape))

    patch = Patch(
        side_px=log(1, 3000),
        sub_s=log(0.01, 86400),
        signal_e_s=log(1e-9, 1e5, 3) * some([0, 1, 1], 3),
        light_e_s=log(1e-6, 1e6, 3) * some([0, 1, 1], 3),
        dark_e_s=log(1e-6, 1e3, 1) * some([0, 1, 1], 1),
        read_variance_e2=log(1e-4, 1e6, 1) * some([0, 1, 1], 1),
        pixel_share=np.array([0.25, 0.5, 0.25]),
    )
    habits = Habits(
        estimator=estimator,
        calibration=Calibration(
            darks=some([1.0, 30.0, 1e5, math.inf], 1),
            flats=some([1.0, 30.0, math.inf], 1),
            flat_e=log(10, 1e6, 1),
            fixed_e=log(1e-3, 1e3, 1) * some([0, 1], 1),
            flat_pattern=log(1e-5, 0.9, 1) * some([0, 1], 1),
        ),
        dither_every=some([1.0, 5.0, 1e4, math.inf]),
        dither_box_px=log(0.1, 2000) * some([0, 1]),
        background_px=some([1.0, 100.0, math.inf]),
        flatness=log(1e-5, 0.9) * some([0, 1]),
    )
    goal = log(1e-3, 1e6)
    subs, ceiling = subs_for_snr(patch, habits, goal), snr_ceiling(patch, habits)
    assert not np.isnan(subs).any()
    assert not np.isnan(ceiling).any()
    assert (subs > 0).all()
    assert np.isinf(subs[goal > ceiling * (1 + 1e-9)]).all()
    ends = np.isfinite(subs)
    assert 0.05 < ends.mean() < 0.95
    # more than 1e15 subs are taken as no number of subs
    assert ends[(goal < ceiling * 0.999) & (snr_per_patch(patch, habits, 1e14) > goal)].all()
    reached = snr_per_patch(patch, habits, np.where(ends, subs, 1.0))
    np.testing.assert_allclose(reached[ends], goal[ends], rtol=1e-6)
