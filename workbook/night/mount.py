"""How long mount and optics hold, in words and as a table."""

from __future__ import annotations

import math

from expocalc.base.words import say_duration
from expocalc.budget.case import Case
from expocalc.budget.mount import end_of_sub, held_by
from expocalc.night.words import focus_words
from workbook.parts.table import Table

__all__ = ["limits_table", "mount_sentence"]

_ENDS = {
    "own": "your own limit",
    "drift": "drift of the stars by the polar error",
    "rotation": "turn of the corners by the polar error",
    "flexure": "wandering of the stars by flexure",
}
"""What ends a sub, by the names of :func:`expocalc.budget.mount.end_of_sub`."""
_FORMULAS = {
    "own": "",
    "drift": "trail over polar error times sky's rate (Hook 1989)",
    "rotation": "drift's time times cos declination over the corner's distance from the guide star (Hook 1989)",
    "flexure": "trail over flexure",
}


def mount_sentence(case: Case) -> str:
    """What of the mount ends a sub, what the others would allow, and when to focus again."""
    focus = focus_words(case)
    return f"{_ends(case)} {focus[0].upper()}{focus[1:]}."


def _ends(case: Case) -> str:
    end, held_s = end_of_sub(case)
    others = {name: s for name, s in held_by(case).reckoned.items() if math.isfinite(s) and name != end}
    if math.isinf(held_s):
        return (
            "Nothing that the plan says of the mount ends a sub: give the longest one that you know to be good, or the "
            "polar error."
        )
    said = f"The mount ends a sub at {say_duration(held_s)}: {_ENDS[end]}."
    for name, longest_s in others.items():
        word = "already stretches" if longest_s < held_s else "would stretch"
        said += f" The {_ENDS[name]} {word} stars from {say_duration(longest_s)} on."
    return said


def limits_table(case: Case) -> Table:
    """Each limit with what it rests on."""
    held = held_by(case)
    own = case.routine.longest_sub
    limits = {"own": math.inf if own is None else float(own.value), **held.reckoned}
    rows = tuple(
        (
            f"{_ENDS[name][0].upper()}{_ENDS[name][1:]}",
            say_duration(s) if math.isfinite(s) else "no limit known",
            _FORMULAS[name],
        )
        for name, s in limits.items()
    )
    return Table(
        caption=f"Longest sub by each limit; stars may trail by {held.trail_arcsec:.1f}″",
        head=("Limit", "Longest sub", "How"),
        rows=rows,
    )
