"""The almanac's spline against scipy's, which is well kept and too large for a guest's kernel."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from expocalc.night.spline import EvenSpline


@given(count=st.integers(4, 90), seed=st.integers(0, 2**32 - 1), step=st.sampled_from([0.25, 1.0, 7.5]))
def test_it_is_the_cubic_spline_whose_second_sample_is_no_knot(count, seed, step):
    rng = np.random.default_rng(seed)
    values, start = rng.normal(size=(count, 3, 3)), float(rng.uniform(-1e4, 1e4))
    samples = start + step * np.arange(count)
    places = rng.uniform(samples[0] - step / 2, samples[-1] + step / 2, 50)
    mine, theirs = EvenSpline.through(start, step, values)(places), CubicSpline(samples, values)(places)
    assert mine == pytest.approx(theirs, rel=1e-7, abs=1e-7)


def test_a_cubic_is_met_exactly_and_a_quartic_is_not():
    x = np.arange(9.0)
    between = np.linspace(0, 8, 33)
    assert EvenSpline.through(0.0, 1.0, x**3 - 2 * x)(between) == pytest.approx(between**3 - 2 * between, abs=1e-10)
    assert np.abs(EvenSpline.through(0.0, 1.0, x**4)(between) - between**4).max() > 1e-3
