r"""What an hour is worth: the share of the goal that it brings, filter by filter and light by light.

An hour in which the goal would be reached in H hours on the clock, if all hours were like it, brings 1/H of the goal.
Squares of SNR add over subs, so that these shares add over a night. Said against the same filter's hour at the plan's
reference, with the target at the zenith and no Moon, it is an equivalent dark hour:

.. math:: w(t) = \frac{H_\mathrm{reference}}{H(t)}

Patterns of darks and flats and the flatness of the background are common to all subs and don't average as photons do;
the share counts them as if the whole stack had been taken at that moment. That is exact for hours of one kind. In a
stack of several kinds, each sub weighted by what it brings, flatness acts on the weighted mean of the background over
the light, and the rule counts the mean of its squares, which is more: for the demo plan's O III at full Moon it asks
for 5 % too many hours where half of them are moonlit, and the floor at its reference value for 7 % too few, or a third
too few where nearly all are. A plain mean of such subs needs more hours than either: the noisy ones count in full.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import answer_filter
from expocalc.budget.case import Case
from expocalc.budget.clock import clock_s
from expocalc.budget.rates import Rates
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.sub_length import unbounded_hours
from expocalc.budget.verdict import why_that_long
from expocalc.budget.whose import filter_for
from expocalc.gear.filter import Filter
from expocalc.night.moments import ZENITH, Moments, rates_over

__all__ = ["FilterWorth", "Reference", "reference_of", "sky_worth", "worth_of", "worth_over"]


@dataclass(frozen=True, eq=False)
class Reference:
    """One filter of a plan at the reference: target at the zenith, no Moon.

    Attributes
    ----------
    filter_ : Filter
    sub_s : float
        The plan's sub length in this filter. [s]
    need_h : float
        Hours on the clock until the goal, of the light that takes most, one sub at least; infinite where none will
        do. [h]
    light : str or None
        That light; None where the filter passes none.
    light_h : mapping of str to float
        The same for each light, however few subs that is. [h]
    colour : int
        Place of the mosaic colour that sees this light best.
    pixels : str or None
        The same by its letter; None where all pixels are alike.
    ends : str
        What ends the sub, in words; empty where the plan sets its length.
    """

    filter_: Filter
    sub_s: float
    need_h: float
    light: str | None
    light_h: dict[str, float]
    colour: int
    pixels: str | None
    ends: str

    @property
    def name(self) -> str:
        """The filter's."""
        return self.filter_.name

    @property
    def shown(self) -> str:
        """The filter's name as it is shown, and the light that decides where it passes several that are wanted."""
        return filter_for(self.filter_.shown_name, self.light, self.light_h, self.pixels)


@dataclass(frozen=True, eq=False)
class FilterWorth:
    """Worth of the moments in one filter.

    Attributes
    ----------
    lights : mapping of str to ndarray
        Equivalent dark hours per hour on the clock for each light. [-]
    worth : ndarray
        For the light that decides. [-]
    rates : Rates
        Arrays of shape (t, colours).
    """

    lights: dict[str, Floats]
    worth: Floats
    rates: Rates


def _hours(case: Case, rate: Rates, light: str, sub_s: float) -> Floats:
    patch, habits = patch_of(case, rate, light, sub_s), habits_of(case, rate.scale_arcsec)
    return np.asarray(unbounded_hours(patch, habits, case.routine, case.goal_of(light), sub_s))


def reference_of(case: Case, filter_: Filter, sub_s: float | None = None) -> Reference:
    """One filter at the reference.

    Parameters
    ----------
    case : Case
    filter_ : Filter
    sub_s : float, optional
        By default what the plan's answer says. [s]

    Notes
    -----
    Of the last few questions the answer is kept: which night it is does not matter to it.
    """
    return _reference(tuple(getattr(case, name) for name in _LOOKED_AT), filter_, sub_s)


_LOOKED_AT = tuple(field.name for field in Case.declared if field.name not in ("title", "night"))
"""What of a case a reference depends on; parts that did not change are the same objects."""


@lru_cache(maxsize=256)
def _reference(parts: tuple[Any, ...], filter_: Filter, sub_s: float | None) -> Reference:
    case = Case(**dict(zip(_LOOKED_AT, parts, strict=True)))
    summary, rows = answer_filter(case, filter_)
    length = float(summary.sub_s) if sub_s is None else sub_s
    rate = rates_over(case, filter_, ZENITH)
    hours = {light: float(_hours(case, rate, light, length)[0]) for light in rate.lights}
    neediest = max(hours, key=lambda light: hours[light]) if hours else None
    one_sub_h = clock_s(1.0, length, case.routine) / 3600
    colour = next(row.colour for row in rows if row.light == neediest)
    limit = summary.neediest.bounded_by
    return Reference(
        filter_=filter_,
        sub_s=length,
        need_h=max(hours[neediest], one_sub_h) if neediest else math.inf,
        light=neediest,
        light_h=hours,
        colour=0 if colour is None else rate.colours.index(colour),
        pixels=colour,
        ends="" if case.routine.sub_length is not None else why_that_long(case, summary.rates, limit),
    )


def worth_over(case: Case, reference: Reference, at: Moments) -> FilterWorth:
    """Worth of an hour at each of the moments in one filter.

    Parameters
    ----------
    case : Case
    reference : Reference
    at : Moments
        Shape (t,).

    Returns
    -------
    FilterWorth
        0 where the goal can't be reached at all.
    """
    found = rates_over(case, reference.filter_, at)
    lights = {light: _share(case, reference, found, light) for light in reference.light_h}
    nothing = np.zeros(at.altitude_deg.shape)
    return FilterWorth(lights, lights[reference.light] if reference.light else nothing, found)


def worth_of(case: Case, reference: Reference, rate: Rates) -> Floats:
    """Worth of an hour under rates of shape (t, colours), for the light that decides. [-]"""
    if reference.light is None:
        return np.zeros(rate.sky_e_s.shape[:-1])
    return _share(case, reference, rate, reference.light)


def _share(case: Case, reference: Reference, rate: Rates, light: str) -> Floats:
    hours = _hours(case, rate, light, reference.sub_s)
    with np.errstate(invalid="ignore"):
        return np.where(np.isfinite(hours), reference.light_h[light] / hours, 0.0)


def sky_worth(case: Case, reference: Reference, at: Moments, brighter: Floats) -> Floats:
    """Worth of an hour at one moment under skies so many times brighter than expected, shape of `brighter`. [-]"""
    found = rates_over(case, reference.filter_, at)
    rates_ = dataclasses.replace(
        found,
        sky_e_s=found.sky_e_s[0] * brighter[:, None],
        extended={name: np.broadcast_to(e_s, (brighter.size, e_s.shape[-1])) for name, e_s in found.extended.items()},
        stars={name: np.broadcast_to(e_s, (brighter.size, e_s.shape[-1])) for name, e_s in found.stars.items()},
        fwhm_px=np.broadcast_to(found.fwhm_px, brighter.shape),
    )
    return worth_of(case, reference, rates_)
