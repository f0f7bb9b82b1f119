import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.assumed import assumptions
from expocalc.budget.rates import rates
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.plan import Plan

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"


@pytest.fixture(scope="module")
def plan():
    """A colour camera whose filter passes two extended lights and a star."""
    light = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "20 R"}, {"star": "17 mag"}]
    return Plan.read(PLANS / "colour-dual-band.toml").with_values({("target", "light"): light})


@pytest.mark.parametrize("light", ["H-alpha", "O III"])
def test_a_patch_holds_all_that_its_pixels_collect_once(plan, light):
    rate = rates(plan.case, plan.case.filters[0])
    patch = patch_of(plan.case, rate, light, 60.0)
    np.testing.assert_allclose(patch.signal_e_s, rate.extended[light])
    np.testing.assert_allclose(patch.signal_e_s + patch.light_e_s + patch.dark_e_s, rate.background_e_s)
    assert patch.side_px == pytest.approx(float(plan.case.target.patch.value) / rate.scale_arcsec)


def test_a_star_is_spread_over_the_area_of_its_fit(plan):
    rate = rates(plan.case, plan.case.filters[0])
    patch = patch_of(plan.case, rate, "star", 60.0)
    assert patch.side_px**2 == pytest.approx(2.266 * rate.fwhm_px**2, rel=1e-3)
    np.testing.assert_allclose(patch.signal_e_s * patch.side_px**2, rate.stars["star"])
    np.testing.assert_allclose(patch.light_e_s + patch.dark_e_s, rate.background_e_s)


def test_what_a_plan_leaves_out_is_assumed(plan):
    bare = plan.with_values({("routine", key): None for key in plan.values["routine"]})
    habits = habits_of(bare.case, 2.0)
    assert habits.calibration.darks == habits.calibration.flats == 30
    assert assumptions(bare.case.routine) == (
        "30 darks", "30 flats", "a background even to 0.03 %", "no dither", "no spoilt subs", "no pause between subs"
    )  # fmt: skip
    assert habits.dither_every == habits.background_px == math.inf
    assert habits.flatness == 3e-4
    assert habits.estimator.stacking == "mean"


def test_perfect_is_perfect_and_none_leaves_all_in(plan):
    """Without darks the dark current's unevenness stays, without flats that of the light."""
    said = {("routine", kind): "perfect" for kind in ("darks", "flats")}
    perfect = habits_of(plan.with_values(said).case, 2.0).calibration
    assert perfect.darks == perfect.flats == math.inf
    none = habits_of(plan.with_values(dict.fromkeys(said, "none")).case, 2.0).calibration
    assert none.darks == none.flats == math.inf, "no noise of masters where there are none"
    assert none.dark_pattern == 1
    assert none.flat_pattern**2 == pytest.approx(perfect.flat_pattern**2 + 0.01**2)
    assert none.fixed_e**2 == pytest.approx(perfect.fixed_e**2 + 0.5**2)


def test_habits_of_a_plan(plan):
    changed = plan.with_values(
        {
            ("routine", "darks"): 20,
            ("routine", "flats"): 25,
            ("routine", "flat_level"): 0.5,
            ("routine", "background_patch"): "60 arcsec",
            ("routine", "background_flatness"): 0.002,
            ("routine", "stacking"): "clipped mean",
            ("routine", "clip"): 2.5,
            ("routine", "dither_size"): "12 pixel",
            ("routine", "dither_every"): 4,
            ("camera", "pattern"): {"fixed": "0.5 electron", "flat": 0.001},
        }
    )
    habits, well = habits_of(changed.case, 2.0), float(changed.case.camera.setting.full_well.value)
    calibration = habits.calibration
    assert (calibration.darks, calibration.flats, calibration.flat_e) == (20, 25, 0.5 * well)
    assert (calibration.fixed_e, calibration.flat_pattern) == (0.5, 0.001)
    assert (habits.dither_every, habits.dither_box_px, habits.background_px, habits.flatness) == (4, 12, 30, 0.002)
    assert (habits.estimator.stacking, habits.estimator.clip) == ("clipped mean", 2.5)
    assert habits.estimator.native_step_e == changed.case.camera.setting.native_step_e


def test_a_star_s_noise_is_that_of_the_area_of_its_fit_in_all_colours(plan):
    """King 1983: 4 pi sigma^2, which is 2.266 FWHM^2; squares of SNR add over colours."""
    alone = plan.with_values({("target", "light"): [{"star": "17 mag"}]})
    (row,), rate = alone.solve().rows, rates(alone.case, alone.case.filters[0])
    expected = row.target_e_s / (2.266 * rate.fwhm_px**2 * row.sky_e_s)
    assert row.noise_share["target"] / row.noise_share["sky"] == pytest.approx(expected, rel=1e-3)
    patch = patch_of(alone.case, rate, "star", row.sub_s)
    snr = float(snr_per_patch(patch, habits_of(alone.case, rate.scale_arcsec), row.kept))
    assert row.snr_patch == pytest.approx(snr, rel=1e-9)
