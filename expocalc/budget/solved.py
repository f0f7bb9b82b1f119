"""The answer as a function of arrays: sub lengths, hours, ceiling and shares of every light of every filter at once.

The first axis holds the lights of all filters, one after another. Behind it lie whatever axes the terms and rates
have: none for a plan, one for each place of a sweep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.lights import Lights, columned, lights_of, stacked
from expocalc.budget.limits import BOUNDS, Limits, limits
from expocalc.budget.noise import shortest_sub_s, sub_snr
from expocalc.budget.rates import Rates
from expocalc.budget.reach import MOST_SUBS
from expocalc.budget.routine import LONGEST_SUB_S, kept_share
from expocalc.budget.stack import ELEMENT_AREA, Habits, Patch, colour_snr2, parts_of
from expocalc.budget.sub_length import (
    Best,
    advised_sub,
    asked_lengths,
    best_of,
    clock_hours,
    unbounded_hours,
    worth_of,
)
from expocalc.budget.terms import Terms

__all__ = ["REASONS", "Solved", "solve"]

LEAST_USED = 0.05
"""A mosaic colour counts as used for a light when it carries this share of the squared SNR."""
HOPELESS_SNR = 1e-6
"""Stands for a goal out of reach in the search for the best sub: it is then the best by the noise that hours remove."""


@dataclass(frozen=True, eq=False)
class Solved:
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


REASONS = (*BOUNDS, "day", "losses", "dead time", "nothing")


@dataclass(frozen=True, eq=False)
class _LengthAxis:
    """Terms of the pace with an axis for sub lengths."""

    dead_s: Any
    lost_per_hour: Any
    lost_at_dither: Any


class _Worth:
    """One over the hours of each light by the length of a sub, along a last axis."""

    def __init__(self, lights: Lights, terms: Terms, longest_s: Any) -> None:
        one = lights.patch
        names = ("signal_e_s", "light_e_s", "dark_e_s", "read_variance_e2", "faint_e_s")
        coloured = {name: getattr(one, name) for name in names}
        coloured = {name: value[..., None, :] if np.ndim(value) else value for name, value in coloured.items()}
        self._patch = replace(one, side_px=columned(one.side_px), **coloured)
        self._lights, self._snr = lights, columned(lights.snr)
        self._pace = _LengthAxis(*map(columned, (terms.dead_s, terms.lost_per_hour, terms.lost_at_dither)))
        may_gain = np.any(np.equal(terms.lost_per_hour, 0)) or (None in (name for _, name in lights.names))
        lengths = asked_lengths(longest_s, beyond=bool(may_gain))
        worth = self._of_goal(lengths)
        self.hopeless = np.asarray(~np.any((worth > 0) & (lengths <= columned(longest_s)), axis=-1))
        """Whether the goal is out of reach in all lengths that are allowed: worth is then that of the noise."""
        self.asked = self._or_noise(worth, lengths)
        self.no_light = np.asarray(~self.asked.any(axis=-1))

    def __call__(self, lengths: Floats) -> Floats:
        return self._or_noise(self._of_goal(lengths), lengths)

    def _of_goal(self, lengths: Floats) -> Floats:
        return np.asarray(worth_of(clock_hours(self._patch, self._lights.habits, self._pace, self._snr, lengths)))

    def _or_noise(self, worth: Floats, lengths: Floats) -> Floats:
        if not self.hopeless.any():
            return worth
        by_noise = worth_of(unbounded_hours(self._patch, self._lights.habits, self._pace, HOPELESS_SNR, lengths))
        return np.where(self.hopeless[..., None], by_noise, worth)


def _of_filter(lights: Lights, worth: Floats, hopeless: Any) -> Floats:
    """Worth of a sub length to a filter: that to the light that needs most, of those that can reach the goal."""
    if len(lights.starts) == len(lights.names):
        return worth
    starts = np.array(lights.starts)
    all_hopeless = np.minimum.reduceat(hopeless, starts, axis=0)
    per_light = np.diff([*lights.starts, len(lights.names)])
    counts = ~hopeless | np.repeat(all_hopeless, per_light, axis=0)
    least = np.minimum.reduceat(np.where(np.expand_dims(counts, -1), worth, np.inf), starts, axis=0)
    least = np.repeat(least, per_light, axis=0)
    # where no one length serves all lights, the one that the lights like best in the mean
    liked = worth / np.maximum(worth.max(axis=-1, keepdims=True), 1e-300)
    mean = np.repeat(np.add.reduceat(liked, starts, axis=0), per_light, axis=0)
    return np.where(least.any(axis=-1, keepdims=True), least, mean)


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
    limit = limits(
        terms, lights.sky_e_s + lights.patch.dark_e_s, lights.peak[..., None] * lights.of_rates("bright_star_e_s")
    )
    longest = np.minimum(limit.least_s, LONGEST_SUB_S)
    worth = _Worth(lights, terms, longest)
    dark, hopeless = worth.no_light, worth.hopeless
    lossless = np.equal(terms.lost_per_hour, 0) | dark
    best = best_of(worth.asked, lossless=lossless, longest_s=longest, closer=worth)
    shortest = _shortest(lights, terms, best, longest)
    whole = _of_filter(lights, worth.asked, hopeless)
    common = best
    if whole is not worth.asked:
        common = best_of(
            whole, lossless=lossless, longest_s=longest, closer=lambda t: _of_filter(lights, worth(t), hopeless)
        )
    wish = np.where(dark, np.minimum(shortest, longest), shortest)
    if whole is not worth.asked:
        wish = np.repeat(np.maximum.reduceat(wish, lights.starts), np.diff([*lights.starts, len(lights.names)]), 0)
    advised = advised_sub(whole, common, shortest_s=wish, longest_s=longest)
    sub_s = np.where(np.isnan(terms.sub_s), advised, terms.sub_s)
    numbers = {
        "sub_shortest_s": shortest,
        "sub_best_s": np.where(dark, sub_s, best.best_s),
        "sub_low_s": np.where(dark, sub_s, common.low_s),
        "sub_high_s": np.where(dark, np.maximum(longest, sub_s), common.high_s),
        "shot_low": _shots(common.low_worth, common.low_s, terms, hopeless),
        "shot_high": _shots(common.high_worth, common.high_s, terms, hopeless),
        "sub_longest_s": limit.least_s,
        "sub_s": sub_s,
    }
    at, more, shares = _hours(lights, terms, sub_s)
    wanted = np.where(dark, shortest, common.best_s)
    reason = _reason(terms, limit, longest, wanted)
    return Solved(lights.names, numbers | more, shares, at, reason)


def _shortest(lights: Lights, terms: Terms, best: Best, longest: Any) -> Any:
    """Shortest sub by read noise alone, in the colours that count for the light."""
    background = lights.of_rates("background_e_s")
    each = shortest_sub_s(background, columned(terms.read_variance_e2), columned(terms.noise_growth))
    if background.shape[-1] == 1:
        return each[..., 0]
    worth = colour_snr2(replace(lights.patch, sub_s=np.minimum(best.best_s, longest)), lights.habits, 1.0)
    used = worth >= LEAST_USED * worth.sum(axis=-1, keepdims=True)
    return np.where(used, each, 0.0).max(axis=-1)


def _reason(terms: Terms, limit: Limits, longest: Any, wanted: Any) -> Any:
    """Place in REASONS of what keeps the wanted sub from being longer, or shorter."""
    bound: Any = REASONS.index("day")
    for name in reversed(BOUNDS):
        bound = np.where(getattr(limit, name.replace(" ", "_")) <= longest, REASONS.index(name), bound)
    without_loss = np.where(np.equal(terms.dead_s, 0), REASONS.index("nothing"), REASONS.index("dead time"))
    free = np.where(np.equal(terms.lost_per_hour, 0), without_loss, REASONS.index("losses"))
    return np.where(wanted >= longest * (1 - 1e-9), bound, free)


def _shots(worth: Any, sub_s: Any, terms: Terms, hopeless: Any) -> Any:
    """Subs to shoot for hours on the clock, NaN where no hours will do."""
    return np.where(hopeless | (worth <= 0), np.nan, 3600 / np.where(worth > 0, worth, 1.0) / (sub_s + terms.dead_s))


def _whole(subs: Any) -> Any:
    """Whole subs, NaN where there are too many; rounding errors add none."""
    return np.where(subs <= MOST_SUBS, np.ceil(np.minimum(subs, MOST_SUBS) * (1 - 1e-12)), np.nan)


def _hours(lights: Lights, terms: Terms, sub_s: Any) -> tuple[Any, dict[str, Any], dict[str, Any]]:
    """Decisive colour, numbers and noise shares at the sub length."""
    patch, sky = replace(lights.patch, sub_s=sub_s), lights.sky_e_s
    parts = parts_of(patch, lights.habits)
    axes = (1,) * (sky.ndim - 2)
    empty = np.array([name is None for _, name in lights.names]).reshape(-1, *axes)
    at = _decisive(parts.worth, patch, lights.habits, sky, empty)

    def chosen(values: Any) -> Any:
        if sky.shape[-1] == 1:
            return np.asarray(values)[..., 0]
        values, where = np.broadcast_arrays(values, at[..., None])
        return np.take_along_axis(values, where[..., :1], axis=-1)[..., 0]

    dark = np.asarray(lights.patch.dark_e_s)
    dark = dark[..., 0] if dark.ndim else dark
    sky_at, light_e_s = chosen(sky), chosen(patch.signal_e_s)
    extended = chosen(stacked([sum(rate.extended.values(), np.zeros_like(rate.sky_e_s)) for rate in lights.rates]))
    area: Any = 1.0
    star_e_s: Any = 0.0
    in_pixel = light_e_s
    stars = np.array([name in rate.stars for (_, name), rate in zip(lights.names, lights.rates, strict=True)])
    if stars.any():
        stars = stars.reshape(-1, *axes)
        light_e_s = light_e_s * np.where(stars, np.square(patch.side_px), 1.0)
        area = np.where(stars, np.maximum(1.0, ELEMENT_AREA * lights.fwhm_px**2), 1.0)
        star_e_s, in_pixel = np.where(stars, light_e_s, 0.0), light_e_s * np.where(stars, lights.peak, 1.0)

    dark_sky_e = (sky_at + dark) * sub_s
    above = np.minimum(dark_sky_e, terms.saturation_e) / terms.electrons_per_adu
    full = dark_sky_e >= terms.saturation_e
    kept = np.where(full | empty, np.nan, _whole(parts.subs_for(np.square(lights.snr))))
    survive = kept_share(sub_s, terms.lost_per_hour, terms.lost_at_dither)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        shot = _whole(np.where(survive > 0, kept / survive, np.inf))
        mag = -2.5 * np.log10(np.maximum(sky_at, 0.0) / chosen(lights.of_rates("ab_zero_e_s")))
    none = np.isnan(kept)
    new, common = parts.noise_e2(np.where(none, MOST_SUBS, np.maximum(kept, 1.0))[..., None])
    noise = new + common
    behind = sky_at + dark + extended + star_e_s * lights.peak
    numbers = {
        "goal_snr": lights.snr,
        "patch_arcsec": lights.patch_arcsec,
        "scale_arcsec_px": lights.of_rates("scale_arcsec").reshape(-1, *axes),
        "target_e_s": light_e_s,
        "sky_e_s": sky_at,
        "dark_e_s": dark,
        "sky_mag_ab": mag,
        "shot": shot,
        "kept": kept,
        "exposed_h": shot * sub_s / 3600,
        "kept_h": kept * sub_s / 3600,
        "clock_h": shot * (sub_s + terms.dead_s) / 3600,
        "snr_one_sub": sub_snr(in_pixel, behind, sub_s, terms.read_variance_e2),
        "snr_patch": np.where(none, np.nan, np.sqrt(parts.with_floor((parts.worth / noise).sum(axis=-1)))),
        "snr_ceiling": np.sqrt(parts.with_floor(parts.endless_snr2())),
        "median_adu": above + terms.bias_adu,
        "median_adu_above_bias": above,
        "storage_gb": shot * terms.frame_gb,
    }
    calibration = chosen(common / noise)
    if empty.any():
        numbers |= {name: np.where(empty, np.nan, numbers[name]) for name in ("target_e_s", "snr_one_sub")}
        numbers["snr_ceiling"], calibration = (
            np.where(empty, np.inf, numbers["snr_ceiling"]),
            np.where(empty, 0, calibration),
        )
    noise_e2 = {
        "target": (area * extended + star_e_s) * sub_s,
        "sky": area * sky_at * sub_s,
        "dark": area * dark * sub_s,
        "read": area * (terms.read_variance_e2 - np.asarray(terms.quantisation_e2)),
        "quantisation": area * np.asarray(terms.quantisation_e2),
    }
    total = sum(noise_e2.values())
    per_total = (1 - calibration) / np.where(total > 0, total, np.inf)
    shares = {name: part * per_total for name, part in noise_e2.items()} | {"calibration": calibration}
    return at, numbers, shares


def _decisive(worth: Any, patch: Patch, habits: Habits, sky: Any, empty: Any) -> Any:
    """The colour that brings most to a light; of no light, the one with the brightest sky."""
    if sky.shape[-1] == 1:
        return np.zeros(np.broadcast_shapes(worth.shape[:-1], sky.shape[:-1]), dtype=int)
    found = np.asarray(colour_snr2(patch, habits, 1.0)).argmax(axis=-1)
    return np.where(empty, sky.argmax(axis=-1), found)
