"""Values that are assumed are those that the page of keys tells of, and what they are said to come from bears them."""

import re

import numpy as np
import pytest

from expocalc.base.field import fields_of
from expocalc.budget.doubt import Doubt
from expocalc.light.sky import Sky


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
