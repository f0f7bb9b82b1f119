"""Nights at best and nights to plan for: the same goal, with what is not exactly known and what real sessions lose."""

from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.sub_length import unbounded_hours
from expocalc.night.clear import nights_until
from expocalc.night.moments import Moments, rates_over
from expocalc.night.night import tonight_of
from expocalc.night.planned import hours_ratios
from expocalc.night.words import verdict
from expocalc.night.worth import reference_of, worth_over
from expocalc.plan import Plan

DEMO = Path(__file__).parents[1] / "notebooks/plans/mono-single-lines.toml"
FACTORS = (
    "lamp_mix", "natural_sky", "narrow_sky", "target", "efficiency", "extinction", "dark_current", "read_noise",
    "seeing", "filter_width", "moonlight", "flatness", "measured_sky",
)  # fmt: skip
SURE = {("doubt", name): 1 for name in FACTORS} | {
    ("doubt", "lamp_colour"): 0,
    ("doubt", "filter_centre"): "0 nm",
    ("sky", "brightness_error"): "0 mag/arcsec2",
}


def plan(changes=None):
    """The demo plan on its own night, with some changes."""
    return Plan.read(DEMO).with_values(changes or {})


@pytest.fixture(scope="module")
def demo():
    return tonight_of(plan().case)


def test_nights_to_plan_for_are_those_at_best_where_nothing_is_in_doubt():
    campaign = tonight_of(plan(SURE | {("doubt", "practice"): "none"}).case).campaign
    assert campaign.planned == campaign.counts


def test_nights_to_plan_for_take_so_many_times_the_hours():
    """A factor of one's own and no other doubt: the nights of a goal that takes as many times the hours."""
    campaign = tonight_of(plan(SURE | {("doubt", "practice"): 2}).case).campaign
    first = campaign.nights.references[0]
    brings = np.array([night[0].equivalent_dark_h for night in map(campaign.year.hours, range(365))])
    share = campaign.case.night.focus_share
    assert campaign.planned[first.name] == nights_until(brings * share, 2 * first.need_h, 0.4)
    assert campaign.planned["all"].p50 > campaign.counts["all"].p50


def test_the_verdict_says_nights_at_best_and_to_plan_for(demo):
    best, planned = (counts["all"] for counts in (demo.campaign.counts, demo.campaign.planned))
    said = verdict(demo)
    assert f"At best all goals are met in {best.p10} to {best.p90} nights on the calendar" in said
    assert f"plan for {planned.p50} nights, {planned.p10} to {planned.p90} in eight cases of ten" in said
    assert planned.p50 > 2 * best.p50, "published instruments needed more than twice the hours at best"
    every = tonight_of(plan({("night", "clear_share"): None}).case)
    found = every.campaign.planned["all"]
    assert f"if every night is clear; plan for {found.p50} nights, {found.p10} to {found.p90} in" in verdict(every)


def test_a_measured_sky_stays_where_it_was_measured():
    """Left out, that is the plan's altitude, not the zenith where nights are counted and the sky is darker."""
    base = SURE | {("doubt", "target"): 1.5, ("sky", "measured"): {"H-alpha 5 nm": "0.2 electron/s"}}
    left_out, said, zenith = (
        hours_ratios(plan(base | {("measured_under", "altitude"): altitude}).case)["H-alpha 5 nm"]
        for altitude in (None, "60 deg", "90 deg")
    )
    np.testing.assert_allclose(left_out, said)
    assert not np.allclose(left_out, zenith, rtol=1e-4)


def test_hours_are_worth_nothing_where_the_reference_has_none():
    """A median that hides a dark sky's light shows it under the Moon: no share of a goal that the zenith never has."""
    coarse = plan({
        ("routine", "stacking"): "median", ("camera", "gains", "high", "electrons_per_adu"): 2.0,
        ("camera", "gains", "high", "read_noise"): "1 electron", ("routine", "sub_length"): "120 s",
        ("routine", "background_flatness"): "perfect", ("goal", "snr"): 2,
    }).case  # fmt: skip
    full = Moments(*(np.array([value]) for value in (60.0, 180.0, 40.0, 0.0, 20.0)))
    reference = reference_of(coarse, coarse.filters[0])
    rate = rates_over(coarse, reference.filter_, full)
    patch = patch_of(coarse, rate, reference.light, reference.sub_s)
    hours = unbounded_hours(patch, habits_of(coarse, rate.scale_arcsec), coarse.routine, 2.0, reference.sub_s)
    assert np.isinf(reference.need_h)
    assert np.isfinite(hours).all()
    assert not worth_over(coarse, reference, full).worth.any()
    assert all(one.equivalent_dark_h == 0 for one in tonight_of(coarse).hours[:1])
