"""Losses from counts: the law, the interval's promise, and what counts can't tell."""

import math

import numpy as np
import pytest

from expocalc.budget.counts import Count
from expocalc.budget.routine import Routine, kept_share
from expocalc.night.cadence import best_cadence
from expocalc.night.losses import learn_losses
from expocalc.night.mount import drift_sub_s, focus_depth_um, refocus_kelvin, rotation_sub_s
from expocalc.night.worth import reference_of
from expocalc.plan import Plan

DESIGN = ((300, 1, 900), (300, 6, 900), (900, 3, 500))
"""Sub length [s], subs between two dithers, subs taken."""


def session(rng, per_dither, per_hour, design=DESIGN):
    for sub_s, every, taken in design:
        kept = float(kept_share(sub_s, per_hour, per_dither / every))
        spoiled = int(rng.binomial(taken, 1 - kept))
        yield Count(sub_length=f"{sub_s} s", dither_every=every, taken=taken, spoiled=spoiled)


def test_intervals_hold_the_truth_two_times_in_three():
    # 10,000 sessions by hand in tests/benchmarks; here 200, so that three standard deviations are 10 %
    rng = np.random.default_rng(3)
    held = np.zeros(2)
    for _ in range(200):
        q, per_hour = rng.uniform(0.01, 0.3), rng.uniform(0.05, 1.0)
        found = learn_losses(list(session(rng, q, per_hour)))
        held += [
            found.per_dither.low <= q <= found.per_dither.high, found.per_hour.low <= per_hour <= found.per_hour.high,
        ]  # fmt: skip
    assert held / 200 == pytest.approx([0.68, 0.68], abs=0.1)


def test_many_counts_find_the_losses():
    rng = np.random.default_rng(4)
    found = learn_losses(list(session(rng, 0.08, 0.3, tuple((t, m, 200_000) for t, m, _ in DESIGN))))
    assert found.per_dither.middle == pytest.approx(0.08, abs=0.004)
    assert found.per_hour.middle == pytest.approx(0.3, abs=0.02)
    assert found.per_dither.high - found.per_dither.low < 0.01


def test_one_kind_of_session_tells_only_the_sum():
    one = Count(sub_length="300 s", dither_every=2, taken=120, spoiled=7)
    for counts in ([one], [one, one]):
        found = learn_losses(counts)
        assert (found.per_dither, found.per_hour) == (None, None)
        assert "only the sum" in found.sentence
        assert "subs of 5 min with a dither every 12 subs would tell them apart" in found.sentence


def test_the_count_that_is_asked_for_tells_them_apart():
    one = Count(sub_length="300 s", dither_every=2, taken=120, spoiled=7)
    other = Count(sub_length="300 s", dither_every=12, taken=120, spoiled=2)
    found = learn_losses([one, other])
    assert found.per_dither is not None
    assert "only the sum" not in found.sentence


def test_without_dithers_all_loss_is_by_the_hour():
    found = learn_losses([Count(sub_length="600 s", taken=60, spoiled=6)])
    assert found.per_dither is None
    assert found.per_hour.low < -math.log(1 - 0.1) * 6 < found.per_hour.high


def test_common_practice_of_spoiled_subs_is_a_few_in_a_hundred():
    # common practice, no source: two in 40 to 50, or six to seven in 120, most right after a dither
    for taken, spoiled in ((45, 2), (120, 6)):
        share = learn_losses([Count(sub_length="300 s", dither_every=2, taken=taken, spoiled=spoiled)]).spoiled
        assert (
            share.low
            < Routine(lost_per_dither=0.08, dither_every=2, lost_per_hour=0.1).lost_at_dither + 0.008
            < share.high
        )


# ---- sub length and cadence


@pytest.fixture(scope="module")
def demo():
    return Plan.read("notebooks/plans/mono-single-lines.toml")


def learned(per_dither, per_hour):
    return learn_losses(
        list(session(np.random.default_rng(5), per_dither, per_hour, tuple((t, m, 20_000) for t, m, _ in DESIGN)))
    )


def test_dithers_that_spoil_subs_are_made_rarer_and_hours_that_do_make_subs_shorter(demo):
    case = demo.with_values({("routine", "longest_sub"): None, ("camera", "pattern"): None}).case
    reference = reference_of(case, case.filters[0])
    calm, dithers, hours = (
        best_cadence(case, reference, learned(q, h)) for q, h in ((0.01, 0.05), (0.5, 0.05), (0.01, 4.0))
    )
    assert dithers.best_every >= calm.best_every
    assert hours.best_s < calm.best_s
    for found in (calm, dithers, hours):
        assert found.low_s <= found.best_s <= found.high_s
        assert found.hours[list((1, 2, 3, 4, 6, 8, 12, 20)).index(found.best_every)].min() == found.hours.min()


def test_a_pattern_asks_for_more_dithers(demo):
    reference = reference_of(demo.case, demo.case.filters[0])
    losses = learned(0.05, 0.1)
    printed = demo.with_values({("camera", "pattern"): {"fixed": "3 electron", "flat": 0.002}}).case
    assert best_cadence(printed, reference, losses).best_every <= best_cadence(demo.case, reference, losses).best_every


# ---- what mount and optics hold


def test_drift_is_a_quarter_of_an_arcsecond_a_minute_for_one_arcminute():
    # 15.04 arcsec/s times the sine of 1 arcminute: geometry, Hook 1989
    assert 1.5 / drift_sub_s(1.0, 1.5) * 60 == pytest.approx(0.2625, abs=0.0005)
    assert rotation_sub_s(5.0, 0.0, 60.0, 1.0) > rotation_sub_s(5.0, 70.0, 60.0, 1.0)
    assert math.isinf(drift_sub_s(0.0, 1.0))


def about(axis, vector, angle):
    """A vector turned about an axis (Rodrigues)."""
    return (
        vector * math.cos(angle)
        + np.cross(axis, vector) * math.sin(angle)
        + axis * (axis @ vector) * (1 - math.cos(angle))
    )


def field_turn(off, sky_turn, north, apart, hour):
    """Turn of the field about its guide star when the mount's axis misses the pole towards an hour angle. [rad]"""
    pole = np.array([0.0, 0.0, 1.0])
    axis = np.array([math.sin(off) * math.cos(hour), math.sin(off) * math.sin(hour), math.cos(off)])
    guide, star = (
        np.array([math.cos(north) * math.cos(east), math.cos(north) * math.sin(east), math.sin(north)])
        for east in (0.0, apart / math.cos(north))
    )
    angles = []
    for turn in (0.0, sky_turn):  # the sky turns about the pole, the camera follows about its axis
        seen_guide, seen_star = (about(axis, about(pole, v, turn), -turn) for v in (guide, star))
        east = np.cross(pole, seen_guide) / np.linalg.norm(np.cross(pole, seen_guide))
        apart_ = seen_star - seen_guide
        angles.append(math.atan2(apart_ @ np.cross(seen_guide, east), apart_ @ east))
    return abs(angles[1] - angles[0])


def test_rotation_by_a_simulated_mount():
    # a star one degree from the guide star, the axis 10 arcminutes off the pole, 10 minutes, the worst hour angle
    off, turn, north, apart = (math.radians(x) for x in (10 / 60, 360 * 600 / 86164, 50.0, 1.0))
    worst = max(field_turn(off, turn, north, apart, hour) for hour in np.linspace(0, 2 * math.pi, 60))
    assert worst * apart * 206265 == pytest.approx(600 / rotation_sub_s(10.0, 50.0, 60.0, 1.0), rel=0.05)


def test_focus_depth_and_the_temperature_that_uses_it_up():
    # quarter wave: 2 lambda N^2 (Born & Wolf 1999, sec. 8.8); 0.5 um at f/10 is 100 um
    assert focus_depth_um(10.0, 500.0) == pytest.approx(100.0)
    # common practice, no source: small refractors refocus every 2 to 3 degrees
    assert 2 <= refocus_kelvin(480.0, 6.0) <= 4
    assert refocus_kelvin(510, 5.0) == pytest.approx(focus_depth_um(5.0) / (510e3 * 23e-6))
