"""What the user wants of a night and what it may cost: the plan's section [night]."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from expocalc.base.date import read_calendar_date
from expocalc.base.noun import Noun, field_of, measure, number

__all__ = ["Night", "read_date", "read_hour"]

_HOUR = r"([01]?\d|2[0-3]):([0-5]\d)"
_FIRST_YEAR, _LAST_YEAR = 1951, 2098


def read_date(name: str, value: Any) -> dt.date:
    """Date of an evening that the almanac knows; TOML's own dates are taken as well as texts."""
    found = read_calendar_date(name, value)
    if not _FIRST_YEAR <= found.year <= _LAST_YEAR:
        msg = f'{name} must lie from {_FIRST_YEAR} to {_LAST_YEAR}, got {found}; write it like "2026-10-24"'
        raise ValueError(msg)
    return found


def read_hour(name: str, value: Any) -> float:
    """Time of day by the clock of the place. [h]"""
    if isinstance(value, dt.time):
        return value.hour + value.minute / 60
    if isinstance(value, float) and 0 <= value < 24:  # as it is held
        return value
    match = re.fullmatch(_HOUR, value.strip()) if isinstance(value, str) else None
    if match is None:
        msg = f'{name} must be a time of day from 00:00 to 23:59, got {str(value)[:40]!r}; write it like "21:30"'
        raise ValueError(msg)
    return int(match[1]) + int(match[2]) / 60


class Night(Noun):
    """One night and its costs.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range, or earliest is after latest.

    Examples
    --------
    >>> Night(date="2026-10-24", earliest="21:30").earliest
    21.5
    """

    date: dt.date | None = field_of(
        read_date,
        None,
        kind="text",
        example='"2026-10-24"',
        meaning="Local date of the evening; left out, it is today.",
        origin="your own choice",
    )
    sun_limit: Any = measure(
        "deg",
        "-18 deg",
        minimum=-18,
        maximum=0,
        example='"-18 deg"',
        meaning="Altitude of the Sun's centre below which it is dark enough.",
        origin="end of astronomical twilight; Explanatory Supplement to the Astronomical Almanac",
        advanced=True,
    )
    earliest: float | None = field_of(
        read_hour,
        None,
        kind="text",
        example='"21:30"',
        meaning="Local time of day before which you do not image.",
        origin="your own choice",
    )
    latest: float | None = field_of(
        read_hour,
        None,
        kind="text",
        example='"21:30"',
        meaning="Local time of day after which you do not image.",
        origin="your own choice",
    )
    clear_share: float | None = number(
        None,
        above=0,
        maximum=1,
        example="0.4",
        meaning="Share of the nights that are clear; left out, every night is taken as clear.",
        origin="your own nights",
    )
    focus_every: Any = measure(
        "s",
        None,
        above=0,
        maximum=86400,
        example='"90 min"',
        meaning="Time on the clock between two focus runs; left out where there are none.",
        origin="common practice, no source: one to two hours",
        advanced=True,
    )
    focus_time: Any = measure(
        "s",
        "0 s",
        minimum=0,
        maximum=3600,
        example='"3 min"',
        meaning="Time that one focus run takes.",
        origin="the times of your own subs",
        advanced=True,
    )
    refocus_after: Any = measure(
        "K",
        None,
        above=0,
        maximum=100,
        example='"1.5 K"',
        meaning="Change of temperature after which you focus again; left out, it follows from telescope and tube.",
        origin="your own focus runs",
        advanced=True,
    )
    flip_time: Any = measure(
        "s",
        "0 s",
        minimum=0,
        maximum=7200,
        example='"5 min"',
        meaning="Time that the mount loses when it turns over at the meridian.",
        origin="the times of your own subs; 0 is a mount that need not turn",
        advanced=True,
    )
    filter_change_time: Any = measure(
        "s",
        "0 s",
        minimum=0,
        maximum=7200,
        example='"4 min"',
        meaning="Time that a change of filter takes, focus included.",
        origin="the times of your own subs",
        advanced=True,
    )
    battery: Any = measure(
        "W h",
        None,
        above=0,
        maximum=1e6,
        example='"500 W h"',
        meaning="Energy of the battery at hand.",
        origin="its label; cold takes a fifth or more",
        advanced=True,
    )
    power: Any = measure(
        "W",
        None,
        above=0,
        maximum=1e5,
        example='"40 W"',
        meaning="Power that the whole set-up draws.",
        origin="a meter in the lead, or the labels",
        advanced=True,
    )
    storage: Any = measure(
        "Gbyte",
        None,
        above=0,
        maximum=1e7,
        example='"64 Gbyte"',
        meaning="Free space for frames.",
        origin="the card or disk",
        advanced=True,
    )

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
