"""Which draws stand behind what a light in a filter depends on."""

from __future__ import annotations

from functools import cache

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.doubt import Doubt
from expocalc.budget.drawn import Draws
from expocalc.budget.rates import Rates
from expocalc.gear.filter import Filter, is_narrow
from expocalc.gear.response import brightest_response

__all__ = ["inputs_of", "normal_draws"]


def normal_draws(draws: int, seed: int) -> Draws:
    """Standard normal numbers by the name of what is drawn, shape (draws,): the same for the same seed and name."""

    @cache
    def drawn(name: str) -> Floats:
        return np.random.default_rng([seed, *name.encode()]).standard_normal(draws)

    return drawn


def inputs_of(
    case: Case, filter_: Filter, rate: Rates, light: str, draws: Draws, doubt: Doubt | None = None
) -> dict[str, list[Floats]]:
    """Standard normal numbers behind the draws of each input that a light in a filter depends on.

    Parameters
    ----------
    case : Case
    filter_ : Filter
    rate : Rates
        Of the filter.
    light : str
    draws : Draws
    doubt : Doubt, optional
        Where it is given, inputs without doubt are left out.

    Returns
    -------
    dict of str to list of ndarray
        By the names of :data:`expocalc.budget.doubt.INPUTS`; one array for each part of an input.
    """
    return {
        name: [_numbers(case, filter_, part, draws) for part in parts]
        for name, parts in _parts(case, filter_, rate, light).items()
        if doubt is None or _size(case, doubt, name) > 0
    }


def _size(case: Case, doubt: Doubt, name: str) -> float:
    """How large the doubt of an input is; 0 is none."""
    if name == "sky_reading":
        return float(case.sky.brightness_error.value)
    return doubt.size("lamp_mix" if name == "lamps_told" else name)


def _parts(case: Case, filter_: Filter, rate: Rates, light: str) -> dict[str, list[str]]:
    """Names of the draws of each input that this light in this filter depends on."""
    measured = case.sky.measured is not None and filter_.name in case.sky.measured
    sky = {
        "sky_reading": ["sky_reading"],
        "lamp_mix": [f"lamp_mix {lamp}" for lamp in case.sky.lamps] if len(case.sky.lamps) > 1 else [],
        "lamp_colour": ["lamp_colour"],
        "natural_sky": ["natural_sky"],
        "narrow_sky": [f"narrow_sky {filter_.name}"] if is_narrow(filter_) else [],
    }
    if case.sky.told is not None:  # what the rates leave open, and how nights differ from the one that was measured
        sky = {"lamps_told": ["lamps_told"], "measured_sky": ["measured_sky"]}
    return {
        **({"measured_sky": ["measured_sky"]} if measured else sky),
        "target": [f"target {name}" for name in dict.fromkeys((light, *rate.extended))],
        **{name: [name] for name in ("efficiency", "extinction", "dark_current", "read_noise")},
        **({"seeing": ["seeing"]} if light in rate.stars else {}),
        "filter_centre": [f"filter_centre {filter_.name}"],
        "filter_width": ["filter_width"],
        "flatness": ["flatness"] if case.routine.flatness else [],
        **({"moonlight": ["moonlight"]} if case.moon is not None and not measured else {}),
        "practice": ["practice"],
    }


def _numbers(case: Case, filter_: Filter, part: str, draws: Draws) -> Floats:
    """Standard normal numbers of an input's part; of lamps that rates tell, in the order of their skies."""
    if part != "lamps_told" or case.sky.told is None:
        return draws(part)
    return case.sky.told.scores(draws(part), brightest_response(case.telescope, filter_, case.camera))
