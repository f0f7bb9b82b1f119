"""All lights of all filters of a case, one after another on the first axis of every array."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.rates import Rates
from expocalc.budget.stack import Habits, Patch
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.budget.terms import Terms
from expocalc.gear.image import peak_share

__all__ = ["Lights", "columned", "lights_of", "stacked"]


@dataclass(frozen=True, eq=False)
class Lights:
    """All lights of all filters, each attribute with the lights as its first axis."""

    names: tuple[tuple[int, str | None], ...]
    starts: tuple[int, ...]
    """Where each filter's lights start."""
    rates: Sequence[Rates]
    """Of each light's filter."""
    patch: Patch
    habits: Habits
    sky_e_s: Any
    fwhm_px: Any
    peak: Any
    """Share of a star's light in its brightest pixel."""
    snr: Any
    """Goal of each light."""
    patch_arcsec: Any
    """Side of each light's patch, NaN for a star or no light."""

    def of_rates(self, name: str) -> Any:
        """An attribute of each light's rates."""
        return stacked([getattr(rate, name) for rate in self.rates])


def stacked(parts: Sequence[Any]) -> Floats:
    """One array of many that broadcast, with them along its first axis."""
    alike = len({np.shape(part) for part in parts}) == 1
    return np.array(parts) if alike else np.stack(np.broadcast_arrays(*parts))


def lights_of(case: Case, terms: Terms, delivered: Sequence[Rates]) -> Lights:
    """Lights of the filters of a case, whose patches wait for the length of a sub."""
    of_filter = [rate.lights or (None,) for rate in delivered]
    names = tuple((at, name) for at, lights in enumerate(of_filter) for name in lights)
    patches = [
        _dark_patch(delivered[at]) if name is None else patch_of(case, delivered[at], name, 1.0) for at, name in names
    ]
    axes = (1,) * (delivered[0].sky_e_s.ndim - 1)
    patch = replace(
        patches[0],
        side_px=np.array([one.side_px for one in patches], dtype=float).reshape(-1, *axes),
        signal_e_s=stacked([one.signal_e_s for one in patches]),
        light_e_s=stacked([one.light_e_s for one in patches]),
        faint_e_s=stacked([one.faint_e_s for one in patches]) if case.target.lumps else 0.0,
        read_variance_e2=columned(terms.read_variance_e2),
    )
    starts = (0, *accumulate(len(lights) for lights in of_filter[:-1]))
    rates = [delivered[at] for at, _ in names]
    fwhm_px = stacked([rate.fwhm_px for rate in rates]).reshape(-1, *axes)
    own_snr = [None if name is None else case.target.light_named(name).snr for _, name in names]
    own = np.array([math.nan if snr is None else snr for snr in own_snr]).reshape(-1, *axes)
    sides = [case.patch_of(name) if name in delivered[at].extended else math.nan for at, name in names]
    return Lights(
        names, starts, rates, patch, habits_of(case, delivered[0].scale_arcsec),
        sky_e_s=stacked([rate.sky_e_s for rate in rates]), fwhm_px=fwhm_px, peak=peak_share(fwhm_px),
        snr=np.where(np.isnan(own), terms.snr, own), patch_arcsec=np.array(sides).reshape(-1, *axes),
    )  # fmt: skip


def _dark_patch(rate: Rates) -> Patch:
    """A pixel of a filter that passes no light."""
    return Patch(
        side_px=1.0, sub_s=1.0, signal_e_s=np.zeros_like(rate.sky_e_s), light_e_s=rate.sky_e_s, dark_e_s=rate.dark_e_s,
        pixel_share=rate.pixel_share,
    )  # fmt: skip


def columned(x: Any) -> Any:
    """An array with one more axis, for colours or sub lengths; a number as it is."""
    return np.asarray(x)[..., None] if np.ndim(x) else x
