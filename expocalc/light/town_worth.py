"""Whether measured rates foretell another filter's sky better than the usual lamps do, on towns that may be.

Three broad colours and two narrow filters do. The colours behind one dual-band filter foretell a sky near its bands,
whose brightness they tell; of H-beta, 15 nm away, they say no more than the usual lamps do.

Towns whose lamps are drawn as the rates themselves suppose flatter the rates; towns of LED and sodium alone flatter the
usual lamps. Both are tried, and what is said is that of the two in which the rates come off worse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from expocalc.base.curve import Curve, Floats
from expocalc.base.photometry import standard_band
from expocalc.base.words import say_share
from expocalc.light.lamp_shares import USUAL_LAMPS
from expocalc.light.sky import Sky
from expocalc.light.town import MeasuredRate, town_from_rates
from expocalc.light.town_draws import sky_of_draws

__all__ = ["Worth", "worth", "worths"]

TOWNS, DRAWS, SEED = 100, 3000, 20_262
_CLEARLY = 0.9
"""Rates that take less than a tenth off the error are not worth their trouble."""
_READING_LOG_SD = 0.14  # of a meter: 0.15 mag, see sky.Sky


@dataclass(frozen=True, kw_only=True)
class Worth:
    """Error of a new filter's sky, as a standard deviation of its logarithm. [-]

    Attributes
    ----------
    by_rates : float
        Lamps from the rates.
    by_default : float
        The usual lamps, as bright as a reading in V.
    """

    by_rates: float
    by_default: float

    @property
    def better(self) -> bool:
        """Whether the rates foretell clearly better than the usual lamps."""
        return self.by_rates < _CLEARLY * self.by_default

    @property
    def sentence(self) -> str:
        """What the rates are good for."""
        errors = f"{say_share(self.by_rates)} by lamps from the rates, {say_share(self.by_default)} by the usual lamps"
        if self.better:
            return f"The sky of a filter that you do not own is foretold to {errors}."
        return f"These rates do not tell the lamps, keep the usual ones: another filter's sky is foretold to {errors}."


def worth(measured: Sequence[MeasuredRate], new: Sequence[Curve], seed: int = SEED) -> Worth:
    """Compare lamps from rates with the usual lamps on simulated towns, for several responses together.

    Parameters
    ----------
    measured : sequence of MeasuredRate
        Their responses and errors count, not their rates.
    new : sequence of Curve
        Responses to foretell.
    seed : int, optional

    Notes
    -----
    Half of the towns are drawn as those of :func:`expocalc.light.town.town_from_rates` are before anything is measured,
    from another seed, half of LED and sodium alone, all between 18 and 20.5 mag/arcsec2.
    """
    return _worse(np.mean(_mean_squares(_key(measured), tuple(new), seed), axis=-1))


def worths(measured: Sequence[MeasuredRate], new: Sequence[Curve], seed: int = SEED) -> tuple[Worth, ...]:
    """As :func:`worth`, for each response by itself."""
    squares = _mean_squares(_key(measured), tuple(new), seed)
    return tuple(_worse(squares[..., at]) for at in range(len(new)))


_Key = tuple[tuple[Curve, float], ...]


def _key(measured: Sequence[MeasuredRate]) -> _Key:
    return tuple((one.response, one.log_sd) for one in measured)


def _worse(mean_squares: Floats) -> Worth:
    """Of towns of every kind and the usual ones, shape (towns, ways), those in which the rates come off worse."""
    by_rates, by_default = np.sqrt(mean_squares).T
    at = int(np.argmax(by_rates / by_default))
    return Worth(by_rates=float(by_rates[at]), by_default=float(by_default[at]))


@lru_cache(maxsize=32)
def _mean_squares(measured: _Key, new: tuple[Curve, ...], seed: int) -> Floats:
    """Squared errors of both kinds of towns, by rates and by default, for each response; shape (2, 2, new)."""
    return np.array([_on_towns(measured, new, seed, usual_towns) for usual_towns in (False, True)])


def _on_towns(measured: _Key, new: tuple[Curve, ...], seed: int, usual_towns: bool) -> Floats:
    reading = standard_band("bessell-V")
    responses = [*(curve for curve, _ in measured), *new, reading]
    skies = sky_of_draws(responses, TOWNS, seed, usual_towns)
    rng = np.random.default_rng([seed, 3])
    seen = len(measured)
    misread = _READING_LOG_SD * rng.standard_normal(TOWNS)
    noise = np.exp(rng.standard_normal((TOWNS, seen)) * [log_sd for _, log_sd in measured])
    usual = Sky(zenith_brightness="19 mag/arcsec2", lamps=USUAL_LAMPS)
    of_usual = np.log([usual.through(response) for response in responses])
    by_rates, by_default = [], []
    for sky, off, reader in zip(skies, noise, misread, strict=True):
        rates = [
            MeasuredRate(name=str(at), response=curve, photons=float(sky[at] * off[at]), log_sd=log_sd)
            for at, (curve, log_sd) in enumerate(measured)
        ]
        town = town_from_rates(rates, DRAWS)
        truth = np.log(sky[seen:-1])
        by_rates.append(np.log([town.sky_through(response)[1] for response in new]) - truth)
        by_default.append(of_usual[seen:-1] + np.log(sky[-1]) + reader - of_usual[-1] - truth)
    return np.mean(np.square([by_rates, by_default]), axis=1)
