r"""Stars of one frame: where they are, how bright, how wide, how round.

A star is a pixel well above the sky that is the highest of its surroundings and has bright neighbours, which a hot
pixel has not. Its width comes from second moments under a Gaussian weight of the star's own width, so that far pixels'
noise counts little.

References
----------
.. [bernstein] Bernstein, G. M. & Jarvis, M. 2002, AJ 123, 583, sec. 3: moments under a weight matched to the object:
   a Gaussian of variance s under a weight of variance s shows s / 2.
.. [sheppard] Sheppard, W. F. 1898, Proc. London Math. Soc. 29, 353: counting in bins of width 1 adds 1/12 to a
   variance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.frames.measure.background import Background, Plane
from expocalc.frames.simulate.scene import Mask
from expocalc.gear.image import FWHM_PER_SIGMA

__all__ = ["Stars", "find_stars", "under_stars"]

THRESHOLD = 6.0
"""Height of the brightest pixel above the sky, in units of the noise."""
NEIGHBOURS = 4.0
"""Sum of the eight around it, in units of that sum's noise."""
MOST_STARS = 1000
MOST_PEAKS = 400_000
_HALF = 7
_WIDE_HALF = 15
_TURNS = 6
_LEAST_SIGMA = 0.45
_AROUND = np.array([(r, c) for r in (-1, 0, 1) for c in (-1, 0, 1) if r or c])
_AROUND_GREEN = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1), (-2, 0), (2, 0), (0, -2), (0, 2)])


@dataclass(frozen=True, eq=False, kw_only=True)
class Stars:
    """Stars, brightest first; arrays have the shape (stars,).

    Attributes
    ----------
    row, column : ndarray
        Middle, whole numbers at the middle of a pixel. [pixel]
    flux_adu : ndarray
        Light above the sky, by a Gaussian of the frame's usual shape; of a mosaic's green pixels as if all were
        green. [ADU]
    fwhm_px : ndarray
        Width at half height if it is a Gaussian. [pixel]
    elongation : ndarray
        Longer over shorter axis.
    full : ndarray of bool
        Whether its peak is at the ceiling.
    count : int
        All that were found, those beyond the brightest thousand as well.
    """

    row: Floats
    column: Floats
    flux_adu: Floats
    fwhm_px: Floats
    elongation: Floats
    full: Mask
    count: int

    @property
    def usual_fwhm_px(self) -> float:
        """Median width of stars that are not full; NaN where there are fewer than three. [pixel]"""
        good = ~self.full & np.isfinite(self.fwhm_px)
        return float(np.median(self.fwhm_px[good])) if good.sum() >= 3 else math.nan

    @property
    def usual_elongation(self) -> float:
        """Median elongation, likewise."""
        good = ~self.full & np.isfinite(self.elongation)
        return float(np.median(self.elongation[good])) if good.sum() >= 3 else math.nan


def find_stars(pixels: Plane, sky: Background, mosaic: str | None = None, ceiling_adu: float = math.inf) -> Stars:
    """Stars of a frame.

    Parameters
    ----------
    pixels : ndarray
        Shape (rows, columns). [ADU]
    sky : Background
        Of the frame; of its green pixels on a mosaic.
    mosaic : str, optional
        Colours of the first two rows, "RGGB"; stars are then measured on the green pixels.
    ceiling_adu : float, optional
        At or above it a pixel is full. [ADU]

    Returns
    -------
    Stars

    Examples
    --------
    >>> from expocalc.frames.measure.background import background
    >>> from expocalc.frames.simulate.scene import even_scene
    >>> scene = even_scene(0.0, (128, 128)).with_stars([[40.2, 60.7], [90.0, 30.0]], [4000.0, 2500.0], 3.0)
    >>> frame = np.random.default_rng(1).normal(500 + scene.light_e_s, 5.0)
    >>> frame[100, 100] += 800  # a hot pixel
    >>> stars = find_stars(frame, background([frame]))
    >>> stars.count, stars.row.round(1).tolist(), stars.fwhm_px.round(1).tolist()
    (2, [40.2, 90.0], [3.0, 3.0])
    """
    green = np.ones((2, 2), dtype=bool)
    around = _AROUND
    if mosaic is not None:
        green, around = np.array([letter == "G" for letter in mosaic]).reshape(2, 2), _AROUND_GREEN
    row, column = _peaks(pixels, sky, green, around)
    if not row.size:
        nothing = np.empty(0)
        return Stars(
            row=nothing, column=nothing, flux_adu=nothing, fwhm_px=nothing, elongation=nothing,
            full=np.empty(0, dtype=bool), count=0,
        )  # fmt: skip
    brightest = np.argsort(-pixels[row, column].astype(np.float64), kind="stable")
    row, column = _apart(row[brightest], column[brightest])
    count = row.size
    row, column = row[:MOST_STARS], column[:MOST_STARS]
    found = _measured(pixels, sky, green, row, column, _HALF)
    usual = np.nanmedian(found[3]) if np.isfinite(found[3]).any() else 0.0
    if usual > _HALF * 0.7:
        found = _measured(pixels, sky, green, row, column, _WIDE_HALF)
    rows, columns, flux, fwhm, elongation = found
    order = np.argsort(-flux, kind="stable")
    full = pixels[row, column] >= ceiling_adu
    return Stars(
        row=rows[order], column=columns[order], flux_adu=flux[order], fwhm_px=fwhm[order],
        elongation=elongation[order], full=full[order], count=int(count),
    )  # fmt: skip


def under_stars(stars: Stars, shape: tuple[int, int], noise_adu: float) -> Mask:
    """Where stars lift the sky: a square around each that is wider the more the star stands out.

    Parameters
    ----------
    stars : Stars
    shape : (int, int)
        [pixel]
    noise_adu : float
        Of one pixel. [ADU]

    Returns
    -------
    ndarray of bool
        Shape (rows, columns).
    """
    covered = np.zeros(shape, dtype=bool)
    usual = stars.usual_fwhm_px if math.isfinite(stars.usual_fwhm_px) else 3.0
    brighter = np.log10(np.maximum(stars.flux_adu / max(noise_adu * usual**2, 1e-9), 1.0))
    reach = np.rint(usual * (1.0 + brighter)).astype(int)
    for row, column, half in zip(np.rint(stars.row).astype(int), np.rint(stars.column).astype(int), reach, strict=True):
        covered[max(row - half, 0) : row + half + 1, max(column - half, 0) : column + half + 1] = True
    return covered


def _peaks(pixels: Plane, sky: Background, green: Mask, around: npt.NDArray[np.int_]) -> tuple[Plane, Plane]:
    """Pixels that stand out, are the highest around and have bright neighbours."""
    down, across = sky.over(pixels.shape)
    level = np.where(np.isfinite(sky.mesh_adu), sky.mesh_adu, sky.level_adu)
    noise = np.where(np.isfinite(sky.mesh_noise_adu), sky.mesh_noise_adu, sky.noise_adu)
    noise = np.maximum(noise, 1e-6)
    height = THRESHOLD
    while True:
        limit = level + height * noise
        where = _above(pixels, limit, down, across)
        if where.size <= MOST_PEAKS:
            break
        height *= 2
    row, column = np.divmod(where, pixels.shape[1])
    edge = _HALF + 1
    inside = (row >= edge) & (row < pixels.shape[0] - edge) & (column >= edge) & (column < pixels.shape[1] - edge)
    inside &= green[row % 2, column % 2]
    row, column = row[inside], column[inside]
    peak = pixels[row, column]
    highest = np.ones(row.size, dtype=bool)
    total = np.zeros(row.size)
    for at, (by_row, by_column) in enumerate(around):
        beside = pixels[row + by_row, column + by_column]
        highest &= (peak > beside) if at < len(around) // 2 else (peak >= beside)
        total += beside
    base, grain = level[down[row], across[column]], noise[down[row], across[column]]
    surplus = total - len(around) * base
    star = highest & (surplus > NEIGHBOURS * grain * math.sqrt(len(around)))
    star &= surplus > 0.05 * len(around) * (peak - base)
    return row[star], column[star]


def _above(pixels: Plane, limit: Floats, down: Plane, across: Plane) -> Plane:
    """Flat places of pixels above the limit of their cell, row of cells by row of cells."""
    whole = pixels.dtype.kind in "iu"
    found = []
    for cell in range(limit.shape[0]):
        rows = np.flatnonzero(down == cell)
        if not rows.size:
            continue
        line = limit[cell][across]
        if whole:
            info = np.iinfo(pixels.dtype)
            line = np.clip(np.ceil(line), info.min, info.max).astype(pixels.dtype)
        first = int(rows[0])
        band = pixels[first : first + rows.size]
        found.append(np.flatnonzero(band > line) + first * pixels.shape[1])
    return np.concatenate(found)


def _apart(row: Plane, column: Plane) -> tuple[Plane, Plane]:
    """Of peaks that lie within a few pixels of a brighter one, the brighter alone."""
    side = 6
    width = int(column.max()) // side + 3
    taken: dict[int, int] = {}
    kept = []
    for at, (r, c) in enumerate(zip(row.tolist(), column.tolist(), strict=True)):
        key = (r // side + 1) * width + c // side + 1
        near = (taken.get(key + k) for k in (-width - 1, -width, -width + 1, -1, 0, 1, width - 1, width, width + 1))
        if any(o is not None and abs(r - row[o]) <= side and abs(c - column[o]) <= side for o in near):
            continue
        taken[key] = at
        kept.append(at)
    return row[kept], column[kept]


def _measured(
    pixels: Plane, sky: Background, green: Mask, row: Plane, column: Plane, half: int
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Middle, light, width and elongation of stars around their peaks."""
    offsets = np.arange(-half, half + 1)
    rows = np.clip(row[:, None] + offsets, 0, pixels.shape[0] - 1)
    columns = np.clip(column[:, None] + offsets, 0, pixels.shape[1] - 1)
    down, across = sky.over(pixels.shape)
    base = np.where(np.isfinite(sky.mesh_adu), sky.mesh_adu, sky.level_adu)[down[row], across[column]]
    box = pixels[rows[:, :, None], columns[:, None, :]].astype(np.float64) - base[:, None, None]
    seen = green[(rows % 2)[:, :, None], (columns % 2)[:, None, :]] & np.isfinite(box)
    box = np.where(seen, box, 0.0)
    y, x = np.zeros(row.size), np.zeros(row.size)
    yy = xx = np.full(row.size, 1.5**2)
    xy = np.zeros(row.size)
    for _ in range(_TURNS):
        dy, dx = offsets[None, :, None] - y[:, None, None], offsets[None, None, :] - x[:, None, None]
        round_ = np.clip((yy + xx) / 2, _LEAST_SIGMA**2, (half / 2) ** 2)
        weight = np.exp(-(dy**2 + dx**2) / (2 * round_)[:, None, None]) * box
        total = weight.sum(axis=(1, 2))
        with np.errstate(invalid="ignore", divide="ignore"):
            y = y + np.clip(2 * (weight * dy).sum(axis=(1, 2)) / total, -1, 1)
            x = x + np.clip(2 * (weight * dx).sum(axis=(1, 2)) / total, -1, 1)
            my, mx = (weight * dy**2).sum(axis=(1, 2)) / total, (weight * dx**2).sum(axis=(1, 2)) / total
            mxy = (weight * dy * dx).sum(axis=(1, 2)) / total
        y, x = np.nan_to_num(np.clip(y, -2, 2)), np.nan_to_num(np.clip(x, -2, 2))
        yy, xx, xy = _unweighted(my, mx, mxy, round_)
    middle, half_gap = (yy + xx) / 2, np.hypot((yy - xx) / 2, xy)
    long, short = middle + half_gap - 1 / 12, middle - half_gap - 1 / 12  # [sheppard]_
    good = (short > 0.05) & (long < half**2)
    with np.errstate(invalid="ignore"):
        fwhm = np.where(good, FWHM_PER_SIGMA * np.sqrt(np.maximum((long + short) / 2, 0)), np.nan)
        elongation = np.where(good, np.sqrt(np.maximum(long, 0) / np.maximum(short, 1e-9)), np.nan)
    return row + y, column + x, _light(box, seen, (offsets, y, x), (yy, xx, xy)), fwhm, elongation


def _light(
    box: Floats, seen: Mask, places: tuple[Plane, Floats, Floats], moments: tuple[Floats, Floats, Floats]
) -> Floats:
    """Light of each star by a Gaussian of the frame's usual width and lean, fitted to what is seen of it."""
    offsets, y, x = places
    yy, xx, xy = (float(np.median(one)) for one in moments)
    if yy * xx <= xy**2:  # of each moment its own middle, where what was found is no star
        yy, xx, xy = (*[max((yy + xx) / 2, _LEAST_SIGMA**2)] * 2, 0.0)
    dy, dx = offsets[None, :, None] - y[:, None, None], offsets[None, None, :] - x[:, None, None]
    determinant = yy * xx - xy**2
    form = (xx * dy**2 - 2 * xy * dy * dx + yy * dx**2) / determinant
    shape = np.exp(-form / 2) / (2 * math.pi * math.sqrt(determinant)) * seen
    return (shape * box).sum(axis=(1, 2)) / (shape**2).sum(axis=(1, 2))


def _unweighted(my: Floats, mx: Floats, mxy: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Second moments without the weight: inverse matrices subtract [bernstein]_."""
    det = my * mx - mxy**2
    with np.errstate(invalid="ignore", divide="ignore"):
        iyy, ixx, ixy = mx / det - 1 / weight, my / det - 1 / weight, -mxy / det
        det = iyy * ixx - ixy**2
        yy, xx, xy = ixx / det, iyy / det, -ixy / det
    most, least = 400.0, _LEAST_SIGMA**2
    bad = ~(np.isfinite(yy) & np.isfinite(xx) & (yy > 0) & (xx > 0))
    return (
        np.where(bad, 4.0, np.clip(yy, least, most)),
        np.where(bad, 4.0, np.clip(xx, least, most)),
        np.where(bad, 0.0, np.clip(xy, -most, most)),
    )
