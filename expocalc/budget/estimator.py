r"""How the subs become one picture: mean, median or clipped mean, and what each costs in noise.

The stacking factor is the variance of the stacked value of N subs, times N, over the variance of one sub: 1 for the
mean. Those of the others come from tables made by simulation, whose headers say how.

References
----------
.. [kendall] Kendall, M. G. & Stuart, A., The Advanced Theory of Statistics, vol. 1: the variance of the median of many
   normal values is pi/2 times that of their mean; ch. 6, Edgeworth and Cornish-Fisher series (from memory).
"""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.table import DATA, read_table

__all__ = ["Estimator", "clipped_mean_factor", "estimator_warning", "median_factor", "median_refusal"]

LEAST_STEPS = 2.0
"""Noise of one sub, in steps, below which the median of many whole numbers sticks to one of them."""
SMOOTHING_READ_E = 0.5
"""Read noise below which single electrons stand apart, so that one electron is a step. [electron]"""
FEW_SUBS, FEW_PER_CLIP2 = 15, 1.6
"""From this number on, and this many times clip squared, 98 % of lone outliers of ten standard deviations go."""


class _Grid(NamedTuple):
    """A table of factors over number of subs (rows) and another quantity (columns); the edge holds beyond it."""

    subs: Floats
    other: Floats
    factor: Floats

    def __call__(self, subs: npt.ArrayLike, other: npt.ArrayLike) -> Any:
        """Factor between the nodes, by straight lines."""
        row, across = _between(self.subs, subs)
        column, along = _between(self.other, other)
        f = self.factor
        here = f[row, column] * (1 - along) + f[row, column + 1] * along
        after = f[row + 1, column] * (1 - along) + f[row + 1, column + 1] * along
        return here * (1 - across) + after * across


def _between(nodes: Floats, x: npt.ArrayLike) -> tuple[Any, Any]:
    """Node below x, and the share of the way to the next one."""
    inside = np.minimum(np.maximum(x, nodes[0]), nodes[-1])
    at = np.minimum(np.searchsorted(nodes, inside, side="right"), nodes.size - 1) - 1
    return at, (inside - nodes[at]) / (nodes[at + 1] - nodes[at])


@cache
def _grid(name: str, other: str) -> _Grid:
    table = read_table(DATA / name)
    subs, columns = np.unique(table["subs"]), np.unique(table[other])
    return _Grid(subs, columns, table["factor"].reshape(subs.size, columns.size))


def clipped_mean_factor(subs: npt.ArrayLike, clip: npt.ArrayLike) -> Any:
    """Stacking factor of the mean of what lies within `clip` standard deviations of the median, one pass.

    Parameters
    ----------
    subs : array_like
        Any shape.
    clip : array_like
        In sample standard deviations; 1.5 or more.

    Returns
    -------
    factor : float or ndarray
        Broadcast shape. [-]

    Notes
    -----
    For values without outliers, as normal as some ten electrons make them. More passes cost more.

    Examples
    --------
    Two standard deviations cost 29 % more time, five nothing:

    >>> [round(float(clipped_mean_factor(60, clip)), 2) for clip in (2, 3, 5)]
    [1.29, 1.02, 1.0]
    """
    if isinstance(clip, float):
        return np.interp(subs, *_clipped_at(clip))  # the usual case, several times faster
    return _grid("stacking_clipped.ecsv", "clip")(subs, clip)


@lru_cache(maxsize=64)
def _clipped_at(clip: float) -> tuple[Floats, Floats]:
    """Numbers of subs and their factors at one clip."""
    grid = _grid("stacking_clipped.ecsv", "clip")
    return grid.subs, grid(grid.subs, clip)


def _step_share(variance_e2: npt.ArrayLike, read_variance_e2: npt.ArrayLike, native_step_e: npt.ArrayLike) -> Any:
    """Step squared over variance; where the read noise does not blur single electrons, one is a step as well."""
    step = np.where(np.less(read_variance_e2, SMOOTHING_READ_E**2), np.maximum(native_step_e, 1.0), native_step_e)
    return step**2 / np.maximum(variance_e2, 1e-12)


def median_factor(
    subs: npt.ArrayLike,
    variance_e2: npt.ArrayLike,
    read_variance_e2: npt.ArrayLike,
    native_step_e: npt.ArrayLike,
    signal_e: npt.ArrayLike = 0.0,
) -> Any:
    r"""Stacking factor of the median, for the signal that it returns.

    Parameters
    ----------
    subs : array_like
        Number of subs N.
    variance_e2 : array_like
        Random variance of one sub in one pixel, v. [electron2]
    read_variance_e2 : array_like
        The part of it that is not photon noise, R squared. [electron2]
    native_step_e : array_like
        Step of the converter. [electron]
    signal_e : array_like, optional
        The target's part of the light of one sub. [electron]

    Returns
    -------
    factor : float or ndarray
        Broadcast shape; infinite where the noise is below two steps, see :func:`median_refusal`. [-]

    Notes
    -----
    Photon noise is skew: the median lies :math:`\lambda/6v` below the mean of :math:`\lambda` electrons
    (Cornish-Fisher, [kendall]_ ch. 6), a shift that grows with the signal and so hides part of it: the median answers
    to a signal that raises the variance from :math:`v_b` to v by :math:`1 - R^2/6vv_b`. The density at the median
    (Edgeworth, same chapter) is :math:`1 + \gamma_2/8 - 5\gamma_1^2/36` of a normal one, with
    :math:`\gamma_1^2 = \lambda^2/v^3`, :math:`\gamma_2 = \lambda/v^2`. Both matter below some five electrons; with a
    read noise of an electron or more they leave the factor right to 2 %.

    The steps are those of a pixel whose offset is the same in all subs, the careful case: dithers between pixels of
    different offset blur the steps. A value rounded to steps is wrong by a twelfth of a step squared however many there
    are, so that the factor grows by a twelfth of the step squared over v with each sub of very many.

    Examples
    --------
    Many subs of bright sky; few; faint sky, of which the median sees nine tenths:

    >>> [round(float(median_factor(n, 400.0, 2.0, 0.25)), 2) for n in (1000, 10)]
    [1.58, 1.39]
    >>> round(float(median_factor(200, 1.5, 1.0, 0.0)), 1)
    1.8
    """
    share = _step_share(variance_e2, read_variance_e2, native_step_e)
    table = _grid("stacking_median.ecsv", "step_share")
    beyond = np.maximum(np.asarray(subs) - table.subs[-1], 0.0)
    factor = table(subs, share) + beyond * share / 12
    least = SMOOTHING_READ_E**2  # less variance than this is refused below
    v, behind = np.maximum(variance_e2, least), np.maximum(np.subtract(variance_e2, signal_e), least)
    photon = np.maximum(v - read_variance_e2, 0.0)
    seen = 1 - np.asarray(read_variance_e2) / (6 * v * behind)
    density = 1 + photon / (8 * v**2) - 5 * photon**2 / (36 * v**3)
    # the median of few values is nearer their mean: the mean square of its z is factor / N, not 0 (Cornish-Fisher)
    many = np.clip(1 - table(subs, 0.0) / subs, 0.0, 1.0)
    lost = (1 - many) + many * seen * density
    return np.where(share <= LEAST_STEPS**-2, factor / lost**2, np.inf)


def median_refusal(
    variance_e2: npt.ArrayLike, read_variance_e2: npt.ArrayLike, native_step_e: npt.ArrayLike
) -> str | None:
    """Sentence that says why the median can't be used, or None where it can.

    Parameters
    ----------
    variance_e2, read_variance_e2, native_step_e : array_like
        As in :func:`median_factor`.

    Examples
    --------
    >>> median_refusal(25.0, 2.0, 0.25) is None
    True
    >>> median_refusal(3.0, 1.0, 3.0)
    "stacking must not be the median here: one sub's noise is 0.58 steps of the converter, below 2, so that the median
    of whole numbers does not follow a faint signal; take the mean or longer subs"
    """
    share = float(np.max(_step_share(variance_e2, read_variance_e2, native_step_e)))
    if share <= LEAST_STEPS**-2:
        return None
    steps, least = share**-0.5 if share else np.inf, np.max(native_step_e)
    what = "of the converter" if share * np.min(variance_e2) <= least**2 * 1.000001 else "of one electron"
    return (
        f"stacking must not be the median here: one sub's noise is {steps:.2g} steps {what}, below {LEAST_STEPS:g}, so "
        "that the median of whole numbers does not follow a faint signal; take the mean or longer subs"
    )


def estimator_warning(stacking: str, subs: float, clip: float = 3.0) -> str | None:
    """Sentence for a clipped mean of few subs, None where there is nothing to warn of.

    Notes
    -----
    A lone outlier is at most sqrt(N) sample standard deviations from the median of N values, however bright it is: with
    N <= clip squared it is never left out.

    Examples
    --------
    >>> estimator_warning("clipped mean", 8)
    'A mean clipped at 3 standard deviations can never reject a lone outlier among 8 subs; it takes more than 9, and 15
    to be safe.'
    >>> estimator_warning("mean", 8) is None
    True
    """
    safe = max(FEW_SUBS, math.ceil(FEW_PER_CLIP2 * clip**2))
    if stacking != "clipped mean" or subs >= safe:
        return None
    bound = clip**2
    can = "can never reject a lone outlier" if subs <= bound else "may miss a lone outlier"
    among = f"among {subs:g} {'sub' if subs == 1 else 'subs'}"
    return (
        f"A mean clipped at {clip:g} standard deviations {can} {among}; it takes more than {bound:g}, and {safe} to be "
        "safe."
    )


class Estimator(NamedTuple):
    """One way to stack.

    Attributes
    ----------
    stacking : str
        "mean", "clipped mean" or "median".
    clip : float
        Standard deviations beyond which the clipped mean rejects.
    native_step_e : float
        Step of the converter, for the median. [electron]
    """

    stacking: str = "mean"
    clip: float = 3.0
    native_step_e: float = 0.0

    def factor(
        self,
        subs: npt.ArrayLike,
        variance_e2: npt.ArrayLike,
        read_variance_e2: npt.ArrayLike,
        signal_e: npt.ArrayLike = 0.0,
    ) -> Any:
        """Stacking factor of N subs of that random variance in one pixel; arguments as in :func:`median_factor`.

        Examples
        --------
        >>> Estimator().factor(40, 9.0, 2.0)
        1.0
        """
        if self.stacking == "mean":
            return 1.0
        if self.stacking == "clipped mean":
            return clipped_mean_factor(subs, self.clip)
        return median_factor(subs, variance_e2, read_variance_e2, self.native_step_e, signal_e)

    def growth(self, variance_e2: npt.ArrayLike, read_variance_e2: npt.ArrayLike) -> Any:
        """What the factor grows by per sub of very many: 0, but for a median that sticks to steps."""
        if self.stacking != "median":
            return 0.0
        share = _step_share(variance_e2, read_variance_e2, self.native_step_e)
        return np.where(share <= LEAST_STEPS**-2, share / 12, np.inf)
