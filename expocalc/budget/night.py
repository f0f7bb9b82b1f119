"""What the user wants of a night and what it may cost: the plan's section [night]."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from expocalc.base.noun import Noun, field_of, measure, number

__all__ = ["Night"]

_HOUR = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_FIRST_YEAR, _LAST_YEAR = 1951, 2098


def read_date(name: str, value: Any) -> dt.date:
    """Date of an evening; TOML's own dates are taken as well as texts."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        found = value
    else:
        try:
            found = dt.date.fromisoformat(value)
        except (TypeError, ValueError):
            msg = f'{name} must be a date, got {str(value)[:40]!r}; write it like "2026-10-24"'
            raise ValueError(msg) from None
    if not _FIRST_YEAR <= found.year <= _LAST_YEAR:
        msg = f'{name} must lie from {_FIRST_YEAR} to {_LAST_YEAR}, got {found}; write it like "2026-10-24"'
        raise ValueError(msg)
    return found


def _read_hour(name: str, value: Any) -> float:
    """Time of day by the clock of the place. [h]"""
    if isinstance(value, dt.time):
        return value.hour + value.minute / 60
    match = _HOUR.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        msg = f'{name} must be a time of day from 00:00 to 23:59, got {str(value)[:40]!r}; write it like "21:30"'
        raise ValueError(msg)
    return int(match[1]) + int(match[2]) / 60


@dataclass(frozen=True, eq=False, kw_only=True)
class Night(Noun):
    """One night and its costs.

    Parameters
    ----------
    date : str or datetime.date, optional
        Local date of the evening: "2026-10-24".
    sun_limit : Quantity or str
        Altitude of the Sun's centre below which it is dark enough. [deg]
    earliest, latest : str, optional
        Local time of day before or after which the user does not image: "21:30", "02:00".
    clear_share : float, optional
        Share of the nights that are clear; left out where every night is taken as clear.
    focus_every : Quantity or str, optional
        Time on the clock between two focus runs. [s]
    focus_time : Quantity or str
        One focus run. [s]
    flip_time : Quantity or str
        What the mount loses when it turns to the other side at the meridian. [s]
    filter_change_time : Quantity or str
        What a change of filter takes, focus included. [s]
    battery : Quantity or str, optional
        Energy at hand. [Wh]
    power : Quantity or str, optional
        What the whole set-up draws. [W]
    storage : Quantity or str, optional
        Free space for frames. [Gbyte]

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range, or earliest is after latest.

    Examples
    --------
    >>> Night(date="2026-10-24", earliest="21:30").earliest
    21.5
    """

    date: dt.date | None = field_of(read_date, None)
    sun_limit: Any = measure("deg", "-18 deg", minimum=-18, maximum=0, example='"-18 deg"')
    earliest: float | None = field_of(_read_hour, None)
    latest: float | None = field_of(_read_hour, None)
    clear_share: float | None = number(None, above=0, maximum=1, example="0.4")
    focus_every: Any = measure("s", None, above=0, maximum=86400, example='"90 min"')
    focus_time: Any = measure("s", "0 s", minimum=0, maximum=3600, example='"3 min"')
    flip_time: Any = measure("s", "0 s", minimum=0, maximum=7200, example='"5 min"')
    filter_change_time: Any = measure("s", "0 s", minimum=0, maximum=7200, example='"4 min"')
    battery: Any = measure("W h", None, above=0, maximum=1e6, example='"500 W h"')
    power: Any = measure("W", None, above=0, maximum=1e5, example='"40 W"')
    storage: Any = measure("Gbyte", None, above=0, maximum=1e7, example='"64 Gbyte"')

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.earliest is not None and self.latest is not None:
            begin, end = ((hour - 12) % 24 for hour in (self.earliest, self.latest))
            if begin >= end:
                msg = (
                    f"earliest must come before latest in the night from noon to noon, got {_say(self.earliest)} and "
                    f'{_say(self.latest)}; write it like earliest = "21:30", latest = "02:00"'
                )
                raise ValueError(msg)

    @property
    def focus_share(self) -> float:
        """Share of the clock that is left between focus runs. [-]"""
        if self.focus_every is None:
            return 1.0
        every = float(self.focus_every.value)
        return every / (every + float(self.focus_time.value))


def _say(hour: float) -> str:
    return f"{int(hour):02d}:{round(hour % 1 * 60):02d}"
