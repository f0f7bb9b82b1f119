"""How well one reading tells the sky in a narrow filter: against towns of lamps that the plan does not name.

The spectra of the lamps are published (CIE 015:2018); how towns mix them is drawn, common practice, no source.
"""

import math

import numpy as np
import pytest

from expocalc.base.photometry import standard_band
from expocalc.budget.doubt import Doubt
from expocalc.gear.passband import Passband
from expocalc.light.lamps import LAMPS
from expocalc.light.mix import lamp_through, natural_through
from expocalc.light.sky import Sky

V = standard_band("bessell-V")
WEIGHT = {  # of a town's lamps in the draws: today's LED and sodium most, the rest as left over
    "led-2700K": 0.32,
    "led-3000K": 0.48,
    "led-4000K": 0.96,
    "led-5000K": 0.48,
    "led-6600K": 0.24,
    "sodium-high-pressure": 0.96,
    "sodium-low-pressure": 0.08,
    "mercury": 0.24,
    "metal-halide": 0.4,
}


USUAL = Sky(zenith_brightness="19 mag/arcsec2")
OF_THE_MIX = 0.14
"""What the doubts of the mix and its colour alone change the sky of a narrow filter by, by the draws themselves."""


def off_by(shares, centre_nm):
    """Logarithm of the skies of towns over the usual one, at one reading in V; shape (towns,)."""
    curve = Passband(centre=f"{centre_nm} nm", width="5 nm").curve
    in_v = shares @ [lamp_through(lamp, V) for lamp in LAMPS]
    in_filter = shares @ [lamp_through(lamp, curve) for lamp in LAMPS]
    town = (USUAL.through(V) - natural_through(V)) / in_v
    return np.log((natural_through(curve) + town * in_filter) / USUAL.through(curve))


def test_doubt_of_a_narrow_filter_is_that_of_towns_of_other_lamps():
    """Where the doubt comes from: other lines than those of the check below."""
    shares = np.random.default_rng(1).dirichlet([WEIGHT[lamp] for lamp in LAMPS], 20_000)
    mean_square = np.mean([np.mean(off_by(shares, nm) ** 2) for nm in (486.1, 658.4, 671.6)])
    assert math.sqrt(mean_square) == pytest.approx(Doubt().log_sd("narrow_sky"), abs=0.01)


@pytest.mark.parametrize(("centre", "held"), [(656.3, 0.80), (500.7, 0.81), (672.0, 0.67)])
def test_towns_of_three_lamps_lie_within(centre, held):
    """Eight of ten is what the range says; a filter of both lines of S II holds two of three."""
    rng = np.random.default_rng(7)
    weight = np.array([WEIGHT[lamp] for lamp in LAMPS])
    shares = np.zeros((3000, len(LAMPS)))
    for row in shares:
        row[rng.choice(len(LAMPS), 3, replace=False, p=weight / weight.sum())] = rng.dirichlet([1, 1, 1])
    sd = math.hypot(Doubt().log_sd("narrow_sky"), OF_THE_MIX)
    assert np.mean(np.abs(off_by(shares, centre)) < 1.2816 * sd) == pytest.approx(held, abs=0.03)


def test_with_the_other_doubts_it_is_a_factor_of_two_in_nineteen_of_twenty():
    """What the README says of a narrow filter from numbers on paper."""
    doubt = Doubt()
    reading = 0.4 * math.log(10) * 0.2  # of a meter
    assert math.exp(2 * math.hypot(doubt.log_sd("narrow_sky"), reading, OF_THE_MIX)) == pytest.approx(2.0, abs=0.25)
