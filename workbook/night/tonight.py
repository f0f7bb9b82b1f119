"""Tonight's picture: where target and Moon stand, what an hour is worth, and the blocks of the schedule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number
from expocalc.night.fields import field_numbers
from expocalc.night.night import Tonight
from expocalc.night.windows import almanac_of, heights_of, position_of, skyline_deg
from workbook.parts.table import Table

__all__ = ["Bar", "Evening", "bars", "blocks_table", "evening", "evening_table", "ticks"]

_SHOWN_SUN_DEG = 0.0


@dataclass(frozen=True, eq=False)
class Evening:
    """One night over time; hours count from noon.

    Attributes
    ----------
    hours : ndarray
        Moments from sunset to sunrise. [h after noon]
    words : tuple of str
        The same by the clock of the place.
    target_deg, skyline_deg, moon_deg : ndarray
        Altitudes; NaN below the horizon, and where the plan doesn't say. [deg]
    windows : tuple of (float, float, bool)
        Begin, end and whether the Moon is up. [h after noon]
    names : tuple of str
        The filters, each with the light that decides where it passes several.
    worth : tuple of ndarray
        Of an hour in each filter, against a moonless hour at the zenith. [-]
    reach : (float, float)
        Ends of the axis of time. [h after noon]
    """

    hours: Floats
    words: tuple[str, ...]
    target_deg: Floats
    skyline_deg: Floats
    moon_deg: Floats
    windows: tuple[tuple[float, float, bool], ...]
    names: tuple[str, ...]
    worth: tuple[Floats, ...]
    reach: tuple[float, float]


@dataclass(frozen=True)
class Bar:
    """A block as it is drawn. [h after noon]"""

    number: int
    begin: float
    end: float
    words: str


def _after_noon(night: Tonight, unix_s: Floats | float) -> Floats:
    return (np.asarray(unix_s) - night.evening.begin_s) / 3600


def evening(night: Tonight) -> Evening:
    """What is drawn of a night."""
    case, almanac = night.case, almanac_of(night.case)
    t = night.evening.moments_s
    nothing = np.full(t.shape, np.nan)
    names = tuple(f.shown_name for f in case.filters)
    if night.nights is not None:
        names = tuple(reference.shown for reference in night.nights.references)
    if almanac is None:
        words, empty = tuple(night.evening.clock(x) for x in t), (nothing,) * len(names)
        return Evening(_after_noon(night, t), words, nothing, nothing, nothing, (), names, empty, (0.0, 24.0))
    sun = heights_of(case, almanac, t).sun_deg
    shown = sun < _SHOWN_SUN_DEG
    if not shown.any():
        shown = sun < sun.min() + 5.0  # a day without night: its lowest hours
    t = t[shown]
    moon = almanac.moon(t).altitude_deg
    position = position_of(case)
    target = skyline = np.full(t.shape, np.nan)
    if position is not None:
        track = almanac.fixed(*position, t)
        target, skyline = _above_horizon(track.altitude_deg), skyline_deg(case.site.horizon, track.azimuth_deg)
    hours = _after_noon(night, t)
    worth = _worth(night, t)
    return Evening(
        hours=hours,
        words=tuple(night.evening.clock(x) for x in t),
        target_deg=target,
        skyline_deg=skyline,
        moon_deg=_above_horizon(moon),
        windows=tuple(
            (float(_after_noon(night, w.begin_s)), float(_after_noon(night, w.end_s)), w.moon_up) for w in night.windows
        ),
        names=names,
        worth=worth,
        reach=(float(np.floor(hours[0])), float(np.ceil(hours[-1]))),
    )


def _above_horizon(altitude_deg: Floats) -> Floats:
    return np.where(altitude_deg > 0, altitude_deg, np.nan)


def _worth(night: Tonight, t: Floats) -> tuple[Floats, ...]:
    """Worth of the moments that lie in windows; NaN elsewhere."""
    if night.nights is None:
        return (np.full(t.shape, np.nan),) * len(night.case.filters)
    inside = np.zeros(t.shape, dtype=bool)
    for window in night.windows:
        inside |= (t >= window.begin_s) & (t <= window.end_s)
    gained = night.nights.gained_h(0, t - 150, t + 150) / (300 / 3600)  # over five minutes about each moment
    return tuple(np.where(inside, row, np.nan) for row in gained)


def bars(night: Tonight) -> tuple[Bar, ...]:
    """Blocks of the schedule as they are drawn."""
    numbers = {f.name: number for number, f in enumerate(night.case.filters)}
    return tuple(
        Bar(
            number=numbers[block.filter_name],
            begin=float(_after_noon(night, block.begin_s)),
            end=float(_after_noon(night, block.end_s)),
            words=f"{block.filter_shown}: {block.subs} × {say_duration(block.sub_s)}",
        )
        for block in night.blocks
    )


def ticks(night: Tonight) -> dict[float, str]:
    """Whole hours by the clock of the place."""
    return {float(hour): night.evening.clock(night.evening.begin_s + 3600 * hour) for hour in range(0, 26)}


def blocks_table(night: Tonight) -> Table:
    """What to do tonight, with the numbers that one takes outside."""
    rows = []
    for block in night.blocks:
        numbers = field_numbers(night, block)
        bias = night.case.camera.setting.bias_level or 0.0
        median = numbers.above_bias_adu + bias
        known = "" if numbers.median_adu is not None else " above the bias"
        change = "never"
        if numbers.change_adu is not None:
            change = f"above {say_number(numbers.change_adu, 3)}{known} to {numbers.change_to}"
        rows.append(
            (
                block.filter_for,
                night.evening.clock(block.begin_s),
                night.evening.clock(block.end_s),
                f"{block.subs} × {say_duration(block.sub_s)}",
                "never" if block.dither_every is None else f"every {block.dither_every}",
                f"{say_number(median, 3)} ({say_number(numbers.low_adu + bias, 3)} to "
                f"{say_number(numbers.high_adu + bias, 3)}){known}",
                change,
                say_duration(3600 * block.equivalent_dark_h),
            )
        )
    return Table(
        caption=f"Blocks of the night of {night.evening.date}, times of {night.evening.zone}; medians in ADU",
        head=("Filter", "From", "To", "Subs", "Dither", "Median", "Change filter", "Equivalent dark hours"),
        rows=tuple(rows),
    )


def evening_table(shown: Evening) -> Table:
    """Altitudes and worth every half hour."""
    rows = []
    for at in range(0, shown.hours.size, 6):
        altitudes = (shown.target_deg[at], shown.moon_deg[at])
        rows.append(
            (
                shown.words[at],
                *("below" if np.isnan(degrees) else f"{degrees:.0f}°" for degrees in altitudes),
                *("–" if np.isnan(row[at]) else f"{row[at]:.2f}" for row in shown.worth),
            )
        )
    head = ("Time", "Target", "Moon", *(f"Worth in {name}" for name in shown.names))
    return Table(
        caption="Altitudes, and worth of an hour against a moonless hour at the zenith", head=head, rows=tuple(rows)
    )
