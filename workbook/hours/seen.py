"""The plan as a picture: what the hours buy, drawn with the plan's own electrons; no widgets."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number
from expocalc.budget.case import Case
from expocalc.budget.clock import kept_share
from expocalc.budget.routine import Routine
from expocalc.frames.measure.picture import stretch
from expocalc.frames.simulate.detector import even_detector
from expocalc.frames.simulate.scene import Scene, even_scene
from expocalc.frames.simulate.stack import stacks_of
from expocalc.gear.gain import GainSetting
from expocalc.night.night import tonight_of
from expocalc.night.windows import almanac_of, position_of
from workbook.hours.model import Picture, Stack
from workbook.parts.table import Table

__all__ = ["SHAPES", "SIDE", "Seen", "Tile", "night_of", "seen", "seen_table"]

SIDE = 128
"""Points of a picture along its side."""
_PATCH_POINTS = 10
"""Points along the side of the patch, where the camera has as many pixels on it."""
_SEED = 20
_STARS, _FAINTEST, _BRIGHTEST = 40, 20.0, 12.0
"""Stars of a picture, and their AB magnitudes: invented; their numbers grow 2-fold a magnitude. [mag]"""
_FURTHER_H = (10.0, 100.0)
"""Hours that are shown where the goal is out of reach. [h]"""
_APART = 0.4
"""Logarithm of hours below which one picture looks like the other."""


def _shell(x: Floats, y: Floats, patch: float) -> Floats:
    away = np.hypot(x, y) - 0.29
    return np.exp(-((np.abs(away) / (0.62 * patch)) ** 4)) + 0.25 * (away < 0)


def _filament(x: Floats, y: Floats, patch: float) -> Floats:
    away = y - 0.12 * (np.cos(6.5 * x) - 1) - 0.15 * x
    return np.exp(-((np.abs(away) / (0.62 * patch)) ** 4)) * np.exp(-((x / 0.42) ** 6))


def _halo(x: Floats, y: Floats, patch: float) -> Floats:
    del patch
    return np.minimum(np.exp(-(np.hypot(x, 1.4 * y) - 0.25) / 0.11), 30.0)


SHAPES = MappingProxyType(
    {"Shell": (_shell, (0.0, -0.29)), "Filament": (_filament, (0.0, 0.0)), "Halo": (_halo, (0.25, 0.0))}
)
"""Light of each shape over the plan's, by place and side of the patch in sides of the picture; and where it is 1."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Tile:
    """One picture, 0 to 1, shape (rows, columns, colours); its words and its numbers.

    Attributes
    ----------
    snr : float
        Of the patch, by the model.
    hours : float
        Of good subs. [h]
    """

    brightness: Floats
    words: str
    snr: float
    hours: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Seen:
    """Pictures of one filter at one stretch, with the patch marked.

    Attributes
    ----------
    sentence : str
        What is drawn; alone where nothing can be.
    patch : ndarray of bool
        Points of the patch.
    outline : ndarray of bool
        Points just around it.
    """

    sentence: str
    tiles: tuple[Tile, ...]
    patch: Floats
    outline: Floats


@lru_cache(maxsize=4)
def night_of(case: Case) -> tuple[float, str] | None:
    """Hours of the plan's night in which the target can be taken, and how that night is called; None without them. [h]

    Without a date in the plan it is tonight.
    """
    if almanac_of(case) is None or position_of(case) is None:
        return None
    night = tonight_of(case)
    hours = sum(window.end_s - window.begin_s for window in night.windows) / 3600
    called = "tonight" if case.night.date is None else f"the night of {night.evening.date}"
    return (hours, f"{called}, {say_duration(hours * 3600)}") if hours > 0 else None


def _hours(stack: Stack, routine: Routine, clock_h: float, called: str) -> dict[float, str]:
    """Hours of good subs that are shown, with what they are; `clock_h` is what one has, and what that is called."""
    row = stack.row
    share = float(kept_share(row.sub_s, routine.lost_per_hour, routine.lost_at_dither))
    share *= row.sub_s / (row.sub_s + routine.dead_s)
    least = row.sub_s / 3600
    found = {max(1.0, least): "1 h" if least <= 1 else "one sub"}
    found.setdefault(max(clock_h * share, least), called)
    if row.kept_h:
        goal = f"the goal's {say_duration(row.kept_h * 3600)}"
        for hours, words in ((row.kept_h, goal), (2 * row.kept_h, f"twice that, {say_duration(7200 * row.kept_h)}")):
            found[hours] = f"{found[hours]}, {words}" if hours in found else words
    else:
        for hours in _FURTHER_H:
            if all(abs(math.log(hours / other)) > _APART for other in found):
                found[max(hours, least)] = say_duration(hours * 3600)
    return dict(sorted(found.items()))


def seen(shown: Picture, shape: str, at_hand_h: float) -> Seen:
    """Pictures of the plan's light in the filter in view, after some hours.

    Parameters
    ----------
    shown : Picture
    shape : str
        One of :data:`SHAPES`.
    at_hand_h : float
        Hours on the clock that one has, where the plan does not tell how long its night is. [h]

    Returns
    -------
    Seen

    Notes
    -----
    Sky, dark current, stars and the light fall as in the simulated frames: Poisson numbers of the plan's electrons, and
    read noise. What calibration, stacking and background add to the noise is drawn as grain of that size, so that the
    patch has the SNR of the model.
    """
    stack = shown.stacks[shown.filter_name]
    none = np.zeros((SIDE, SIDE), dtype=bool)
    if stack.patch is None or not stack.row.target_e_s:
        sentence = f"{stack.row.filter_shown} passes none of the target's light: there is nothing to draw."
        return Seen(sentence=sentence, tiles=(), patch=none, outline=none)
    colours = len(stack.rate.colours)
    step = 2 if colours > 1 else 1  # a mosaic repeats after two pixels
    side_px = float(stack.patch.side_px)
    pixels = step * max(1, round(side_px / _PATCH_POINTS / step))  # of the camera along a point's side
    points = max(1, round(side_px / pixels))
    points = min(points, SIDE // 4)
    place = SHAPES[shape][1]
    patch, outline = _square(place, points)
    case = shown.plan.case
    at_hand = at_hand_h, f"the {say_duration(at_hand_h * 3600)} you have"
    wanted = _hours(stack, case.routine, *(night_of(case) or at_hand))
    counts = [max(1, round(hours * 3600 / stack.row.sub_s)) for hours in wanted]
    planes = [_plane(shown, stack, colour, shape, pixels, points, counts) for colour in range(colours)]
    signal = max(plane.signal for plane in planes)
    goal = planes[0].grain[-2] if len(counts) > 1 else planes[0].grain[-1]
    low, high = -2.5 * goal, max(1.5 * signal, 5 * goal)
    tiles = []
    for at, (hours, words) in enumerate(wanted.items()):
        snr = float(stack.snr(np.array(hours)))
        tiles.append(
            Tile(
                brightness=stretch(np.stack([plane.pictures[at] for plane in planes], axis=-1), low, high),
                words=f"{words}: SNR {say_number(snr)}",
                snr=snr,
                hours=hours,
            )
        )
    light = stack.row.light
    sentence = (
        f"{stack.row.filter_shown}: {light} as bright as in the plan, in an invented shape among invented stars. "
        "The square marks the patch; all pictures have one stretch."
    )
    return Seen(sentence=sentence, tiles=tuple(tiles), patch=patch, outline=outline)


def _square(place: tuple[float, float], points: int) -> tuple[Floats, Floats]:
    """Points of the patch, and those just around it."""
    left, top = (round((0.5 + at) * SIDE - points / 2) for at in place)
    patch = np.zeros((SIDE, SIDE), dtype=bool)
    patch[top : top + points, left : left + points] = True
    outline = np.zeros_like(patch)
    outline[top - 1 : top + points + 1, left - 1 : left + points + 1] = True
    return patch, outline & ~patch


@dataclass(frozen=True, eq=False)
class _Plane:
    """One colour: pictures with the sky taken off, their grain, and the light of the patch. [electron s-1]"""

    pictures: Floats
    grain: tuple[float, ...]
    signal: float


def _plane(
    shown: Picture, stack: Stack, colour: int, shape: str, pixels: int, points: int, counts: list[int]
) -> _Plane:
    rate, row = stack.rate, stack.row
    patch, setting = stack.patch, shown.plan.case.camera.setting
    assert patch is not None
    assert row.light is not None
    many = pixels**2 * float(np.broadcast_to(rate.pixel_share, (len(rate.colours),))[colour])  # pixels of the colour
    dark_e_s = float(np.max(rate.dark_e_s)) * many
    others = sum((one[colour] for name, one in rate.extended.items() if name != row.light), 0.0)
    ground = (float(rate.sky_e_s[colour]) + float(others)) * many
    light, scene = 0.0, even_scene(ground, (SIDE, SIDE))
    rng = np.random.default_rng([_SEED, colour])
    if row.light in rate.extended:
        light = float(rate.extended[row.light][colour]) * many
        y, x = (np.mgrid[:SIDE, :SIDE] + 0.5) / SIDE - 0.5
        scene = dataclasses.replace(scene, light_e_s=scene.light_e_s + light * SHAPES[shape][0](x, y, points / SIDE))
    scene = _with_stars(scene, stack, colour, pixels, many)
    binned = GainSetting(
        read_noise=f"{math.sqrt(setting.read_variance_e2 * many)} electron",
        electrons_per_adu=0.05, bias_level=0, full_well="1e8 electron", bits=32,
    )  # fmt: skip
    stacks = stacks_of(scene, even_detector(binned, dark_e_s, scene.shape), row.sub_s, sorted(set(counts)), rng)
    by_count = dict(zip(sorted(set(counts)), stacks, strict=True))
    here = ground + light + dark_e_s
    pictures, grains = [], []
    for count in counts:
        grain = math.sqrt((here * row.sub_s + setting.read_variance_e2 * many) / count) / row.sub_s
        more = grain * math.sqrt(max(_noise_over_photons(stack, count) ** 2 - 1, 0.0))
        picture = by_count[count] / row.sub_s - ground
        pictures.append(picture + more * rng.standard_normal(scene.shape))
        grains.append(math.hypot(grain, more))
    return _Plane(np.array(pictures), tuple(grains), light)


def _noise_over_photons(stack: Stack, count: int) -> float:
    """Noise of the patch by the model, over that of photons, dark current and read noise in a plain mean."""
    patch = stack.patch
    assert patch is not None
    signal, share = np.asarray(patch.signal_e_s), np.asarray(patch.pixel_share)
    behind = signal + np.asarray(patch.light_e_s) + np.asarray(patch.dark_e_s)
    variance = (behind * stack.row.sub_s + np.asarray(patch.read_variance_e2)) / stack.row.sub_s**2 / count
    plain = math.sqrt(float(np.sum(signal**2 * share * np.square(patch.side_px) / variance)))
    model = float(stack.snr(np.array(count * stack.row.sub_s / 3600 * (1 + 1e-9))))
    return plain / model if model > 0 else 1.0


def _with_stars(scene: Scene, stack: Stack, colour: int, pixels: int, many: float) -> Scene:
    """Invented stars, the same in all colours; a light that is a star stands in the patch."""
    rate, row = stack.rate, stack.row
    rng = np.random.default_rng(_SEED)
    places = rng.integers(2, SIDE - 2, (_STARS, 2)).astype(float)
    mags = np.maximum(_FAINTEST + np.log2(rng.random(_STARS)), _BRIGHTEST)
    share = many / pixels**2  # of a star's light that falls on pixels of the colour
    zero_e_s = float(rate.ab_zero_e_s[colour]) / rate.scale_arcsec**2 * share
    light_e_s = zero_e_s * 10 ** (-0.4 * mags)
    if row.light in rate.stars:
        middle = [[SIDE * (0.5 + at) - 0.5 for at in reversed(SHAPES["Filament"][1])]]
        places = np.concatenate([places, middle])
        light_e_s = np.append(light_e_s, float(rate.stars[row.light][colour]) * share)
    return scene.with_stars(places, light_e_s, max(float(np.max(rate.fwhm_px)) / pixels, 0.7))


def seen_table(shown: Seen) -> Table:
    """Table behind the pictures."""
    return Table(
        caption="Pictures, each with the SNR of its patch",
        head=("Picture", "Hours of good subs", "SNR of the patch"),
        rows=tuple(
            (tile.words.rpartition(":")[0], say_duration(tile.hours * 3600), say_number(tile.snr))
            for tile in shown.tiles
        ),
    )
