"""Terms that change an answer too little for other tests to see, each held by a law or a simulation of its own."""

import dataclasses
import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest
from astropy.coordinates import angular_separation

from expocalc.base.curve import Curve
from expocalc.base.photometry import standard_band
from expocalc.budget.calibration import Calibration
from expocalc.budget.counts import Count
from expocalc.budget.dither import dither_share
from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import draw
from expocalc.budget.estimator import Estimator, median_factor
from expocalc.budget.inputs import normal_draws
from expocalc.budget.limits import sub_limits
from expocalc.budget.moment import Off, moment_of
from expocalc.budget.passed import passed
from expocalc.budget.patch import Habits, Patch
from expocalc.budget.practice import read_practice
from expocalc.budget.ranges import shares_of
from expocalc.budget.rates import rates, rates_at
from expocalc.budget.spread import spread
from expocalc.budget.stack import parts_of
from expocalc.budget.stacked import habits_of
from expocalc.budget.worth_measuring import worth_measuring
from expocalc.light.airmass import airmass, natural_factor
from expocalc.light.lamps import lamp_spectrum
from expocalc.light.mix import bluer_by, bluer_spectrum
from expocalc.light.town import MeasuredRate, Town
from expocalc.light.unlisted import unlisted_covariance
from expocalc.night.almanac import Track, separation_deg
from expocalc.night.cadence import CADENCES, best_cadence
from expocalc.night.losses import learn_losses
from expocalc.night.moments import ZENITH, moments_of, rates_over
from expocalc.night.moon_cost import ACCURACY, moon_costs
from expocalc.night.night import tonight_of
from expocalc.night.ranking import _year
from expocalc.night.windows import almanac_of, site_evening, windows_of
from expocalc.night.worth import reference_of, worth_of, worth_over
from expocalc.plan import Plan

MONO = Path(__file__).resolve().parents[1] / "notebooks/plans/mono-single-lines.toml"


@pytest.fixture(scope="module")
def mono():
    return Plan.read(MONO)


# --- the stack


@pytest.mark.parametrize("every", [1, 2, 5])
def test_what_subs_share_follows_the_formula_of_the_stack(every):
    """N G + (kappa - 1)(1 - G), over N: what a dither makes new is stacked as noise is."""
    patch = Patch(side_px=4.0, sub_s=60.0, signal_e_s=np.array([0.1]), light_e_s=np.array([2.0]), read_variance_e2=2.0)
    how = Habits(
        estimator=Estimator(stacking="clipped mean", clip=1.5),
        calibration=Calibration(fixed_e=3.0), dither_every=every, dither_box_px=20,
    )  # fmt: skip
    subs = 30.0
    kappa, g = float(how.estimator.factor(subs, 9.0, 2.0)), float(dither_share(subs, every, 20, 4.0))
    assert kappa > 1.2
    _, common = parts_of(patch, how).noise_e2(np.array([subs]))
    assert common.item() == pytest.approx((g + (kappa - 1) * (1 - g) / subs) * 3.0**2)


@pytest.mark.parametrize("step_e", [1.5, 2.0, 3.0])
def test_a_median_of_endless_subs_keeps_the_error_of_rounding(step_e):
    """A value that is rounded is wrong by a twelfth of a step squared, as the offsets of pixels lie anywhere."""
    read_e2, subs = 40.0, 10_000_001
    offsets = np.linspace(0, step_e, 2001)
    rounded = np.round(offsets / step_e) * step_e  # the median of endless values of one offset
    floor_e2 = float(np.mean((rounded - offsets) ** 2))
    assert median_factor(subs, read_e2, read_e2, step_e) / subs * read_e2 == pytest.approx(floor_e2, rel=0.02)


def test_a_pattern_of_the_camera_stays_beside_that_of_missing_flats(mono):
    """Independent patterns add as squares."""
    own = mono.with_values({("camera", "pattern"): {"flat": 0.01}, ("routine", "flats"): "none"})
    assert habits_of(own.case, 2.0).calibration.flat_pattern == pytest.approx(0.01 * math.sqrt(2))


def test_a_mount_that_holds_longer_than_the_best_sub_is_not_what_ends_it(mono):
    """Losses end it, unless the mount ends it earlier."""
    stated = mono.with_values({
        ("routine", "longest_sub"): None, ("routine", "sub_length"): "60 s",
        ("goal", "unsaturated_star"): None, ("goal", "sky_share_of_well"): 1,
    })  # fmt: skip
    best_s = stated.solve().rows[0].sub_best_s
    for times, bound in ((1.5, "losses"), (0.9, "mount")):
        held = stated.with_values({("routine", "longest_sub"): f"{times * best_s} s"})
        assert held.solve().rows[0].bounded_by == bound


# --- the brightest star


def test_the_brightest_star_may_fill_no_colour_s_well():
    """The sub ends when the colour that sees most of it is full, whatever the others hold."""
    plan = Plan.read(MONO.with_name("colour-dual-band.toml")).with_values({("goal", "unsaturated_star"): "9 mag"})
    rate = rates(plan.case, plan.case.filters[0])
    well = plan.case.camera.setting.saturation_e
    each = well / (rate.peak_share * rate.bright_star_e_s + rate.sky_e_s + rate.dark_e_s)
    assert each.max() > 1.3 * each.min(), "the colours tell apart"
    assert sub_limits(plan.case, rate).saturation == pytest.approx(each.min())


# --- the filter's doubt


def doubted(case, moment=None, **off):
    """Rates of a case's first filter with some inputs off, and as they should be."""
    table, moment = passed(case, case.filters[0], Doubt(filter_width=1.2)), moment or moment_of(case)
    return rates_at(table, moment, Off(**off)), rates_at(table, moment)


def edged(centre_nm, shift_nm=0.0, width_nm=6.0):
    """The demo plan with one filter, a town of one lamp and a Moon; its band is where it should not be."""
    return Plan.read(MONO).with_values({
        ("filters",): [{"name": "one", "passbands": [
            {"centre": f"{centre_nm + shift_nm} nm", "width": f"{width_nm} nm", "shape": "gaussian"}]}],
        ("sky", "lamps"): {"led-4000K": 1.0}, ("sky", "gradient"): None,
        ("target", "light"): [{"line": "O III", "brightness": "15 R"}],
        ("moon", "illuminated"): 0.8, ("moon", "altitude"): "40 deg", ("moon", "separation"): "60 deg",
    }).case  # fmt: skip


@pytest.mark.parametrize("shift_nm", [-0.6, 0.6])
def test_a_band_that_lies_off_sees_what_a_filter_made_there_sees(shift_nm):
    """Light of the lamp, the Moon and the target's line: as if the plan had stated the band at its true place."""
    off, usual = doubted(edged(497.0), shifts_nm={"one": shift_nm})
    there = rates(edged(497.0, shift_nm), edged(497.0, shift_nm).filters[0])
    for name in ("model_sky_e_s", "moon_e_s"):
        assert getattr(off, name) == pytest.approx(getattr(there, name), rel=5e-4)
    assert off.extended["O III"] == pytest.approx(there.extended["O III"], rel=2e-2)
    assert abs(there.moon_e_s / usual.moon_e_s - 1) > 3e-3
    assert (there.extended["O III"] > usual.extended["O III"]) == (shift_nm > 0)


@pytest.mark.parametrize("sigmas", [-2, 2])
def test_a_band_two_standard_deviations_wider_sees_what_such_a_filter_sees(sigmas):
    off, _ = doubted(edged(500.7), wider=0.2 * sigmas)
    wide = edged(500.7, width_nm=6.0 * (1 + 0.2 * sigmas))
    there = rates(wide, wide.filters[0])
    assert off.moon_e_s == pytest.approx(there.moon_e_s, rel=5e-3)
    assert off.extended["O III"] == pytest.approx(there.extended["O III"], rel=2e-2)


# --- doubts


def test_a_measured_sky_off_by_a_factor_is_that_factor():
    case = Plan.example().with_values({("sky", "measured"): {"H-alpha": "0.2 electron/s"}}).case
    off, usual = doubted(case, measured=1.3)
    assert usual.sky_e_s == pytest.approx([0.2])
    assert off.sky_e_s == pytest.approx([0.26])


def test_glow_has_no_doubt(mono):
    """The dark current alone is drawn; light of the camera's own electronics is there in every draw."""
    case = mono.with_values({("camera", "glow"): "0.05 electron/s"}).case
    moment, _ = draw(case, Doubt(dark_current=3.0), normal_draws(500, 1))
    warm_e_s = float(case.camera.dark_e_s) - 0.05
    assert moment.dark_e_s.min() > 0.05
    assert np.log((moment.dark_e_s - 0.05) / warm_e_s).std() == pytest.approx(math.log(3.0), rel=0.1)


@pytest.mark.parametrize("bluer", [-1.2, 1.2])
def test_a_bluer_town_is_its_spectrum_through_the_band(bluer):
    """The parabola in the exponent against the integral of the tilted light itself, through a broad band."""
    band = standard_band("bessell-B")
    tilted = bluer_spectrum("led-3000K", bluer).through(band) / lamp_spectrum("led-3000K").through(band)
    assert bluer_by("led-3000K", band, bluer) == pytest.approx(tilted, rel=2e-4)


def test_an_own_range_that_ends_at_one_tells_its_width_by_the_other_end():
    assert read_practice("practice", "2, 1 to 9").factors(1.2816) == pytest.approx(9, rel=1e-3)


def test_an_input_that_explains_nothing_takes_nothing_from_another():
    """Even where it correlates by chance with less than one over the root of their number."""
    rng = np.random.default_rng(5)
    z, other = rng.standard_normal((2, 4000))
    hours = np.exp(0.5 * z)
    both, alone = shares_of(hours, {"z": [z, other]})["z"], shares_of(hours, {"z": [z]})["z"]
    assert both >= alone
    assert shares_of(hours, {"none": [np.zeros(4000)]})["none"] == 0


def test_read_noise_doubted_as_noise_counts_squared_as_variance(mono):
    case = mono.case
    doubt = dataclasses.replace(case.doubt, read_noise=1.3)
    read = np.asarray(spread(case, doubt).rows[0].patch.read_variance_e2)
    assert np.log(read).std() == pytest.approx(2 * math.log(1.3), rel=0.05)


def test_what_is_known_better_than_a_measurement_loses_nothing_by_it(mono):
    """A star tells the efficiency to 3 %: of one known to 0.5 % it is as silent as of one that is exactly known."""
    gains = []
    for efficiency in (1.0, 1.005):
        doubt = dataclasses.replace(mono.case.doubt, efficiency=efficiency, extinction=2.0, practice="none", target=1.0)
        case = dataclasses.replace(mono.case, doubt=doubt)
        found = spread(case, doubt)
        gains.append(next(one for one in worth_measuring(case, found.rows[1], found) if one.key == "star").narrows)
    assert gains[1] == pytest.approx(gains[0], abs=0.01)


@pytest.mark.parametrize(("sigmas", "name"), [(2.8, ""), (3.2, "odd")])
def test_a_rate_three_standard_deviations_off_contradicts_the_others(sigmas, name):
    """Three standard deviations: common practice, no source."""
    curve = Curve.constant(0.5)
    measured = tuple(MeasuredRate(name=one, response=curve, photons=1.0, log_sd=0.2) for one in ("even", "odd"))
    one = np.ones(1)
    shared = float(unlisted_covariance([curve], [curve])[0, 0])
    off = -sigmas * math.sqrt(shared + 0.2**2 - shared**2 / (shared + 0.2**2))  # beside a rate that is right
    town = Town(
        drawn=(1, 1), weight=one, shares=one[:, None], bluer=one, natural=one, town=one, measured=measured,
        off=np.array([[0.0, off]]),
    )  # fmt: skip
    assert town.contradiction == (name, pytest.approx(math.exp(off)))


# --- the night


def test_losses_of_two_sessions_have_jeffreys_prior_of_both_kept_shares():
    """The prior does not depend on the parameters: for two binomials it is Beta(1/2, 1/2) each (Jeffreys 1946)."""
    design = ((300, 1, 12, 2), (900, 4, 8, 2))
    found = learn_losses([
        Count(sub_length=f"{sub_s} s", dither_every=every, taken=taken, spoiled=spoiled)
        for sub_s, every, taken, spoiled in design
    ])  # fmt: skip
    rng = np.random.default_rng(11)
    kept = [rng.beta(taken - spoiled + 0.5, spoiled + 0.5, 400_000) for _, _, taken, spoiled in design]
    # kept = exp(-rate t) (1 - q / every): three times the first session's hours are the second's
    q = np.linspace(0, 1, 2001)[:-1]
    slope = np.log1p(-q / 4) - 3 * np.log1p(-q)  # rises with q
    drawn = np.interp(np.log(kept[1]) - 3 * np.log(kept[0]), slope, q, left=-1, right=2)
    per_hour = -12 * (np.log(kept[0]) - np.log1p(-np.clip(drawn, 0, 0.999)))
    feasible = (drawn >= 0) & (drawn <= 1) & (per_hour >= 0)
    assert found.per_dither.middle == pytest.approx(np.median(drawn[feasible]), rel=0.01)
    assert found.per_hour.middle == pytest.approx(np.median(per_hour[feasible]), rel=0.01)


def test_hours_by_cadence_count_a_dither_once_in_so_many_subs(mono):
    """With no losses and perfect masters the cadence changes the pauses alone."""
    plan = mono.with_values(
        {("routine", kind): "perfect" for kind in ("darks", "flats")}
        | {("routine", "lost_per_hour"): 0, ("routine", "lost_per_dither"): 0, ("routine", "stacking"): "mean"}
    )
    reference = reference_of(plan.case, plan.case.filters[0])
    count = Count(sub_length="300 s", dither_every=2, taken=100, spoiled=0)
    found = best_cadence(plan.case, reference, learn_losses([count]))
    pause_s = 2.0 + 18.0 / np.array(CADENCES)[:, None]
    np.testing.assert_allclose(found.hours / found.hours[0], (found.sub_s + pause_s) / (found.sub_s + 20.0))


def test_more_moonlight_than_expected_leaves_less_and_the_middle_is_the_night_s_own():
    place = {("target", "right_ascension"): "20h 45m 38s", ("target", "declination"): "+30d 43m"}
    night = tonight_of(Plan.read(MONO).with_values({**place, ("night", "date"): "2026-10-24"}).case)
    almanac, lit = almanac_of(night.case), [window for window in night.windows if window.moon_up]
    costs = moon_costs(night)
    assert costs
    t = np.concatenate([np.linspace(window.begin_s, window.end_s, 9) for window in lit])
    for cost, reference in zip(costs, night.nights.references, strict=True):
        assert 0 < cost.low < cost.middle < cost.high < 1
        rate = rates_over(night.case, reference.filter_, moments_of(night.case, almanac, t))
        worth = [
            worth_of(
                night.case, reference, dataclasses.replace(rate, sky_e_s=rate.sky_e_s + more * rate.moon_e_s)
            ).sum()
            for more in (0.0, ACCURACY, -1.0)
        ]
        assert cost.middle == pytest.approx(worth[0] / worth[2])
        assert cost.low == pytest.approx(worth[1] / worth[2])


def test_an_hour_at_the_reference_is_worth_one_even_for_a_goal_of_a_few_seconds(mono):
    bright = mono.with_values({("target", "light", 0, "brightness"): "900 R", ("goal", "snr"): 1})
    reference = reference_of(bright.case, bright.case.filters[0])
    assert reference.light_h["H-alpha"] < 0.01
    assert worth_over(bright.case, reference, ZENITH).worth.item() == pytest.approx(1)


def test_separation_is_that_of_astropy():
    rng = np.random.default_rng(2)
    altitude, azimuth = rng.uniform(-90, 90, (2, 500)), rng.uniform(0, 360, (2, 500))
    one, other = (Track(altitude_deg=h, azimuth_deg=a, distance_km=h) for h, a in zip(altitude, azimuth, strict=True))
    there = angular_separation(*np.radians([azimuth[0], altitude[0], azimuth[1], altitude[1]]))
    np.testing.assert_allclose(separation_deg(one, other), np.degrees(there), atol=1e-9)


def test_a_year_is_as_dark_as_its_nights(mono):
    """The steps that dusk and dawn cut count in part: no hour is lost or won beside the windows' own ends."""
    almanac, first = almanac_of(mono.case), site_evening(mono.case, dt.date(2026, 10, 1))
    year = _year(almanac, first, -18.0, None, None)
    free = mono.with_values({("site", "horizon"): "0 deg", ("target", "right_ascension"): None,
                             ("target", "declination"): None, ("night", "flip_time"): None})  # fmt: skip
    for night in (0, 40, 90, 200):
        evening = dataclasses.replace(first, date=first.date + dt.timedelta(days=night))
        dark_h = sum(window.hours for window in windows_of(free.case, almanac, evening))
        assert year.weight_h[year.night == night].sum() == pytest.approx(dark_h, abs=0.01)


def test_the_zenith_s_extinction_is_in_its_sky_already():
    """At the zenith nothing is dimmed; lower down, what lies beyond one airmass alone."""
    assert natural_factor(90.0, 0.3) == pytest.approx(1, abs=1e-4)
    ratio = natural_factor(30.0, 0.3) / natural_factor(30.0, 0.0)
    assert ratio == pytest.approx(10 ** (-0.4 * 0.3 * (airmass(30.0) - 1)))
