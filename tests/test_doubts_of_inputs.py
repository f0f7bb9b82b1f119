"""Inputs that bent the answer silently: a light's own doubt, the place of a filter, the corner of the field."""

import math
from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import target_log_sd
from expocalc.budget.rates import rates
from expocalc.budget.spread import spread
from expocalc.light.halpha_map import read_survey
from expocalc.light.library import TARGETS, region
from expocalc.plan import Plan


@pytest.fixture(scope="module")
def mono():
    return Plan.read(Path(__file__).parents[1] / "notebooks/plans/mono-single-lines.toml")


def first(plan):
    return rates(plan.case, plan.case.filters[0])


def test_a_region_s_doubt_is_its_range_and_never_less_than_its_grade():
    for one in TARGETS.values():
        assert one.doubt >= {"A": 1.25, "B": 1.4, "C": 2.0}[one.grade]
    arc = region("M31 O III arc")  # 2e-18 to 6e-18 are its tenth and nine tenths
    assert arc.doubt ** (2 * 1.2816) == pytest.approx(3, rel=0.01)
    assert arc.light()["doubt"] == pytest.approx(arc.doubt, rel=0.01)


def test_a_spoilt_beam_is_worth_a_factor_of_two_at_best_and_says_so():
    survey = read_survey()
    at = int(np.flatnonzero(survey.error_r == 0)[0])
    x, y, z = survey.direction[at]
    value = survey.at(math.degrees(math.atan2(y, x)) % 360, math.degrees(math.asin(z)))
    assert "Spoilt here" in value.caution
    assert value.doubt >= 2


def test_a_light_s_own_doubt_takes_the_place_of_the_plan_s(mono):
    own = mono.with_values({("target", "light", 0, "doubt"): 3})
    light = own.case.target.light[0]
    assert target_log_sd(Doubt(), light) == pytest.approx(math.log(3))
    assert target_log_sd(Doubt(), own.case.target.light[1]) == pytest.approx(math.log(1.25))
    assert target_log_sd(Doubt.none(), light) == 0
    wide, usual = (spread(p.case, Doubt(practice="none"), 1000).rows[0].range for p in (own, mono))
    assert wide.p90_h / wide.p10_h > 2 * usual.p90_h / usual.p10_h


def test_a_filter_ahead_of_a_fast_lens_is_not_moved_by_its_cone(mono):
    fast = mono.with_values({("telescope", "focal_length"): "204 mm"})  # f/2
    ahead = fast.with_values({("filters", 0, "place"): "ahead of the lens"})
    curves = [p.case.filters[0].curve_in(p.case.telescope) for p in (fast, ahead)]
    assert float(curves[1](656.28)) == pytest.approx(0.88, rel=1e-3)
    assert float(curves[0](656.28)) < 0.8 * float(curves[1](656.28))


def test_the_edge_of_the_field_moves_a_band_and_loses_light(mono):
    tilted = mono.with_values({("telescope", "field_angle"): "8 deg"})
    assert first(tilted).extended["H-alpha"][0] < 0.9 * first(mono).extended["H-alpha"][0]
    corner = mono.with_values({("telescope", "vignetting"): 0.3})
    for name in ("sky_e_s", "ab_zero_e_s"):
        assert getattr(first(corner), name) == pytest.approx(0.7 * getattr(first(mono), name), rel=1e-9)


def test_an_even_background_can_be_asked_for(mono):
    perfect = mono.with_values({("routine", "background_flatness"): "perfect"})
    assert perfect.case.routine.background_flatness == 0
    assert perfect.solve().rows[1].kept_h < 0.98 * mono.solve().rows[1].kept_h, "the typical one counts at best too"
    assert "a background even to 0.03 %" in mono.solve().filters[0].verdict
    assert "background even" not in perfect.solve().filters[0].verdict
    even, usual = (spread(p.case, Doubt(), 1000).rows[1] for p in (perfect, mono))
    assert usual.range.p90_h > 1.1 * even.range.p90_h
    assert usual.shares["flatness"] > 0.01
    assert not even.shares.get("flatness")


def test_width_of_the_filter_is_in_the_draws(mono):
    sure = {name: 1 for name in ("lamp_mix", "natural_sky", "target", "efficiency", "narrow_sky", "flatness")}
    row = spread(mono.case, Doubt(**sure, practice="none", filter_width=1.2), 1000).rows[1]
    assert row.shares["filter_width"] > 0.05
