"""The schedule against all schedules there are, against simpler ones, and against its own rules."""

import itertools
import math

import numpy as np
import pytest

from expocalc.night.clear import nights_until
from expocalc.night.running import Slots, by_filter, greedy, run
from expocalc.night.schedule import schedule


def random_slots(rng, nights, slots, filters, change_h=0.0):
    clock = rng.uniform(0.3, 1.2, (nights, slots))
    return Slots(rng.uniform(0, 1, (nights, slots, filters)) * clock[..., None], clock, change_h)


def best_of_all(slots, need):
    """Fewest nights of all ways that give each slot to one filter."""
    nights, count, filters = slots.gain.shape
    unit = np.eye(filters)
    return min(
        run(slots, unit[np.array(way).reshape(nights, count)], need).nights
        for way in itertools.product(range(filters), repeat=nights * count)
    )


def test_no_schedule_is_faster_by_a_night():
    rng = np.random.default_rng(7)
    for _ in range(30):
        slots, need = random_slots(rng, 2, 3, 2), rng.uniform(0.3, 1.2, 2)
        assert np.ceil(schedule(slots, need).nights) <= np.ceil(best_of_all(slots, need))


def test_changes_that_cost_time_are_weighed():
    rng = np.random.default_rng(8)
    late = 0
    for _ in range(30):
        slots, need = random_slots(rng, 2, 3, 2, change_h=0.1), rng.uniform(0.3, 1.2, 2)
        ours, all_ = schedule(slots, need).nights, best_of_all(slots, need)
        late += np.ceil(ours) > np.ceil(all_)
    assert late <= 1  # a way of whole slots may fit where mixed ones just don't


@pytest.mark.parametrize("change_h", [0.0, 0.1])
def test_never_worse_than_greedy_or_filter_by_filter(change_h):
    rng = np.random.default_rng(9)
    better = 0
    for _ in range(60):
        shape = rng.integers(2, 10), rng.integers(2, 9), rng.integers(1, 5)
        slots = random_slots(rng, *shape, change_h=change_h)
        need = rng.uniform(0.1, 0.5, shape[2]) * slots.clock_h.sum() / shape[2]
        ours, simple = schedule(slots, need), min(greedy(slots, need).nights, by_filter(slots, need).nights)
        assert ours.nights <= simple
        better += ours.nights < simple - 1e-9
    assert better > 10


def test_filter_by_filter_takes_the_sum_of_what_each_takes():
    slots = Slots(np.ones((8, 4, 2)), np.ones((8, 4)))
    assert by_filter(slots, np.array([6.0, 10.0])).nights == pytest.approx(4.0)
    costly = Slots(np.ones((8, 4, 2)), np.ones((8, 4)), change_h=0.5)
    assert by_filter(costly, np.array([6.0, 10.0])).nights == pytest.approx(4.125)


def test_the_dark_hours_go_to_the_filter_that_needs_them():
    # moonlit first, then dark; the second filter gains nothing in moonlight
    gain = np.array([[[0.8, 0.0]] * 4 + [[1.0, 1.0]] * 4])
    found = schedule(Slots(gain, np.ones((1, 8))), [3.2, 4.0])
    assert found.share[0, :4, 0] == pytest.approx(np.ones(4))
    assert found.share[0, 4:, 1] == pytest.approx(np.ones(4))
    assert found.nights == pytest.approx(1.0)


def test_a_schedule_keeps_to_its_slots_and_meets_its_goals():
    rng = np.random.default_rng(10)
    for _ in range(20):
        slots = random_slots(rng, 6, 6, 3, change_h=0.05)
        need = rng.uniform(0.5, 2.0, 3)
        way = schedule(slots, need)
        assert np.all(way.share >= 0)
        assert np.all(way.share.sum(axis=2) <= 1 + 1e-6)
        assert np.all(way.gained_h.sum(axis=0) <= slots.gain.sum(axis=(0, 1)) + 1e-9)
        if np.isfinite(way.nights):
            assert way.gained_h.sum(axis=0) == pytest.approx(need, rel=1e-5)


def test_a_goal_that_takes_more_nights_than_there_are_is_said():
    slots = Slots(np.ones((3, 2, 2)), np.ones((3, 2)))
    found = schedule(slots, [4.0, 8.0])
    assert math.isinf(found.nights)
    assert found.gained_h.sum(axis=0) == pytest.approx([2.0, 4.0], abs=0.01)  # the same share of both goals


def test_costly_changes_are_few():
    rng = np.random.default_rng(11)
    gain = np.repeat(rng.uniform(0.9, 1.0, (4, 10, 1)), 2, axis=2) * rng.uniform(0.98, 1.02, (4, 10, 2))
    free, dear = (schedule(Slots(gain, np.ones((4, 10)), c), [12.0, 12.0]) for c in (0.0, 0.5))

    def changes(way):
        main = [[row.argmax() for row in night if row.any()] for night in way.share]
        return sum(a != b for night in main for a, b in itertools.pairwise(night))

    assert changes(dear) < changes(free)


# ---- clear nights by chance


def test_nights_until_agrees_with_the_negative_binomial_law():
    # k clear nights at share p: scipy's negative binomial counts the cloudy ones before
    from scipy.stats import nbinom

    for k, p in ((3, 0.3), (8, 0.5)):
        found = nights_until(np.ones(365), float(k), p)
        for tail, nights in ((0.1, found.p10), (0.5, found.p50), (0.9, found.p90)):
            assert abs(nights - (k + nbinom.ppf(tail, k, p))) <= 1


def test_all_nights_clear_leaves_no_range():
    found = nights_until(np.full(10, 0.5), 2.0, None)
    assert (found.p10, found.p50, found.p90) == (4, 4, 4)
    assert nights_until(np.zeros(10), 1.0, 0.5).p90 is None


def test_a_goal_that_no_number_of_nights_reaches_is_no_error():
    slots = random_slots(np.random.default_rng(9), 2, 3, 2)
    far = schedule(slots, np.array([9e45, 1.0]))
    assert far.nights > 1e8
