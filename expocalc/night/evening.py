"""The night of an evening: from noon to noon by the clock of the place, whatever the clock does in between."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["Evening", "evenings", "iso_z"]

STEP_S = 300.0
"""Between two moments of a night. [s]"""
FIRST, LAST = dt.date(1951, 1, 1), dt.date(2098, 12, 31)


@dataclass(frozen=True)
class Evening:
    """The night that begins on the evening of a local date.

    Parameters
    ----------
    date : datetime.date
        Local date of the evening.
    zone : str
        Name in the IANA list.
    noon_h : float
        Local time of day at which the night begins, 12 but for places without a zone of their own. [h]

    Examples
    --------
    The night in which European clocks go back is an hour longer:

    >>> night = Evening(dt.date(2026, 10, 24), "Europe/Brussels")
    >>> (night.end_s - night.begin_s) / 3600
    25.0
    """

    date: dt.date
    zone: str
    noon_h: float = 12.0

    def at(self, hour: float, days: int = 0) -> float:
        """UTC second of a local time of day, `days` after the evening's date; the first one where clocks go back."""
        whole = dt.datetime.combine(self.date + dt.timedelta(days=days), dt.time(), ZoneInfo(self.zone))
        return (whole + dt.timedelta(hours=hour)).timestamp()

    @cached_property
    def begin_s(self) -> float:
        """Noon before the night. [s since 1970, UTC]"""
        return self.at(self.noon_h)

    @cached_property
    def end_s(self) -> float:
        """Noon after the night. [s since 1970, UTC]"""
        return self.at(self.noon_h, days=1)

    @cached_property
    def midnight_s(self) -> float:
        """Midnight by the clock of the place. [s since 1970, UTC]"""
        return self.at(self.noon_h - 12, days=1)

    @cached_property
    def moments_s(self) -> Floats:
        """Moments from noon to noon, both ends included. [s since 1970, UTC]"""
        return np.linspace(self.begin_s, self.end_s, round((self.end_s - self.begin_s) / STEP_S) + 1)

    def after_noon(self, hour: float) -> float:
        """UTC second of a time of day in this night: 20 is in the evening, 3 in the morning after. [s]"""
        return next(t for t in (self.at(hour, days=days) for days in (-1, 0, 1, 2)) if t >= self.begin_s)

    def local(self, unix_s: float) -> dt.datetime:
        """A moment by the clock of the place."""
        return dt.datetime.fromtimestamp(round(unix_s), ZoneInfo(self.zone))

    def clock(self, unix_s: float) -> str:
        """Hour and minute by the clock of the place: "23:05"."""
        return self.local(unix_s + 30).strftime("%H:%M")


def evenings(first: Evening, count: int) -> Iterator[Evening]:
    """Nights one after another.

    Examples
    --------
    >>> [str(night.date) for night in evenings(Evening(dt.date(2026, 12, 31), "UTC"), 2)]
    ['2026-12-31', '2027-01-01']
    """
    for day in range(count):
        yield replace(first, date=first.date + dt.timedelta(days=day))


def iso_z(unix_s: float | None) -> str | None:
    """A moment in UTC as ISO 8601 to the second, None where there is none.

    Examples
    --------
    >>> iso_z(0.4), iso_z(None)
    ('1970-01-01T00:00:00Z', None)
    """
    if unix_s is None:
        return None
    return dt.datetime.fromtimestamp(round(unix_s), dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
