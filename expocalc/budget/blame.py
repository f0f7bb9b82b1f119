r"""What the hours are spent on: the hours on the clock with one cause after another taken out, all else as it is.

The sub length stays. A cause is taken out of the subs alone: without read noise the darks are as noisy as before, since
their noise is calibration. Causes do not add up to the whole, as hours are not a sum of them; what is said of each is
what it costs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import astropy.units as u
import numpy as np

from expocalc.budget.case import Case
from expocalc.budget.estimator import Estimator
from expocalc.budget.parts import MOST_SUBS, Parts
from expocalc.budget.patch import Habits, Patch, resized
from expocalc.budget.rates import Rates
from expocalc.budget.stack import colour_snr2, column, parts_of
from expocalc.budget.stacked import habits_of, patch_of

__all__ = ["CAUSES", "Blame", "Effort"]

CAUSES: Mapping[str, str] = MappingProxyType(
    {
        "sky": "the sky's noise",
        "target": "the noise of the target's own light",
        "other light": "the noise of the target's other light",
        "dark current": "the noise of dark current",
        "read noise": "read noise",
        "calibration": "what calibration leaves",
        "stacking": "the way of stacking",
        "background": "the error of the background's level",
        "unevenness": "the unevenness of the background",
        "faint stars": "stars too faint to be taken out",
        "losses": "spoilt subs",
        "pauses": "the pauses between subs",
    }
)
"""What can be taken out, by name, in plain words."""

_NOTHING: Mapping[str, Mapping[str, Any]] = {
    "losses": {"lost_per_hour": 0, "lost_per_dither": 0},
    "pauses": {"dead_time": 0 * u.s, "dither_time": 0 * u.s},
}
"""The routine without spoilt subs, and without pauses."""
_LEAST = 1e-12
"""Share of the noise that stays where there would be none."""


@dataclass(frozen=True, eq=False)
class Effort:
    """What a light takes in a filter with subs of some length.

    Parameters
    ----------
    case : Case
    rate : Rates
        Of the filter.
    light : str
        One of those that it passes.
    sub_s : float
        [s]
    side_arcsec : float, optional
        Of the patch, in place of the light's own. [arcsec]
    """

    case: Case
    rate: Rates
    light: str
    sub_s: float
    side_arcsec: float | None = None

    @cached_property
    def patch(self) -> Patch:
        """As the model of the stack takes it."""
        patch = patch_of(self.case, self.rate, self.light, self.sub_s)
        return patch if self.side_arcsec is None else resized(patch, self.side_arcsec / self.rate.scale_arcsec)

    @cached_property
    def habits(self) -> Habits:
        """As the model of the stack takes them."""
        return habits_of(self.case, self.rate.scale_arcsec)

    @cached_property
    def parts(self) -> Parts:
        """What of the stack does not depend on the number of subs."""
        return parts_of(self.patch, self.habits)

    @cached_property
    def hours(self) -> float:
        """On the clock until the goal, parts of a sub counted; infinite where no hours will do. [h]"""
        return self._hours(self.parts)

    @cached_property
    def ceiling(self) -> float:
        """SNR that no hours exceed. [-]"""
        return _ceiling(self.parts)

    @property
    def full(self) -> bool:
        """Whether sky and dark current alone fill the well of the colour that counts, so that nothing shows."""
        at = int(np.argmax(colour_snr2(self.patch, self.habits, 1.0)))
        return bool((self.rate.sky_e_s[at] + self.rate.dark_e_s) * self.sub_s >= self.case.camera.setting.saturation_e)

    def _hours(self, parts: Parts, **without: Any) -> float:
        kept = float(parts.subs_for(self.case.goal_of(self.light) ** 2))
        if self.full or kept > MOST_SUBS:
            return math.inf
        routine = replace(self.case.routine, **without) if without else self.case.routine
        return routine.clock_h(kept, self.sub_s)

    def without(self, cause: str) -> tuple[float, float]:
        """Hours on the clock and ceiling with one of :data:`CAUSES` taken out. [h, -]"""
        if cause in _NOTHING:
            return self._hours(self.parts, **_NOTHING[cause]), self.ceiling
        parts = _TAKEN_OUT[cause](self)
        return self._hours(parts), _ceiling(parts)

    def _quieter(self, per_sub_e2: object) -> Parts:
        """Parts without a variance of one sub that the background's estimate has as well. [electron2]"""
        background = 1 + (column(self.patch.side_px) / column(self.habits.background_px)) ** 2
        random_e2 = self.parts.random_e2
        less = np.maximum(random_e2 - background * per_sub_e2, _LEAST * random_e2)
        return replace(self.parts, random_e2=np.where(self.parts.worth > 0, less, random_e2))

    def _without_target(self) -> Parts:
        less = np.maximum(self.parts.random_e2 - self.parts.signal_e, _LEAST * self.parts.random_e2)
        return replace(self.parts, random_e2=np.where(self.parts.worth > 0, less, self.parts.random_e2))


_TAKEN_OUT: Mapping[str, Callable[[Effort], Parts]] = MappingProxyType(
    {
        "sky": lambda one: one._quieter(one.rate.sky_e_s * one.sub_s),
        "other light": lambda one: one._quieter((one.patch.light_e_s - one.rate.sky_e_s) * one.sub_s),
        "target": Effort._without_target,
        "dark current": lambda one: one._quieter(one.rate.dark_e_s * one.sub_s),
        "read noise": lambda one: one._quieter(one.patch.read_variance_e2),
        "calibration": lambda one: replace(one.parts, common_e2=0.0 * one.parts.common_e2),
        "stacking": lambda one: replace(one.parts, estimator=Estimator()),
        "background": lambda one: parts_of(one.patch, replace(one.habits, background_px=math.inf)),
        "unevenness": lambda one: parts_of(one.patch, replace(one.habits, flatness=0.0)),
        "faint stars": lambda one: parts_of(replace(one.patch, faint_e_s=0.0), one.habits),
    }
)


def _ceiling(parts: Parts) -> float:
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.sqrt(parts.endless_snr2()))


@dataclass(frozen=True, eq=False)
class Blame:
    """Hours and ceiling of an effort, and both without each cause.

    Attributes
    ----------
    effort : Effort
    hours_h, ceilings : mapping of str to float
        With the cause taken out, by the names of :data:`CAUSES`. [h, -]
    """

    effort: Effort
    hours_h: Mapping[str, float]
    ceilings: Mapping[str, float]

    @classmethod
    def of(cls, effort: Effort) -> Blame:
        """Take out one cause after another.

        Examples
        --------
        >>> from expocalc.budget.rates import rates
        >>> from expocalc.plan import Plan
        >>> case = Plan.example().case
        >>> found = Blame.of(Effort(case, rates(case, case.filters[0]), "H-alpha", 30.0))
        >>> found.largest, found.saved_h("sky") > found.saved_h("read noise") > found.saved_h("pauses") > 0
        ('sky', True)
        >>> found.saved_h("calibration")
        0.0
        """
        found = {cause: effort.without(cause) for cause in CAUSES}
        return cls(
            effort,
            MappingProxyType({cause: hours for cause, (hours, _) in found.items()}),
            MappingProxyType({cause: ceiling for cause, (_, ceiling) in found.items()}),
        )

    def saved_h(self, cause: str) -> float:
        """Hours that are saved without a cause; infinite where only that brings the goal within reach. [h]"""
        hours, without = self.effort.hours, self.hours_h[cause]
        if math.isinf(hours):
            return 0.0 if math.isinf(without) else math.inf
        saved = hours - without
        return saved if saved > 1e-8 * hours else 0.0  # what the search leaves open is no cause

    @property
    def ranked(self) -> tuple[str, ...]:
        """Causes by the hours that they cost, the dearest first; those that cost nothing are left out."""
        return tuple(sorted((one for one in CAUSES if self.saved_h(one) > 0), key=lambda one: -self.saved_h(one)))

    @property
    def largest(self) -> str | None:
        """The cause that costs most; None where none costs anything."""
        return next(iter(self.ranked), None)

    @property
    def capping(self) -> str | None:
        """What makes the ceiling: the cause without which it is highest; None where none lifts it."""
        high = max(self.ceilings, key=lambda cause: self.ceilings[cause])
        return high if self.ceilings[high] > self.effort.ceiling * (1 + 1e-9) else None
