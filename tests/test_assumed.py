"""Values that are assumed are those that the page of keys tells of, and what they are said to come from bears them."""

import re
from pathlib import Path

import numpy as np
import pytest

from expocalc.base.field import fields_of
from expocalc.budget.doubt import Doubt
from expocalc.light.lights import LineLight
from expocalc.light.sky import Sky
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
