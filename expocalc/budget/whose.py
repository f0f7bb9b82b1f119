"""Whose a number is: the light that sets a filter's hours, and the colour of a mosaic that bears hardest."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import numpy.typing as npt

from expocalc.base.words import in_colour
from expocalc.budget.case import Case
from expocalc.budget.noise import shortest_sub_s
from expocalc.budget.rates import Rates
from expocalc.budget.row import FilterAnswer, Row

__all__ = ["filter_for", "of_filter", "of_read_noise", "of_sky", "of_star", "whose", "whose_hours"]


def whose(light: str | None, lights: Collection[str], colour: str | None = None) -> str:
    """The light that sets a number of hours, in words; empty where the filter is for one light only.

    Parameters
    ----------
    light : str or None
        The light that sets the hours.
    lights : collection of str
        All that the filter is for and passes.
    colour : str, optional
        Of the mosaic's pixels that the hours are counted in.

    Examples
    --------
    >>> whose("O III", ["H-alpha", "O III"], "G"), whose("O III", ["O III"], "G")
    ('for O III in green', '')
    """
    return f"for {light}{in_colour(colour)}" if light is not None and len(lights) > 1 else ""


def filter_for(shown: str, light: str | None, lights: Collection[str], colour: str | None = None) -> str:
    """A filter's name beside a number of hours, with the light that sets them as :func:`whose` says it.

    Parameters
    ----------
    shown : str
        The filter's name as it is shown.
    light, lights, colour
        As there.

    Examples
    --------
    >>> filter_for("Dual 6 nm", "O III", ["H-alpha", "O III"], "G"), filter_for("O III 3 nm", "O III", ["O III"])
    ('Dual 6 nm for O III in green', 'O III 3 nm')
    """
    return f"{shown} {whose(light, lights, colour)}".rstrip()


def whose_hours(one: FilterAnswer) -> str:
    """As :func:`whose`, of a filter's answer."""
    row = one.neediest
    return whose(row.light, one.rates.lights, row.colour)


def of_filter(one: FilterAnswer) -> str:
    """As :func:`filter_for`, of a filter's answer."""
    return f"{one.filter_shown} {whose_hours(one)}".rstrip()


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
