"""What an answer holds: rows, one per filter and light, and a summary per filter."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

from expocalc.base.frozen import Frozen
from expocalc.budget.rates import Rates
from expocalc.budget.routine import Routine

__all__ = ["ROW_KEYS", "Answer", "FilterAnswer", "Row"]

ROW_KEYS = MappingProxyType(
    {
        "filter": ("filter_name", ""),
        "light": ("light", ""),
        "colour": ("colour", ""),
        "goal_snr": ("goal_snr", ""),
        "patch_arcsec": ("patch_arcsec", "arcsec"),
        "pixel_scale_arcsec": ("scale_arcsec_px", "arcsec"),
        "target_electron_s": ("target_e_s", "electron/s"),
        "sky_electron_s": ("sky_e_s", "electron/s"),
        "dark_electron_s": ("dark_e_s", "electron/s"),
        "sky_mag_arcsec2_ab": ("sky_mag_ab", "mag/arcsec2"),
        "sub_shortest_s": ("sub_shortest_s", "s"),
        "sub_best_s": ("sub_best_s", "s"),
        "sub_longest_s": ("sub_longest_s", "s"),
        "sub_s": ("sub_s", "s"),
        "subs_to_shoot": ("shot", ""),
        "subs_kept": ("kept", ""),
        "exposed_h": ("exposed_h", "h"),
        "kept_h": ("kept_h", "h"),
        "clock_h": ("clock_h", "h"),
        "hours_p10": ("p10_h", "h"),
        "hours_p50": ("p50_h", "h"),
        "hours_p90": ("p90_h", "h"),
        "snr_pixel_one_sub": ("snr_one_sub", ""),
        "snr_patch": ("snr_patch", ""),
        "snr_ceiling": ("snr_ceiling", ""),
        "noise_share": ("noise_share", ""),
        "bounded_by": ("bounded_by", ""),
        "expected_median_adu": ("median_adu", "adu"),
        "expected_median_adu_above_bias": ("median_adu_above_bias", "adu"),
        "storage_gb": ("storage_gb", "Gbyte"),
    }
)
"""Keys that others script against: the attribute of a row, or of the range of its hours, and the unit."""


class Row(NamedTuple):
    """What one light needs in one filter; None where there is no such number, infinite where there is no bound.

    Its filter's range of good sub lengths is `sub_low_s` to `sub_high_s`: they cost the filter at most 2 % more hours
    than its best, with `shot_low` and `shot_high` subs. `filter_shown` is the filter's name for people: with its width
    where the name tells another.
    """

    filter_name: str
    filter_shown: str
    light: str | None
    colour: str | None
    goal_snr: float
    patch_arcsec: float | None
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
    shot_low: float | None
    shot_high: float | None
    median_adu: float | None
    median_adu_above_bias: float
    storage_gb: float | None

    def hours_on(self, routine: Routine) -> float:
        """Hours on the clock, parts of a sub counted; infinite where the goal is out of reach. [h]"""
        if self.shot is None or self.kept is None or not self.snr_patch:
            return math.inf
        # back from whole subs, so that a small difference is not lost in rounding: squares of SNR add
        return routine.clock_h(self.kept * (self.goal_snr / self.snr_patch) ** 2, self.sub_s)


class FilterAnswer(Frozen):
    """What one filter needs: the most that any of its lights needs.

    Attributes
    ----------
    neediest : Row
        The light that needs the most subs: its numbers are the filter's.
    words : callable
        Makes the sentences; many answers are asked for their numbers alone.
    rates : Rates
        What the filter delivers.
    """

    neediest: Row
    words: Callable[[], tuple[str, ...]]
    rates: Rates

    filter_name = property(lambda self: self.neediest.filter_name)
    filter_shown = property(lambda self: self.neediest.filter_shown)
    light = property(lambda self: self.neediest.light)
    colour = property(lambda self: self.neediest.colour)
    sub_s = property(lambda self: self.neediest.sub_s)
    shot = property(lambda self: self.neediest.shot)
    exposed_h = property(lambda self: self.neediest.exposed_h)
    kept_h = property(lambda self: self.neediest.kept_h)
    clock_h = property(lambda self: self.neediest.clock_h)
    storage_gb = property(lambda self: self.neediest.storage_gb)

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """The answer in words, one thought each; the first says how long the subs should be."""
        return self.words()

    @property
    def verdict(self) -> str:
        """All sentences in a row."""
        return " ".join(self.sentences)


class Answer(NamedTuple):
    """All filters of a case."""

    title: str
    filters: tuple[FilterAnswer, ...]
    rows: tuple[Row, ...]

    def of_filter(self, name: str) -> FilterAnswer:
        """What the filter of that name needs; StopIteration where there is none."""
        return next(one for one in self.filters if one.filter_name == name)

    def hours_on(self, routine: Routine, lights: Collection[str] | None = None) -> dict[str, float]:
        """Hours on the clock of each filter that passes light, or some lights: the most that one of them needs. [h]"""
        hours: dict[str, float] = {}
        for row in self.rows:
            if row.light is not None and (lights is None or row.light in lights):
                hours[row.filter_name] = max(row.hours_on(routine), hours.get(row.filter_name, 0.0))
        return hours
