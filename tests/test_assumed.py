"""Values that are assumed are those that the page of keys tells of, and what they are said to come from bears them."""

import re
from pathlib import Path

import numpy as np
import pytest

from expocalc.base.field import fields_of
from expocalc.budget.assumed import assumptions
from expocalc.budget.doubt import Doubt
from expocalc.light.lights import LineLight
from expocalc.light.sky import Sky
from expocalc.night.night import tonight_of
from expocalc.plan import Plan
from workbook.compare.model import Side, compare
from workbook.hours.model import picture
from workbook.hours.verdict import words
from workbook.night.verdict import said as night_said
from workbook.plan.model import words as form_words
from workbook.sub_length.model import Picture
from workbook.workshop import own_plan_boxes


def origin(noun, name):
    return next(field.origin for field in fields_of(noun) if field.name == name)


def test_lamps_that_nobody_names_are_those_that_are_told():
    told = re.findall(r"(\d\.\d+) ([\w-]+)", origin(Sky, "lamps"))
    assert len(told) == 2
    assert Sky(bortle=5).lamps == {lamp: float(share) for share, lamp in told}


def test_a_quiet_and_an_active_year_are_about_one_deviation_of_the_natural_sky():
    ends = [float(end) for end in re.findall(r"\d\.\d+", origin(Doubt, "natural_sky"))]  # from memory
    deviations = np.abs(np.log(ends)) / np.log(Doubt().natural_sky)
    assert len(ends) == 2
    assert ends[0] < 1 < ends[1]
    assert deviations == pytest.approx(1, abs=0.25)


NEUTRAL = {
    ("routine", "darks"): 30,
    ("routine", "flats"): 30,
    ("routine", "background_flatness"): 0.0003,
    ("routine", "dither_every"): 2,
    ("routine", "lost_per_hour"): 0.1,
    ("routine", "dead_time"): "2 s",
}
SAID = {
    "darks": "30 darks",
    "flats": "30 flats",
    "background_flatness": "a background even to 0.03 %",
    "dither_every": "no dither",
    "lost_per_hour": "no spoilt subs",
    "dead_time": "no pause between subs",
}
PERFECT = {
    "darks": ("perfect", "none"),
    "flats": ("perfect", "none"),
    "background_flatness": ("perfect", 0.01),
    "dither_every": ("none", 3),
    "lost_per_hour": (0, 0.5),
    "dead_time": ("0 s", "5 s"),
}
FULL = Plan.read(Path(__file__).resolve().parents[1] / "notebooks/plans/mono-single-lines.toml").with_values(
    {("routine", "lost_per_dither"): None, **NEUTRAL}
)


def panels_words(plan):
    """The verdict of the command and of each panel."""
    name = plan.case.filters[0].name
    yield plan.solve().filters[0].verdict
    yield Picture(plan, name).words.rest
    yield words(picture(plan, name), None).basis
    yield " ".join(form_words(plan.values, plan).rest)
    yield compare(Side.of(plan), Side.of(plan), 10.0).words.basis
    night = tonight_of(plan.case)
    yield " ".join(night_said(night, night.campaign).rest)


@pytest.mark.parametrize("key", SAID)
def test_what_a_plan_leaves_out_is_said_in_every_verdict(key):
    """Left out it is named, in the command and on each page; given, "none" and "perfect" included, nothing is."""
    assert not any("Assumed" in text for text in panels_words(FULL))
    left_out = FULL.with_values({("routine", key): None})
    for text in panels_words(left_out):
        assert f"Assumed, since the plan does not say: {SAID[key]}." in text
    for value in PERFECT[key]:
        given = FULL.with_values({("routine", key): value})
        assert assumptions(given.case.routine) == ()


def test_two_sides_that_assume_other_things_say_so():
    bare = FULL.with_values({("routine", "darks"): None})
    said = compare(Side.of(FULL), Side.of(bare), 10.0).words.basis
    assert "On the right: assumed, since the plan does not say: 30 darks." in said
    assert "On the left: assumed" not in said


def test_no_dither_said_and_no_dither_left_out_take_the_same_hours():
    hours = {
        value: FULL.with_values({("routine", "dither_every"): value}).solve().filters[0].clock_h
        for value in (None, "none")
    }
    assert hours[None] == hours["none"]


def gas_words(text):
    """Rayleighs that a text gives bright, faint and very faint gas, by the words."""
    found = re.findall(r"(bright|very faint|faint) gas (?:has |some |with |of )*(\d+)", text)
    return {(words, int(number)) for words, number in found}


def test_words_for_brightness_are_those_of_the_field_wherever_they_are_said():
    told = gas_words(origin(LineLight, "brightness"))
    assert {words for words, _ in told} == {"bright", "faint", "very faint"}
    root = Path(__file__).parents[1]
    places = [*root.glob("notebooks/**/*.ipynb"), *root.glob("workbook/**/*.py"), *root.glob("workbook/**/*.html")]
    said = {path.name: gas_words(path.read_text(encoding="utf-8")) for path in places}
    assert said["5-your-plan.ipynb"] == told, "the lesson says all three"
    assert all(words <= told for words in said.values()), {name: words for name, words in said.items() if words - told}


def test_the_own_plan_s_new_light_is_faint_gas():
    """H-alpha nearer to faint gas, in magnitudes, than to bright or very faint gas; no line as bright as bright gas."""
    told = dict(gas_words(origin(LineLight, "brightness")))
    glow = {line: float(text.removesuffix(" R")) for line, text in own_plan_boxes._GLOW.items()}
    assert min(told, key=lambda words: abs(np.log(glow["H-alpha"] / told[words]))) == "faint"
    assert all(told["very faint"] < one < told["bright"] for one in glow.values())
