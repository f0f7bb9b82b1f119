"""The verdict of the sub-length panel, in plain words."""

from __future__ import annotations

import dataclasses

from expocalc.base.words import say_duration, say_number
from expocalc.budget.answer import answer_filter
from expocalc.budget.case import Case
from expocalc.budget.row import FilterAnswer, Row
from expocalc.light.instruments import sky_readings
from expocalc.plan import Plan, PlanError
from workbook.parts.light_in_view import ALL
from workbook.parts.reading import as_user, say_step, sky_words
from workbook.parts.units import units_now
from workbook.parts.verdict import Words

__all__ = ["words"]

_OTHER_READINGS = ("bortle", "luminance", "naked_eye_limit", "reading_band", "brightness_error")


def words(plan: Plan, one: FilterAnswer, light: str = ALL) -> Words:
    """Verdict on one filter, for the light in view."""
    row, (first, *rest) = one.neediest, one.sentences
    if light != ALL:
        alone = row.light == light
        rest.append(f"Only {light} is in view." if alone else f"{one.filter_shown} is not for {light}, or passes none.")
    return Words(headline=first, rest=as_user(" ".join(rest)), basis=_basis(plan.case, row), change=_change(plan, row))


def _basis(case: Case, row: Row) -> str:
    telescope, altitude = case.telescope, float(case.target.altitude.value)
    read_noise_e = float(case.camera.setting.read_noise.value)
    return (
        f"It rests on {_sky_words(case, row.filter_name)}, the target at {say_number(altitude)}°, "
        f"{units_now().say_mm(float(telescope.aperture.value))} at f/{telescope.focal_ratio:.3g}, read noise "
        f"{say_number(read_noise_e)} electrons, {say_duration(case.routine.dead_s)} lost per sub."
    )


def _sky_words(case: Case, filter_name: str) -> str:
    sky = case.sky
    if sky.measured and filter_name in sky.measured:
        return "the sky that you measured"
    if sky.bortle is not None:
        return f"a sky of Bortle class {sky.bortle}"
    if sky.zenith_brightness is not None:
        return f"a sky of {sky_words(sky, '.2f')}"
    return f"a sky of {sky_words(dataclasses.replace(sky, reading_band='bessell-V'), '.2f')}"


def _change(plan: Plan, row: Row) -> str:
    """What a sky one magnitude darker would do, or brighter where none is darker."""
    sky = plan.case.sky
    if row.clock_h is None or sky.told is not None or (sky.measured and row.filter_name in sky.measured):
        return ""
    v = sky_readings(sky).bessell_v
    for step in (1.0, -1.0):
        changed: dict[tuple[str | int, ...], str | None] = {("sky", other): None for other in _OTHER_READINGS}
        changed["sky", "zenith_brightness"] = f"{v + step} mag/arcsec2"
        try:
            other = plan.with_values(changed).case
        except PlanError:
            continue
        filter_ = next(f for f in other.filters if f.name == row.filter_name)
        found, _ = answer_filter(other, filter_)
        if found.clock_h is not None:
            return (
                f"With a sky {say_step(step)}: {say_duration(found.sub_s)} subs, "
                f"{say_duration(found.clock_h * 3600)} on the clock at best."
            )
    return ""
