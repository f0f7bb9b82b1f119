"""No number changes unseen: 300 plans of every kind give what they gave when their table was made."""

import runpy
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

MADE = SimpleNamespace(**runpy.run_path(str(Path(__file__).with_name("solved_plans.py"))))


@pytest.mark.parametrize("half", MADE.HALVES)
def test_plans_give_the_numbers_of_their_table(half):
    found, ranges = MADE.kept(half)
    assert len(found) == MADE.PLANS
    for number, expected in found.items():
        plan = MADE.plan_of(half, number)
        np.testing.assert_allclose(MADE.numbers_of(plan, half), expected, rtol=1e-6, err_msg=f"{half} {number}")
        if number in ranges:
            np.testing.assert_allclose(MADE.ranges_of(plan), ranges[number], rtol=1e-6, err_msg=f"{half} {number}")
