"""Hours to plan for over those at best, draw by draw: what turns nights at best into nights to plan for."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import answer
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.budget.spread import DRAWS, Spread, spread

__all__ = ["hours_ratios"]


def hours_ratios(case: Case) -> Mapping[str, Floats]:
    """Hours of each draw over the hours at best, for each filter that passes a light.

    Parameters
    ----------
    case : Case

    Returns
    -------
    mapping of str to ndarray
        Shape (draws,); infinite where no hours of that draw reach the goal. Filters whose goal is out of reach at best
        are left out. [-]

    Notes
    -----
    With the target at the zenith and no Moon, which is where the nights' hours are counted.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> ratios = hours_ratios(Plan.example().case)["H-alpha"]
    >>> bool((ratios > 1).mean() > 0.8)
    True
    """
    under = case.measured_under
    if under.altitude is None:  # else the measured sky would move with the target
        under = dataclasses.replace(under, altitude=case.target.altitude)
    high = case.seen(target=dataclasses.replace(case.target, altitude="90 deg"), moon=None, measured_under=under)
    found = answer(case)  # the subs are the plan's
    drawn = _of_filters(spread(high, case.doubt, DRAWS, found=found))
    sure = _of_filters(spread(high, Doubt.none(), 1, found=found))
    return {name: hours / sure[name] for name, hours in drawn.items() if np.isfinite(sure[name]).all()}


def _of_filters(found: Spread) -> dict[str, Floats]:
    """Kept hours of each draw: the most that one of a filter's lights needs."""
    names = dict.fromkeys(row.filter_name for row in found.rows)
    return {name: np.max([row.kept_h for row in found.rows if row.filter_name == name], axis=0) for name in names}
