"""What a plan knows beside a frame, and what it takes from one."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any

from expocalc.budget.answer import filter_named
from expocalc.budget.case import Case
from expocalc.budget.rates import rates
from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.sub import SubFound
from expocalc.frames.read.fits import Frame, with_mosaic
from expocalc.frames.tell.conditions import Seen
from expocalc.light.conditions import Conditions

__all__ = ["as_camera", "behind_of", "measured_changes", "measured_value", "unmeasured", "with_measured"]

_NEARLY = 0.95
"""Part of the well from which a star counts as full: common practice, no source."""


def behind_of(case: Case | None, **given: Any) -> Behind:
    """What a plan knows of its camera, under what a person gives."""
    known: dict[str, Any] = {}
    if case is not None:
        setting = case.camera.setting
        known = {
            "dark_e_s": float(case.camera.dark_e_s),
            "read_noise_e": math.sqrt(setting.read_variance_e2),
            "electrons_per_adu": setting.electrons_per_adu,
            "bias_adu": setting.bias_level,
            "full_adu": (setting.bias_level or 0.0) + _NEARLY * setting.saturation_e / setting.electrons_per_adu,
        }
    return Behind(**{**known, **{name: value for name, value in given.items() if value is not None}})


def as_camera(frame: Frame, case: Case | None) -> Frame:
    """The frame with the mosaic of the plan's camera where its header names none."""
    return with_mosaic(frame, None if case is None or case.camera.mosaic == "none" else case.camera.mosaic)


def measured_value(found: SubFound, factor: Mapping[str, float] | None = None) -> str | dict[str, str]:
    """The measured sky, times a factor by colour, as a plan's section [sky.measured] takes it."""
    factor = factor or dict.fromkeys(found.colours, 1.0)
    said = {c: f"{max(one.sky_e_s, 0.0) * factor[c]:.4g} electron/s" for c, one in found.colours.items()}
    return said["mono"] if "mono" in said else said


def unmeasured(case: Case) -> Case:
    """The case with the model's sky in all filters."""
    return dataclasses.replace(case, sky=dataclasses.replace(case.sky, measured=None)) if case.sky.measured else case


def with_measured(
    case: Case, filter_name: str, value: str | Mapping[str, str], under: Conditions | None = None
) -> Case:
    """The case with a measured sky in one of its filters, and where it was measured."""
    measured: Any = {**(case.sky.measured or {}), filter_name: value}
    sky = dataclasses.replace(case.sky, measured=measured)
    return dataclasses.replace(case, sky=sky, measured_under=case.measured_under if under is None else under)


def measured_changes(found: SubFound, case: Case, filter_name: str, seen: Seen) -> dict[tuple[str, ...], Any]:
    """What a plan takes from a test sub, as changes of its values: the sky, and where it was measured.

    The plan has one section on where its skies were measured. A sub of a filter alone fills it anew; beside other
    filters' skies its rate is brought to where those were measured, by the ratio of the model's skies.
    """
    place = ("sky", "measured", filter_name)
    if not set(case.sky.measured or {}) - {filter_name}:
        return {place: measured_value(found), ("measured_under",): seen.plan_value()}
    filter_, plain = filter_named(case, filter_name), unmeasured(case)
    under = case.measured_under
    altitude = case.target.altitude if under.altitude is None else under.altitude
    theirs = dataclasses.replace(plain, target=dataclasses.replace(case.target, altitude=altitude), moon=under.moon)
    here, there = rates(seen.there(plain), filter_), rates(theirs, filter_)
    factor = dict(zip(here.colours, there.model_sky_e_s / here.model_sky_e_s, strict=True))
    return {place: measured_value(found, factor)}
