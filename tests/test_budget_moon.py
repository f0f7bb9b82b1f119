"""The Moon in a plan: more sky in the rates, hours with it down as a choice, the same in every draw."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from expocalc.budget.doubt import Doubt
from expocalc.budget.leverage import leverage
from expocalc.budget.rates import rates
from expocalc.budget.spread import spread
from expocalc.gear.response import response
from expocalc.light.airmass import natural_factor
from expocalc.light.moon import moon_factor, moon_spectrum
from expocalc.plan import Plan, PlanError

MONO = Path(__file__).resolve().parent.parent / "notebooks" / "plans" / "mono-single-lines.toml"
FULL = {
    ("moon", "illuminated"): 1.0,
    ("moon", "altitude"): "45 deg",
    ("moon", "separation"): "60 deg",
}


@pytest.fixture(scope="module")
def dark():
    return Plan.read(MONO)


@pytest.fixture(scope="module")
def moonlit(dark):
    return dark.with_values(FULL)


def test_sky_grows_by_the_factor_of_the_moon_model(dark, moonlit):
    case = moonlit.case
    light = moon_spectrum(case.moon, 60.0, float(case.sky.extinction_curve(12.0)(550)))
    for filter_ in case.filters:
        curve = response(case.telescope, filter_, case.camera)
        factor = moon_factor(case.sky, curve, light, 60.0)
        before, after = rates(dark.case, filter_), rates(case, filter_)
        np.testing.assert_allclose(after.sky_e_s / before.sky_e_s, factor, rtol=1e-12)
        np.testing.assert_allclose(after.sky_e_s - after.moon_e_s, before.sky_e_s, rtol=1e-12)
        assert factor > 1.5


def test_hours_grow_and_the_verdict_says_why(dark, moonlit):
    for before, after in zip(dark.solve().filters, moonlit.solve().filters, strict=True):
        assert after.clock_h > 1.5 * before.clock_h
        assert "The Moon makes the sky in this filter" in after.verdict
        assert "Moon" not in before.verdict


def test_moon_below_the_horizon_changes_nothing(dark):
    down = dark.with_values({**FULL, ("moon", "altitude"): "-10 deg", ("moon", "separation"): "100 deg"})
    assert down.solve().rows == dark.solve().rows
    assert "moonless" not in {choice.key for choice in leverage(down.case)}


def test_moon_down_is_a_choice_worth_what_the_dark_plan_needs(dark, moonlit):
    choice = next(choice for choice in leverage(moonlit.case) if choice.key == "moonless")
    assert choice.after_h == pytest.approx(leverage(dark.case)[0].before_h, rel=1e-9)
    assert choice.saved_h > 0
    assert "moonless" not in {choice.key for choice in leverage(dark.case)}


def measured_at(plan, e_s=0.3, **under):
    """A plan whose first filter's sky was measured, under conditions if any are given."""
    name = plan.case.filters[0].name
    return plan.with_values({("sky", "measured"): {name: f"{e_s} electron/s"}, ("measured_under",): under})


def sky_of(plan):
    return rates(plan.case, plan.case.filters[0]).sky_e_s


def test_a_sky_measured_under_this_moon_holds_it_already(moonlit):
    assert sky_of(measured_at(moonlit, moon=dict(moonlit.values["moon"]))) == pytest.approx(0.3)


def test_a_sky_measured_without_the_moon_gets_it_by_the_model_s_ratio(moonlit):
    first = moonlit.case.filters[0]
    dark = rates(moonlit.with_values({("moon",): None}).case, first).model_sky_e_s
    ratio = rates(moonlit.case, first).model_sky_e_s / dark
    assert ratio > 2, "a full Moon"
    assert sky_of(measured_at(moonlit)) == pytest.approx(0.3 * ratio, rel=0.01)


def test_a_sky_measured_at_60_degrees_is_the_model_s_ratio_brighter_at_35(moonlit):
    plan = moonlit.with_values({("moon",): None, ("target", "altitude"): "35 deg"})
    first, higher = plan.case.filters[0], plan.with_values({("target", "altitude"): "60 deg"})
    ratio = rates(plan.case, first).model_sky_e_s / rates(higher.case, first).model_sky_e_s
    assert ratio > 1.2
    assert sky_of(measured_at(plan, altitude="60 deg")) == pytest.approx(0.3 * ratio, rel=0.01)
    assert sky_of(measured_at(plan)) == pytest.approx(0.3)


def test_a_natural_sky_measured_at_60_degrees_brightens_down_to_35_as_its_layer_does(moonlit):
    """No gradient, no town: van Rhijn's layer behind the air is all that changes."""
    natural = {("sky", "gradient"): None, ("sky", "zenith_brightness"): "22.1 mag/arcsec2", ("moon",): None}
    plan = moonlit.with_values({**natural, ("target", "altitude"): "35 deg"})
    k = float(plan.case.sky.extinction_curve(float(plan.case.site.elevation.value))(550))
    low, high = natural_factor([35.0, 60.0], k)
    assert low > 1.2 * high
    assert plan.case.sky.darker_than_natural
    assert sky_of(measured_at(plan, altitude="60 deg")) == pytest.approx(0.3 * low / high, rel=1e-6)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    here=st.floats(25, 85),
    there=st.floats(25, 85),
    lit=st.floats(0.05, 1),
    apart=st.floats(40, 120),
    gradient=st.sampled_from([None, "0.4 mag"]),
    at=st.integers(0, 1),
)
def test_a_measurement_anywhere_comes_back_by_the_model_s_ratio(dark, here, there, lit, apart, gradient, at):
    """What the model gives under other conditions, put in as measured there, is what it gives in this plan: to 1 %."""
    moon = {"illuminated": lit, "altitude": "45 deg", "separation": f"{apart} deg"}
    plan = dark.with_values({("target", "altitude"): f"{here} deg", ("sky", "gradient"): gradient})
    other = plan.with_values({("target", "altitude"): f"{there} deg", ("moon",): moon})
    filter_ = plan.case.filters[at]
    try:
        seen = float(rates(other.case, filter_).sky_e_s[0])
    except ValueError:
        assume(False)  # no place on the sky has that separation
    measured = plan.with_values(
        {
            ("sky", "measured"): {filter_.name: f"{seen} electron/s"},
            ("measured_under",): {"altitude": f"{there} deg", "moon": moon},
        }
    )
    expected = float(rates(plan.case, filter_).sky_e_s[0])
    assert float(rates(measured.case, filter_).sky_e_s[0]) == pytest.approx(expected, rel=0.01)


def test_the_verdict_says_the_night_of_the_measurement(dark):
    dated = measured_at(dark, date="2026-11-26").solve().filters[0].verdict
    assert "The sky is the one you measured (2026-11-26), " in dated
    assert "times what the model expects." in dated
    assert "you measured, " in measured_at(dark).solve().filters[0].verdict


@pytest.mark.parametrize("date", ["2026-13-01", "tuesday", 5, "2026-11-26T20:00:00"])
def test_a_night_that_is_no_date_is_refused(dark, date):
    with pytest.raises(PlanError, match=r"\[measured_under\] date must be a date, got .* write it like"):
        measured_at(dark, date=date)


def test_the_verdict_says_what_is_assumed_of_a_measurement_without_conditions(dark):
    """At another altitude of the target the same rate means another sky: nobody is to miss that."""

    def said(plan):
        return plan.solve().filters[0].verdict.replace("\xa0", " ")

    altitude = f"{float(dark.case.target.altitude.value):g}"
    bare = said(measured_at(dark))
    assert f"taken as measured at {altitude}° with the Moon down, since the plan names no altitude of it." in bare
    moon = {"illuminated": 1.0, "altitude": "40 deg", "separation": "70 deg"}
    assert f"taken as measured at {altitude}° under its own Moon, since" in said(measured_at(dark, moon=moon))
    assert "taken as measured" not in said(measured_at(dark, altitude="40 deg"))
    assert "taken as measured" not in said(dark)


def test_without_doubt_every_draw_is_the_moonlit_plan(moonlit):
    sure = dataclasses.replace(
        moonlit.case, sky=dataclasses.replace(moonlit.case.sky, brightness_error="0 mag/arcsec2"), doubt=Doubt.none()
    )
    for row, drawn in zip(moonlit.solve().rows, spread(sure, sure.doubt, draws=50).rows, strict=True):
        assert drawn.range.p10_h == pytest.approx(row.kept_h, rel=1e-6)
        assert drawn.range.p90_h == pytest.approx(row.kept_h, rel=1e-6)


def test_a_place_that_no_sky_has_is_one_sentence(dark):
    with pytest.raises(PlanError, match="got 10 deg"):
        dark.with_values({**FULL, ("moon", "separation"): "10 deg", ("moon", "altitude"): "5 deg"}).solve()
