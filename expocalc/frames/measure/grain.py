r"""The grain of a stack: how it falls with more subs and with wider blocks, and what is left that should not be.

References
----------
.. [feller] Feller, W. 1968, An Introduction to Probability Theory and Its Applications, vol. 1, 3rd ed., ch. IX:
   variances of independent numbers add, so that the noise of a mean falls with the square root of their number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.frames.measure.background import background
from expocalc.frames.measure.picture import binned
from expocalc.frames.simulate.scene import Mask

__all__ = ["COUNTS", "Blocks", "Falling", "falling", "half_difference", "noise_by_block", "stack_steps"]

COUNTS = (1, 4, 16, 64)
SIDES = (1, 2, 4, 8, 16)
_LEAST_BLOCKS = 16


@dataclass(frozen=True, eq=False, kw_only=True)
class Falling:
    """Noise against the number of subs.

    Attributes
    ----------
    subs : ndarray of int
    noise : ndarray
        Unit of the pictures.
    line : ndarray
        The first's noise over the square root of the number.
    common : float
        Noise that all subs share and no number removes, by the last point; 0 where the line is kept.
    """

    subs: npt.NDArray[np.int_]
    noise: Floats
    line: Floats
    common: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocks:
    """Noise of the mean over squares of pixels.

    Attributes
    ----------
    side_px : ndarray of int
    noise : ndarray
        Unit of the picture.
    line : ndarray
        That of independent pixels: the single pixel's over the side.
    """

    side_px: npt.NDArray[np.int_]
    noise: Floats
    line: Floats

    @property
    def excess(self) -> float:
        """Noise of the widest squares over that of independent pixels: 1 where nothing is alike."""
        return float(self.noise[-1] / self.line[-1])


def stack_steps(count: int) -> list[int]:
    """Numbers of subs at which a stack is looked at.

    Examples
    --------
    >>> stack_steps(40)
    [1, 4, 16, 40]
    """
    steps = [n for n in COUNTS if n < count]
    return [*steps, count]


def falling(pictures: Sequence[Floats], subs: Sequence[int], clear: Mask | None = None) -> Falling:
    """Noise of pictures of ever more subs.

    Parameters
    ----------
    pictures : sequence of ndarray
        Means of the subs, shape (rows, columns) each.
    subs : sequence of int
        Behind each.
    clear : ndarray of bool, optional
        Where there is sky alone; elsewhere a mesh tells.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> found = falling([rng.normal(0, 4 / n**0.5, (128, 128)) for n in (1, 4, 16)], [1, 4, 16])
    >>> found.noise.round(1).tolist(), found.common < 0.1
    ([4.0, 2.0, 1.0], True)
    """
    count = np.asarray(subs)
    noise = np.array([_noise(picture, clear) for picture in pictures])
    line = noise[0] * np.sqrt(count[0] / count)
    pixels = pictures[0].size if clear is None else int(clear.sum())
    error = noise[-1] / math.sqrt(2 * pixels)
    beyond = noise[-1] ** 2 - line[-1] ** 2
    share = count[-1] / (count[-1] - count[0]) if count[-1] > count[0] else 0.0
    common = math.sqrt(beyond * share) if beyond > 6 * error * noise[-1] else 0.0
    return Falling(subs=count, noise=noise, line=line, common=common)


def _noise(picture: Floats, clear: Mask | None) -> float:
    if clear is not None:
        return float(picture[clear].std(ddof=1))
    return background([picture]).noise_adu


def half_difference(one: Floats, other: Floats) -> Floats:
    """Half of the difference of two halves' means: sky, stars and pattern go, the stack's noise stays.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> star = 100 * np.eye(64)
    >>> halves = [star + rng.normal(0, 1, (64, 64)) for _ in range(2)]
    >>> round(float(half_difference(*halves).std()), 1)  # the mean of both has 1 / sqrt(2)
    0.7
    """
    return (one - other) / 2


def noise_by_block(picture: Floats, sides: Sequence[int] = SIDES) -> Blocks:
    """Noise of the mean over ever wider squares; slow slopes are taken off by the squares' neighbours.

    Parameters
    ----------
    picture : ndarray
        Shape (rows, columns).
    sides : sequence of int, optional
        [pixel]

    Examples
    --------
    >>> found = noise_by_block(np.random.default_rng(2).normal(0, 8, (256, 256)))
    >>> found.noise.round(1).tolist()[:4]
    [8.0, 4.0, 2.0, 1.0]
    """
    used = [side for side in sides if (min(picture.shape) // side) ** 2 >= _LEAST_BLOCKS]
    noise = []
    for side in used:
        blocks = binned(picture, side)
        # differences of neighbours are blind to a slope; a star spoils few of them
        apart = np.concatenate([np.diff(blocks, axis=0).ravel(), np.diff(blocks, axis=1).ravel()])
        low, high = np.percentile(apart[np.isfinite(apart)], [15.865, 84.135])
        noise.append((high - low) / 2 / math.sqrt(2))
    side_px = np.array(used)
    found = np.array(noise)
    return Blocks(side_px=side_px, noise=found, line=found[0] / side_px)
