"""When frames of a plan may have been taken: a dark hour at which target and Moon stand as the plan says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.night.moments import Moments, moments_of
from expocalc.night.windows import almanac_of, position_of

__all__ = ["USUAL", "moment_like"]

USUAL = datetime(2026, 10, 10, 19, 0)
"""Where a plan has no place or no coordinates. [UTC]"""
_DAYS, _STEP_S, _FINE_S = 365, 1200.0, 60.0
_DARK_DEG = -18.0
_MOON_DOWN_DEG = -1.0


def moment_like(case: Case) -> datetime:
    """Begin of a first sub, UTC: the moment of a year at which the sky is most nearly the plan's.

    Parameters
    ----------
    case : Case

    Returns
    -------
    datetime
        :data:`USUAL` where the plan has no place or no coordinates, or its target is never up in the dark.
    """
    almanac = almanac_of(case)
    if almanac is None or position_of(case) is None:
        return USUAL
    start_s = USUAL.replace(tzinfo=UTC).timestamp()
    unix_s = start_s + np.arange(0, _DAYS * 86400, _STEP_S)
    unix_s = unix_s[almanac.sun(unix_s).altitude_deg < _DARK_DEG]
    if not unix_s.size:
        return USUAL
    best = unix_s[np.argmin(_unlike(case, moments_of(case, almanac, unix_s)))]
    near = best + np.arange(-_STEP_S, _STEP_S + 1, _FINE_S)
    at = moments_of(case, almanac, near)
    chosen = int(np.argmin(_unlike(case, at)))
    if at.altitude_deg[chosen] <= 0:
        return USUAL
    return datetime(1970, 1, 1) + timedelta(seconds=float(near[chosen]))


def _unlike(case: Case, at: Moments) -> Floats:
    """How far from the plan's each moment is, in degrees squared."""
    apart = (at.altitude_deg - float(case.target.altitude.value)) ** 2
    apart = apart + np.where(at.azimuth_deg > 180, 4.0, 0.0)  # rather rising: it stays up for the next subs
    moon = case.moon
    if moon is None or float(moon.altitude.value) <= 0:
        return np.asarray(apart + np.where(at.moon_altitude_deg > _MOON_DOWN_DEG, 1e6, 0.0))
    for found, planned in (
        (at.moon_altitude_deg, float(moon.altitude.value)),
        (at.moon_separation_deg, float(moon.separation.value)),
        (at.moon_phase_deg, moon.phase_deg),
    ):
        apart = apart + (found - planned) ** 2
    return np.asarray(apart)
