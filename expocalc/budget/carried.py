"""A sky that a test sub measured, under other light or other gear than its own."""

from __future__ import annotations

import dataclasses

from expocalc.budget.case import Case
from expocalc.budget.rates import rates
from expocalc.light.measured import MeasuredSky

__all__ = ["carried"]


def carried(case: Case, owner: Case) -> Case:
    """The case with a sky that was measured under another: times the ratio of the two by the model.

    Parameters
    ----------
    case : Case
        With the `owner`'s sky, or one changed from it.
    owner : Case
        The case that the measurement belongs to.

    Returns
    -------
    Case
        Filters that the two do not share, or see in other colours, go back to the model.
    """
    if not owner.sky.measured or all(
        getattr(case, name) is getattr(owner, name)
        for name in ("sky", "telescope", "camera", "filters", "target", "site", "moon")
    ):
        return case
    theirs = {filter_.name: filter_ for filter_ in owner.filters}
    measured = {}
    for filter_ in case.filters:
        if (
            filter_.name in owner.sky.measured
            and filter_.name in theirs
            and case.camera.colours == owner.camera.colours
        ):
            before = rates(owner, theirs[filter_.name])
            plain = dataclasses.replace(case, sky=dataclasses.replace(case.sky, measured=None))
            moved = before.sky_e_s * rates(plain, filter_).model_sky_e_s / before.model_sky_e_s
            measured[filter_.name] = (
                MeasuredSky(electron_s=float(moved[0]))
                if before.colours == ("mono",)
                else MeasuredSky(colours=dict(zip(before.colours, map(float, moved), strict=True)))
            )
    return dataclasses.replace(case, sky=dataclasses.replace(case.sky, measured=measured or None))
