"""What can be turned in the night panel: where each value stands in a plan, and how it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from expocalc.plan import Plan, Where
from workbook.parts.knob import Knob, Shown
from workbook.sub_length import knobs as common

__all__ = ["ENTRIES", "KNOBS", "MOUNT", "changes", "entry_shown", "entry_typed", "shown", "summary"]

_PLACES: Mapping[str, Where] = MappingProxyType(
    {
        "goal": ("goal", "snr"),
        "clear": ("night", "clear_share"),
        "sun": ("night", "sun_limit"),
        "horizon": ("site", "horizon"),
        "flip": ("night", "flip_time"),
        "change": ("night", "filter_change_time"),
        "focus_every": ("night", "focus_every"),
        "focus_time": ("night", "focus_time"),
        "longest": ("routine", "longest_sub"),
        "polar": ("routine", "polar_error"),
        "guide": ("routine", "guide_star"),
        "flexure": ("routine", "flexure"),
        "stretch": ("routine", "stretch"),
        "refocus": ("night", "refocus_after"),
    }
)
MOUNT = ("longest", "polar", "guide", "flexure", "stretch", "refocus")
"""Numbers of what the mount holds."""
KNOBS: Mapping[str, Knob] = MappingProxyType(
    {
        "goal": Knob(label="Goal, SNR", unit="", low=1, high=200, step=0.02, log=True, example="10"),
        "sky": common.KNOBS["sky"],
        "clear": Knob(label="Clear nights", unit="%", low=5, high=100, step=1, example='"40 %"', without="all"),
        "sun": Knob(label="Sun below", unit="deg", low=-18, high=0, step=0.5, example='"-18 deg"'),
        "horizon": Knob(label="Skyline", unit="deg", low=0, high=80, step=1, example='"25 deg"'),
        "flip": Knob(label="Turn at meridian", unit="min", low=0, high=20, step=0.5, example='"5 min"'),
        "change": Knob(label="Change of filter", unit="min", low=0, high=20, step=0.5, example='"4 min"'),
        "focus_every": Knob(
            label="Focus every", unit="min", low=10, high=240, step=5, example='"90 min"', without="never"
        ),
        "focus_time": Knob(label="Focus run", unit="min", low=0, high=15, step=0.5, example='"3 min"'),
        "longest": common.KNOBS["longest sub"],
        "polar": Knob(
            label="Polar error", unit="arcmin", low=0.5, high=60, step=0.02, log=True, example='"5 arcmin"',
            without="not known",
        ),
        "guide": Knob(
            label="Guide star off", unit="arcmin", low=0, high=120, step=1, example='"30 arcmin"',
            without="not guided",
        ),
        "flexure": Knob(
            label="Flexure", unit="arcsec / h", low=0.5, high=200, step=0.02, log=True, example='"4 arcsec/h"',
            without="not known",
        ),
        "stretch": Knob(label="Stars longer by", unit="%", low=1, high=50, step=1, example='"10 %"'),
        "refocus": Knob(
            label="Focus after", unit="K", low=0.2, high=10, step=0.1, example='"1.5 K"', without="by the tube"
        ),
    }
)  # fmt: skip
"""The numbers of the panel, by name."""

ENTRIES: Mapping[str, tuple[str, Where, str]] = MappingProxyType(
    {
        "date": ("Evening of", ("night", "date"), "2026-10-24, empty for today"),
        "earliest": ("Not before", ("night", "earliest"), "21:30"),
        "latest": ("Not after", ("night", "latest"), "02:00"),
        "latitude": ("Latitude", ("site", "latitude"), "51.2 deg"),
        "longitude": ("Longitude", ("site", "longitude"), "3.1 deg, east positive"),
        "zone": ("Time zone", ("site", "time_zone"), "Europe/Brussels"),
        "name": ("Target", ("target", "name"), "outer shell"),
        "position": ("Position", ("target", "right_ascension"), "20h 45m 38s, +30d 43m"),
    }
)
"""Texts of the panel: label, place in the plan, example."""
_DECLINATION: Where = ("target", "declination")


def _at(plan: Plan, where: Where) -> Any:
    values: Any = plan.values
    for step in where:
        if not isinstance(values, Mapping) or step not in values:
            return None
        values = values[step]
    return values


def shown(plan: Plan) -> dict[str, Shown]:
    """What each control shows."""
    case = plan.case
    night, horizon, routine = case.night, case.site.horizon, case.routine
    values = {
        "goal": case.goal.snr,
        "clear": None if night.clear_share is None else 100 * night.clear_share,
        "sun": float(night.sun_limit.value),
        "horizon": horizon[0][1],
        "flip": float(night.flip_time.to_value("min")),
        "change": float(night.filter_change_time.to_value("min")),
        "focus_every": None if night.focus_every is None else float(night.focus_every.to_value("min")),
        "focus_time": float(night.focus_time.to_value("min")),
        "longest": _value(routine.longest_sub),
        "polar": _value(routine.polar_error),
        "guide": _value(routine.guide_star),
        "flexure": _value(routine.flexure),
        "stretch": 100 * routine.stretch,
        "refocus": _value(night.refocus_after),
    }
    found = {"sky": common.shown(plan, case.filters[0].name)["sky"]}
    for name, number in values.items():
        text = KNOBS[name].say(number)
        if name == "horizon" and len(horizon) > 1:
            text = f"{len(horizon)} points"
        found[name] = Shown(value=number, text=text, origin="plan" if _at(plan, _PLACES[name]) is not None else "usual")
    return found


def _value(quantity: Any) -> float | None:
    return None if quantity is None else float(quantity.value)


def changes(plan: Plan, name: str, value: float | None) -> dict[Where, Any]:
    """The plan's change for a turned knob."""
    if name == "sky":
        return common.changes(plan, plan.case.filters[0].name, name, value)
    if name in ("clear", "stretch"):
        return {_PLACES[name]: None if value is None else round(value / 100, 4)}
    if name == "guide" and value is None:
        return {_PLACES[name]: "none"}
    if name == "goal":
        return {_PLACES[name]: value}
    return {_PLACES[name]: KNOBS[name].toml(value)}


def entry_shown(plan: Plan, name: str) -> str:
    """The text of an entry, empty where the plan says nothing."""
    value = _at(plan, ENTRIES[name][1])
    if value is None:
        return ""
    return f"{value}, {_at(plan, _DECLINATION)}" if name == "position" else str(value)


def entry_typed(name: str, text: str) -> dict[Where, Any]:
    """The plan's change for a typed text.

    Raises
    ------
    ValueError
        If a position has not two parts.
    """
    where, text = ENTRIES[name][1], text.strip()
    if name != "position":
        return {where: text or None}
    if not text:
        return {where: None, _DECLINATION: None}
    parts = [part.strip() for part in text.replace(";", ", ").split(", ") if part.strip()]
    if len(parts) != 2:
        msg = f'Position must be right ascension and declination, got "{text[:60]}"; write it like {ENTRIES[name][2]}'
        raise ValueError(msg)
    return {where: parts[0], _DECLINATION: parts[1]}


def summary(plan: Plan, values: Mapping[str, Shown]) -> dict[str, str]:
    """One line of each group of controls, for when it is folded."""
    text = {name: value.text for name, value in values.items()}
    zone = plan.case.site.time_zone or "UTC"
    return {
        "Night": f"{entry_shown(plan, 'date') or 'today'}, {text['clear']} clear, Sun below {text['sun']}",
        "Place and target": f"{zone}, skyline {text['horizon']}, {plan.case.target.name}",
        "Goal and sky": f"SNR {text['goal']}, {text['sky']}",
        "What takes time": f"flip {text['flip']}, filter {text['change']}, focus {text['focus_every']}",
    }
