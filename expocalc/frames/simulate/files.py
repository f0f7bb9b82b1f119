"""Simulated frames of a plan as FITS files, with the headers that a camera writes; one seed writes the same numbers."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from astropy.io import fits

from expocalc.base.curve import Floats
from expocalc.base.wholefile import write_new
from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.detector import Detector
from expocalc.frames.simulate.hours import fields_over
from expocalc.frames.simulate.night import Field, Weather, detector_of_plan, field_of_plan, night, shoot_sub
from expocalc.frames.simulate.shoot import bias, dark, flat
from expocalc.frames.simulate.stack import stack_of
from expocalc.frames.simulate.when import moment_like

__all__ = ["FLAT_LEVELS", "Order", "write_fits", "write_frames"]

FLAT_LEVELS = (0.3, 0.6, 1.3, 0.05, 0.45, 0.15, 0.75)
"""Light of the flats as shares of what fills well or converter, the most telling first; above 1 a pair is full."""
_FLAT_S = 20.0
USUAL_SHAPE = (800, 1200)


@dataclass(frozen=True, kw_only=True)
class Order:
    """What to write.

    Attributes
    ----------
    subs, biases, flats, darks : int
        Subs, biases, pairs of flats (each at its own level) and darks at each temperature.
    stack_of : int
        A stack of as many subs, drawn at once; none for 0.
    filter_name : str or None
        The plan's first where none is given.
    sub_s : float or None
        The plan's where none is given. [s]
    shape : (int, int)
        Rows and columns, no more than the camera has. [pixel]
    warmer_k : tuple of float
        Temperatures of the darks above the plan's. [K]
    weather : Weather
    by_night : bool
        Whether sky and light change with the hour as the plan's night has them, beside the weather; else they stay
        the plan's.
    first : datetime or None
        Begin of the first sub, UTC; a moment at which the sky is the plan's where none is given.
    """

    subs: int = 0
    biases: int = 0
    flats: int = 0
    darks: int = 0
    stack_of: int = 0
    filter_name: str | None = None
    sub_s: float | None = None
    shape: tuple[int, int] = USUAL_SHAPE
    warmer_k: tuple[float, ...] = (0.0,)
    weather: Weather = field(default_factory=Weather)
    by_night: bool = False
    first: datetime | None = None

    def __post_init__(self) -> None:
        for name in ("subs", "biases", "flats", "darks", "stack_of"):
            if not 0 <= getattr(self, name) <= 100_000:
                msg = f"{name} must be from 0 to 100000, got {getattr(self, name)}"
                raise FrameError(msg)
        if self.flats > len(FLAT_LEVELS):
            msg = f"flats must be at most {len(FLAT_LEVELS)} pairs, one a level, got {self.flats}"
            raise FrameError(msg)


def write_fits(path: Path, adu: Floats, cards: dict[str, Any]) -> None:
    """One frame as a FITS file: whole or not at all, never over a file that is there.

    Parameters
    ----------
    path : pathlib.Path
    adu : ndarray
        Whole numbers are stored in 16 bits, others as 32-bit floats.
    cards : dict
        Keyword to value, or to a pair of value and comment.
    """
    whole = bool((adu == np.rint(adu)).all()) and 0 <= adu.min() and adu.max() <= 65535
    hdu = fits.PrimaryHDU(adu.astype(np.uint16 if whole else np.float32))
    for keyword, value in cards.items():
        if value is not None:
            hdu.header[keyword] = value
    data = io.BytesIO()
    hdu.writeto(data, checksum=True)
    try:
        write_new(path, data.getvalue())
    except FileExistsError:
        msg = f"{path.name} is there already; nothing was written over it"
        raise FrameError(msg) from None
    except OSError as error:
        msg = f"{path.name} can't be written: {error.strerror or error}"
        raise FrameError(msg) from None


class _Writer:
    def __init__(self, case: Case, folder: Path, order: Order, seed: int) -> None:
        self.case, self.folder, self.order, self.seed = case, folder, order, seed
        name = order.filter_name or case.filters[0].name
        self.filter_name = filter_named(case, name).name
        camera = case.camera
        step = 2 if camera.mosaic != "none" else 1
        rows, columns = (
            min(a, b) // step * step for a, b in zip(order.shape, (camera.rows, camera.columns), strict=True)
        )
        if min(rows, columns) < 32:
            msg = f"frames must be at least 32 pixels a side, got {columns} x {rows}"
            raise FrameError(msg)
        self.field: Field = field_of_plan(case, self.filter_name, (rows, columns), seed)
        self.detector: Detector = self._detector(0.0)
        self.sub_s = order.sub_s or float(answer_filter(case, filter_named(case, name))[0].sub_s)
        self.first = order.first or moment_like(case)
        self.written: list[Path] = []

    def _detector(self, warmer_k: float) -> Detector:
        return detector_of_plan(self.case, self.field.rate, self.field.scene.shape, self.seed, warmer_k)

    def rng(self, *kind: int) -> np.random.Generator:
        return np.random.default_rng([self.seed, *kind])

    def cards(self, kind: str, seconds: float, when: datetime, warmer_k: float = 0.0) -> dict[str, Any]:
        camera, telescope, setting = self.case.camera, self.case.telescope, self.case.camera.setting
        temperature = float(camera.temperature.value) + warmer_k
        light = kind in ("LIGHT", "FLAT")
        return {
            "IMAGETYP": kind,
            "EXPTIME": (seconds, "[s] length of the exposure"),
            "DATE-OBS": (when.isoformat(timespec="milliseconds"), "UTC, begin of the exposure"),
            "FILTER": self.filter_name if light else None,
            "EGAIN": (setting.electrons_per_adu, "[electron/ADU] per stored ADU"),
            "CCD-TEMP": (temperature, "[deg_C]"),
            "SET-TEMP": (temperature, "[deg_C]"),
            "XPIXSZ": (float(camera.pixel.value), "[um]"),
            "YPIXSZ": (float(camera.pixel.value), "[um]"),
            "FOCALLEN": (float(telescope.focal_length.value), "[mm]"),
            "BAYERPAT": camera.mosaic if camera.mosaic != "none" else None,
            "OBJECT": "simulated" if kind == "LIGHT" else None,
            "INSTRUME": "simulated by expocalc",
            "SEED": (self.seed, "of the simulation"),
        }

    def write(self, name: str, adu: Floats, cards: dict[str, Any]) -> None:
        path = self.folder / name
        write_fits(path, adu, cards)
        self.written.append(path)


def write_frames(
    case: Case, folder: str | Path, order: Order, seed: int, progress: Callable[[str], None] | None = None
) -> list[Path]:
    """Write simulated frames of a plan.

    Parameters
    ----------
    case : Case
        The plan's.
    folder : str or pathlib.Path
        Made where it is not there; files in it are never overwritten.
    order : Order
    seed : int
    progress : callable, optional
        Called with each file's name before it is drawn; it may raise to stop.

    Returns
    -------
    list of pathlib.Path
        What was written.

    Raises
    ------
    FrameError
        If the order is not sane or a file can't be written.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"{folder} can't be made: {error.strerror}"
        raise FrameError(msg) from None
    work = _Writer(case, folder, order, seed)
    tell = progress or (lambda _: None)
    _write_subs(work, tell)
    for at in range(order.biases):
        tell(f"bias_{at + 1:03d}.fits")
        work.write(f"bias_{at + 1:03d}.fits", bias(work.detector, work.rng(2, at)), work.cards("BIAS", 0.0, work.first))
    _write_flats(work, tell)
    for warmer_k in order.warmer_k if order.darks else ():
        detector = work.detector if not warmer_k else work._detector(warmer_k)
        for at in range(order.darks):
            temperature = float(case.camera.temperature.value) + warmer_k
            name = f"dark_{work.sub_s:g}s_{temperature:+g}C_{at + 1:03d}.fits"
            tell(name)
            frame = dark(detector, work.sub_s, work.rng(4, at, round(10 * (warmer_k + 100))))
            work.write(name, frame, work.cards("DARK", work.sub_s, work.first, warmer_k))
    if order.stack_of:
        name = f"stack_{order.stack_of}.fits"
        tell(name)
        picture = stack_of(work.field.scene, work.detector, work.sub_s, order.stack_of, work.rng(5))
        cards = work.cards("LIGHT", work.sub_s, work.first)
        cards |= {"NCOMBINE": order.stack_of, "EGAIN": (1.0, "[electron/ADU]"), "BUNIT": "electron"}
        work.write(name, picture, cards)
    return work.written


def _write_subs(work: _Writer, tell: Callable[[str], None]) -> None:
    order = work.order
    period = work.sub_s + float(work.case.routine.dead_time.value)
    begins = [work.first + timedelta(seconds=at * period) for at in range(order.subs)]
    fields = (
        fields_over(work.case, work.filter_name, work.field, begins) if order.by_night else [work.field] * order.subs
    )
    for at, conditions in enumerate(night(work.case, order.weather, order.subs, work.seed)):
        name = f"sub_{at + 1:04d}.fits"
        tell(name)
        frame = shoot_sub(fields[at], work.detector, conditions, work.sub_s, work.rng(1, at))
        work.write(name, frame, work.cards("LIGHT", work.sub_s, begins[at]))


def _write_flats(work: _Writer, tell: Callable[[str], None]) -> None:
    for level, share in enumerate(sorted(FLAT_LEVELS[: work.order.flats])):
        for twin in (1, 2):
            name = f"flat_{level + 1}_{twin}.fits"
            tell(name)
            electrons = share * work.case.camera.setting.saturation_e
            frame = flat(work.detector, electrons, work.rng(3, level, twin))
            seconds = round(_FLAT_S * share, 3)
            work.write(name, frame, work.cards("FLAT", seconds, work.first))
