"""What moonlight leaves of an hour in each filter, as a range: the model of moonlight is only so good.

References
----------
.. [krisciunas] Krisciunas, K. & Schaefer, B. E. 1991, PASP 103, 1033: within 8 to 23 % of clear nights.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.rates import Rates
from expocalc.night.moments import moments_of, rates_over
from expocalc.night.night import Tonight
from expocalc.night.windows import almanac_of
from expocalc.night.worth import worth_of

__all__ = ["MoonCost", "moon_costs"]

ACCURACY = 0.23
"""How far moonlight may be off in clear air. [-] [krisciunas]_"""
_MOMENTS = 9


@dataclass(frozen=True)
class MoonCost:
    """Share of an hour's worth that moonlight leaves in one filter, over tonight's moonlit windows. [-]

    `shown` is the filter's name for people, with the light that decides where there are several.
    """

    filter_name: str
    shown: str
    low: float
    middle: float
    high: float


def moon_costs(night: Tonight) -> tuple[MoonCost, ...]:
    """What tonight's Moon leaves of the hours in its windows; empty where it is down in all of them."""
    almanac, nights = almanac_of(night.case), night.nights
    lit = [window for window in night.windows if window.moon_up]
    if almanac is None or nights is None or not lit:
        return ()
    t = np.concatenate([np.linspace(window.begin_s, window.end_s, _MOMENTS) for window in lit])
    at = moments_of(night.case, almanac, t)
    found = []
    for reference in nights.references:
        if reference.light is None:
            continue
        rate = rates_over(night.case, reference.filter_, at)
        dark = worth_of(night.case, reference, _moonlit(rate, 0.0)).sum()
        shares = [
            float(worth_of(night.case, reference, _moonlit(rate, times)).sum() / dark) if dark else 0.0
            for times in (1 + ACCURACY, 1.0, 1 - ACCURACY)
        ]
        found.append(MoonCost(reference.name, reference.shown, *shares))
    return tuple(found)


def _moonlit(rate: Rates, times: float) -> Rates:
    """The rates under so many times the moonlight."""
    sky: Floats = rate.sky_e_s + (times - 1) * rate.moon_e_s
    return dataclasses.replace(rate, sky_e_s=sky)
