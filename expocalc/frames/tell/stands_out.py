"""Which subs of a night stand out from the others, why, and whether they are spoilt."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_number, say_share
from expocalc.frames.measure.folder import SubLine

__all__ = ["stands_out"]

_TRAILED = 1.35
"""Elongation over the night's usual one from which a sub counts as trailed: common practice, no source."""
_ROUND = 1.5
"""Stars rounder than this are never called trailed: common practice, no source."""
_WIDE = 1.5
_BRIGHT = 1.6
_CLOUDED = 0.6
_FEW = 0.4


def _usual(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else math.nan


def stands_out(lines: Sequence[SubLine], clear: Floats, colour: str) -> list[tuple[str, bool]]:
    """Why each sub stands out, and whether it should be left out."""
    elongation, fwhm = (np.array([getattr(line, name) for line in lines]) for name in ("elongation", "fwhm_px"))
    sky = np.array([line.sky_e_s[colour] for line in lines])
    stars = np.array([float(line.stars) for line in lines])
    usual = {name: _usual(x) for name, x in (("e", elongation), ("f", fwhm), ("s", sky), ("n", stars))}
    found = []
    for at in range(len(lines)):
        reasons, bad = [], False
        if elongation[at] > max(_TRAILED * usual["e"], _ROUND):
            reasons.append(f"stars {say_number(elongation[at])} times as long as wide: guiding or wind")
            bad = True
        if fwhm[at] > _WIDE * usual["f"]:
            reasons.append(f"stars {say_number(fwhm[at] / usual['f'])} times as wide as usual: focus, dew or wind")
            bad = True
        if clear[at] < _CLOUDED:
            reasons.append(f"only {say_share(clear[at])} of the stars' light: cloud")
            bad = True
        elif not math.isfinite(clear[at]) and stars[at] < _FEW * usual["n"]:
            reasons.append(f"{stars[at]:.0f} stars instead of {usual['n']:.0f}: cloud, dew or a lost target")
            bad = True
        if sky[at] > _BRIGHT * usual["s"]:
            reasons.append(f"sky {say_number(sky[at] / usual['s'])} times the usual: Moon, twilight or lit cloud")
        found.append(("; ".join(reasons), bad))
    return found
