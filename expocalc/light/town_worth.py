"""Whether measured rates foretell another filter's sky better than the usual lamps do, on towns that may be.

Three broad colours and two narrow filters do; the colours behind one dual-band filter hardly do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Curve
from expocalc.base.photometry import standard_band
from expocalc.base.words import say_share
from expocalc.light.sky import USUAL_LAMPS, Sky
from expocalc.light.town import MeasuredRate, sky_of_draws, town_from_rates

__all__ = ["Worth", "worth"]

TOWNS, DRAWS, SEED = 100, 4000, 20_262
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
    """Compare lamps from rates with the usual lamps on simulated towns.

    Parameters
    ----------
    measured : sequence of MeasuredRate
        Their responses and errors count, not their rates.
    new : sequence of Curve
        Responses to foretell.
    seed : int, optional

    Notes
    -----
    The towns are drawn as those of :func:`expocalc.light.town.town_from_rates` are before anything is measured, from
    another seed, between 18 and 20.5 mag/arcsec2.
    """
    reading = standard_band("bessell-V")
    responses = [*(one.response for one in measured), *new, reading]
    skies = sky_of_draws(responses, TOWNS, seed)
    rng = np.random.default_rng([seed, 3])
    seen = len(measured)
    misread = _READING_LOG_SD * rng.standard_normal(TOWNS)
    noise = np.exp(rng.standard_normal((TOWNS, seen)) * [one.log_sd for one in measured])
    usual = Sky(zenith_brightness="19 mag/arcsec2", lamps=USUAL_LAMPS)
    of_usual = np.log([usual.through(response) for response in responses])
    by_rates, by_default = [], []
    for sky, off, reader in zip(skies, noise, misread, strict=True):
        rates = sky[:seen] * off
        town = town_from_rates(
            [
                MeasuredRate(name=one.name, response=one.response, photons=float(rate), log_sd=one.log_sd)
                for one, rate in zip(measured, rates, strict=True)
            ],
            DRAWS,
        )
        truth = np.log(sky[seen:-1])
        by_rates += list(np.log([town.sky_through(response)[1] for response in new]) - truth)
        by_default += list(of_usual[seen:-1] + np.log(sky[-1]) + reader - of_usual[-1] - truth)
    return Worth(
        by_rates=float(np.sqrt(np.mean(np.square(by_rates)))), by_default=float(np.sqrt(np.mean(np.square(by_default))))
    )
