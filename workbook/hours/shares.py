"""Some hours, shared out over the filters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.split import Split, split
from workbook.hours.model import Picture
from workbook.parts.table import Table

__all__ = ["Share", "shares", "shares_table"]


@dataclass(frozen=True, kw_only=True)
class Share:
    """Hours on the clock that one filter gets, with words for its bar."""

    name: str
    hours: float
    words: str


def _split(shown: Picture, hours: float) -> Split:
    return split(shown.plan.case, hours, shown.found)


def shares(shown: Picture, hours: float) -> tuple[str, tuple[Share, ...]]:
    """Sentence and bars: how to share out some hours so that the weakest light is as strong as can be."""
    found = _split(shown, hours)
    bars = tuple(
        Share(
            name=f.shown_name,
            hours=found.hours.get(f.name, 0.0),
            words=_share_words(found, f.name),
        )
        for f in shown.plan.case.filters
    )
    if not found.hours:
        return "No filter can show anything of this target.", bars
    goals = {light: shown.plan.case.goal_of(light) for _, light in found.snr}
    several = len(set(goals.values())) > 1  # then the weakest is the one that is farthest from its own goal

    def weakest(snr: Mapping[tuple[str, str], float]) -> str:
        (_, light), least = min(snr.items(), key=lambda one: one[1] / goals[one[0][1]])
        return f"{say_share(least / goals[light])} of its goal" if several else f"SNR {say_number(least)}"

    sentence = say_duration(hours * 3600)
    sentence += " shared like this bring" if len(bars) > 1 else " bring"
    sentence += f" the weakest light to {weakest(found.snr)}"
    if len(found.hours) > 1:
        sentence += f"; equal shares would leave the weakest at {weakest(found.equal_snr)}"
    return f"{sentence}.", bars


def _share_words(found: Split, name: str) -> str:
    if name in found.hopeless:
        return "no hours: it can't show its light"
    seen = ", ".join(f"{light} SNR {say_number(snr)}" for (of, light), snr in found.snr.items() if of == name)
    return f"{say_duration(found.hours[name] * 3600)}: {seen}"


def shares_table(shown: Picture, hours: float) -> Table:
    """Table behind the split: hours and SNR by the best and by an equal split."""
    found = _split(shown, hours)
    count, named = max(len(found.hours), 1), shown.plan.case.filter_shown
    return Table(
        caption=f"{say_duration(hours * 3600)} on the clock, shared out over the filters",
        head=("Filter and light", "Best share", "SNR", "Equal share", "SNR"),
        rows=tuple(
            (
                f"{named(name)}, {light}", say_duration(found.hours[name] * 3600), say_number(snr),
                say_duration(hours / count * 3600), say_number(found.equal_snr[name, light]),
            )
            for (name, light), snr in found.snr.items()
        ),
    )  # fmt: skip
