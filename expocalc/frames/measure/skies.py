"""What one frame shows before anything is known of it: where its pixels are full, its background, its stars."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping

import numpy as np

from expocalc.frames.measure.background import Background, background
from expocalc.frames.measure.stars import Stars, find_stars, under_stars
from expocalc.frames.read.fits import Frame, Pixels
from expocalc.frames.read.header import FrameError

__all__ = ["ceiling_of", "skies_of"]

_FULL_SHARE = 1e-5
_LEAST_FULL = 10


def ceiling_of(pixels: Pixels) -> float:
    """The number at which pixels are full: the largest, where many have it; else infinite. [ADU]

    Examples
    --------
    >>> frame = np.full((100, 100), 500.0)
    >>> ceiling_of(frame - np.arange(100.0))
    inf
    >>> frame[:4, :5] = 4095
    >>> ceiling_of(frame)
    4095.0
    """
    highest = pixels.max()
    if not np.isfinite(highest):
        highest = np.nanmax(pixels[np.isfinite(pixels)])
    count = np.count_nonzero(pixels == highest)
    middle = np.median(pixels[:: max(pixels.shape[0] // 64, 1), :: max(pixels.shape[1] // 64, 1)])
    enough = count >= max(_LEAST_FULL, _FULL_SHARE * pixels.size) and highest > 1.5 * middle
    return float(highest) if enough else math.inf


def skies_of(frame: Frame, ceiling_adu: float = math.inf) -> tuple[Mapping[str, Background], Stars]:
    """Background of every colour and the stars of a frame.

    Raises
    ------
    FrameError
        If the frame shows no sky.
    """
    planes = frame.planes
    main = "G" if "G" in planes else "mono"
    try:
        first = background(planes[main], ceiling_adu)
        if first.noise_adu == 0:
            msg = f"nearly all its pixels have one number, {first.level_adu:g}: it is full, or no frame of a camera"
            raise ValueError(msg)
        stars = find_stars(frame.pixels, first, frame.known.mosaic, ceiling_adu)
        covered = under_stars(stars, frame.shape, first.noise_adu)
        masks = dataclasses.replace(frame, pixels=covered).planes
        return {c: background(planes[c], ceiling_adu, masks[c]) for c in planes}, stars
    except ValueError as error:
        msg = f"{frame.name} can't be used: {error}"
        raise FrameError(msg) from None
