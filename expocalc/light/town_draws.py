"""Towns as they may be before anything is measured: draws of lamp shares, of skyglow's colour, of the natural sky."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from expocalc.base.curve import Curve, Floats
from expocalc.light.lamps import LAMPS
from expocalc.light.mix import lamp_bend, lamp_through, natural_through
from expocalc.light.unlisted import unlisted_covariance

__all__ = ["sky_of_draws", "sky_parts", "towns_before"]

_COLOUR_SD = 0.8  # of skyglow's exponent, see lamps.BLUER_BY
_NATURAL_LOG_SD = 0.3  # quiet and active years, see doubt.Doubt.natural_sky
_LIKELY = np.array([0.4, 0.6, 1.2, 0.6, 0.3, 1.2, 0.1, 0.3, 0.5])
"""How common each of :data:`expocalc.light.lamps.LAMPS` is, as weights of a Dirichlet distribution: an assumption."""
_FEW = 0.2
"""What the weights are multiplied by in a tenth of the towns, which one or two lamps light: an assumption."""
_USUAL = np.array([name.startswith("led-") or name == "sodium-high-pressure" for name in LAMPS])


@lru_cache(maxsize=4)
def towns_before(draws: int, seed: int, usual: bool = False) -> tuple[Floats, Floats, Floats]:
    """Shares, exponents and natural skies as they may be before anything is measured."""
    rng = np.random.default_rng([seed, 0])
    likely = np.where(_USUAL, _LIKELY, 1e-3) if usual else _LIKELY
    few = draws // 10
    shares = np.concatenate((rng.dirichlet(likely, draws - few), rng.dirichlet(_FEW * likely, few)))
    return (
        shares,
        (0.5 if usual else 1) * _COLOUR_SD * rng.standard_normal(draws),
        np.exp(_NATURAL_LOG_SD * rng.standard_normal(draws)),
    )


def sky_of_draws(responses: Sequence[Curve], draws: int, seed: int, usual: bool = False) -> Floats:
    """Skies of towns drawn before anything is measured, 18 to 20.5 mag/arcsec2; shape (draws, responses).

    Where they are `usual`, of LED and high-pressure sodium alone, and half as different in colour.
    [photon s-1 cm-2 arcsec-2]
    """
    _, _, natural = towns_before(draws, seed, usual)
    rng = np.random.default_rng([seed, 4])
    town = 1e-3 * 10 ** rng.uniform(-0.4, 0.6, draws)  # cd/m2
    parts = [sky_parts(response, draws, seed, usual) for response in responses]
    unlisted = rng.multivariate_normal(np.zeros(len(parts)), unlisted_covariance(responses, responses), draws)
    return np.stack([natural * photons + town * lamps for photons, lamps in parts], axis=-1) * np.exp(unlisted)


@lru_cache(maxsize=32)
def sky_parts(response: Curve, draws: int, seed: int, usual: bool = False) -> tuple[float, Floats]:
    """Typical natural sky, and each draw's lamps at 1 cd/m2, through a response; kept by the response."""
    shares, bluer, _ = towns_before(draws, seed, usual)
    lamps = np.zeros(bluer.size)
    for place, lamp in enumerate(LAMPS):
        slope, bend = lamp_bend(lamp, response)
        lamps += shares[:, place] * lamp_through(lamp, response) * np.exp(bluer * (slope + bend * bluer))
    return natural_through(response), lamps
