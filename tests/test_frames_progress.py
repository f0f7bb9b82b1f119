"""What the morning after says is left: at best, and to plan for, from the plan's own range."""

import dataclasses
import math
from pathlib import Path

import pytest

from expocalc.base.words import say_duration
from expocalc.budget.answer import answer_filter
from expocalc.budget.doubt import Doubt
from expocalc.budget.spread import spread
from expocalc.frames.tell.ledger import Entry
from expocalc.frames.tell.progress import left_words, progress_of
from expocalc.plan import Plan

NAME = "H-alpha 5 nm"


@pytest.fixture(scope="module")
def case():
    return Plan.read(Path(__file__).parents[1] / "notebooks/plans/mono-single-lines.toml").case


def progress(case, *nights_h):
    """Progress after nights that were worth so many hours each."""
    entries = [
        Entry(
            night=f"2027-01-{at + 1:02}", file=f"{at}.fits", filter=NAME, date=f"2027-01-{at + 1:02}T20:00:00",
            exposure_s=3600 * hours, temperature_deg_c=-10.0, sky_electron_s=0.1, noise_electron=5.9,
            star_fwhm_px=2.4, star_elongation=1.1, stars=61, transparency=1.0, kept=True, reason="",
            equivalent_dark_h=hours,
        )
        for at, hours in enumerate(nights_h)
    ]  # fmt: skip
    return progress_of(entries, case, {NAME: answer_filter(case, case.filters[0])[0]})[NAME]


def test_what_is_left_is_the_range_of_the_plan_without_what_is_done(case):
    one, span = progress(case, 1.5, 1.5), spread(case, case.doubt, 2000).filters[NAME]
    assert one.hours_left == pytest.approx(one.goal_h - 3)
    assert [*one.planned.ends, one.planned.p50_h] == pytest.approx([span.p10_h - 3, span.p90_h - 3, span.p50_h - 3])
    said = left_words(one)
    assert f"; {say_duration(3600 * one.hours_left)} left at best, 2 more nights like these" in said
    nights = math.ceil(one.planned.p50_h / 1.5)
    assert f"; plan for {say_duration(3600 * one.planned.p50_h)} more ({nights} more nights), " in said
    assert said.endswith(" in eight cases of ten")


def test_a_goal_that_is_reached_at_best_has_more_to_plan_for(case):
    said = left_words(progress(case, 6.0))
    assert "; reached at best; plan for " in said
    assert ", none to " in said


def test_nothing_is_left_where_even_bad_nights_are_covered(case):
    assert left_words(progress(case, 500.0)).endswith("; reached at best")


def test_without_doubt_both_are_the_same(case):
    sure = dataclasses.replace(
        case, doubt=Doubt.none(), sky=dataclasses.replace(case.sky, brightness_error="0 mag/arcsec2")
    )
    one = progress(sure, 1.0)
    assert one.planned.p50_h == pytest.approx(one.hours_left)


def test_a_goal_out_of_reach_in_some_cases_says_the_chance(case):
    uneven = dataclasses.replace(case, routine=dataclasses.replace(case.routine, background_flatness=0.0015))
    said = left_words(progress(uneven, 1.0))
    assert " at least, and with a chance of " in said
    assert said.endswith(" no hours reach it")
