"""Many plans as axes of arrays: terms and rates of all combinations at once, and in parts that fit into memory."""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Protocol

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.moment import moment_of
from expocalc.budget.passed import passed
from expocalc.budget.rates import Rates, rates_at
from expocalc.budget.terms import Terms, terms_of
from expocalc.plan import Plan

__all__ = ["Axis", "Grid", "is_axis", "pieces", "rates_in", "terms_in"]

Where = tuple[str | int, ...]

_READINGS = ("zenith_brightness", "bortle", "luminance", "naked_eye_limit", "gradient")
_PACE = ("sub_length", "longest_sub", "dead_time", "dither_time", "lost_per_dither", "lost_per_hour")
_GOAL = ("snr", "noise_growth", "sky_share_of_well")
_DARK = ("temperature", "glow", "dark_current")
_TERMS = {
    "goal": ("snr", "noise_growth", "sky_share"),
    "routine": ("sub_s", "mount_s", "dead_s", "lost_per_hour", "lost_at_dither"),
    "camera": ("read_variance_e2", "quantisation_e2", "saturation_e", "electrons_per_adu", "bias_adu", "frame_gb"),
}
_SEARCHED, _AT_ONCE = 500, 20_000
"""Cases whose best sub is looked for, and cases solved, at once: they keep memory below some 100 MB."""


def is_axis(where: Where) -> bool:
    """Whether values at a place can be solved together on an axis of arrays."""
    section, *rest = where
    if section == "camera":
        return rest[0] in _DARK or (rest[0] == "gains" and rest[-1] == "read_noise")
    return rest[0] in {"sky": _READINGS, "routine": _PACE, "goal": _GOAL}.get(str(section), ())


class Axis(Protocol):
    """Values at one place of a plan."""

    @property
    def where(self) -> Where:
        """Place in the plan."""

    @property
    def values(self) -> tuple[Any, ...]:
        """As a plan holds them."""


def pieces(shape: tuple[int, ...], searched: Sequence[bool]) -> Iterator[tuple[slice, ...]]:
    """Parts of an array that are small enough: its longest axis is halved until they are."""

    def halved(part: tuple[slice, ...]) -> Iterator[tuple[slice, ...]]:
        sizes = [one.stop - one.start for one in part]
        looked_for = [size if searching else 1 for size, searching in zip(sizes, searched, strict=True)]
        if math.prod(looked_for) > _SEARCHED:
            at = looked_for.index(max(looked_for))
        elif math.prod(sizes) > _AT_ONCE:
            at = sizes.index(max(sizes))
        else:
            yield part
            return
        middle = (part[at].start + part[at].stop) // 2
        for half in (slice(part[at].start, middle), slice(middle, part[at].stop)):
            yield from halved((*part[:at], half, *part[at + 1 :]))

    return halved(tuple(slice(0, size) for size in shape))


class Grid:
    """Terms and rates on the axes that are solved together, for one choice of the others."""

    def __init__(self, plan: Plan, axes: tuple[Axis, ...], inner: Sequence[int]) -> None:
        self._plan, self._axes, self._inner = plan, axes, inner
        self._nouns: dict[tuple[Any, ...], list[Any]] = {}

    def at(self, chosen: Mapping[int, int]) -> tuple[Case, Terms, list[Rates]]:
        """Case, terms and the rates of each filter, where each outer axis has the chosen value."""
        base = self._plan.with_values({self._axes[at].where: self._axes[at].values[n] for at, n in chosen.items()})
        case, terms = base.case, terms_of(base.case)
        dark: Any = None
        for section, names in _TERMS.items():
            nouns, shape = self._of_section(base, section, chosen)
            if not nouns:
                continue
            each = [terms_of(dataclasses.replace(case, **{section: noun})) for noun in nouns]
            numbers = {name: np.array([getattr(one, name) for one in each], dtype=float) for name in names}
            terms = terms._replace(**{name: _lean(x.reshape(shape)) for name, x in numbers.items()})
            if section == "camera":
                dark = np.array([camera.dark_e_s for camera in nouns]).reshape(*shape, 1)
        skies, shape = self._of_section(base, "sky", chosen)
        moments = [moment_of(dataclasses.replace(case, sky=sky)) for sky in skies] or [moment_of(case)]
        moment = dataclasses.replace(
            moments[0],
            natural=np.array([one.natural for one in moments]).reshape(shape),
            town={lamp: np.array([one.town[lamp] for one in moments]).reshape(shape) for lamp in moments[0].town},
            sky_factor=np.array([one.sky_factor for one in moments]).reshape(shape),
        )
        delivered = []
        for filter_ in case.filters:
            rate = _on_axes(rates_at(passed(case, filter_), moment), len(shape))
            delivered.append(rate if dark is None else dataclasses.replace(rate, dark_e_s=dark))
        return case, terms, delivered

    def _of_section(self, base: Plan, section: str, chosen: Mapping[int, int]) -> tuple[list[Any], tuple[int, ...]]:
        """The section for every combination of its inner axes, and the shape of these; none where it has none."""
        own = [at for at in self._inner if self._axes[at].where[0] == section]
        shape = tuple(len(self._axes[at].values) if at in own else 1 for at in self._inner)
        if not own:
            return [], shape
        key = (section, *((at, n) for at, n in chosen.items() if self._axes[at].where[0] == section))
        if key not in self._nouns:
            self._nouns[key] = [
                getattr(
                    base.with_values(dict(zip((self._axes[at].where for at in own), values, strict=True))).case, section
                )
                for values in itertools.product(*(self._axes[at].values for at in own))
            ]
        return self._nouns[key], shape


def _lean(values: Floats) -> Any:
    """An array without the repetition along axes on which nothing changes; a number where nothing changes at all."""
    for axis in range(values.ndim):
        first = values.take([0], axis=axis)
        if np.array_equal(np.broadcast_to(first, values.shape), values, equal_nan=True):
            values = first
    return values if values.size > 1 else values.item()


def _on_axes(rate: Rates, axes: int) -> Rates:
    """Rates whose arrays all have the axes, of size 1 where nothing changes."""

    def wide(by_colour: Floats) -> Floats:
        return by_colour.reshape(*(1,) * (axes + 1 - by_colour.ndim), *by_colour.shape)

    return _each(rate, wide)


def _each(rate: Rates, change: Callable[[Floats], Floats]) -> Rates:
    """Rates with what the answer takes of them changed."""
    return dataclasses.replace(
        rate,
        sky_e_s=change(rate.sky_e_s),
        ab_zero_e_s=change(rate.ab_zero_e_s),
        bright_star_e_s=change(rate.bright_star_e_s),
        extended={light: change(e_s) for light, e_s in rate.extended.items()},
        stars={light: change(e_s) for light, e_s in rate.stars.items()},
    )


def _in(values: Any, piece: tuple[slice, ...]) -> Any:
    """Part of an array with all axes; an axis of one value stays."""
    if not np.ndim(values):
        return values
    return values[tuple(one if size > 1 else slice(None) for one, size in zip(piece, values.shape, strict=False))]


def terms_in(terms: Terms, piece: tuple[slice, ...]) -> Terms:
    """Terms of a part of all axes."""
    return Terms(*(_in(numbers, piece) for numbers in terms))


def rates_in(rate: Rates, piece: tuple[slice, ...]) -> Rates:
    """Rates of a part of all axes."""
    part = _each(rate, lambda values: _in(values, piece))
    return dataclasses.replace(part, dark_e_s=_in(rate.dark_e_s, piece))
