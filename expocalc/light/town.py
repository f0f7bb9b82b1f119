r"""The town's lamps from sky rates that were measured: weighted draws of everything that is not known.

Each draw is a town: shares of lamps, an exponent of skyglow's colour and a natural sky, all as they may be before
anything is measured. What is measured weighs the draws; a town whose rates fit counts more. The brightness of each town
is the one that fits its rates best, with its own error. Bare least squares would give one mix, often a wrong one:
several mixes give the same rates, and what they foretell of a filter that one does not own is what they have in common.

Lamps that are not in the list are in the town too (:mod:`expocalc.light.unlisted`): what the rates are off by beside a
draw's own lamps tells of them near the wavelengths that were measured, and far from there it stays open.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Curve, Floats
from expocalc.base.frozen import Frozen
from expocalc.light.lamps import LAMPS
from expocalc.light.town_draws import sky_parts, towns_before
from expocalc.light.town_fit import best_brightness, weights
from expocalc.light.unlisted import unlisted_by_wavelength, unlisted_covariance

__all__ = ["LEAST_LOG_SD", "MeasuredRate", "Town", "town_from_rates"]

DRAWS = 20_000
SEED = 20_261
_CONTRADICTS = 3.0
"""Standard deviations of its own by which a rate may miss what the likely towns give."""
LEAST_LOG_SD = 0.005
"""No rate is better than this, in its logarithm. [-]"""
_SIGMA = (0.1587, 0.5, 0.8413)
_Z = np.linspace(-6, 6, 1201)
_CUMULATIVE = np.array([0.5 * math.erfc(-z / math.sqrt(2)) for z in _Z])


class MeasuredRate(NamedTuple):
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


class Town(Frozen):
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
    off : ndarray
        Logarithm of each measured rate over that of a draw's listed lamps, shape (draws, measured). [-]
    measured : tuple of MeasuredRate
        What tells the towns.
    """

    drawn: tuple[int, int]
    weight: Floats
    shares: Floats
    bluer: Floats
    natural: Floats
    town: Floats
    off: Floats
    measured: tuple[MeasuredRate, ...]

    @cached_property
    def residuals(self) -> dict[str, float]:
        """Logarithm of measured over fitted, unlisted lamps in the fit, by what measured. [-]"""
        left = _own_variance(self.measured) * (self._precision @ self._off_mean)
        return {one.name: float(by) for one, by in zip(self.measured, left, strict=True)}

    @property
    def contradiction(self) -> tuple[str, float]:
        """The rate that no town fits beside the others, and what it is times what they foretell; no name if none is."""
        pull, own = self._precision @ self._off_mean, np.diag(self._precision)
        at = int(np.argmax(np.abs(pull) / np.sqrt(own)))
        odd = abs(pull[at]) > _CONTRADICTS * math.sqrt(own[at])
        return self.measured[at].name if odd else "", math.exp(pull[at] / own[at])

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
        """Sky of each draw through a response, the likeliest unlisted lamps in it, shape (draws,).

        [photon s-1 cm-2 arcsec-2]
        """
        natural, lamps = sky_parts(response, *self.drawn)
        return np.asarray((self.natural * natural + self.town * lamps) * self.unlisted(response))

    def unlisted(self, response: Curve) -> Floats:
        """What unlisted lamps likely change each draw's sky through a response by, shape (draws,). [-]"""
        return np.asarray(np.exp(self.off @ self._gain([response])[:, 0]))

    def unlisted_mean(self, response: Curve) -> float:
        """As :meth:`unlisted`, of all draws. [-]"""
        return float(np.exp(self._off_mean @ self._gain([response])[:, 0]))

    @cached_property
    def unlisted_curve(self) -> Curve:
        """As :meth:`unlisted_mean`, over wavelength. [-]"""
        wavelength_nm, shared = unlisted_by_wavelength(self._responses)
        return Curve(wavelength_nm, np.exp(self._off_mean @ self._precision @ shared))

    def left_open(self, responses: Sequence[Curve]) -> Floats:
        """Covariance of what unlisted lamps change the logarithm of skies by, beside what the rates tell of them.

        Shape (responses, responses). [-]
        """
        shared = unlisted_covariance(self._responses, responses)
        return unlisted_covariance(responses, responses) - shared.T @ self._gain(responses)

    def _gain(self, responses: Sequence[Curve]) -> Floats:
        """What of each measured residual is in skies through responses, shape (measured, responses). [-]"""
        return np.asarray(self._precision @ unlisted_covariance(self._responses, responses))

    @property
    def _responses(self) -> tuple[Curve, ...]:
        return tuple(one.response for one in self.measured)

    @cached_property
    def _precision(self) -> Floats:
        return _precision(self.measured)

    @cached_property
    def _off_mean(self) -> Floats:
        return np.asarray(self.weight @ self.off)

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
        left = math.sqrt(max(float(self.left_open([response])[0, 0]), 0.0))
        rng = np.random.default_rng([SEED, 1])
        return self._interval(photons * np.exp(left * rng.standard_normal(photons.size)))

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
    level, chi2, error = best_brightness(of_natural, of_lamps, log_rate, _precision(measured))
    rng = np.random.default_rng([seed, 2])
    town = np.exp(level + error * rng.standard_normal(draws))
    return Town(
        drawn=(draws, seed),
        weight=weights(np.log(error) - chi2 / 2),
        shares=shares,
        bluer=bluer,
        natural=natural,
        town=town,
        off=log_rate - np.log(of_natural + town[:, None] * of_lamps),
        measured=tuple(measured),
    )


def _precision(measured: Sequence[MeasuredRate]) -> Floats:
    """Inverse of the covariance of what rates and listed lamps differ by, shape (measured, measured)."""
    responses = [one.response for one in measured]
    return np.asarray(np.linalg.inv(unlisted_covariance(responses, responses) + np.diag(_own_variance(measured))))


def _own_variance(measured: Sequence[MeasuredRate]) -> Floats:
    return np.array([max(one.log_sd, LEAST_LOG_SD) ** 2 for one in measured])
