"""How well each drawn town fits what was measured: its brightness, and its weight among the others."""

from __future__ import annotations

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["best_brightness", "weights"]

_ALIKE = 30
"""Equally good draws that the weights are worth at least."""
_FLATTEST = 0.01
_STEPS = 6


def weights(log_weight: Floats) -> Floats:
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


def best_brightness(
    of_natural: Floats, of_lamps: Floats, log_rate: Floats, precision: Floats
) -> tuple[Floats, Floats, Floats]:
    """Logarithm of the lamps' luminance that fits best, its chi square and its error, by Gauss-Newton.

    Parameters
    ----------
    of_natural, of_lamps : ndarray
        Of each draw through each response: the natural sky, and the lamps at 1 cd/m2; shape (draws, measured).
    log_rate : ndarray
        Logarithm of what was measured, shape (measured,).
    precision : ndarray
        Inverse of the covariance of its errors, shape (measured, measured).

    Returns
    -------
    level, chi2, error : ndarray
        Shape (draws,).
    """
    rest = np.maximum(np.exp(log_rate) - of_natural, 0.05 * np.exp(log_rate))
    level = np.log(rest / of_lamps).mean(axis=-1)
    for _ in range(_STEPS):
        off, share, information = _linear(level, of_natural, of_lamps, log_rate, precision)
        level = level + np.clip(np.sum(share @ precision * off, axis=-1) / information, -1, 1)
    off, _, information = _linear(level, of_natural, of_lamps, log_rate, precision)
    return level, np.sum(off @ precision * off, axis=-1), np.minimum(1 / np.sqrt(information), 2.0)


def _linear(
    level: Floats, of_natural: Floats, of_lamps: Floats, log_rate: Floats, precision: Floats
) -> tuple[Floats, Floats, Floats]:
    """Residuals, the lamps' share in each sky, and what the rates tell of the level."""
    lit = np.exp(level)[:, None] * of_lamps
    model = of_natural + lit
    share = lit / model
    return log_rate - np.log(model), share, np.maximum(np.sum(share @ precision * share, axis=-1), 1e-9)
