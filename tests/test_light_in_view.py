"""One light in view of the sub-length panel: its own hours, curves, bounds and map, what else passes being noise."""

from pathlib import Path

import numpy as np
import pytest

from expocalc.plan import Plan
from workbook.explore.hours_map import SKY
from workbook.explore.model import map_steps
from workbook.hours.model import picture
from workbook.parts.light_in_view import ALL, for_light, lights_in_view, turned_to
from workbook.sub_length.model import Picture
from workbook.sub_length.view import SubLengthPanel

PLANS = Path(__file__).resolve().parents[1] / "notebooks/plans"
COLOUR = Plan.read(PLANS / "colour-dual-band.toml")
NAME = COLOUR.case.filters[0].name
BOTH = ("H-alpha", "O III")


def endless(hours):
    """Hours with those that never come as endless."""
    return np.where(np.isnan(hours), np.inf, hours)


@pytest.mark.parametrize("light", BOTH)
def test_the_hours_are_that_lights_own(light):
    """At a stated length, those of the row that the answer has for it, and of the hours panel with it in view."""
    stated = COLOUR.with_values({("routine", "sub_length"): "120 s"})
    row = next(one for one in stated.solve().rows if one.light == light)
    seen = for_light(stated, light).solve()
    assert [one.light for one in seen.rows] == [light]
    assert seen.rows[0].clock_h == row.clock_h
    assert picture(stated, NAME, light).stacks[NAME].row.clock_h == row.clock_h
    assert turned_to(stated, light).solve().rows[0] == seen.rows[0]


def test_the_one_that_needs_most_makes_the_curve_of_all():
    each = [endless(Picture(COLOUR, NAME, light).curves[0]) for light in BOTH]
    np.testing.assert_allclose(endless(Picture(COLOUR, NAME).curves[0]), np.maximum(*each))
    assert not np.allclose(*each)


def test_verdict_bars_and_bounds_speak_of_it():
    for light in BOTH:
        shown = Picture(COLOUR, NAME, light)
        assert f" for {light} in the " in shown.words.rest
        assert f"Only {light} is in view." in shown.words.rest
        assert shown.found.filters[0].neediest.light == light
    assert "is in view" not in Picture(COLOUR, NAME).words.rest


def test_the_panel_turns_to_a_light_and_keeps_it_while_a_slider_moves(demo_folder):
    panel = SubLengthPanel("plans/colour-dual-band.toml", demo_folder)
    values = panel.plan.values
    assert panel.light.widget.layout.display is None
    before = panel.shown.curves.copy()
    panel.light.menu.value = "O III"
    assert "O III" in panel.verdict.widget.value
    assert not np.allclose(panel.shown.curves, before)
    assert panel.plan.values == values, "looking is no change of the plan"
    assert not panel.store.unsaved
    panel.numbers["altitude"].box.value = "50 deg"
    assert panel.shown.light == "O III"
    panel.light.menu.value = ALL
    assert "is in view" not in panel.verdict.widget.value
    panel._load(Plan.read(PLANS / "mono-single-lines.toml"))
    assert panel.light.widget.layout.display == "none", "a filter for one light has no choice"


def test_a_map_is_of_the_light_in_view():
    def hours(plan):
        steps = map_steps(plan, NAME, SKY)
        while True:
            try:
                next(steps)
            except StopIteration as done:
                return done.value.hours

    one, other = (hours(turned_to(COLOUR, light)) for light in BOTH)
    np.testing.assert_allclose(np.maximum(endless(one), endless(other)), endless(hours(COLOUR)), rtol=1e-6)
    assert lights_in_view(COLOUR, NAME) == BOTH
