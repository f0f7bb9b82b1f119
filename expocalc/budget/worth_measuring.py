r"""What to measure next: how much narrower the range of hours would be, for the minutes that it takes.

A measurement pins inputs down: what is left of an input's doubt is its own error. From the draws at hand the part of
the logarithm of the hours that follows an input is taken out and put back as large as the measurement leaves it: the
value of information, without a further draw of the model.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.case import Case
from expocalc.budget.inputs import inputs_of, normal_draws
from expocalc.budget.ranges import QUANTILES
from expocalc.budget.rates import rates
from expocalc.budget.spread import RowSpread, Spread

__all__ = ["Measurement", "worth_measuring"]

SETUP_MIN = 5.0
"""To set up whatever is measured at the telescope: common practice, no source. [min]"""
METER_MAG = 0.2
"""Error of a sky meter, one standard deviation, as for a plan that gives a reading (den Outer et al. 2011)."""
_LEAST_DRAWS = 50
_LEAST_GAIN = 0.005
"""Narrowing below which nothing is said."""
_SKY = ("sky_reading", "lamp_mix", "lamp_colour", "lamps_told", "natural_sky", "narrow_sky", "moonlight")


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One thing to measure or look up.

    Attributes
    ----------
    key : str
        "test sub", "meter", "darks", "biases", "brightness", "star", "curve".
    label : str
        In plain words.
    minutes : float
        What it takes. [min]
    narrows : float
        Share by which the range of hours, as a ratio, becomes narrower. [-]
    low_h, high_h : float
        Where a tenth and nine tenths of the draws would then lie, around the same middle. [h]
    """

    key: str
    label: str
    minutes: float
    narrows: float
    low_h: float
    high_h: float


@dataclass(frozen=True)
class _Way:
    key: str
    label: str
    minutes: float
    left: Mapping[str, float]
    """What is left of the standard deviation of each input that it pins down. [-]"""


def worth_measuring(case: Case, row: RowSpread, found: Spread) -> tuple[Measurement, ...]:
    """Measurements for one light in one filter, the one that narrows its range most for its minutes first.

    Parameters
    ----------
    case : Case
    row : RowSpread
        One of the rows of `found`.
    found : Spread

    Returns
    -------
    tuple of Measurement
        Empty where hardly any draw reaches the goal; those that would hardly narrow the range are left out.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> plan = Plan.example()
    >>> found = plan.spread()
    >>> best = worth_measuring(plan.case, found.rows[0], found)[0]
    >>> 0 < best.narrows < 1, found.rows[0].range.p10_h < best.low_h < best.high_h < found.rows[0].range.p90_h
    (True, True)
    """
    within = np.isfinite(row.kept_h)
    if within.sum() < max(_LEAST_DRAWS, QUANTILES[-1] * within.size):
        return ()  # the range has no upper end
    filter_ = next(one for one in case.filters if one.name == row.filter_name)
    inputs = inputs_of(case, filter_, rates(case, filter_), row.light, normal_draws(found.draws, found.seed))
    log_h = np.log(row.kept_h)
    parts = {name: [_explained(log_h, one, within) for one in draws] for name, draws in inputs.items()}
    low, middle, high = _quantiles(log_h)
    measured = []
    for way in _ways(case, row):
        after = log_h.copy()
        for name, left in way.left.items():
            for series in parts.get(name, ()):
                after += series.left(left) - series.whole
        low_then, middle_then, high_then = _quantiles(after)
        narrows = 1 - (high_then - low_then) / (high - low) if high > low else 0.0
        if narrows < _LEAST_GAIN:
            continue
        measured.append(
            Measurement(
                key=way.key, label=way.label, minutes=way.minutes, narrows=narrows,
                low_h=math.exp(middle + low_then - middle_then), high_h=math.exp(middle + high_then - middle_then),
            )
        )  # fmt: skip
    return tuple(sorted(measured, key=lambda one: -one.narrows / one.minutes))


def _quantiles(log_h: Floats) -> tuple[float, float, float]:
    """Tenth, half and nine tenths; draws that never reach the goal count as the largest."""
    low, middle, high = np.quantile(log_h, QUANTILES, method="inverted_cdf")
    return float(low), float(middle), float(high)


@dataclass(frozen=True, eq=False)
class _Series:
    """The part of log hours that follows one input, as Hermite polynomials up to the third."""

    z: Floats
    strength: tuple[float, float, float]

    @property
    def whole(self) -> Floats:
        return self._at(self.z)

    def left(self, share: float) -> Floats:
        """The same input with a share of its standard deviation, drawn anew: the draws in another order."""
        return self._at(share * np.roll(self.z, self.z.size // 2))

    def _at(self, z: Floats) -> Floats:
        one, two, three = self.strength
        return np.asarray(one * z + two * (z * z - 1) / math.sqrt(2) + three * (z * z - 3) * z / math.sqrt(6))


def _explained(log_h: Floats, z: Floats, within: npt.NDArray[np.bool_]) -> _Series:
    """What follows an input in the draws that reach the goal, at all draws."""
    y = log_h[within] - log_h[within].mean()
    x = z[within]
    x2 = x * x
    polynomials = (x, (x2 - 1) / math.sqrt(2), (x2 - 3) * x / math.sqrt(6))
    one, two, three = (float(each @ y / y.size) for each in polynomials)
    return _Series(z, (one, two, three))


def _ways(case: Case, row: RowSpread) -> Iterator[_Way]:
    doubt, sky, camera = case.doubt, case.sky, case.camera

    def left(name: str, factor: float) -> float:
        """Of a doubt that a measurement brings down to a factor."""
        own = doubt.log_sd(name)
        return min(math.log(factor) / own, 1.0) if own > 0 else 1.0

    measured = sky.measured is not None and row.filter_name in sky.measured
    if not measured:
        of_sky = min(doubt.log_sd("measured_sky") / max(_log_sd_of_sky(row), 1e-9), 1.0)
        minutes = SETUP_MIN + row.sub_s / 60
        yield _Way(
            "test sub", f"a test sub through {case.filter_shown(row.filter_name)}", minutes, dict.fromkeys(_SKY, of_sky)
        )
        error = float(sky.brightness_error.value)
        if error > METER_MAG:
            yield _Way("meter", "a reading of a sky meter", SETUP_MIN, {"sky_reading": METER_MAG / error})
    darks_min = SETUP_MIN + 10 * row.sub_s / 60
    words = f"ten darks of the subs' length at {camera.temperature.value:g} °C"
    yield _Way("darks", words, darks_min, {"dark_current": left("dark_current", 1.1)})
    yield _Way("biases", "two bias frames and two flats", SETUP_MIN, {"read_noise": left("read_noise", 1.02)})
    looked_up = {"target": left("target", 1.1)}
    yield _Way("brightness", f"the brightness of {row.light}, looked up in a survey", 2 * SETUP_MIN, looked_up)
    star = {"efficiency": left("efficiency", 1.03), "extinction": left("extinction", 1.1)}
    yield _Way("star", "a star of known brightness in a test sub", 3 * SETUP_MIN, star)
    yield _Way("curve", "the measured curve of this very filter", 6 * SETUP_MIN, {"filter_centre": 0.2})


def _log_sd_of_sky(row: RowSpread) -> float:
    """Standard deviation of the logarithm of the light behind the target, in the colour with most of it."""
    light = np.atleast_2d(np.asarray(row.patch.light_e_s))
    brightest = light[:, int(light.mean(axis=0).argmax())]
    return float(np.log(brightest[brightest > 0]).std()) if (brightest > 0).any() else 0.0
