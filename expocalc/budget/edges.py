"""Lines that lie on the edge of a filter, where a tenth of a nanometre decides how much of them passes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from expocalc.base.words import say_number, say_share
from expocalc.budget.case import Case
from expocalc.budget.moment import Moment, moment_of
from expocalc.gear.passband import Filter
from expocalc.gear.response import response
from expocalc.light.lamps import lamp_spectrum

__all__ = ["Edge", "edges"]

_KINDS = {"sodium-high-pressure": "sodium", "sodium-low-pressure": "sodium", "mercury": "mercury"}
_ON_EDGE = 0.1, 0.9
"""Shares of the filter's peak between which a line lies on its edge."""
_FELT = 0.05
"""Change of the sky below which nobody needs to know."""


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A line of the town's lamps on the edge of a filter.

    Attributes
    ----------
    kind : str
        What gives the line: "sodium".
    wavelength_nm : float
        [nm]
    shift_nm : float
        How far the filter's band may lie from where it should, one standard deviation. [nm]
    change : float
        What that shift changes the sky by, towards the line, as a share of it. [-]
    """

    kind: str
    wavelength_nm: float
    shift_nm: float
    change: float

    @property
    def sentence(self) -> str:
        """What to know, in one sentence."""
        return (
            f"A {self.kind} line at {self.wavelength_nm:.1f} nm lies on the edge of this filter: a band that lies "
            f"{say_number(self.shift_nm)} nm nearer to it has {say_share(self.change)} more sky."
        )


def edges(case: Case, filter_: Filter) -> tuple[Edge, ...]:
    """Lines of the plan's lamps on the edge of a filter that matter to its sky, the one that matters most first.

    Parameters
    ----------
    case : Case
        Its doubt says how far the band may lie off.
    filter_ : Filter
    """
    shift = float(case.doubt.filter_centre.value)
    if not shift or any(band.standard is not None for band in filter_.passbands):
        return ()
    camera = case.camera
    curves = [response(case.telescope, filter_, camera, colour) for colour in camera.colours]
    curve = max(curves, key=lambda one: one.value.max())
    whole = case.sky.through(curve)
    peak = float(curve.value.max())
    found: dict[tuple[str, float], Edge] = {}
    for kind, at, photons in _lines(moment_of(case)):
        passed, nearer = float(curve(at)), max(float(curve(at - shift)), float(curve(at + shift)))
        change = photons * (nearer - passed) / whole
        if _ON_EDGE[0] * peak < passed < _ON_EDGE[1] * peak and change > _FELT:
            found[kind, round(at, 1)] = Edge(kind=kind, wavelength_nm=at, shift_nm=shift, change=change)
    return tuple(sorted(found.values(), key=lambda edge: -edge.change))


def _lines(moment: Moment) -> list[tuple[str, float, float]]:
    """Kind, wavelength [nm] and photons of each line of the lamps, neighbours within 1 nm together."""
    lines = []
    for lamp, cd_m2 in moment.town.items():
        light = lamp_spectrum(lamp)
        if lamp not in _KINDS or not light.line_nm.size:
            continue
        order = np.argsort(light.line_nm)
        nm, photons = light.line_nm[order], light.line[order] * float(cd_m2)
        for group in np.split(np.arange(nm.size), np.flatnonzero(np.diff(nm) > 1) + 1):
            total = float(photons[group].sum())
            lines.append((_KINDS[lamp], float(nm[group] @ photons[group] / total), total))
    return lines
