"""What the measured rates of a plan say of its town: fit, lamps, skies of other filters, what to measure next."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from expocalc.base.curve import Curve, Floats, integrate
from expocalc.base.photometry import standard_band
from expocalc.base.words import say_number, say_share
from expocalc.budget.case import Case
from expocalc.budget.told import ab_zero
from expocalc.gear.passband import Passband
from expocalc.gear.response import brightest_response
from expocalc.light.emission import LINES
from expocalc.light.lamps import LAMPS
from expocalc.light.town import LEAST_LOG_SD, Town
from expocalc.light.town_worth import Worth, worths

__all__ = ["Fit", "Foretold", "LampsTold", "lamps_told"]

_LEAST_SHARE = 0.05
"""Share of the light below which a lamp is not worth naming."""
_LINE_WIDTH = "6 nm"
_BROAD = {"a broad blue filter": "bessell-B", "a broad green filter": "bessell-V", "a broad red filter": "bessell-R"}
_NARROW_NM = 40.0
_ENDS = ("low", "middle", "high")
_SAME = 0.02
"""Narrowing below which a further measurement adds nothing worth saying."""


@dataclass(frozen=True, kw_only=True)
class Fit:
    """One measured rate.

    Attributes
    ----------
    name : str
        Filter, and colour of a mosaic; or the reading.
    over_fitted : float
        Measured over what the likely towns give. [-]
    error : float
        Its error, as a standard deviation of its logarithm. [-]
    """

    name: str
    over_fitted: float
    error: float


@dataclass(frozen=True, kw_only=True)
class Foretold:
    """The sky of a filter that was not measured, at the zenith and without the Moon.

    Attributes
    ----------
    name : str
    in_plan : bool
        Whether it is one of the plan's filters, or a usual one that is not there.
    low, middle, high : float
        Ends and middle of the 68 % interval, the brightest last. [mag/arcsec2, AB]
    worth : Worth
        Errors of the rates and of the usual lamps on simulated towns.
    """

    name: str
    in_plan: bool
    low: float
    middle: float
    high: float
    worth: Worth

    @property
    def error(self) -> float:
        """Half of the interval, or what is found on simulated towns if that is more, as a share of the light. [-]"""
        return max(0.4 * math.log(10) * (self.low - self.high) / 2, self.worth.by_rates)

    @property
    def better(self) -> bool:
        """Whether the rates foretell it clearly better than the usual lamps at a meter's reading."""
        return dataclasses.replace(self.worth, by_rates=self.error).better


@dataclass(frozen=True, eq=False, kw_only=True)
class LampsTold:
    """What measured rates say of a town.

    Attributes
    ----------
    fits : tuple of Fit
    lamps : mapping of str to tuple of float
        Lower end, middle and upper end of the 68 % interval of the share of each lamp that matters. [-]
    foretold : tuple of Foretold
        The plan's filters that were not measured, or usual ones where all were.
    next_one : tuple of str and float, or None
        What to measure too, and the error that is then left of the first of `foretold`; None where nothing helps. [-]
    """

    fits: tuple[Fit, ...]
    lamps: Mapping[str, tuple[float, float, float]]
    foretold: tuple[Foretold, ...]
    next_one: tuple[str, float] | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """How well the rates fit, what lights the town, what that foretells, and what to measure next."""
        worst = max(self.fits, key=lambda one: abs(math.log(one.over_fitted)) / one.error)
        brightest = max(self.lamps, key=lambda lamp: self.lamps[lamp][1])
        low, _, high = self.lamps[brightest]
        said = [
            f"{len(self.fits)} rates tell the lamps; the one that fits least, {worst.name}, is "
            f"{say_number(worst.over_fitted, 3)} times what the likely towns give, where its own error is "
            f"{say_share(worst.error)}.",
            f"The largest share of the town's light is that of {brightest}, {say_share(low)} to {say_share(high)}.",
        ]
        for one in self.foretold:
            usual = f"with the usual lamps at a meter's reading {say_share(one.worth.by_default)}"
            errors = f"{say_share(one.error)}, {usual}"
            said.append(
                f"The sky of {one.name} is foretold to {errors}."
                if one.better
                else f"For {one.name} these rates tell the lamps too badly, the usual ones are as good: {errors}."
            )
        if self.next_one is not None:
            name, left = self.next_one
            first = self.foretold[0]
            said.append(
                f"A test sub through {name} too would bring {first.name} from {say_share(first.error)} to "
                f"{say_share(left)}."
            )
        return tuple(said)

    def as_json(self) -> dict[str, Any]:
        """Plain data, units in the keys."""
        return {
            "rates": [dataclasses.asdict(one) for one in self.fits],
            "shares": {lamp: dict(zip(_ENDS, ends, strict=True)) for lamp, ends in self.lamps.items()},
            "foretold": [
                {
                    "filter": one.name,
                    "in_plan": one.in_plan,
                    **{f"{end}_mag_arcsec2_ab": getattr(one, end) for end in _ENDS},
                    "error": one.error,
                    "error_usual_lamps": one.worth.by_default,
                    "better_than_usual_lamps": one.better,
                }
                for one in self.foretold
            ],
            "measure_next": dict(zip(("filter", "error_left"), self.next_one, strict=True)) if self.next_one else None,
            "sentences": list(self.sentences),
        }


def lamps_told(case: Case) -> LampsTold | None:
    """What the measured rates of a case say of its town; None where its lamps are named or assumed.

    Parameters
    ----------
    case : Case
    """
    town = case.sky.told
    if town is None:
        return None
    measured = set(case.sky.measured or {})
    own = {
        one.name: brightest_response(case.telescope, one, case.camera)
        for one in case.filters
        if one.name not in measured
    }
    usual = _usual_filters()
    wanted = own or {name: curve for name, curve in usual.items() if not _seen(town, curve)} or usual
    told = worths(town.measured, tuple(wanted.values()))
    foretold = tuple(
        sorted(
            (
                _foretold(town, name, curve, name in own, worth)
                for (name, curve), worth in zip(wanted.items(), told, strict=True)
            ),
            key=lambda one: -one.error,
        )
    )
    aim = wanted[foretold[0].name]
    candidates = {**own, **usual, **{name: standard_band(band) for name, band in _BROAD.items()}}
    candidates = {name: curve for name, curve in candidates.items() if not _over(aim, curve) and not _seen(town, curve)}
    shares = {lamp: town.share_of(lamp) for lamp in LAMPS}
    most = max(middle for _, middle, _ in shares.values())
    return LampsTold(
        fits=tuple(
            Fit(name=one.name, over_fitted=math.exp(town.residuals[one.name]), error=max(one.log_sd, LEAST_LOG_SD))
            for one in town.measured
        ),
        lamps={lamp: ends for lamp, ends in shares.items() if ends[1] >= min(_LEAST_SHARE, most)},
        foretold=foretold,
        next_one=_next(town, aim, candidates, foretold[0].error, case.doubt.log_sd("efficiency")),
    )


@lru_cache(maxsize=1)
def _usual_filters() -> dict[str, Curve]:
    """Narrow filters of the usual lines, which a plan may not have."""
    return {
        f"{name} at {_LINE_WIDTH}": Passband(centre=f"{line.wavelength_nm[0]} nm", width=_LINE_WIDTH).curve
        for name, line in LINES.items()
        if name != "N II"
    }


def _seen(town: Town, curve: Curve) -> bool:
    """Whether a measured narrow band lies over the middle of a curve."""
    return any(_over(one.response, curve) for one in town.measured)


def _over(band: Curve, curve: Curve) -> bool:
    """Whether a band that is narrow lies over the middle of a curve."""
    peak = float(band.value.max())
    middle = float(curve.wavelength_nm[int(curve.value.argmax())])
    return integrate(band) < _NARROW_NM * peak and float(band(middle)) > 0.5 * peak


def _foretold(town: Town, name: str, curve: Curve, in_plan: bool, worth: Worth) -> Foretold:
    faint, middle, bright = (-2.5 * math.log10(photons / ab_zero(curve)) for photons in town.sky_through(curve))
    return Foretold(name=name, in_plan=in_plan, low=faint, middle=middle, high=bright, worth=worth)


def _next(
    town: Town, wanted: Curve, candidates: Mapping[str, Curve], error: float, log_sd: float
) -> tuple[str, float] | None:
    """The further rate that leaves the smallest error of a wanted sky, by the covariance of the likely towns."""
    skies = [_centred(town, curve) for curve in (wanted, *candidates.values())]
    spread = (skies * town.weight) @ np.transpose(skies) + town.left_open((wanted, *candidates.values()))
    left = {
        name: error * math.sqrt(1 - spread[0, at] ** 2 / (spread[0, 0] * (spread[at, at] + log_sd**2)))
        for at, name in enumerate(candidates, start=1)
    }
    if not left:
        return None
    best = min(left, key=lambda name: left[name])
    return (best, left[best]) if left[best] < error - _SAME else None


def _centred(town: Town, curve: Curve) -> Floats:
    log = np.log(town.photons_through(curve))
    return np.asarray(log - town.weight @ log)
