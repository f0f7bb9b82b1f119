"""The card of a rig: for each filter the shortest good sub and the hours against the sky, on one page."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from html import escape
from itertools import accumulate
from typing import Any

import numpy as np

from expocalc import sweep
from expocalc.base.words import say_count, say_duration, say_number, say_share
from expocalc.budget.planned import to_plan
from expocalc.budget.row import Answer, FilterAnswer
from expocalc.budget.spread import Spread
from expocalc.budget.whose import whose, whose_hours
from expocalc.plan import Plan, Where
from workbook.parts.reading import in_luminance, luminance_of, on_reading, say_sky, sky_words, zenith_reading
from workbook.parts.units import units_now
from workbook.sheets.night import goal_words
from workbook.sheets.paper import height, paper, paper_name, paper_table

__all__ = ["LADDER", "SKIES", "to_card"]

_NEVER = "never"
SKIES = (17.0, 18.0, 18.5, 19.0, 19.5, 20.0, 20.5, 21.0, 21.5)
"""Readings of the card's columns. [mag arcsec-2]"""
LADDER = {0.5: "half the goal", 1.0: "the goal", 2.0: "twice the goal", 4.0: "four times the goal"}
"""Rungs of the ladder: how many times the SNR of every light's goal."""
_MOST_FILTERS, _ROWS = 7, 26.0
"""Filters at most, and the room of their three tables in rows of one line."""


def to_card(plan: Plan, found: Answer, hours: Spread) -> str:
    """The rig on one page: what holds for any night with it, whatever the target's hours are.

    Parameters
    ----------
    plan : Plan
    found : Answer
        The plan's own.
    hours : Spread
        The plan's own, of which the card says what to plan for.

    Returns
    -------
    str
        A whole HTML document; whatever the plan's names hold is text in it.
    """
    case = plan.case
    table = sweep(_by_reading(plan), {"sky.zenith_brightness": [f"{mag} mag/arcsec2" for mag in SKIES]})
    filters = found.filters[:_MOST_FILTERS]
    names = {one.filter_name: paper_name(one.filter_shown, whose_hours(one)) for one in filters}
    shortest = [(paper_name(one.filter_shown), *_shortest(table, one)) for one in filters]
    hours_of = [(names[one.filter_name], *_hours(table, one)) for one in filters]
    ladder = _ladder(plan, names)
    used = accumulate(height(*rows) for rows in zip(shortest, hours_of, ladder, strict=True))
    room = sum(so_far <= _ROWS for so_far in used)
    here = {1 + int(np.abs(np.array(SKIES) - zenith_reading(case.sky)).argmin())}
    heads, overhead = _heads(plan)
    telescope, setting = case.telescope, case.camera.setting
    growth = say_share(case.goal.noise_growth)
    more = len(found.filters) - room
    left_out = f"<p>And {say_count(more, 'filter')} more, for which there is no room here.</p>" if more else ""
    likely = [span for span in hours.filters.values() if math.isfinite(span.p50_h)]
    most = max(likely, key=lambda span: span.p50_h, default=None)
    planned = "" if most is None else f"; where most is needed under the plan's sky, {to_plan(most)}"
    body = f"""<p class="short">{units_now().say_mm(float(telescope.aperture.value))} at f/{telescope.focal_ratio:.3g},
gain {escape(str(case.camera.gain))}, read noise {say_number(float(setting.read_noise.value))} electrons,
{float(case.camera.temperature.value):.3g} °C, target {say_number(float(case.target.altitude.value))}° high. Made on
{date.today():%d %b %Y}.</p>
<h2>Shortest good sub</h2>
<p>From this length on read noise adds at most {growth} to the noise. Sky overhead {overhead}.</p>
{paper_table(heads, shortest[:room], here)}
<h2>Hours on the clock to the goal, at best</h2>
<p class="short">For the light that needs most, with the sub that is best there; another than the
row's is named. {escape(goal_words(case, found))}.</p>
{paper_table(heads, hours_of[:room], here)}
<h2>Ladder of hours, at best</h2>
<p>Under the plan's sky, in whole subs, to so many times the SNR of the goal.</p>
{paper_table(("Filter", *LADDER.values()), ladder[:room])}
{left_out}
<p>At best: a clear sky, nothing lost beside the plan{planned}. No safety device.
{_mount(plan)}</p>"""
    return paper(case.title, body)


def _by_reading(plan: Plan) -> Plan:
    """The plan with its sky as one reading that holds in all filters."""
    changes = on_reading(plan)
    return plan.with_values(changes | ({("sky", "measured"): None} if plan.case.sky.measured else {}))


def _heads(plan: Plan) -> tuple[tuple[str, ...], str]:
    """Heads of the columns in the user's unit, and what they are; the framed one is nearest to the plan's sky."""
    sky, nearest = plan.case.sky, "the framed column is nearest to the plan's"
    if not in_luminance():
        _, _, band = sky_words(sky).partition("² ")
        return ("Sky", *(f"{mag:.1f}" for mag in SKIES)), f"in mag/arcsec² {band}; {nearest} {zenith_reading(sky):.2f}"
    read = _by_reading(plan)
    skies = (read.with_values({("sky", "zenith_brightness"): f"{mag} mag/arcsec2"}).case.sky for mag in SKIES)
    return ("Sky", *(say_number(luminance_of(one)) for one in skies)), f"in mcd/m²; {nearest} {say_sky(sky)}"


def _by_sky(table: Any, name: str, column: str) -> list[tuple[float, str]]:
    """A column of the sweep for one filter, of the light that asks for most under each sky, and whose that is."""
    mine = table[(table["filter"] == name) & (np.array(table["light"]) != "")]
    places, numbers = (np.array(mine[key], dtype=float) for key in ("sky.zenith_brightness", column))
    lights = list(dict.fromkeys(mine["light"]))
    most = []
    for mag in SKIES:
        own = np.flatnonzero(np.isclose(places, mag))
        if own.size:
            row = own[np.argmax(np.nan_to_num(numbers[own], nan=np.inf, posinf=np.inf))]
            most.append((numbers[row], whose(mine["light"][row], lights, mine["colour"][row] or None)))
        else:
            most.append((-1.0, ""))
    return most


def _shortest(table: Any, one: FilterAnswer) -> list[str]:
    return [_say(sub_s) for sub_s, _ in _by_sky(table, one.filter_name, "sub_shortest_s")]


def _hours(table: Any, one: FilterAnswer) -> list[str]:
    """Hours under each sky; whose they are is said where it is not the light that sets them under the plan's sky."""
    hours = _by_sky(table, one.filter_name, "clock_h")
    return [_named(_say(3600 * each_h), light, whose_hours(one)) for each_h, light in hours]


def _say(seconds: float) -> str:
    return "no light" if seconds < 0 else say_duration(seconds) if math.isfinite(seconds) else _NEVER


def _ladder(plan: Plan, names: Mapping[str, str]) -> list[tuple[str, ...]]:
    """Hours on the clock to each rung, a row for each filter; a light with a goal of its own climbs by that."""
    own: dict[Where, float] = {("goal", "snr"): plan.case.goal.snr}
    for number, (_, light) in enumerate(plan.case.target.named_lights):
        if light.snr is not None:
            own["target", "light", number, "snr"] = light.snr
    rungs = [plan.with_values({where: snr * times for where, snr in own.items()}).solve() for times in LADDER]
    found = [{one.filter_name: one for one in rung.filters} for rung in rungs]
    mine = {name: whose_hours(one) for name, one in found[list(LADDER).index(1.0)].items()}
    return [(shown, *(_rung(rung[name], mine[name]) for rung in found)) for name, shown in names.items()]


def _rung(one: FilterAnswer, mine: str) -> str:
    if one.neediest.light is None:
        return "no light"
    return _named(_NEVER if one.clock_h is None else say_duration(3600 * one.clock_h), whose_hours(one), mine)


def _named(said: str, light: str, mine: str) -> str:
    """Hours, with whose they are where that is not the row's own light; on lines of their own, a column is narrow."""
    return said if light == mine or said == _NEVER else f"{said}\n{light}".replace(" in ", "\nin ")


def _mount(plan: Plan) -> str:
    longest = plan.case.routine.longest_sub
    return "" if longest is None else f"The mount holds subs of {say_duration(float(longest.value))}."
