"""All lights of all filters of a case, one after another on the first axis of every array."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import Any, NamedTuple

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.patch import Patch
from expocalc.budget.rates import Rates
from expocalc.budget.stack import Still, still_of
from expocalc.budget.stacked import faint_of, habits_of, light_of
from expocalc.budget.terms import Terms
from expocalc.gear.image import peak_share

__all__ = ["Lights", "columned", "lights_of"]


class Lights(NamedTuple):
    """All lights of all filters, each attribute with the lights as its first axis."""

    names: tuple[tuple[int, str | None], ...]
    starts: tuple[int, ...]
    """Where each filter's lights start."""
    rates: Sequence[Rates]
    """Of each light's filter."""
    still: Still
    """Their patches, which wait for the length of a sub."""
    sky_e_s: Any
    extended_e_s: Any
    """All of the target's extended light in a pixel, as the sky with the axis of colours. [electron s-1]"""
    fwhm_px: Any
    peak: Any
    """Share of a star's light in its brightest pixel."""
    snr: Any
    """Goal of each light."""
    patch_arcsec: Any
    """Side of each light's patch, NaN for a star or no light."""
    scale_arcsec: float
    """Side of a pixel on the sky."""

    def of_rates(self, name: str) -> Any:
        """An attribute of each light's rates."""
        return _stacked([getattr(rate, name) for rate in self.rates])

    def of_names(self, asked: Callable[[Rates, str | None], bool]) -> Any:
        """What is asked of each light's rates and name, with as many axes as its numbers."""
        found = [asked(rate, name) for rate, (_, name) in zip(self.rates, self.names, strict=True)]
        if not any(found):  # mostly, and a bare False costs nothing
            return False
        return np.array(found).reshape(-1, *(1,) * (self.snr.ndim - 1))

    def of_filters(self, most: np.ufunc, values: Any) -> Any:
        """What a ufunc makes of the lights of each filter together, for each of them."""
        if len(self.starts) == len(self.names):
            return values
        per_filter = np.diff([*self.starts, len(self.names)])
        return np.repeat(most.reduceat(values, self.starts, axis=0), per_filter, axis=0)


def lights_of(case: Case, terms: Terms, delivered: Sequence[Rates]) -> Lights:
    """Lights of the filters of a case."""
    of_filter = [rate.lights or (None,) for rate in delivered]
    names = tuple((at, name) for at, lights in enumerate(of_filter) for name in lights)
    rates = [delivered[at] for at, _ in names]
    axes = (1,) * (delivered[0].sky_e_s.ndim - 1)
    each = [
        (1.0, np.zeros_like(rate.sky_e_s), rate.sky_e_s) if name is None else light_of(case, rate, name)
        for rate, (_, name) in zip(rates, names, strict=True)
    ]
    side_px, signal_e_s, light_e_s = (_stacked(parts) for parts in zip(*each, strict=True))
    patch = Patch(
        side_px=side_px.reshape(-1, *axes),
        sub_s=1.0,
        signal_e_s=signal_e_s,
        light_e_s=light_e_s,
        dark_e_s=delivered[0].dark_e_s,
        read_variance_e2=columned(terms.read_variance_e2),
        pixel_share=delivered[0].pixel_share,
        faint_e_s=_stacked([faint_of(case, rate) for rate in rates]) if case.target.lumps else 0.0,
    )
    fwhm_px = _stacked([rate.fwhm_px for rate in rates]).reshape(-1, *axes)
    own = [math.nan if name is None else case.target.light_named(name).snr or math.nan for _, name in names]
    sides = [
        case.patch_of(name) if name in rate.extended else math.nan for rate, (_, name) in zip(rates, names, strict=True)
    ]
    own_snr = np.array(own).reshape(-1, *axes)
    return Lights(
        names=names,
        starts=tuple(accumulate((len(lights) for lights in of_filter[:-1]), initial=0)),
        rates=rates,
        still=still_of(patch, habits_of(case, delivered[0].scale_arcsec)),
        sky_e_s=_stacked([rate.sky_e_s for rate in rates]),
        extended_e_s=_stacked([_all_extended(rate) for rate in rates]),
        fwhm_px=fwhm_px,
        peak=peak_share(fwhm_px),
        snr=np.where(np.isnan(own_snr), terms.snr, own_snr),
        patch_arcsec=np.array(sides).reshape(-1, *axes),
        scale_arcsec=delivered[0].scale_arcsec,
    )


def _all_extended(rate: Rates) -> Floats:
    return np.asarray(sum(rate.extended.values())) if rate.extended else np.zeros_like(rate.sky_e_s)


def _stacked(parts: Sequence[Any]) -> Floats:
    """One array of many that broadcast, with them along its first axis."""
    alike = len({getattr(part, "shape", ()) for part in parts}) == 1
    return np.array(parts) if alike else np.stack(np.broadcast_arrays(*parts))


def columned(x: Any) -> Any:
    """An array with the axis of colours; a number as it is."""
    return np.asarray(x)[..., None] if np.ndim(x) else x
