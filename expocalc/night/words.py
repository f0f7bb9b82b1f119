"""The night in words: what to do, what that brings, what is left, what the schedule saves."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from expocalc.base.words import say_count, say_duration, say_number, say_span
from expocalc.budget.case import Case
from expocalc.budget.mount import refocus_kelvin
from expocalc.night.blocks import Block
from expocalc.night.clear import Count
from expocalc.night.dark_words import needs, sky_sentences
from expocalc.night.fields import supplies_of
from expocalc.night.night import ALL, SCHEDULED, Tonight

__all__ = [
    "cloud_sentence",
    "focus_words",
    "left_sentence",
    "say_blocks",
    "say_planned",
    "schedule_sentences",
    "second_best",
    "sub_sentence",
    "supply_words",
    "usual_cloud_s",
    "verdict",
]

LEAST_SAVED = 0.05
"""Less is not worth a word. [nights]"""


def schedule_sentences(night: Tonight) -> tuple[str, ...]:
    """What to do, what that brings, what is left, and what the schedule saves; the schedule is worked out for it."""
    if night.blocks:
        return (
            f"{say_blocks(night, night.blocks)}.",
            *filter(
                None, (sub_sentence(night), _gained(night), left_sentence(night), _saved(night), _too_little(night))
            ),
        )
    if night.nights is None:
        return ()
    return (_no_blocks(night) if night.windows else _next_night(night),)


def verdict(night: Tonight) -> str:
    """The night in a few sentences, each computed from the numbers beside it."""
    return " ".join((*sky_sentences(night), *schedule_sentences(night), *needs(night)))


def _saved(night: Tonight) -> str:
    """What the schedule saves against simpler ones."""
    assert night.campaign is not None
    assert night.campaign.way is not None
    ours = night.campaign.way.nights
    others = night.campaign.simpler
    if len(night.campaign.use) < 2 or math.isinf(ours):
        return ""
    said = []
    for name, nights in others.items():
        if math.isinf(nights):
            said.append(f"more than {SCHEDULED} nights by {name}")
        elif nights - ours >= LEAST_SAVED:
            said.append(f"{say_number(nights - ours)} nights more by {name}")
    if not said:
        return f"By {' or '.join(others)} it would be done as soon."
    return f"With the same weather it would take {' and '.join(said)}."


def say_blocks(night: Tonight, blocks: Sequence[Block]) -> str:
    """When to start, switch and stop, without the full stop."""
    evening, said = night.evening, []
    before = None
    for block in blocks:
        if block.filter_name != before:
            verb = "Start with" if before is None else "switch to"
            said.append(f"{verb} {block.filter_shown} at {evening.clock(block.begin_s)}")
        before = block.filter_name
    return f"{', '.join(said)}; stop at {evening.clock(blocks[-1].end_s)}"


def cloud_sentence(night: Tonight, until_s: float) -> str:
    """The second-best line: what to do if it is cloudy until a moment; the schedule is worked out for it."""
    when = f"If it is cloudy until {night.evening.clock(until_s)}"
    blocks = night.campaign.after_cloud(until_s) if night.campaign is not None else ()
    if not blocks:
        return f"{when}, nothing is left to do."
    do = say_blocks(night, blocks)
    return f"{when}: {do[0].lower()}{do[1:]}. That still brings {_brought(night, blocks)}."


def second_best(night: Tonight, until_s: float | None = None) -> str:
    """The second-best line of a sheet: of the moment that is given, else of the usual one; empty without blocks."""
    if not night.blocks:
        return ""
    return cloud_sentence(night, usual_cloud_s(night.blocks) if until_s is None else until_s)


def usual_cloud_s(blocks: Sequence[Block]) -> float:
    """A moment until which it may be cloudy: the hour nearest the middle of the blocks, or the middle of short ones."""
    begin_s, end_s = blocks[0].begin_s, blocks[-1].end_s
    middle = (begin_s + end_s) / 2
    step_s = 3600 if end_s - begin_s > 2 * 3600 else 60
    return step_s * round(middle / step_s)


def sub_sentence(night: Tonight) -> str:
    """How long tonight's subs are, what ends them, and when to focus again."""
    assert night.campaign is not None
    tonight = {block.filter_name for block in night.blocks}
    groups: dict[tuple[float, str], list[str]] = {}
    for one in night.campaign.nights.references:
        if one.name in tonight:
            groups.setdefault((one.sub_s, one.ends), []).append(night.case.filter_shown(one.name))
    said = []
    for (sub_s, ends), names in groups.items():
        where = f" in {' and '.join(names)}" if len(groups) > 1 else ""
        said.append(f"{say_duration(sub_s)}{where} ({ends or 'as you set'})")
    return f"Subs are {' and '.join(said)}; {focus_words(night.case)}."


def focus_words(case: Case) -> str:
    """When focus must be redone, and by what, without the full stop."""
    told = "" if case.night.refocus_after is not None else f", by the {case.telescope.tube} tube and the depth of focus"
    return f"focus again when the air is {say_number(refocus_kelvin(case))} °C colder or warmer{told}"


def _gained(night: Tonight) -> str:
    assert night.campaign is not None
    need = {r.name: r.need_h for r in night.campaign.nights.references}
    return f"At best that brings {_brought(night, night.blocks, need)}, counted as moonless hours at the zenith."


def _brought(night: Tonight, blocks: Sequence[Block], need_h: Mapping[str, float] | None = None) -> str:
    """Equivalent dark hours of blocks, filter by filter, each of what it needs where that is given."""
    assert night.campaign is not None
    shown = {r.name: r.shown for r in night.campaign.nights.references}
    total: dict[str, float] = {}
    for block in blocks:
        total[block.filter_name] = total.get(block.filter_name, 0.0) + block.equivalent_dark_h
    parts = []
    for name, h in total.items():
        goal = "" if need_h is None else f" of the {say_duration(3600 * need_h[name])}"
        parts.append(f"{say_duration(3600 * h)}{goal} in {shown[name]}")
    return " and ".join(parts)


def left_sentence(night: Tonight) -> str:
    """Nights until all goals are met, at best and to plan for; the schedule is worked out for it."""
    assert night.campaign is not None
    found = night.campaign.counts[ALL]
    planned = say_planned(night.campaign.planned[ALL])
    clear = night.case.night.clear_share
    if found.p50 is None:
        never = [r.shown for r in night.campaign.nights.references if not math.isfinite(r.need_h)]
        if never:
            return f"No hours reach the goal in {' and '.join(never)}."
        return "The goals are not reached within a year."
    if clear is None:
        return (
            f"At best all goals are met within {_nights(found.p50)} if every night is clear; {planned}; clear_share in "
            "[night] says how many are clear."
        )
    far = f"{found.p90}" if found.p90 is not None else "more than 365"
    return (
        f"At best all goals are met in {say_span(f'{found.p10}', far)} nights on the calendar, most likely about "
        f"{found.p50}, with {say_number(100 * clear)} % of the nights clear; {planned}."
    )


def say_planned(count: Count) -> str:
    """Nights on the calendar to plan for, without a capital and a full stop.

    Examples
    --------
    >>> say_planned(Count(p10=6, p50=20, p90=90)), say_planned(Count(p10=6, p50=20, p90=None))
    ('plan for 20 nights, 6 to 90 in eight cases of ten', 'plan for 20 nights or more')
    >>> say_planned(Count(p10=1, p50=1, p90=1))
    'plan for 1 night, the same in eight cases of ten'
    >>> say_planned(Count(p10=200, p50=None, p90=None))
    'what is not exactly known makes it more than a year in most cases'
    """
    if count.p10 is None:
        return "what is not exactly known makes it more than a year in nearly all cases"
    if count.p50 is None:
        return "what is not exactly known makes it more than a year in most cases"
    middle = f"plan for {_nights(count.p50)}"
    if count.p90 is None:
        return f"{middle} or more"
    around = "the same" if count.p10 == count.p90 else say_span(f"{count.p10}", f"{count.p90}")
    return f"{middle}, {around} in eight cases of ten"


def _nights(count: int) -> str:
    return say_count(count, "night")


def _next_night(night: Tonight) -> str:
    """When there is time to image again."""
    assert night.campaign is not None
    year = night.campaign.year
    date = next((one.date for one, windows in zip(year.evenings, year.windows, strict=True) if windows), None)
    if date is None:
        return f"No night until {year.evenings[-1].date} has time to image it."
    return f"The next night with time to image it is that of {date}."


def supply_words(night: Tonight) -> str:
    """Storage and energy that tonight's blocks take, against what the user has."""
    took, wanted = supplies_of(night), night.case.night
    pairs = [("storage", took.storage_gb, "GB", wanted.storage), ("energy", took.energy_wh, "Wh", wanted.battery)]
    said = []
    for name, takes, unit, had in pairs:
        if takes is None:
            continue
        has = None if had is None else float(had.value)
        of = "" if has is None else f" of {say_number(has)} {unit}{': not enough' if takes > has else ''}"
        said.append(f"{name} {say_number(takes)} {unit}{of}")
    words = "; ".join(said)
    return f"{words[0].upper()}{words[1:]}."


def _too_little(night: Tonight) -> str:
    words = supply_words(night)
    return words if "not enough" in words else ""


def _no_blocks(night: Tonight) -> str:
    assert night.campaign is not None
    if night.campaign.way is None:
        return "No filter of the plan reaches its goal, however many the hours."
    return "The schedule leaves this night out."
