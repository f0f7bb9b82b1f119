"""A user's own factor from the ledger: what it is, how far its range holds, and its way into the plan."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.practice import read_practice
from expocalc.frames.tell.ledger import Entry
from expocalc.frames.tell.own_factor import LEAST_NIGHTS, own_factor
from expocalc.plan import Plan, PlanError

PLANS = Path(__file__).parents[1] / "notebooks" / "plans"
ENTRY = Entry(
    night="2026-11-01", file="a.fits", filter="H-alpha 5 nm", date="2026-11-01T20:00:00", exposure_s=3600.0,
    temperature_deg_c=-10.0, sky_electron_s=0.1, noise_electron=6.0, star_fwhm_px=2.5, star_elongation=1.0, stars=100,
    transparency=1.0, kept=True, reason="", equivalent_dark_h=1.0,
)  # fmt: skip


def nights(*pairs):
    """One sub a night of so many hours, worth so many at best."""
    return [
        dataclasses.replace(ENTRY, night=f"2026-11-{at + 1:02d}", exposure_s=3600.0 * t, equivalent_dark_h=e)
        for at, (t, e) in enumerate(pairs)
    ]


def test_hours_taken_over_their_worth():
    found = own_factor(nights((4.0, 2.0), (2.0, 2.0), (6.0, 2.0)))
    assert found.factor == pytest.approx(2.0)
    # by hand: factors 2, 1 and 3, s of their logarithms 0.5565, Student's t 1.886 (tables, two degrees of freedom)
    reach = 1.886 * np.std(np.log([2.0, 1.0, 3.0]), ddof=1) * math.sqrt(2 / 3)
    assert math.log(found.high / found.factor) == pytest.approx(reach, rel=1e-3)
    assert found.low == 1.0  # practice gives no time back
    assert found.nights == 3


def test_what_does_not_count():
    three = nights((4.0, 2.0), (2.0, 1.0), (6.0, 3.0))
    dropped = dataclasses.replace(ENTRY, kept=False, night="2026-12-01", equivalent_dark_h=0.0)
    short = dataclasses.replace(ENTRY, night="2026-12-02", exposure_s=300.0, equivalent_dark_h=0.001)
    assert own_factor([*three, dropped, short]) == own_factor(three)
    assert own_factor(three[: LEAST_NIGHTS - 1]) is None
    assert own_factor([]) is None


def test_never_below_one():
    assert own_factor(nights((2.0, 2.2), (2.0, 2.1), (2.0, 2.4))).factor == 1.0


@pytest.mark.parametrize("count", [3, 5, 10])
def test_the_range_holds_eight_of_ten_projects_to_come(count):
    rng = np.random.default_rng(count)
    held = []
    for _ in range(1500):
        factors = 3.0 * np.exp(0.3 * rng.standard_normal(2 * count))
        hours = rng.uniform(2, 6, 2 * count)
        found = own_factor(nights(*zip(hours[:count], hours[:count] / factors[:count], strict=True)))
        to_come = hours[count:].sum() / (hours[count:] / factors[count:]).sum()
        held.append(found.low <= to_come <= found.high)
    assert 0.75 <= np.mean(held) <= 0.85, f"{np.mean(held):.3f}"


def test_into_the_plan():
    plan = Plan.read(PLANS / "mono-single-lines.toml")
    found = own_factor(nights((4.0, 2.0), (5.0, 2.0), (6.0, 3.5)))
    with_own = plan.with_values({("doubt", "practice"): found.plan_value})
    practice = with_own.case.doubt.practice
    low, high = practice.factors([-1.2816, 1.2816])
    assert practice.factor == pytest.approx(found.factor, abs=0.006)
    assert (low, high) == pytest.approx((found.low, found.high), rel=0.01)
    again = Plan.parse(with_own.to_toml())
    assert again.case.doubt.practice == practice


@pytest.mark.parametrize(
    ("text", "factor", "low", "high"),
    [("1.6, 1.2 to 2.1", 1.6, 1.2, 2.1), ("1,6, 1,2 to 2,1", 1.6, 1.2, 2.1), (" 2, 1 to 4 ", 2.0, 1.0, 4.0)],
)
def test_ranges_that_people_write(text, factor, low, high):
    practice = read_practice("practice", text)
    assert practice.factor == factor
    assert practice.factors([-1.2816, 1.2816]) == pytest.approx([low, high], rel=0.02)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1.6, 1.8 to 2", "must be a factor inside its range"),
        ("1.6, 0.5 to 2", "practice must be at least 1"),
        ("1.6, 1.2 to 500", "at most 100"),
        ("1.6, 1.2", "or with its range"),
        ("often", "practice must be a number"),
    ],
)
def test_ranges_that_are_none(text, said):
    with pytest.raises((ValueError, TypeError), match=said):
        read_practice("practice", text)
    with pytest.raises(PlanError, match=r"doubt: |practice"):
        Plan.read(PLANS / "mono-single-lines.toml").with_values({("doubt", "practice"): text})
