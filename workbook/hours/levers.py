"""What one change would save or cost."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from expocalc.base.words import say_duration, say_share
from expocalc.budget.case import Case
from expocalc.budget.leverage import LARGER, Choice, darker_site, leverage
from expocalc.budget.whose import of_filter
from workbook.hours.model import Picture, say_hours
from workbook.parts.reading import in_luminance, say_sky
from workbook.parts.table import Table
from workbook.parts.units import units_now

__all__ = ["Lever", "levers", "levers_table"]


@dataclass(frozen=True, kw_only=True)
class Lever:
    """One choice as a bar; `words` stand at its end.

    Attributes
    ----------
    label, words : str
    bar_h : float
        Hours saved, to the right, or lost, to the left; of a choice that brings the goal within reach, the hours that
        it then takes. [h]
    helps, brings_within : bool
    """

    label: str
    words: str
    bar_h: float
    helps: bool
    brings_within: bool


def levers(shown: Picture) -> tuple[Lever, ...]:
    """Choices of a plan, the one that saves most first; those that make no difference are left out."""
    found = [choice for choice in leverage(shown.plan.case, shown.found) if choice.saved_h or choice.ratio != 1]
    finite = [abs(choice.saved_h) for choice in found if math.isfinite(choice.saved_h)]
    longest = max(finite, default=1.0)
    return tuple(
        Lever(
            label=f"{label[0].upper()}{label[1:]}".split(", ")[0],  # the rest stands in the table
            words=_lever_words(choice),
            bar_h=choice.after_h if math.isinf(choice.before_h) else float(np.clip(choice.saved_h, -longest, longest)),
            helps=choice.saved_h > 0,
            brings_within=math.isinf(choice.before_h),
        )
        for choice, label in ((one, _label(one, shown.plan.case)) for one in found)
    )


def _label(choice: Choice, case: Case) -> str:
    """The choice in plain words and the user's units."""
    if choice.key == "darker" and in_luminance():
        return f"a site one Bortle class darker, {say_sky(darker_site(case.sky))} instead of {say_sky(case.sky)}"
    if choice.key == "aperture" and units_now().length == "inch":
        wide = units_now().say_mm(LARGER * float(case.telescope.aperture.value))
        return f"{wide} of aperture at the same f/{case.telescope.focal_ratio:.2g}"
    return choice.label.replace("deg C", "°C")


def _lever_words(choice: Choice) -> str:
    lost = "; asks for less" if choice.asks_for_less else ""
    lost += f"; loses {', '.join(choice.lost_lights)}" if choice.lost_lights else ""
    if math.isinf(choice.before_h):
        return f"{say_duration(choice.after_h * 3600)}{lost}"
    if math.isinf(choice.after_h):
        return f"puts the goal out of reach{lost}"
    hours = abs(choice.saved_h)
    share = abs(1 - choice.ratio)
    if share < 0.0005:
        return f"no difference{lost}"
    return f"{'saves' if choice.saved_h > 0 else 'costs'} {say_duration(hours * 3600)} ({say_share(share)}){lost}"


def levers_table(shown: Picture) -> Table:
    """Table behind the picture of what helps: hours on the clock after each choice, by filter."""
    names = [f.name for f in shown.plan.case.filters]
    heads = [of_filter(one) for one in shown.found.filters]
    return Table(
        caption="Hours on the clock after one choice, at best, all else as it is",
        head=("Choice", "Hours before", "Hours after", *heads),
        rows=tuple(
            (
                _label(choice, shown.plan.case) + (" (asks for less)" if choice.asks_for_less else ""),
                say_hours(choice.before_h),
                say_hours(choice.after_h),
                *(say_hours(choice.filters_h[name]) if name in choice.filters_h else "no light" for name in names),
            )
            for choice in leverage(shown.plan.case, shown.found)
        ),
    )
