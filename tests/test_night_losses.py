"""Losses from counts: the law, the interval's promise, and what counts can't tell."""

import math

import numpy as np
import pytest

from expocalc.budget.clock import kept_share
from expocalc.budget.counts import Count
from expocalc.budget.routine import Routine
from expocalc.night.cadence import best_cadence
from expocalc.night.losses import learn_losses
from expocalc.night.worth import reference_of
from expocalc.plan import Plan

DESIGN = ((300, 1, 900), (300, 6, 900), (900, 3, 500))
"""Sub length [s], subs between two dithers, subs taken."""


def session(rng, per_dither, per_hour, design=DESIGN):
    for sub_s, every, taken in design:
        kept = float(kept_share(sub_s, per_hour, per_dither / every))
        spoiled = int(rng.binomial(taken, 1 - kept))
        yield Count(sub_length=f"{sub_s} s", dither_every=every, taken=taken, spoiled=spoiled)


@pytest.mark.parametrize("size", [60, 120, 400, 2300])
def test_intervals_hold_the_truth_two_times_in_three(size):
    # 10,000 sessions of each size by hand in tests/benchmarks: 67.2 to 68.7 %; here 250, so that 10 % are three sigmas
    rng = np.random.default_rng(size)
    design = tuple((sub_s, every, round(size * taken / 2300)) for sub_s, every, taken in DESIGN)
    held = np.zeros(2)
    for _ in range(250):
        q, per_hour = rng.uniform(0.01, 0.3), rng.uniform(0.05, 1.0)
        found = learn_losses(list(session(rng, q, per_hour, design)))
        held += [
            found.per_dither.low <= q <= found.per_dither.high, found.per_hour.low <= per_hour <= found.per_hour.high,
        ]  # fmt: skip
        assert found.per_dither.low <= found.per_dither.middle <= found.per_dither.high
    assert held / 250 == pytest.approx([0.68, 0.68], abs=0.1)


def test_no_spoiled_sub_leaves_nought_and_all_spoiled_the_worst():
    none, all_ = (
        learn_losses([
            Count(sub_length="300 s", dither_every=every, taken=taken, spoiled=taken if spoiled else 0)
            for every, taken in ((1, 40), (8, 40))
        ])
        for spoiled in (False, True)
    )  # fmt: skip
    assert none.per_dither.low == none.per_hour.low == 0
    assert 0 < none.per_dither.high < 0.05
    assert all_.per_hour.low > 10
    assert all_.per_dither.high > 0.9


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
