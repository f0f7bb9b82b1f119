r"""The town's lamps from sky rates that were measured: weighted draws of everything that is not known.

Each draw is a town: shares of lamps, an exponent of skyglow's colour and a natural sky, all as they may be before
anything is measured. What is measured weighs the draws; a town whose rates fit counts more. The brightness of each town
is the one that fits its rates best (its logarithm by Gauss-Newton), with its own error. Bare least squares would give
one mix, often a wrong one: several mixes give the same rates, and what they foretell of a filter that one does not own
is what they have in common.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Curve, Floats
from expocalc.light.lamps import LAMPS
from expocalc.light.town_draws import LEFT_OUT, sky_parts, towns_before

__all__ = ["MeasuredRate", "Town", "town_from_rates"]

DRAWS = 20_000
SEED = 20_261
_CONTRADICTS = 3.0
"""Standard deviations of its own by which a rate may miss what the likely towns give."""
_ALIKE = 30
"""Equally good draws that the weights are worth at least."""
_FLATTEST = 0.01
_STEPS = 6
_SIGMA = (0.1587, 0.5, 0.8413)
_Z = np.linspace(-6, 6, 1201)
_CUMULATIVE = np.array([0.5 * math.erfc(-z / math.sqrt(2)) for z in _Z])


@dataclass(frozen=True, kw_only=True)
class MeasuredRate:
    """Sky measured through one response.

    Parameters
    ----------
    name : str
        What measured: a filter, a colour of the mosaic, a meter.
    response : Curve
        Share of photons that counts. [-]
    photons : float
        Measured rate over area and throughput that are not in the response. [photon s-1 cm-2 arcsec-2]
    log_sd : float
        Standard deviation of its logarithm, efficiency and throughput included. [-]
    """

    name: str
    response: Curve
    photons: float
    log_sd: float = 0.1


@dataclass(frozen=True, eq=False, kw_only=True)
class Town:
    """Towns that may be, with their weights.

    Attributes
    ----------
    drawn : tuple of int
        Number of the draws and where they start.
    weight : ndarray
        Sum 1, shape (draws,).
    shares : ndarray
        Of luminance, in the order of :data:`expocalc.light.lamps.LAMPS`, shape (draws, lamps). [-]
    bluer, natural, town : ndarray
        What skyglow's exponent has beyond the usual, the natural sky over the typical one, and the luminance of the
        lamps before skyglow bent it; shape (draws,). [-], [-], [cd m-2]
    measured : tuple of MeasuredRate
        What tells the towns.
    residuals : mapping of str to float
        Logarithm of measured over fitted, by what measured. [-]
    """

    drawn: tuple[int, int]
    weight: Floats
    shares: Floats
    bluer: Floats
    natural: Floats
    town: Floats
    measured: tuple[MeasuredRate, ...]
    residuals: dict[str, float]

    @property
    def contradiction(self) -> str:
        """Name of the rate that no town fits beside the others; empty where there is none."""
        name, off = max(
            ((one.name, abs(self.residuals[one.name]) / one.log_sd) for one in self.measured if one.log_sd),
            key=lambda item: item[1],
            default=("", 0.0),
        )
        return name if off > _CONTRADICTS else ""

    @cached_property
    def natural_mean(self) -> float:
        """Mean of the natural sky over the typical one. [-]"""
        return float(self.weight @ self.natural)

    @cached_property
    def bluer_mean(self) -> float:
        """Mean of what skyglow's exponent has beyond the usual. [-]"""
        return float(self.weight @ self.bluer)

    @cached_property
    def luminance(self) -> float:
        """Mean luminance of the lamps before skyglow bent it. [cd m-2]"""
        return float(self.weight @ self.town)

    @cached_property
    def all_lamps(self) -> dict[str, float]:
        """Mean share of every lamp in the mean luminance; sum 1."""
        shares = (self.weight * self.town) @ self.shares
        return {lamp: float(share) for lamp, share in zip(LAMPS, shares / shares.sum(), strict=True)}

    def places(self, z: npt.ArrayLike) -> npt.NDArray[np.intp]:
        """Draws with the frequency of their weights, from standard normal numbers of any shape."""
        upto = np.cumsum(self.weight)
        quantile = np.interp(np.asarray(z, dtype=float), _Z, _CUMULATIVE)
        return np.minimum(np.searchsorted(upto, quantile * upto[-1]), upto.size - 1)

    def scores(self, z: npt.ArrayLike, response: Curve) -> Floats:
        """Standard normal numbers in the order of the skies of :meth:`places` through a response, shape (n,)."""
        photons = self.photons_through(response)[self.places(z)]
        rank = np.argsort(np.argsort(photons))
        return np.asarray(np.interp((rank + 0.5) / rank.size, _CUMULATIVE, _Z))

    def photons_through(self, response: Curve) -> Floats:
        """Sky of each draw through a response, shape (draws,). [photon s-1 cm-2 arcsec-2]"""
        natural, lamps = sky_parts(response, *self.drawn)
        return np.asarray(self.natural * natural + self.town * lamps)

    @property
    def alike(self) -> float:
        """How many equally good draws the weights are worth. [-]"""
        return float(1 / np.sum(self.weight**2))

    def share_of(self, lamp: str) -> tuple[float, float, float]:
        """Share of a lamp in the luminance: lower end, middle and upper end of its 68 % interval. [-]"""
        return self._interval(self.shares[:, LAMPS.index(lamp)])

    @property
    def lamps(self) -> dict[str, float]:
        """Mean shares, of those lamps that have a hundredth or more, as a plan's `lamps` takes them."""
        mean = self.weight @ self.shares
        kept = {lamp: float(share) for lamp, share in zip(LAMPS, mean, strict=True) if share >= 0.01}
        total = sum(kept.values())
        return {lamp: share / total for lamp, share in kept.items()}

    def sky_through(self, response: Curve) -> tuple[float, float, float]:
        """Sky through another response: lower end, middle and upper end of its 68 % interval.

        Parameters
        ----------
        response : Curve
            Such as that of a filter that one does not own.

        Returns
        -------
        tuple of float
            [photon s-1 cm-2 arcsec-2]
        """
        photons = self.photons_through(response)
        rng = np.random.default_rng([SEED, 1])
        return self._interval(photons * np.exp(LEFT_OUT * rng.standard_normal(photons.size)))

    def _interval(self, values: Floats) -> tuple[float, float, float]:
        order = np.argsort(values)
        upto = np.cumsum(self.weight[order]) - 0.5 * self.weight[order]
        low, middle, high = np.interp(_SIGMA, upto, values[order])
        return float(low), float(middle), float(high)


def town_from_rates(measured: Sequence[MeasuredRate], draws: int = DRAWS, seed: int = SEED) -> Town:
    """Towns whose skies have the rates that were measured.

    Parameters
    ----------
    measured : sequence of MeasuredRate
        Two or more, the more different in colour the better: three broad colours and two narrow filters more than halve
        the error of another filter; colours behind one dual-band filter tell the sky near its bands, and little of
        another part of the spectrum (:func:`expocalc.light.town_worth.worth` says it for a filter).
    draws, seed : int, optional

    Returns
    -------
    Town

    Raises
    ------
    ValueError
        If there are fewer than two, or a rate is not above 0.

    Examples
    --------
    >>> from expocalc.base.photometry import standard_band
    >>> from expocalc.light.sky import Sky
    >>> sky = Sky(zenith_brightness="19 mag/arcsec2", lamps={"sodium-high-pressure": 1.0})
    >>> bands = [standard_band(f"bessell-{name}") for name in "BVR"]
    >>> town = town_from_rates([MeasuredRate(name="", response=b, photons=sky.through(b)) for b in bands], 4000)
    >>> town.share_of("sodium-high-pressure")[1] > town.share_of("mercury")[1]
    True
    """
    if len(measured) < 2:
        msg = f"measured rates must be two or more to tell the lamps, got {len(measured)}"
        raise ValueError(msg)
    for one in measured:
        if not one.photons > 0:
            msg = f"measured rate of {one.name} must be above 0, got {one.photons:g}"
            raise ValueError(msg)
    shares, bluer, natural = towns_before(draws, seed)
    through = [sky_parts(one.response, draws, seed) for one in measured]
    of_natural = np.stack([natural * photons for photons, _ in through], axis=-1)
    of_lamps = np.stack([photons for _, photons in through], axis=-1)
    log_rate = np.log([one.photons for one in measured])
    precision = 1 / (np.array([one.log_sd for one in measured]) ** 2 + LEFT_OUT**2)
    level, chi2, error = _brightness(of_natural, of_lamps, log_rate, precision)
    log_weight = np.log(error) - chi2 / 2
    weight = _weights(log_weight)
    rng = np.random.default_rng([seed, 2])
    town = np.exp(level + error * rng.standard_normal(draws))
    fitted = np.log(of_natural + np.exp(level)[:, None] * of_lamps)
    off = weight @ (log_rate - fitted)
    return Town(
        drawn=(draws, seed),
        weight=weight,
        shares=shares,
        bluer=bluer,
        natural=natural,
        town=town,
        measured=tuple(measured),
        residuals={one.name: float(by) for one, by in zip(measured, off, strict=True)},
    )


def _weights(log_weight: Floats) -> Floats:
    """Weights of sum 1; flatter ones where a town is so unusual that hardly a draw is like it.

    A handful of draws would give an interval of nothing: the flatter weights say less, and that truly.
    """
    log_weight = log_weight - log_weight.max()
    flatter = 1.0
    while True:
        weight = np.exp(flatter * log_weight)
        weight /= weight.sum()
        if np.sum(weight**2) * _ALIKE <= 1 or flatter < _FLATTEST:
            return np.asarray(weight)
        flatter *= 0.8


def _brightness(
    of_natural: Floats, of_lamps: Floats, log_rate: Floats, precision: Floats
) -> tuple[Floats, Floats, Floats]:
    """Logarithm of the lamps' luminance that fits best, its chi square and its error; shape (draws,)."""
    rest = np.maximum(np.exp(log_rate) - of_natural, 0.05 * np.exp(log_rate))
    level = np.log(rest / of_lamps) @ precision / precision.sum()
    for _ in range(_STEPS):
        lit = np.exp(level)[:, None] * of_lamps
        model = of_natural + lit
        share = lit / model
        off = log_rate - np.log(model)
        level = level + np.clip((off * share) @ precision / np.maximum((share**2) @ precision, 1e-9), -1, 1)
    lit = np.exp(level)[:, None] * of_lamps
    model = of_natural + lit
    share = lit / model
    chi2 = (log_rate - np.log(model)) ** 2 @ precision
    return level, chi2, np.minimum(1 / np.sqrt(np.maximum((share**2) @ precision, 1e-9)), 2.0)
