"""The facts and numbers of two plans side by side, as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

from expocalc.base.words import say_duration, say_number
from expocalc.budget.case import Case
from expocalc.budget.clock import kept_share
from expocalc.budget.rates import rates
from expocalc.budget.row import Row
from expocalc.budget.stack import snr_per_patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.gear.image import field_arcmin, pixel_scale_arcsec
from workbook.compare.sides import Side, pairs_of, setters, whole_hours
from workbook.parts.table import Table

__all__ = ["facts_table", "hours_table"]


def facts_table(left: Side, right: Side, same_h: float) -> Table:
    """Both sides in a few lines; SNR after `same_h` on the clock. [h]"""
    lights = left.lights & right.lights
    set_by = (("Hours set by", lambda side: _joined(setters(side, lights)) or "the one light"),)
    rows = (
        ("On the clock, all filters", _sum_hours),
        *(set_by if setters(left, lights) or setters(right, lights) else ()),
        ("Length of a sub", _subs),
        (f"SNR after {say_duration(3600 * same_h)} each", lambda side: _snr_words(side, same_h)),
        (
            "One pixel",
            lambda side: f"{say_number(pixel_scale_arcsec(side.case.telescope, side.case.camera), 3)}″",
        ),
        ("Field", _field),
        ("Files to the goal", _gigabytes),
    )
    return Table(
        caption="Per patch of sky, not per pixel",
        head=("What", "Left", "Right"),
        rows=tuple((name, say(left), say(right)) for name, say in rows),
    )


def _sum_hours(side: Side) -> str:
    hours = whole_hours(side, side.lights)
    if not side.lights:
        return "no light passes"
    return say_duration(3600 * hours) if math.isfinite(hours) else "never"


def _subs(side: Side) -> str:
    words = {row.filter_shown: say_duration(row.sub_s) for row in side.rows}
    lengths = list(words.values())
    if len(set(lengths)) == 1:
        return lengths[0]
    return _joined([f"{name} {length}" for name, length in words.items()]) or "-"


def _joined(words: Sequence[str]) -> str:
    return " / ".join(words if len(words) <= 4 else [*words[:4], "…"])


def _snr_words(side: Side, same_h: float) -> str:
    """SNR of each light: by its name where there are several, and by its filter's where two filters pass it."""
    lit = [row for row in side.rows if row.light]
    lights = [row.light for row in lit]
    said = []
    for row in lit:
        whose = f"{row.light} " if lights.count(row.light) == 1 else f"{row.filter_shown}, {row.light} "
        said.append(f"{whose if len(lit) > 1 else ''}{say_number(_snr_after(side.case, row, same_h))}")
    return _joined(said) or "-"


def _snr_after(case: Case, row: Row, clock_h: float) -> float:
    """SNR of a light in the patch after some hours on the clock in its filter. [-]"""
    assert row.light is not None
    rate = rates(case, next(one for one in case.filters if one.name == row.filter_name))
    routine = case.routine
    kept = float(kept_share(row.sub_s, routine.lost_per_hour, routine.lost_at_dither))
    subs = clock_h * 3600 / (row.sub_s + routine.dead_s) * kept
    patch, habits = patch_of(case, rate, row.light, row.sub_s), habits_of(case, rate.scale_arcsec)
    return float(snr_per_patch(patch, habits, subs))


def _field(side: Side) -> str:
    sides = field_arcmin(side.case.telescope, side.case.camera)
    if max(sides) < 90:
        return " × ".join(f"{say_number(one)}′" for one in sides)
    return " × ".join(f"{say_number(one / 60)}°" for one in sides)


def _gigabytes(side: Side) -> str:
    seen = {row.filter_name for row in side.rows}
    sizes = [one.storage_gb for one in side.found.filters if one.filter_name in seen]
    return f"{say_number(sum(filter(None, sizes)))} GB" if sizes and None not in sizes else "-"


def hours_table(left: Side, right: Side, same_h: float) -> Table:
    """Table behind the figure of hours: every light of every filter on both sides."""

    def words(side: Side, row: Row | None) -> tuple[str, ...]:
        if row is None:
            return ("none", "-", "-", "-")
        hours = say_duration(3600 * row.clock_h) if row.clock_h is not None else "never"
        return (
            row.filter_shown,
            say_duration(row.sub_s),
            hours,
            say_number(_snr_after(side.case, row, same_h)),
        )

    heads = (f"{name}: {what}" for name in ("Left", "Right") for what in ("filter", "sub", "clock", "SNR"))
    return Table(
        caption=f"Each light on both sides; SNR in the patch after {say_duration(3600 * same_h)} on the clock",
        head=("Light", *heads),
        rows=tuple((pair.label, *words(left, pair.left), *words(right, pair.right)) for pair in pairs_of(left, right)),
    )
