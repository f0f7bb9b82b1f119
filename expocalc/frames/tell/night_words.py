"""The sentences on the morning after: what was kept, what was left out, and how far the goal is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from expocalc.base.words import say_count, say_duration, say_share
from expocalc.frames.tell.ledger import Entry
from expocalc.frames.tell.progress import Progress, left_words

__all__ = ["headline_of", "kept_sentences"]


def headline_of(entries: Sequence[Entry], filters: Mapping[str, Progress]) -> str:
    """How many subs were kept, and how far the goal is in the filters of the night."""
    kept = f"{sum(one.kept for one in entries)} of {say_count(len(entries), 'sub')} kept"
    said = []
    for name in dict.fromkeys(one.filter for one in entries):
        one = filters[name]
        if one.goal_h is None:
            said.append(f"the goal in {one.name} is out of reach")
        elif one.hours_left:
            left = say_duration(3600 * one.hours_left)
            said.append(f"{say_share(one.share_of_goal or 0.0)} of the goal in {one.name}, {left} left, at best")
        else:
            said.append(f"the goal in {one.name} is reached at best")
    return f"{kept}: {'; '.join(said)}."


def kept_sentences(entries: Sequence[Entry], filters: Mapping[str, Progress]) -> tuple[str, ...]:
    """What was kept, what was left out or stands out, and how far each filter is."""
    dropped = [one for one in entries if not one.kept]
    odd = [one for one in entries if one.kept and one.reason]
    said = [f"{len(entries) - len(dropped)} of {say_count(len(entries), 'sub')} kept"]
    if dropped:
        first = dropped[0]
        more = f", and {len(dropped) - 1} more" if len(dropped) > 1 else ""
        said.append(f"Left out: {first.file} ({first.reason or 'your choice'}){more}")
    if odd:
        more = f", and {len(odd) - 1} more" if len(odd) > 1 else ""
        said.append(f"Kept though it stands out: {odd[0].file} ({odd[0].reason}){more}")
    said += [left_words(one) for one in filters.values()]
    return tuple(f"{one}." for one in said)
