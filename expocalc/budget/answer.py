"""The answer to a case: one row per filter and light, one summary per filter."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.noun import suggest
from expocalc.budget.case import Case
from expocalc.budget.noise import shortest_sub_s, sub_snr
from expocalc.budget.rates import Rates, rates
from expocalc.budget.routine import LONGEST_SUB_S, clock_s, kept_share
from expocalc.budget.stack import (
    ELEMENT_AREA,
    Habits,
    Patch,
    calibration_share,
    colour_snr2,
    snr_ceiling,
    snr_per_patch,
    subs_for_snr,
)
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.sub_length import SHORTEST_S, Best, best_sub, clock_hours
from expocalc.budget.verdict import Limits, verdict
from expocalc.gear.camera import Camera
from expocalc.gear.passband import Filter

__all__ = ["Answer", "FilterAnswer", "Row", "answer", "answer_filter", "sub_limits"]

LEAST_USED = 0.05
"""A mosaic colour counts as used for a light when it carries this share of the squared SNR."""
HOPELESS_SNR = 1e-6
"""Stands for a goal out of reach in the search for the best sub: it is then the best by the noise that hours remove."""
MOST_SUBS = 1e9
"""More subs than that are no plan: there is no answer then."""
_GIGABYTE = 1e9


@dataclass(frozen=True, kw_only=True)
class Row:
    """What one light needs in one filter; None where there is no such number, infinite where there is no bound."""

    filter_name: str
    light: str | None
    colour: str | None
    scale_arcsec_px: float
    target_e_s: float | None
    sky_e_s: float
    dark_e_s: float
    sky_mag_ab: float
    sub_shortest_s: float
    sub_best_s: float
    sub_low_s: float
    sub_high_s: float
    sub_longest_s: float
    sub_s: float
    shot: float | None
    kept: float | None
    exposed_h: float | None
    kept_h: float | None
    clock_h: float | None
    snr_one_sub: float | None
    snr_patch: float | None
    snr_ceiling: float
    noise_share: Mapping[str, float]
    bounded_by: str
    median_adu: float | None
    median_adu_above_bias: float
    storage_gb: float | None


@dataclass(frozen=True, kw_only=True)
class FilterAnswer:
    """What one filter needs: the most that any of its lights needs.

    Attributes
    ----------
    neediest : Row
        The light that needs the most subs: its numbers are the filter's.
    sentences : tuple of str
        The answer in words, one thought each; the first says how long the subs should be.
    rates : Rates
        What the filter delivers.
    """

    neediest: Row
    sentences: tuple[str, ...]
    rates: Rates

    filter_name = property(lambda self: self.neediest.filter_name)
    sub_s = property(lambda self: self.neediest.sub_s)
    shot = property(lambda self: self.neediest.shot)
    exposed_h = property(lambda self: self.neediest.exposed_h)
    kept_h = property(lambda self: self.neediest.kept_h)
    clock_h = property(lambda self: self.neediest.clock_h)
    storage_gb = property(lambda self: self.neediest.storage_gb)

    @property
    def verdict(self) -> str:
        """All sentences in a row."""
        return " ".join(self.sentences)


@dataclass(frozen=True, kw_only=True)
class Answer:
    """All filters of a case."""

    title: str
    filters: tuple[FilterAnswer, ...]
    rows: tuple[Row, ...]


def sub_limits(case: Case, rate: Rates) -> Limits:
    """Longest sub that the mount, the brightest star and the sky allow. [s]"""
    setting = case.camera.setting
    dark_sky = rate.sky_e_s + rate.dark_e_s
    with np.errstate(divide="ignore"):
        star = np.min(setting.saturation_e / (rate.peak_share * rate.bright_star_e_s + dark_sky))
        sky = np.min(case.goal.sky_share_of_well * setting.saturation_e / dark_sky)
    mount = case.routine.longest_sub
    return Limits(
        mount=math.inf if mount is None else float(mount.value),
        saturation=float(star) if rate.bright_star_e_s.any() else math.inf,
        sky_share=float(sky),
    )


def _area_px(rate: Rates, light: str | None) -> float:
    """Pixels whose background counts against one signal: those of the fit of a star, else one."""
    return max(1.0, ELEMENT_AREA * rate.fwhm_px**2) if light in rate.stars else 1.0


def _shares(
    case: Case, rate: Rates, light: str | None, sub_s: float, at: int, calibration: float = 0.0
) -> dict[str, float]:
    """Shares of the stack's variance in the pixels of colour number `at`; `calibration` is that of the common part."""
    setting, area = case.camera.setting, _area_px(rate, light)
    target = sum((light_e_s[at] for light_e_s in rate.extended.values()), 0.0)
    star = rate.stars[light][at] if light is not None and light in rate.stars else 0.0
    parts = {
        "target": (area * target + star) * sub_s,
        "sky": area * rate.sky_e_s[at] * sub_s,
        "dark": area * rate.dark_e_s * sub_s,
        "read": area * (setting.read_variance_e2 - setting.quantisation_variance_e2),
        "quantisation": area * setting.quantisation_variance_e2,
    }
    total = sum(parts.values())
    shares = {name: float((1 - calibration) * part / total) if total else 0.0 for name, part in parts.items()}
    return {**shares, "calibration": calibration}


@dataclass(frozen=True, eq=False)
class _Need:
    """One light of one filter before the filter's sub length is settled."""

    light: str
    shortest_s: float
    best: Best


def _need(case: Case, rate: Rates, light: str, longest_s: float) -> _Need:
    patch, habits, routine = patch_of(case, rate, light, SHORTEST_S), habits_of(case, rate.scale_arcsec), case.routine
    lossless = not routine.lost_per_hour

    def best_for(snr: float) -> Best:
        hours = partial(clock_hours, patch, habits, routine, snr)
        return best_sub(hours, lossless=lossless, longest_s=longest_s)

    best = best_for(case.goal.snr)
    if best.hopeless:
        best = best_for(HOPELESS_SNR)
    worth = _colour_worth(replace(patch, sub_s=min(best.best_s, longest_s)), habits)
    used = worth >= LEAST_USED * worth.sum()
    read = case.camera.setting.read_variance_e2
    shortest = shortest_sub_s(rate.background_e_s[used], read, case.goal.noise_growth)
    return _Need(light, float(np.max(shortest)), best)


def _colour_worth(patch: Patch, habits: Habits) -> Floats:
    """Squared SNR that each colour brings to one sub; a lone colour brings it all, whatever it is."""
    return np.ones(1) if patch.signal_e_s.size == 1 else np.asarray(colour_snr2(patch, habits, 1.0))


def _settle(case: Case, limits: Limits, needs: list[_Need], alone: float) -> tuple[float, str]:
    """The filter's sub length and what bounds it; `alone` is the shortest sub of a filter that passes no light."""
    shortest = max((need.shortest_s for need in needs), default=alone)
    best = max((need.best.best_s for need in needs), default=alone)
    longest, name = limits.least
    routine = case.routine
    sub = routine.sub_s or min(max(shortest, best), longest)
    if math.isinf(sub):  # nothing but read noise
        sub = LONGEST_SUB_S
    if max(shortest, best) >= longest * (1 - 1e-9):
        return sub, name
    if routine.lost_per_hour:
        return sub, "losses"
    return sub, "dead time" if routine.dead_s else "nothing"


def answer_filter(case: Case, filter_: Filter) -> tuple[FilterAnswer, tuple[Row, ...]]:
    """Answer for one filter.

    Parameters
    ----------
    case : Case
    filter_ : Filter

    Returns
    -------
    FilterAnswer, tuple of Row
        A filter that passes none of the target's light has one row without light and hours.
    """
    rate = rates(case, filter_)
    limits = sub_limits(case, rate)
    longest = limits.least[0]
    needs = [_need(case, rate, light, longest) for light in (*rate.extended, *rate.stars)]
    read = case.camera.setting.read_variance_e2
    alone = float(np.max(shortest_sub_s(rate.background_e_s, read, case.goal.noise_growth)))
    sub_s, bounded_by = _settle(case, limits, needs, alone)
    rows = tuple(_row(case, filter_, rate, need, sub_s, longest, bounded_by) for need in needs)
    if not rows:
        rows = (_empty_row(case, filter_, rate, alone, sub_s, longest, bounded_by),)
    most = max(rows, key=lambda row: math.inf if row.shot is None else row.shot)
    summary = FilterAnswer(neediest=most, sentences=verdict(case, rate, rows, limits, most), rates=rate)
    return summary, rows


def answer(case: Case) -> Answer:
    """Answer for all filters of a case.

    Parameters
    ----------
    case : Case

    Returns
    -------
    Answer
    """
    found = [answer_filter(case, filter_) for filter_ in case.filters]
    return Answer(
        title=case.title,
        filters=tuple(summary for summary, _ in found),
        rows=tuple(row for _, rows in found for row in rows),
    )


def filter_named(case: Case, name: str) -> Filter:
    """The case's filter of that name; ValueError with the near name where there is none."""
    names = [f.name for f in case.filters]
    if name not in names:
        msg = f"filter must be one of {', '.join(names)}, got {name!r}{suggest(name, names)}"
        raise ValueError(msg)
    return case.filters[names.index(name)]


def _common(case: Case, filter_: Filter, rate: Rates, sub_s: float, at: int) -> dict[str, object]:
    setting = case.camera.setting
    above = float(rate.sky_e_s[at] + rate.dark_e_s) * sub_s / setting.electrons_per_adu
    sky = float(rate.sky_e_s[at])
    return {
        "filter_name": filter_.name,
        "scale_arcsec_px": rate.scale_arcsec,
        "sky_e_s": sky,
        "dark_e_s": rate.dark_e_s,
        "sky_mag_ab": -2.5 * math.log10(sky / rate.ab_zero_e_s[at]) if sky > 0 else math.inf,
        "sub_s": sub_s,
        "median_adu_above_bias": above,
        "median_adu": None if setting.bias_level is None else above + setting.bias_level,
    }


def _count(subs: float) -> int | None:
    """Whole subs, None where there are too many; rounding errors add none."""
    return math.ceil(subs * (1 - 1e-12)) if subs <= MOST_SUBS else None


def _frame_gb(camera: Camera) -> float:
    stored_bytes = next(count for count in (1, 2, 4) if camera.setting.bits <= 8 * count)
    return camera.columns * camera.rows * stored_bytes / _GIGABYTE


def _row(case: Case, filter_: Filter, rate: Rates, need: _Need, sub_s: float, longest: float, bounded_by: str) -> Row:
    patch, habits = patch_of(case, rate, need.light, sub_s), habits_of(case, rate.scale_arcsec)
    at = int(np.argmax(_colour_worth(patch, habits)))
    signal = float((rate.stars if need.light in rate.stars else rate.extended)[need.light][at])
    in_pixel = signal * rate.peak_share if need.light in rate.stars else signal
    behind = float(rate.background_e_s[at]) + (in_pixel if need.light in rate.stars else 0.0)
    kept = _count(float(subs_for_snr(patch, habits, case.goal.snr)))
    share = float(kept_share(sub_s, case.routine.lost_per_hour, case.routine.lost_at_dither))
    shot = None if kept is None or share <= 0 else _count(kept / share)
    return Row(
        **_common(case, filter_, rate, sub_s, at),  # type: ignore[arg-type]
        light=need.light,
        colour=None if rate.colours == ("mono",) else rate.colours[at],
        target_e_s=signal,
        sub_shortest_s=need.shortest_s,
        sub_best_s=need.best.best_s,
        sub_low_s=need.best.low_s,
        sub_high_s=need.best.high_s,
        sub_longest_s=longest,
        shot=shot,
        kept=kept,
        exposed_h=None if shot is None else shot * sub_s / 3600,
        kept_h=None if kept is None else kept * sub_s / 3600,
        clock_h=None if shot is None else clock_s(shot, sub_s, case.routine) / 3600,
        snr_one_sub=float(sub_snr(in_pixel, behind, sub_s, case.camera.setting.read_variance_e2)),
        snr_patch=None if kept is None else float(snr_per_patch(patch, habits, kept)),
        snr_ceiling=float(snr_ceiling(patch, habits)),
        noise_share=_shares(
            case, rate, need.light, sub_s, at, float(calibration_share(patch, habits, kept or MOST_SUBS)[at])
        ),
        bounded_by=bounded_by,
        storage_gb=None if shot is None else shot * _frame_gb(case.camera),
    )


def _empty_row(
    case: Case, filter_: Filter, rate: Rates, alone: float, sub_s: float, longest: float, bounded_by: str
) -> Row:
    at = int(np.argmax(rate.sky_e_s))
    return Row(
        **_common(case, filter_, rate, sub_s, at),  # type: ignore[arg-type]
        light=None,
        colour=None,
        target_e_s=None,
        sub_shortest_s=alone,
        sub_best_s=sub_s,
        sub_low_s=sub_s,
        sub_high_s=longest,
        sub_longest_s=longest,
        shot=None,
        kept=None,
        exposed_h=None,
        kept_h=None,
        clock_h=None,
        snr_one_sub=None,
        snr_patch=None,
        snr_ceiling=math.inf,
        noise_share=_shares(case, rate, None, sub_s, at),
        bounded_by=bounded_by,
        storage_gb=None,
    )
