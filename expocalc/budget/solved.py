"""The answer as a function of arrays: sub lengths, hours, ceiling and shares of every light of every filter at once.

The first axis holds the lights of all filters, one after another. Behind it lie whatever axes the terms and rates
have: none for a plan, one for each place of a sweep. Where lengths are looked at, their axis stands before all others.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.advice import advised_sub, in_whole_subs
from expocalc.budget.case import Case
from expocalc.budget.clock import kept_share
from expocalc.budget.lengths import LOG_NODES, Asked, along, asked_lengths
from expocalc.budget.lights import Lights, columned, lights_of
from expocalc.budget.limits import BOUNDS, Limits, limits
from expocalc.budget.needed import needed
from expocalc.budget.noise import shortest_sub_s
from expocalc.budget.rates import Rates
from expocalc.budget.routine import LONGEST_SUB_S
from expocalc.budget.sub_length import best_of, worth_of
from expocalc.budget.terms import Terms

__all__ = ["REASONS", "Solved", "solve"]

LEAST_USED = 0.05
"""A mosaic colour counts as used for a light when it carries this share of the squared SNR."""
HOPELESS_SNR = 1e-6
"""Stands for a goal out of reach in the search for the best sub: it is then the best by the noise that hours remove."""
_LINES, _NEAR, _CLOSE, _FLAT = 4, 2e-3, 1e-2, 0.6
"""How many lines lead to a length, from how near to it on both sides, which is near enough, and the least slope."""
REASONS = (*BOUNDS, "day", "losses", "dead time", "nothing", "whole subs")


class Solved(NamedTuple):
    """Answers of many cases.

    Attributes
    ----------
    lights : tuple of (int, str or None)
        Number of the filter and name of the light, along the first axis; None for a filter that passes no light.
    numbers : mapping of str to ndarray
        By the names of :class:`expocalc.budget.row.Row`, NaN where there is no such number; they broadcast.
    shares : mapping of str to ndarray
        Noise shares by cause. [-]
    colour, bounded_by : ndarray of int
        Place of the decisive colour among the rates' colours, and of the bound in :data:`REASONS`.
    """

    lights: tuple[tuple[int, str | None], ...]
    numbers: dict[str, Any]
    shares: dict[str, Any]
    colour: Any
    bounded_by: Any


class _Worth:
    """One over the hours of each light by the length of a sub."""

    def __init__(self, lights: Lights, terms: Terms, longest_s: Any) -> None:
        self._lights, self._terms, self._goal2 = lights, terms, np.square(lights.snr)
        may_gain = np.count_nonzero(np.equal(terms.lost_per_hour, 0)) or (None in (name for _, name in lights.names))
        lengths = asked_lengths(longest_s, beyond=bool(may_gain))
        self._kept = self._kept_of_goal(lengths)
        self.at_asked = worth_of(self._kept, terms, lengths)
        asked = Asked.of(self.at_asked, longest_s)
        self.hopeless = asked.most <= 0
        """Whether the goal is out of reach in all lengths that are allowed: worth is then that of the noise."""
        if np.count_nonzero(self.hopeless):
            self.at_asked = self._or_noise(self.at_asked, lengths)
            asked = Asked.of(self.at_asked, longest_s)
        self.asked, self.no_light = asked, asked.endless <= 0

    def __call__(self, lengths: Floats) -> Floats:
        return self._or_noise(worth_of(self._kept_of_goal(lengths), self._terms, lengths), lengths)

    def of_filter(self, worth: Floats) -> Floats:
        """Worth to a filter: that to the light that needs most, of those that can reach the goal."""
        least = self._of_filters(np.minimum, np.where(self._counts, worth, np.inf))
        # where no one length serves all lights, the one that the lights like best in the mean
        liked = self._of_filters(np.add, worth / np.maximum(worth.max(axis=0), 1e-300))
        return np.where(least.any(axis=0), least, liked)

    def whole(self, lengths: Floats) -> Floats:
        """Whole kept subs that a filter needs."""
        return self._of_filters(np.maximum, self._lights.still.at(lengths).whole_subs_for(self._goal2))

    def near(self, sub_s: Any) -> tuple[Any, Any]:
        """About how many kept subs each light needs, at least one, and the share that survives."""
        survive = kept_share(sub_s, self._terms.lost_per_hour, self._terms.lost_at_dither)
        hours_1 = along(sub_s[None], self.asked.sub_s, self.asked.worth)[0]
        return survive / hours_1 / ((sub_s + self._terms.dead_s) / 3600), survive

    def just(self, counts: Floats) -> Floats:
        """Lengths with which a filter needs so many kept subs, by lines in logarithms from those that are asked. [s]"""
        falling = np.minimum.accumulate(np.log(self._kept[:-1]))
        near = self._of_filters(np.maximum, along(np.log(counts), falling[::-1], LOG_NODES[len(falling) - 1 :: -1]))
        twice = np.concatenate([counts, counts]).reshape(-1, *(1,) * (near.ndim - 1))
        for _ in range(_LINES):
            y = np.log(self._short(np.exp(np.concatenate([near - _NEAR, near + _NEAR])), twice))
            low, high = y[: counts.size], y[counts.size :]
            step = (low + high) / np.maximum((low - high) / _NEAR, _FLAT)
            near = near + step
            if not np.count_nonzero((np.abs(step) > _CLOSE) & (near < LOG_NODES[len(falling) - 1])):
                break
        return np.asarray(np.exp(near))

    def _short(self, lengths: Floats, kept: Floats) -> Floats:
        """How many times the squared SNR of so many kept subs the goal is: of a filter's light that it is most of."""
        snr2 = self._lights.still.at(lengths).snr2(kept[..., None])
        return self._of_filters(np.maximum, self._goal2 / snr2)

    @cached_property
    def _counts(self) -> Any:
        """Whether a light has a say in its filter's length: it can reach its goal, or none of them can."""
        return ~self.hopeless | self._lights.of_filters(np.minimum, self.hopeless)

    def _of_filters(self, most: np.ufunc, values: Any) -> Any:
        return self._lights.of_filters(most, values.swapaxes(0, 1)).swapaxes(0, 1)

    def _kept_of_goal(self, lengths: Floats) -> Floats:
        return np.asarray(self._lights.still.at(lengths).subs_for(self._goal2))

    def _or_noise(self, worth: Floats, lengths: Floats) -> Floats:
        if not np.count_nonzero(self.hopeless):
            return worth
        kept = self._lights.still.at(lengths).subs_for(HOPELESS_SNR**2)
        return np.where(self.hopeless, worth_of(kept, self._terms, lengths, fewest=0.0, most=np.inf), worth)


@np.errstate(divide="ignore", invalid="ignore")  # once for all that it calls; what overflows is mostly a mistake
def solve(case: Case, terms: Terms, delivered: Sequence[Rates]) -> Solved:
    """Answer for filters of one camera.

    Parameters
    ----------
    case : Case
        Its way of stacking and its target's patch; its numbers come from `terms`.
    terms : Terms
        Numbers, or arrays of shape (*axes).
    delivered : sequence of Rates
        Of each filter; arrays of shape (*axes, colours), axes of size 1 where nothing changes.

    Returns
    -------
    Solved
        Arrays broadcast with (lights, *axes).
    """
    lights = lights_of(case, terms, delivered)
    in_peak_e_s = lights.peak[..., None] * lights.of_rates("bright_star_e_s")
    limit = limits(terms, lights.sky_e_s + lights.still.patch.dark_e_s, in_peak_e_s)
    longest = np.minimum(limit.least_s, LONGEST_SUB_S)
    worth = _Worth(lights, terms, longest)
    asked, dark, closer = worth.asked, worth.no_light, worth.__call__
    any_dark = np.count_nonzero(dark)
    lossless = np.equal(terms.lost_per_hour, 0) | dark
    best = common = best_of(asked, lossless=lossless, longest_s=longest, closer=closer)
    shortest = _shortest(lights, terms, np.minimum(best.best_s, longest))
    wish = np.where(dark, np.minimum(shortest, longest), shortest) if any_dark else shortest
    if len(lights.starts) < len(lights.names):

        def closer(lengths: Floats) -> Floats:
            return worth.of_filter(worth(lengths))

        wish = lights.of_filters(np.maximum, wish)
        asked = Asked.of(worth.of_filter(worth.at_asked), longest)
        common = best_of(asked, lossless=lossless, longest_s=longest, closer=closer)
    advised = advised_sub(asked, common, shortest_s=wish, longest_s=longest)
    reason = _reason(terms, limit, longest, np.where(dark, shortest, common.best_s) if any_dark else common.best_s)
    wanted = np.isnan(terms.sub_s)
    sub_s, near = advised, None
    if np.count_nonzero(wanted):
        near, survive = worth.near(advised)
        sub_s, changed = in_whole_subs(
            advised, lights.of_filters(np.maximum, near), survive, common, pace=terms, longest_s=longest,
            just=worth.just, bent=worth.whole if case.routine.stacking == "median" else None,
        )  # fmt: skip
        if np.count_nonzero(wanted & changed):
            near = near * advised / sub_s
            reason = np.where(wanted & changed & (sub_s < longest), REASONS.index("whole subs"), reason)
    sub_s = np.where(wanted, sub_s, terms.sub_s)
    found = needed(lights, terms, sub_s, near)
    best_s, low_s, high_s, none = best.best_s, common.low_s, common.high_s, worth.hopeless
    if any_dark:
        best_s, low_s = np.where(dark, sub_s, best_s), np.where(dark, sub_s, low_s)
        high_s, none = np.where(dark, np.maximum(longest, sub_s), high_s), none | dark
    numbers = {
        "sub_shortest_s": shortest,
        "sub_best_s": best_s,
        "sub_low_s": low_s,
        "sub_high_s": high_s,
        "shot_low": np.where(none, np.nan, 3600 / common.low_worth / (low_s + terms.dead_s)),
        "shot_high": np.where(none, np.nan, 3600 / common.high_worth / (high_s + terms.dead_s)),
        "sub_longest_s": limit.least_s,
    }
    return Solved(lights.names, numbers | found.numbers, found.shares, found.colour, reason)


def _shortest(lights: Lights, terms: Terms, sub_s: Any) -> Any:
    """Shortest sub by read noise alone, in the colours that count for the light with subs of some length."""
    background = lights.sky_e_s + lights.still.patch.dark_e_s + lights.extended_e_s
    each = shortest_sub_s(background, columned(terms.read_variance_e2), columned(terms.noise_growth))
    if background.shape[-1] == 1:
        return each[..., 0]
    worth = lights.still.at(sub_s).colour_snr2(1.0)
    used = worth >= LEAST_USED * worth.sum(axis=-1, keepdims=True)
    return np.where(used, each, 0.0).max(axis=-1)


def _reason(terms: Terms, limit: Limits, longest: Any, wanted: Any) -> Any:
    """Place in REASONS of what keeps the wanted sub from being longer, or shorter."""
    at_bound = wanted >= longest * (1 - 1e-9)
    bound: Any = REASONS.index("day")
    for name in reversed(BOUNDS):
        bound = np.where(getattr(limit, name.replace(" ", "_")) <= longest, REASONS.index(name), bound)
    if np.count_nonzero(at_bound) == at_bound.size:
        return bound
    without_loss = np.where(np.equal(terms.dead_s, 0), REASONS.index("nothing"), REASONS.index("dead time"))
    free = np.where(np.equal(terms.lost_per_hour, 0), without_loss, REASONS.index("losses"))
    return np.where(at_bound, bound, free)
