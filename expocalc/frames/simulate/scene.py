"""What falls onto a detector that is the same everywhere: sky, a faint patch and stars, in electrons per second.

The sky of a scene repeats beyond its edges, so that a dither moves it round: what leaves on one side comes in on the
other, and after the subs are laid on each other again no edge is missing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.budget.rates import Rates
from expocalc.gear.image import FWHM_PER_SIGMA

__all__ = ["Mask", "Scene", "even_scene", "scene_of", "star_shares"]

Mask = npt.NDArray[np.bool_]
Shape = tuple[int, int]

LARGEST_PX = 16384
USUAL_SHAPE = (128, 128)
DARK_SHARE = 1e-3
"""A star's light below this share of the sky counts as none."""
_RGGB = np.array([[0, 1], [1, 2]])
_COLOURS = {1: ("mono",), 3: ("R", "G", "B")}
_erf = np.vectorize(math.erf, otypes=[np.float64])


@dataclass(frozen=True, eq=False, kw_only=True)
class Scene:
    """Light on each pixel; all arrays have the shape (rows, columns).

    Attributes
    ----------
    colours : tuple of str
        ("mono",) or ("R", "G", "B").
    colour : ndarray of int
        Which of the colours each pixel carries.
    light_e_s : ndarray
        Sky, patch and stars. [electron s-1]
    patch : ndarray of bool
        Where the faint patch lies.
    clear : ndarray of bool
        Where there is sky alone: no patch, no star.

    Examples
    --------
    >>> scene = even_scene(0.5, (64, 64)).with_patch(0.05, side_px=8)
    >>> int(scene.patch.sum()), round(float(scene.light_e_s.max()), 2)
    (64, 0.55)
    """

    colours: tuple[str, ...]
    colour: npt.NDArray[np.intp]
    light_e_s: Floats
    patch: Mask
    clear: Mask

    @property
    def shape(self) -> Shape:
        """Rows and columns. [pixel]"""
        rows, columns = self.light_e_s.shape
        return rows, columns

    def pixels(self, colour: str) -> Mask:
        """Where the pixels of a colour lie."""
        if colour not in self.colours:
            msg = f"colour must be one of {', '.join(self.colours)}, got {colour!r}"
            raise ValueError(msg)
        return self.colour == self.colours.index(colour)

    def with_patch(self, patch_e_s: npt.ArrayLike, side_px: int, middle: Shape | None = None) -> Scene:
        """The scene with a faint square on it.

        Parameters
        ----------
        patch_e_s : array_like
            Its light in one pixel, one number or one per colour. [electron s-1]
        side_px : int
            [pixel]
        middle : (int, int), optional
            Row and column of its middle; that of the scene where none is given.

        Raises
        ------
        ValueError
            If the patch does not lie within the scene, or its light is negative or not finite.
        """
        rates = _per_colour("patch_e_s", patch_e_s, self.colours)
        row, column = middle or (self.shape[0] // 2, self.shape[1] // 2)
        top, left = row - side_px // 2, column - side_px // 2
        if side_px < 1 or min(top, left) < 0 or top + side_px > self.shape[0] or left + side_px > self.shape[1]:
            msg = (
                f"patch must lie within the scene of {self.shape[0]} x {self.shape[1]} pixels, got a side of {side_px} "
                f"around row {row}, column {column}"
            )
            raise ValueError(msg)
        patch = np.zeros(self.shape, dtype=bool)
        patch[top : top + side_px, left : left + side_px] = True
        light = self.light_e_s + np.where(patch, rates[self.colour], 0.0)
        return replace(self, light_e_s=light, patch=self.patch | patch, clear=self.clear & ~patch)

    def with_stars(self, places: npt.ArrayLike, star_e_s: npt.ArrayLike, fwhm_px: float) -> Scene:
        """The scene with stars on it.

        Parameters
        ----------
        places : array_like
            Row and column of each star, whole numbers at the middle of a pixel, shape (stars, 2). [pixel]
        star_e_s : array_like
            All of each star's light in pixels of one colour: shape (stars,), or (stars, colours). [electron s-1]
        fwhm_px : float
            Full width at half maximum of their Gaussians, above 0. [pixel]

        Raises
        ------
        ValueError
            If a number is missing, negative or not finite.
        """
        where = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        light = np.asarray(star_e_s, dtype=np.float64)
        light = np.broadcast_to(light if light.ndim == 2 else light.reshape(-1, 1), (len(where), len(self.colours)))
        if not (np.isfinite(where).all() and np.isfinite(light).all() and (light >= 0).all()):
            msg = "stars must have finite places and finite light of at least 0 electron/s"
            raise ValueError(msg)
        down, across = (star_shares(where[:, axis], self.shape[axis], fwhm_px) for axis in (0, 1))
        each = np.stack([(down * one[:, None]).T @ across for one in light.T])
        stars = np.take_along_axis(each, self.colour[None], axis=0)[0]
        dark = stars <= DARK_SHARE * self.light_e_s
        return replace(self, light_e_s=self.light_e_s + stars, clear=self.clear & dark)


def star_shares(middle: npt.ArrayLike, pixels: int, fwhm_px: float) -> Floats:
    """Share of a Gaussian star's light in each row (or column) of pixels, integrated over the pixel.

    Parameters
    ----------
    middle : array_like
        Where the stars are, in pixels whose middles are whole numbers, shape (stars,). [pixel]
    pixels : int
        Number of rows.
    fwhm_px : float
        Full width at half maximum, above 0. [pixel]

    Returns
    -------
    ndarray
        Shape (stars, pixels); sums to the part of each star that is within.

    Examples
    --------
    The middle pixel of a star two pixels wide gets a fifth of its light:

    >>> share = star_shares([5.0], 11, 2.0)[0]
    >>> round(float(share[5] ** 2), 3), round(float(share.sum()), 6)
    (0.197, 1.0)
    """
    if not 0 < fwhm_px < math.inf:
        msg = f"fwhm_px must be above 0 pixel, got {fwhm_px:g} pixel; write it like 2.5"
        raise ValueError(msg)
    edges = np.arange(pixels + 1) - 0.5 - np.asarray(middle, dtype=np.float64)[:, None]
    return np.diff(_erf(edges * FWHM_PER_SIGMA / (fwhm_px * math.sqrt(2)))) / 2


def even_scene(sky_e_s: npt.ArrayLike, shape: Shape = USUAL_SHAPE) -> Scene:
    """Sky alone.

    Parameters
    ----------
    sky_e_s : array_like
        In one pixel: one number for a mono camera, three (R, G, B) for an RGGB mosaic. [electron s-1]
    shape : (int, int), optional
        Rows and columns, both even for a mosaic. [pixel]

    Raises
    ------
    ValueError
        If there are neither one nor three rates, one is negative or not finite, or the shape is not sane.

    Examples
    --------
    >>> even_scene([0.2, 0.5, 0.3], (4, 4)).light_e_s[:2, :2].tolist()
    [[0.2, 0.5], [0.5, 0.3]]
    """
    count = np.size(sky_e_s)
    if count not in _COLOURS:
        msg = f"sky_e_s must be one rate (mono) or three (R, G, B), got {count}"
        raise ValueError(msg)
    colours = _COLOURS[count]
    rates = _per_colour("sky_e_s", sky_e_s, colours)
    rows, columns = shape
    if not (1 <= rows <= LARGEST_PX and 1 <= columns <= LARGEST_PX) or (count == 3 and (rows % 2 or columns % 2)):
        even = "even, " if count == 3 else ""
        msg = f"shape must be two {even}whole numbers from 1 to {LARGEST_PX} pixel, got {rows} x {columns}"
        raise ValueError(msg)
    colour = np.tile(_RGGB, (rows // 2, columns // 2)) if count == 3 else np.zeros(shape, dtype=np.intp)
    nowhere = np.zeros(shape, dtype=bool)
    return Scene(colours=colours, colour=colour, light_e_s=rates[colour], patch=nowhere, clear=~nowhere)


def scene_of(rates: Rates, light: str, patch_px: int, shape: Shape = USUAL_SHAPE) -> Scene:
    """Scene of one filter of a plan: its sky, and a patch of one of its extended lights.

    Parameters
    ----------
    rates : Rates
        Of :func:`expocalc.budget.rates.rates`.
    light : str
        Name of the light that the patch shines in. The target's other extended lights cover the whole scene, as the
        plan takes it.
    patch_px : int
        Side of the patch. [pixel]
    shape : (int, int), optional
        [pixel]

    Raises
    ------
    ValueError
        If the filter does not pass that light.
    """
    if light not in rates.extended:
        msg = f"light must be one of {', '.join(rates.extended) or 'none'}, which the filter passes, got {light!r}"
        raise ValueError(msg)
    others = sum((one for name, one in rates.extended.items() if name != light), np.zeros(len(rates.colours)))
    return even_scene(rates.sky_e_s + others, shape).with_patch(rates.extended[light], patch_px)


def _per_colour(name: str, value: npt.ArrayLike, colours: Sequence[str]) -> Floats:
    rates = np.asarray(value, dtype=np.float64).ravel()
    if rates.size not in (1, len(colours)):
        msg = f"{name} must be one rate or one for each of {', '.join(colours)}, got {rates.size}"
        raise ValueError(msg)
    if not (np.isfinite(rates).all() and (rates >= 0).all()):
        msg = f"{name} must be finite and at least 0 electron/s, got {rates.tolist()}"
        raise ValueError(msg)
    return np.broadcast_to(rates, (len(colours),))
