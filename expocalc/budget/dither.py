"""Dither: what two subs of a patch still have in common on the detector.

Offsets are whole pixels, drawn evenly and independently from a square.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["dither_overlap", "dither_share"]


def dither_overlap(box_px: npt.ArrayLike, patch_px: npt.ArrayLike) -> Any:
    r"""Mean share of its side that a square has in common with itself after moving between two dithers.

    .. math:: o = 1 - \frac{W^2 - 1}{3 W k} \quad (W \le k), \qquad
        o = \frac{k}{W} - \frac{k^2 - 1}{3 W^2} \quad (W > k)

    Parameters
    ----------
    box_px : array_like
        Side of the box of offsets; they take W = box + 1 whole numbers. [pixel]
    patch_px : array_like
        Side k of the square, taken as 1 where it is less. [pixel]

    Returns
    -------
    overlap : float or ndarray
        Broadcast shape. [-]

    Notes
    -----
    Exact for offsets drawn evenly and independently, whole W and k: the mean of (1 - |i - j|/k), where positive, over
    all pairs i, j of W numbers. For one pixel it is 1/W, the chance that two draws are the same.

    Examples
    --------
    >>> [round(float(dither_overlap(box, 10)), 3) for box in (0, 10, 100)]
    [1.0, 0.636, 0.096]
    """
    w, k = np.add(box_px, 1.0), np.maximum(patch_px, 1.0)
    share, pixel2 = k / w, 1 / np.square(w)
    return np.where(w <= k, 1 - (1 - pixel2) / (3 * share), share - (np.square(share) - pixel2) / 3)


def dither_share(
    subs: npt.ArrayLike, dither_every: npt.ArrayLike, box_px: npt.ArrayLike, patch_px: npt.ArrayLike
) -> Any:
    r"""Share of the common variance that is left in the mean over a patch, G.

    .. math:: G = \frac{1}{P} + \left(1 - \frac{1}{P}\right) o^2, \qquad P = N / m

    Parameters
    ----------
    subs : array_like
        Kept subs N.
    dither_every : array_like
        Subs m between two dithers; infinite where there is no dither.
    box_px, patch_px : array_like
        As in :func:`dither_overlap`. [pixel]

    Returns
    -------
    share : float or ndarray
        Broadcast shape, 1 without dither. [-]

    Notes
    -----
    A pair of subs shares all of the pattern when no dither lies between them (one pair in P), else what their squares
    of detector have in common. A patch wider than the box keeps meeting the same pixels: no number of dithers lowers
    G below :math:`o^2`.

    Examples
    --------
    One pixel and a wide box leave one part in P; a patch as wide as the box keeps two fifths:

    >>> [round(float(dither_share(120, 2, 10, k)), 3) for k in (1, 10)]
    [0.025, 0.415]
    """
    with np.errstate(divide="ignore"):
        alike = np.minimum(np.divide(dither_every, np.asarray(subs, dtype=float)), 1.0)
    return alike + (1 - alike) * dither_overlap(box_px, patch_px) ** 2
