"""Whose pixels a number of a mosaic is of: which colour read noise, sky or star bears hardest on."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from expocalc.budget.case import Case
from expocalc.budget.noise import shortest_sub_s
from expocalc.budget.rates import Rates
from expocalc.budget.row import Row

__all__ = ["of_read_noise", "of_sky", "of_star"]


def of_read_noise(case: Case, rate: Rates, row: Row) -> str | None:
    """Colour that a row's shortest sub is of; None where all pixels are alike, or no sub is long enough."""
    if len(rate.colours) < 2 or not np.isfinite(row.sub_shortest_s):
        return None
    setting, goal = case.camera.setting, case.goal
    each = np.asarray(shortest_sub_s(rate.background_e_s, setting.read_variance_e2, goal.noise_growth))
    return rate.colours[int(np.nanargmin(np.abs(np.where(np.isfinite(each), each, np.inf) - row.sub_shortest_s)))]


def of_sky(rate: Rates) -> str | None:
    """Colour whose pixels the sky fills first; None where all are alike."""
    return _brightest(rate, rate.sky_e_s + rate.dark_e_s)


def of_star(rate: Rates) -> str | None:
    """Colour whose pixels the star that must not fill the well fills first; None where all are alike."""
    return _brightest(rate, rate.peak_share * rate.bright_star_e_s + rate.sky_e_s + rate.dark_e_s)


def _brightest(rate: Rates, electron_s: npt.ArrayLike) -> str | None:
    return None if len(rate.colours) < 2 else rate.colours[int(np.argmax(electron_s))]
