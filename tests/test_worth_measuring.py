"""What to measure next: the range that is promised is the one that the model gives once the input is known better."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.doubt import Doubt
from expocalc.budget.spread import spread
from expocalc.budget.worth_measuring import worth_measuring
from expocalc.plan import Plan

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
LONG = {("routine", "sub_length"): "180 s", ("goal", "snr"): 6}
"""The length stays when a doubt is taken out, and few draws come near the ceiling, where no first order holds."""
PLAN = {name: Plan.read(PLANS / f"{name}.toml").with_values(LONG) for name in ("mono-single-lines", "colour-dual-band")}


def found(case, at=0):
    ranges = spread(case, case.doubt)
    return {one.key: one for one in worth_measuring(case, ranges.rows[at], ranges)}, ranges.rows[at]


def width(row):
    return math.log(row.range.p90_h / row.range.p10_h)


def with_doubt(case, **changed):
    return dataclasses.replace(case, doubt=dataclasses.replace(case.doubt, **changed))


@pytest.mark.parametrize("name", PLAN)
@pytest.mark.parametrize(
    ("key", "known"),
    [
        ("darks", {"dark_current": 1.1}),
        ("brightness", {"target": 1.1}),
        ("star", {"efficiency": 1.03, "extinction": 1.1}),
    ],
)
def test_the_range_that_is_promised_is_that_of_the_model_with_less_doubt(name, key, known):
    case = PLAN[name].case
    promised, row = found(case)
    _, then = found(with_doubt(case, **known))
    if key not in promised:
        assert width(then) / width(row) > 0.97, "what is left out hardly narrows the range"
        return
    one = promised[key]
    assert math.log(one.high_h / one.low_h) == pytest.approx(width(then), rel=0.06)
    assert one.narrows == pytest.approx(1 - width(then) / width(row), abs=0.06)


@pytest.mark.parametrize("name", PLAN)
def test_a_test_sub_narrows_the_range_as_a_measured_sky_does(name):
    plan = PLAN[name]
    promised, row = found(plan.case)
    rate = plan.solve().filters[0].rates
    sky = {c: f"{float(e)} electron/s" for c, e in zip(rate.colours, rate.sky_e_s, strict=True)}
    measured = plan.with_values({("sky", "measured"): {row.filter_name: sky.get("mono", sky)}})
    others, then = found(measured.case)
    assert "test sub" not in others
    assert "meter" not in others
    assert promised["test sub"].narrows == pytest.approx(1 - width(then) / width(row), abs=0.06)


def test_what_narrows_most_for_its_minutes_comes_first():
    ranges = spread(PLAN["mono-single-lines"].case, PLAN["mono-single-lines"].case.doubt)
    one = worth_measuring(PLAN["mono-single-lines"].case, ranges.rows[0], ranges)
    scores = [each.narrows / each.minutes for each in one]
    assert scores == sorted(scores, reverse=True)
    assert all(each.narrows > 0 for each in one)
    middle = ranges.rows[0].range.p50_h
    assert all(each.low_h < middle < each.high_h for each in one)


def test_nothing_unsure_is_nothing_to_measure():
    case = PLAN["mono-single-lines"].case
    known = dataclasses.replace(
        case,
        doubt=Doubt.none(),
        sky=dataclasses.replace(case.sky, brightness_error="0 mag/arcsec2"),
    )
    ranges = spread(known, known.doubt)
    assert worth_measuring(known, ranges.rows[0], ranges) == ()


def test_nothing_is_promised_where_the_goal_is_out_of_reach():
    plan = PLAN["mono-single-lines"].with_values({("routine", "background_flatness"): 0.05})
    ranges = spread(plan.case, plan.case.doubt)
    assert np.isinf(ranges.rows[0].kept_h).mean() > 0.5
    assert worth_measuring(plan.case, ranges.rows[0], ranges) == ()


def test_a_bortle_class_asks_for_a_meter_and_a_meter_does_not():
    bortle, _ = found(PLAN["colour-dual-band"].case)
    assert "meter" in bortle
    meter, _ = found(PLAN["mono-single-lines"].case)
    assert meter.get("meter") is None or meter["meter"].narrows < bortle["meter"].narrows
