"""What is assumed of a routine where the plan does not say, in words."""

from __future__ import annotations

from expocalc.budget.routine import TYPICAL_FLATNESS, USUAL_FRAMES, Routine

__all__ = ["assumed_sentence", "assumptions", "frames_said"]

_WITHOUT = {
    "no dither": ("dither_every",),
    "no spoilt subs": ("lost_per_hour", "lost_per_dither", "counts"),
    "no pause between subs": ("dead_time",),
}
"""What is assumed where none of these fields is given."""


def assumptions(routine: Routine) -> tuple[str, ...]:
    """What the plan does not give and was assumed, one by one.

    Examples
    --------
    >>> assumptions(Routine(darks="perfect", flats="none", background_flatness="perfect", dither_every="none"))
    ('no spoilt subs', 'no pause between subs')
    """
    frames = (f"{USUAL_FRAMES} {kind}" for kind in ("darks", "flats") if getattr(routine, kind) is None)
    even = (f"a background even to {100 * TYPICAL_FLATNESS:g} %",) if routine.background_flatness is None else ()
    return (*frames, *even, *(words for words, fields in _WITHOUT.items() if not routine.given.intersection(fields)))


def assumed_sentence(routine: Routine) -> str:
    """What the plan does not give and was assumed; empty where it gives all."""
    found = assumptions(routine)
    if not found:
        return ""
    said = f"{', '.join(found[:-1])} and {found[-1]}" if len(found) > 1 else found[0]
    return f"Assumed, since the plan does not say: {said}."


def frames_said(routine: Routine, kind: str) -> str:
    """Number of "darks" or "flats" in words: "40 darks", "no flats", "30 assumed darks".

    Examples
    --------
    >>> routine = Routine(flats="perfect")
    >>> frames_said(routine, "darks"), frames_said(routine, "flats")
    ('30 assumed darks', 'perfect flats')
    """
    count, said = routine.frames(kind), getattr(routine, kind)
    if isinstance(said, str):
        return f"{'no' if said == 'none' else said} {kind}"
    return f"{count:g} {'assumed ' if said is None else ''}{kind if count > 1 else kind[:-1]}"
