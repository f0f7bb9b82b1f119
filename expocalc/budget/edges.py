"""Lines that lie on the edge of a filter, where a tenth of a nanometre decides how much of them passes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from expocalc.base.words import say_number, say_share
from expocalc.budget.case import Case
from expocalc.budget.moment import Moment, moment_of
from expocalc.gear.filter import Filter
from expocalc.gear.response import brightest_response
from expocalc.light.emission import LINES
from expocalc.light.lamps import lamp_spectrum
from expocalc.light.lights import LineLight

__all__ = ["Edge", "edges"]

_ELEMENTS = {"H-alpha": "hydrogen", "H-beta": "hydrogen", "O III": "oxygen", "N II": "nitrogen", "S II": "sulphur"}
_KINDS = {"sodium-high-pressure": "sodium", "sodium-low-pressure": "sodium", "mercury": "mercury"}
_ON_EDGE = 0.1, 0.9
"""Shares of the filter's peak between which a line lies on its edge."""
_FELT = 0.05
"""Change of the sky below which nobody needs to know."""


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A line of the town's lamps, or of the target, on the edge of a filter.

    Attributes
    ----------
    kind : str
        What gives the line: "sodium".
    wavelength_nm : float
        [nm]
    shift_nm : float
        How far the filter's band may lie from where it should, one standard deviation. [nm]
    change : float
        What that shift, towards the line, changes by, as a share of it: the sky, or the light that the line is of. [-]
    of : str
        "sky", or the light's name.
    """

    kind: str
    wavelength_nm: float
    shift_nm: float
    change: float
    of: str = "sky"

    @property
    def sentence(self) -> str:
        """What to know, in one sentence."""
        article = "An" if self.kind[0] in "aeiou" else "A"
        return (
            f"{article} {self.kind} line{'' if self.of == 'sky' else ' of the target'} "
            f"at {self.wavelength_nm:.1f} nm lies on the edge of this filter: a band that lies "
            f"{say_number(self.shift_nm)} nm nearer to it has {say_share(self.change)} more "
            f"{'sky' if self.of == 'sky' else f'light of {self.of}'}."
        )


def edges(case: Case, filter_: Filter) -> tuple[Edge, ...]:
    """Lines on the edge of a filter that matter: of the plan's lamps to its sky, of the target to its light.

    The one that matters most comes first.

    Parameters
    ----------
    case : Case
        Its doubt says how far the band may lie off.
    filter_ : Filter
    """
    shift = float(case.doubt.filter_centre.value)
    if not shift or any(band.standard is not None for band in filter_.passbands):
        return ()
    curve = brightest_response(case.telescope, filter_, case.camera)
    whole = case.sky.through(curve)
    peak = float(curve.value.max())
    found: dict[tuple[str, float], Edge] = {}
    lines = [(*line, "sky", whole) for line in _lines(moment_of(case))]
    for light in (one for one in case.target.light if isinstance(one, LineLight)):
        lines += [(*line, light.name, light.spectrum.through(curve)) for line in _own_lines(light)]
    for kind, at, photons, of, total in lines:
        passed, nearer = float(curve(at)), max(float(curve(at - shift)), float(curve(at + shift)))
        change = photons * (nearer - passed) / total if total else 0.0
        if _ON_EDGE[0] * peak < passed < _ON_EDGE[1] * peak and change > _FELT:
            found[kind, round(at, 1)] = Edge(kind=kind, wavelength_nm=at, shift_nm=shift, change=change, of=of)
    return tuple(sorted(found.values(), key=lambda edge: -edge.change))


def _own_lines(light: LineLight) -> list[tuple[str, float, float]]:
    """As :func:`_lines`, of a light of the target; each line by itself."""
    element = {nm: _ELEMENTS[name] for name, line in LINES.items() for nm in line.wavelength_nm}
    spectrum = light.spectrum
    return [(element[nm], nm, photons) for nm, photons in zip(spectrum.line_nm.tolist(), spectrum.line, strict=True)]


def _lines(moment: Moment) -> list[tuple[str, float, float]]:
    """Kind, wavelength [nm] and photons of each line of the lamps, neighbours within 1 nm together."""
    lines = []
    for lamp, cd_m2 in moment.town.items():
        light = lamp_spectrum(lamp)
        if lamp not in _KINDS or not light.line_nm.size or not cd_m2:
            continue
        order = np.argsort(light.line_nm)
        nm, photons = light.line_nm[order], light.line[order] * float(cd_m2)
        for group in np.split(np.arange(nm.size), np.flatnonzero(np.diff(nm) > 1) + 1):
            total = float(photons[group].sum())
            if total > 0:  # a sky darker than the natural one has no town light
                at = float(nm[group] @ photons[group] / total)
                lines.append((_KINDS[lamp], at, total * (at / 550) ** -float(moment.bluer)))
    return lines
