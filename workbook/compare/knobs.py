"""What can be changed on the right side, and how it stands against the left one."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from expocalc.budget.carried import carried
from expocalc.plan import Plan, PlanError, Where
from workbook.parts.knob import Knob, Shown
from workbook.sub_length import knobs as theirs

__all__ = ["GROUPS", "HOURS", "KNOBS", "changed", "changes", "checked_hours", "first_question", "shown", "summary"]

KNOBS: Mapping[str, Knob] = MappingProxyType(
    {name: theirs.KNOBS[name] for name in ("sky", "bortle", "aperture", "focal length", "temperature", "width")}
    | {
        "pixel": Knob(label="Pixel", unit="um", low=1, high=25, step=0.01, log=True, example='"3.8 um"'),
        "read noise": Knob(
            label="Read noise",
            unit="electron",
            low=0.5,
            high=20,
            step=0.01,
            log=True,
            example='"1.4 electron"',
        ),
    }
)
"""The numbers of the right side, by name."""
GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Sky": ("sky", "bortle"),
        "Telescope": ("aperture", "focal length"),
        "Camera": ("temperature", "pixel", "read noise"),
        "Filter": ("width",),
    }
)
HOURS = Knob(label="Compare SNR after", unit="h", low=0.5, high=100, step=0.02, log=True, example='"10 h"')
"""Hours on the clock for each filter, the same on both sides."""

_MOST_HOURS = 10_000.0


def changes(plan: Plan, filter_name: str, name: str, value: float | None) -> dict[Where, Any]:
    """What turning the knob `name` to `value` changes in the plan; ValueError where it can't be turned."""
    if name == "pixel":
        return {("camera", "pixel"): KNOBS[name].toml(value)}
    if name == "read noise":
        return {("camera", "gains", str(plan.case.camera.gain), "read_noise"): KNOBS[name].toml(value)}
    return theirs.changes(plan, filter_name, name, value)


def checked_hours(hours: float | None) -> float:
    """Hours to compare after; ValueError where they make no sense."""
    if hours is None or not 0 < hours <= _MOST_HOURS:
        msg = f'{HOURS.label} must be above 0 h, up to {_MOST_HOURS:g} h, got {hours or 0:g} h; write it like "10 h"'
        raise ValueError(msg)
    return hours


def first_question(plan: Plan) -> Plan:
    """The plan under a darker sky: the question that the panel opens with."""
    try:
        return changed(plan, changes(plan, plan.case.filters[0].name, "sky", 21.0))
    except PlanError:  # a plan whose parts don't go with such a sky is still worth comparing
        return plan


def changed(plan: Plan, asked: Mapping[Where, Any]) -> Plan:
    """The plan with changed values; a sky measured in it goes along by the ratio that the model gives.

    Parameters
    ----------
    plan : Plan
    asked : mapping
        For :meth:`expocalc.plan.Plan.with_values`.

    Raises
    ------
    PlanError
        If a value is not allowed.
    """
    new = plan.with_values(asked)
    if not plan.case.sky.measured:
        return new
    moved = carried(new.case, plan.case).sky.measured or {}
    texts = {
        name: f"{one.electron_s:.6g} electron/s"
        if one.colours is None
        else {colour: f"{rate:.6g} electron/s" for colour, rate in one.colours.items()}
        for name, one in moved.items()
    }
    return new.with_values({("sky", "measured"): texts or None})


def shown(plan: Plan, left: Plan, filter_name: str) -> dict[str, Shown]:
    """What each knob shows: the right plan's value, and whether it is the left one's too.

    Parameters
    ----------
    plan, left : Plan
    filter_name : str
        The right plan's filter whose width is shown.

    Returns
    -------
    dict of str to Shown
        By the names of :data:`KNOBS`.
    """
    right = _shown(plan, filter_name)
    names = [one.name for one in left.case.filters]
    other = _shown(left, filter_name if filter_name in names else names[0])
    return {
        name: dataclasses.replace(one, origin="as left" if one.text == other[name].text else "changed")
        for name, one in right.items()
    }


def _shown(plan: Plan, filter_name: str) -> dict[str, Shown]:
    found = {name: one for name, one in theirs.shown(plan, filter_name).items() if name in KNOBS}
    camera = plan.case.camera
    for name, value in (("pixel", camera.pixel), ("read noise", camera.setting.read_noise)):
        found[name] = Shown(value=float(value.value), text=KNOBS[name].say(float(value.value)), origin="")
    return found


def summary(plan: Plan, values: Mapping[str, Shown]) -> dict[str, str]:
    """One line of each group of controls, for when it is folded."""
    text = {name: value.text for name, value in values.items()}
    said = {
        "Sky": text["sky"],
        "Telescope": f"{text['aperture']} at f/{plan.case.telescope.focal_ratio:.3g}",
        "Camera": f"{text['temperature']}, {text['pixel']}, {text['read noise']}",
        "Filter": f"{text['width']} wide" if values["width"].value else text["width"],
    }
    return {
        group: f"{words} (changed)" if any(values[name].origin == "changed" for name in GROUPS[group]) else words
        for group, words in said.items()
    }
