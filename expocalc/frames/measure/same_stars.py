"""The same stars found again in another frame: by how much it is shifted, and how much of their light arrives there."""

from __future__ import annotations

import math

import numpy as np

from expocalc.base.curve import Floats

__all__ = ["BRIGHTEST", "light_of_same", "shift_of"]

BRIGHTEST = 60
"""Stars of each frame by which it is laid on the others."""
_SAME_PX = 3.0
_VOTE_PX = 4.0
_LEAST_MATCHED = 4


def shift_of(places: Floats, others: Floats) -> Floats | None:
    """Where most stars of one list agree to lie from those of the other; None where too few do.

    Parameters
    ----------
    places, others : ndarray
        Row and column of stars, shape (stars, 2). [pixel]

    Examples
    --------
    >>> places = np.random.default_rng(1).uniform(0, 500, (20, 2))
    >>> shift_of(places, places + [12, -7]).round(1).tolist()
    [12.0, -7.0]
    """
    if min(len(places), len(others)) < _LEAST_MATCHED:
        return None
    apart = (others[None, :, :] - places[:, None, :]).reshape(-1, 2)
    cell = np.floor(apart / _VOTE_PX).astype(np.int64)
    keys = cell[:, 0] * 1_000_003 + cell[:, 1]
    values, counts = np.unique(keys, return_counts=True)
    near = apart[keys == values[np.argmax(counts)]].mean(axis=0)
    votes = np.abs(apart - near).max(axis=1) <= _VOTE_PX
    return np.median(apart[votes], axis=0) if votes.sum() >= _LEAST_MATCHED else None


def light_of_same(places: Floats, light: Floats, reference: Floats, their_light: Floats, corner: Floats) -> float:
    """Light of the same stars over the reference's; NaN where they can't be found again.

    Parameters
    ----------
    places, reference : ndarray
        Row and column of the stars of a frame and of the reference, shape (stars, 2). [pixel]
    light, their_light : ndarray
        Of each, one unit. [electron s-1]
    corner : ndarray
        Row and column of the far corner: a mount that has changed sides turns the picture about the middle. [pixel]

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> places, light = rng.uniform(0, 500, (20, 2)), rng.uniform(10, 1000, 20)
    >>> round(light_of_same(500 - places, 0.7 * light, places, light, np.array([500.0, 500.0])), 2)
    0.7
    """
    best, most = math.nan, _LEAST_MATCHED - 1
    for mine in (places, corner - places):
        shift = shift_of(mine, reference)
        if shift is None:
            continue
        moved = mine + shift
        gap = np.hypot(*(moved[:, None, :] - reference[None, :, :]).transpose(2, 0, 1))
        nearest = gap.argmin(axis=1)
        same = gap[np.arange(len(moved)), nearest] <= _SAME_PX
        here, theirs = light[same], their_light[nearest[same]]
        ratios = here / theirs
        if ratios.size <= most:
            continue
        most = ratios.size
        middle = np.median(ratios)
        alike = np.abs(ratios - middle) <= 3 * max(1.4826 * float(np.median(np.abs(ratios - middle))), 0.01 * middle)
        best = float(here[alike].sum() / theirs[alike].sum())  # each star by its light, as its noise has it
    return best
