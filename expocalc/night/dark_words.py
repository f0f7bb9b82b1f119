"""What the night is like in words: how long it is dark, what the Moon leaves of it, what the plan does not say."""

from __future__ import annotations

from expocalc.base.words import say_duration, say_number, say_span
from expocalc.night.moon_cost import MoonCost, moon_costs
from expocalc.night.night import Tonight
from expocalc.night.windows import almanac_of, position_of

__all__ = ["needs", "sky_sentences"]

_CLOSED = {
    "dawn": "dawn comes",
    "target sets": "the target sinks behind the skyline",
    "latest": "your latest hour is there",
    "Moon rises": "the Moon rises",
    "Moon sets": "the Moon has set",
    "flip": "the mount turns at the meridian",
    "noon": "it is noon",
}


def needs(night: Tonight) -> tuple[str, ...]:
    """What the plan would have to say for a full answer, one sentence each."""
    case = night.case
    found = []
    if case.site.latitude is None or case.site.longitude is None:
        found.append('The night needs the place: latitude and longitude in [site], for example latitude = "51.2 deg".')
    if case.site.time_zone is None:
        found.append(
            "Without time_zone in [site] all times are UTC and the night runs from noon to noon UTC; write it like "
            'time_zone = "Europe/Brussels".'
        )
    if position_of(case) is None:
        found.append(
            "The night needs right_ascension and declination in [target]; until then the windows hold for a target "
            "that stands above the skyline all night."
        )
    return tuple(found)


def sky_sentences(night: Tonight) -> tuple[str, ...]:
    """What the night is like: how long it is dark, and what the Moon leaves of it."""
    return tuple(filter(None, (_darkness(night), _moonlight(night))))


def _darkness(night: Tonight) -> str:
    case, evening = night.case, night.evening
    if case.site.latitude is None or case.site.longitude is None:
        return ""
    limit = float(case.night.sun_limit.value)
    if not night.windows:
        return _why_none(night, limit)
    first, last = night.windows[0], night.windows[-1]
    hours = sum(window.hours for window in night.windows)
    moonlit = sum(window.hours for window in night.windows if window.moon_up)
    moon = "with the Moon down" if not moonlit else f"{say_duration(3600 * moonlit)} of it with the Moon up"
    if moonlit == hours:
        moon = "all of it with the Moon up"
    lit = f", {say_number(100 * night.illuminated)} % lit" if moonlit else ""
    return (
        f"The night of {evening.date}: {say_duration(3600 * hours)} to image from {evening.clock(first.begin_s)} to "
        f"{evening.clock(last.end_s)} ({evening.zone}), {moon}{lit}; it ends because {_CLOSED[last.closed_by]}."
    )


def _why_none(night: Tonight, limit: float) -> str:
    when = f"The night of {night.evening.date} has no time to image"
    if night.dark_begin_s is None and night.dark_end_s is None and not _always_dark(night):
        return f"{when}: the Sun never sinks below {limit:g} deg; a higher sun_limit would allow twilight."
    if position_of(night.case) is not None and night.highest_deg is not None and night.highest_deg <= 0:
        return f"{when}: the target never rises at this place."
    return f"{when}: while it is dark and within your hours, the target is behind the skyline."


def _always_dark(night: Tonight) -> bool:
    almanac = almanac_of(night.case)
    assert almanac is not None
    sun = float(almanac.sun(night.evening.midnight_s).altitude_deg)
    return sun < float(night.case.night.sun_limit.value)


def _moonlight(night: Tonight) -> str:
    costs = moon_costs(night)
    if not costs:
        return ""
    said = " and ".join(f"{_leaves(cost)} in {cost.shown}" for cost in costs)
    return f"Of an hour with the Moon up it leaves {said}, in clear air; haze costs more."


def _leaves(cost: MoonCost) -> str:
    low, high = (say_number(100 * share) for share in (cost.low, cost.high))
    return f"{say_span(low, high)} %"
