"""A night of one filter of a plan: what each sub meets of cloud, Moon, dither, guiding and passing satellites.

The stars, the nebula and the course of the night are invented, the same for the same seed: a demo, and a thing to test
with. Their electrons are the plan's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from expocalc.base.curve import Floats
from expocalc.budget.answer import filter_named
from expocalc.budget.case import Case
from expocalc.budget.rates import Rates, rates
from expocalc.frames.simulate.detector import Detector, Unevenness, uneven_detector
from expocalc.frames.simulate.scene import Scene, even_scene, star_shares
from expocalc.frames.simulate.shoot import sub

__all__ = ["Conditions", "Field", "Weather", "field_of_plan", "night", "shoot_sub"]

_STARS_PER_MPX = 250.0
_MOST_STARS = 4000
_BRIGHTEST_MAG, _FAINTEST_MAG = 8.5, 17.5
_SLOPE = 0.35
"""Stars grow by ten to this power per magnitude: of the order that star counts show, from memory."""
_PLACES = 7
"""Points along a trail at which its star is put."""
_REACH_FWHM = 4.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Field:
    """What the telescope points at, on the detector's pixels.

    Attributes
    ----------
    rate : Rates
    scene : Scene
        Sky and nebula, no star. [electron s-1]
    nebula_e_s : ndarray
        Of it the nebula, shape (rows, columns). [electron s-1]
    places : ndarray
        Row and column of the stars, shape (stars, 2). [pixel]
    star_e_s : ndarray
        Shape (stars, colours). [electron s-1]
    """

    rate: Rates
    scene: Scene
    nebula_e_s: Floats
    places: Floats
    star_e_s: Floats


@dataclass(frozen=True, kw_only=True)
class Weather:
    """What the night is like; every default is a perfect one.

    Attributes
    ----------
    cloud : float
        Most that cloud takes from the light: 0.3 is three tenths. [-]
    cloud_from, cloud_to : float
        Part of the night in which it passes. [-]
    moon : float
        How many times as bright as at first the sky is at the end: a rising Moon. [-]
    trailed : float
        Share of subs in which the guiding slips. [-]
    trail_px : float
        By how much. [pixel]
    satellites : float
        Share of subs with a line across. [-]
    haze_lights : float
        How much of what cloud takes comes back as brighter sky over a town, as a share of the sky. [-]
    """

    cloud: float = 0.0
    cloud_from: float = 0.5
    cloud_to: float = 0.8
    moon: float = 1.0
    trailed: float = 0.0
    trail_px: float = 8.0
    satellites: float = 0.0
    haze_lights: float = 0.5


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """What one sub meets.

    Attributes
    ----------
    transparency, sky : float
        Share of the stars' light that arrives; sky over that of a good moment.
    offset : (int, int)
        Dither, rows and columns. [pixel]
    trail_px : float
        Slip of the guiding along a row. [pixel]
    satellite : bool
    """

    transparency: float = 1.0
    sky: float = 1.0
    offset: tuple[int, int] = (0, 0)
    trail_px: float = 0.0
    satellite: bool = False

    @property
    def spoilt(self) -> bool:
        """Whether a person would throw it away."""
        return self.trail_px > 0 or self.transparency < 0.6


def field_of_plan(case: Case, filter_name: str, shape: tuple[int, int], seed: int) -> Field:
    """A field of stars and a nebula, as bright at its middle as the plan's first extended light.

    Parameters
    ----------
    case : Case
    filter_name : str
    shape : (int, int)
        Rows and columns; even on a mosaic. [pixel]
    seed : int
    """
    rate = rates(case, filter_named(case, filter_name))
    rng = np.random.default_rng(seed)
    scene = even_scene(rate.sky_e_s, shape)
    row, column = np.arange(shape[0])[:, None], np.arange(shape[1])
    middle = (shape[0] * 0.45, shape[1] * 0.55)
    size = 0.12 * min(shape)
    blob = np.exp(-((row - middle[0]) ** 2 + (column - middle[1]) ** 2) / (2 * size**2))
    light = next(iter(rate.extended.values()), np.zeros(len(rate.colours)))
    nebula = blob * light[scene.colour]
    count = min(int(_STARS_PER_MPX * shape[0] * shape[1] / 1e6) + 12, _MOST_STARS)
    spread = rng.random(count) * (10 ** (_SLOPE * (_FAINTEST_MAG - _BRIGHTEST_MAG)) - 1) + 1
    mag = _BRIGHTEST_MAG + np.log10(spread) / _SLOPE
    per_mag0 = rate.ab_zero_e_s / rate.scale_arcsec**2
    return Field(
        rate=rate,
        scene=replace(scene, light_e_s=scene.light_e_s + nebula),
        nebula_e_s=nebula,
        places=rng.random((count, 2)) * (np.array(shape) - 1),
        star_e_s=10 ** (-0.4 * mag[:, None]) * per_mag0,
    )


def night(case: Case, weather: Weather, subs: int, seed: int) -> Iterator[Conditions]:
    """Conditions of each sub in turn."""
    rng = np.random.default_rng([seed, 1])
    routine = case.routine
    step = 2 if case.camera.mosaic != "none" else 1
    box = round(float(routine.dither_size.value)) if routine.dither_every and routine.dither_size is not None else 0
    every = int(routine.dither_every or 0) if math.isfinite(float(routine.dither_every or 0)) else 0
    offset = (0, 0)
    for at in range(subs):
        part = at / max(subs - 1, 1)
        inside = weather.cloud_from < part < weather.cloud_to
        depth = (
            math.sin(math.pi * (part - weather.cloud_from) / (weather.cloud_to - weather.cloud_from)) if inside else 0.0
        )
        clear = 1 - weather.cloud * depth
        if every and box and at % every == 0:
            place = rng.integers(0, box // step + 1, size=2) * step
            offset = (int(place[0]), int(place[1]))
        yield Conditions(
            transparency=clear,
            sky=(1 + (weather.moon - 1) * part) * (1 + weather.haze_lights * (1 - clear)),
            offset=offset,
            trail_px=weather.trail_px if rng.random() < weather.trailed else 0.0,
            satellite=bool(rng.random() < weather.satellites),
        )


def detector_of_plan(
    case: Case, rate: Rates, shape: tuple[int, int], seed: int, temperature_k: float = 0.0
) -> Detector:
    """The camera of a plan with a pattern of its own, `temperature_k` warmer than the plan says."""
    camera = case.camera
    glow = float(camera.glow.value)
    dark = camera.dark_current.rate_at(float(camera.temperature.value) + temperature_k) + glow
    scale = dark / rate.dark_e_s if rate.dark_e_s else 1.0
    size = Unevenness(
        hot_share=5e-4, hot_e_s=0.5 * scale, leftover_e=float(camera.pattern.fixed.value),
        leftover_flat=float(camera.pattern.flat),
    )  # fmt: skip
    return uneven_detector(camera.setting, dark, shape, seed, size)


def _with_stars(field: Field, conditions: Conditions) -> Floats:
    """Light on each pixel. [electron s-1]"""
    scene = field.scene
    light = (scene.light_e_s - field.nebula_e_s) * conditions.sky + field.nebula_e_s * conditions.transparency
    fwhm = field.rate.fwhm_px
    half = math.ceil(_REACH_FWHM * fwhm / 2 + conditions.trail_px / 2) + 1
    slips = np.linspace(-0.5, 0.5, _PLACES) * conditions.trail_px if conditions.trail_px else np.zeros(1)
    rows, columns = scene.shape
    for (row, column), each in zip(field.places, field.star_e_s, strict=True):
        top, left = max(int(row) - half, 0), max(int(column) - half, 0)
        down, across = min(int(row) + half + 1, rows) - top, min(int(column) + half + 1, columns) - left
        tall = star_shares([row - top], down, fwhm)[0]
        wide = star_shares(column - left + slips, across, fwhm).mean(axis=0)
        colour = scene.colour[top : top + down, left : left + across]
        light[top : top + down, left : left + across] += conditions.transparency * each[colour] * np.outer(tall, wide)
    return light


def shoot_sub(
    field: Field, detector: Detector, conditions: Conditions, sub_s: float, rng: np.random.Generator
) -> Floats:
    """One sub under its conditions. [ADU]"""
    light = _with_stars(field, conditions)
    if conditions.satellite:
        rows, columns = light.shape
        at, lean = rng.random() * rows, rng.uniform(-0.4, 0.4)
        line = np.rint(at + lean * np.arange(columns)).astype(int)
        inside = (line >= 0) & (line < rows - 1)
        for by in (0, 1):
            light[line[inside] + by, np.flatnonzero(inside)] += 400.0 / sub_s
    return sub(replace(field.scene, light_e_s=light), detector, sub_s, rng, conditions.offset)
