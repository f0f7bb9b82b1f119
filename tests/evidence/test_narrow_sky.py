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


@pytest.mark.parametrize("centre", [656.3, 500.7, 672.0])
def test_doubt_of_a_narrow_filter_is_that_of_towns_of_other_lamps(centre):
    curve = Passband(centre=f"{centre} nm", width="5 nm").curve
    usual = Sky(zenith_brightness="19 mag/arcsec2")
    shares = np.random.default_rng(20261126).dirichlet([WEIGHT[lamp] for lamp in LAMPS], 20_000)
    in_v = shares @ [lamp_through(lamp, V) for lamp in LAMPS]
    in_filter = shares @ [lamp_through(lamp, curve) for lamp in LAMPS]
    town = (usual.through(V) - natural_through(V)) / in_v
    off = np.log((natural_through(curve) + town * in_filter) / usual.through(curve))
    assert math.sqrt(np.mean(off**2)) == pytest.approx(Doubt().log_sd("narrow_sky"), abs=0.08)


def test_with_the_other_doubts_it_is_a_factor_of_two_in_nineteen_of_twenty():
    """What the README says of a narrow filter from numbers on paper."""
    doubt = Doubt()
    reading = 0.4 * math.log(10) * 0.2  # of a meter
    lamps = 0.14  # of the mix and its colour, by the draws themselves
    assert math.exp(2 * math.hypot(doubt.log_sd("narrow_sky"), reading, lamps)) == pytest.approx(2.0, abs=0.25)
