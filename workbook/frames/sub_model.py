"""What the view of a test sub shows: the frame stretched for the screen, its mesh, and the words."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from expocalc.base.words import say_duration, say_number
from expocalc.frames.measure.picture import shared_limits
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import read_frame
from expocalc.frames.read.header import FrameError
from expocalc.frames.tell.known_star import KnownStar
from expocalc.frames.tell.plan_side import as_camera, behind_of
from expocalc.frames.tell.sky import SkyTold, tell_sky
from expocalc.plan import Plan
from workbook.parts.reading import say_reading
from workbook.parts.table import Table

__all__ = ["Asked", "Cells", "SubPicture", "look_at_sub", "numbers", "optional_number", "read_star"]

_WIDEST_PX = 640
_HEADER = {
    "filter_name": "filter", "temperature_deg_c": "temperature, °C", "set_temperature_deg_c": "set temperature, °C",
    "date": "begin, UTC", "gain_setting": "gain setting", "read_noise_e": "read noise, electron", "mosaic": "mosaic",
    "pixel_um": "pixel, µm", "focal_length_mm": "focal length, mm", "combined": "frames in it", "kind": "kind of frame",
}  # fmt: skip
"""What else a header says, in words."""
_STAR = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[,;]\s*(\d+(?:\.\d+)?)\s*[,;]\s*(-?\d+(?:\.\d+)?)\s*")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a person typed; empty where nothing was."""

    frame: str
    second: str = ""
    filter_name: str = ""
    below: str = ""
    electrons_per_adu: str = ""
    star: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """Cells of the mesh on the frame's pixels: edges and level; those that were left out for nebula or stars."""

    left: list[float]
    right: list[float]
    top: list[float]
    bottom: list[float]
    level: list[str]
    left_out: list[bool]


@dataclass(frozen=True, eq=False, kw_only=True)
class SubPicture:
    """A test sub, drawn and said.

    Attributes
    ----------
    told : SkyTold
    image : ndarray
        Mean of blocks of pixels, top row first, shape (rows, columns). [ADU]
    shape : (int, int)
        Of the frame. [pixel]
    side : int
        Of those blocks. [pixel]
    low, high : float
        Black and white on the screen. [ADU]
    cells : Cells
    reading : str
        Of the zenith that means this sky; empty where there is none.
    headline : str
    others : tuple of str
    """

    told: SkyTold
    image: npt.NDArray[np.float32]
    shape: tuple[int, int]
    side: int
    low: float
    high: float
    cells: Cells
    reading: str
    headline: str
    others: tuple[str, ...]

    @property
    def stretch_words(self) -> str:
        """How the picture was stretched."""
        return f"Stretched for the screen:\nblack at {self.low:.0f} ADU, white at {self.high:.0f}"


def optional_number(name: str, text: str) -> float | None:
    """A typed number above 0, None for nothing; ValueError with one sentence else."""
    if not text.strip():
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not 0 < value < 1e9:
        msg = f'{name} must be a number above 0, got {text[:40]!r}; write it like "0.25"'
        raise ValueError(msg)
    return value


def read_star(text: str) -> KnownStar | None:
    """Row, column and V magnitude of a typed star, None for nothing; ValueError with one sentence else."""
    if not text.strip():
        return None
    found = _STAR.fullmatch(text)
    if not found:
        msg = f'A known star must be row, column and V magnitude, got {text[:40]!r}; write it like "300, 500, 9.8"'
        raise ValueError(msg)
    return KnownStar(row=float(found[1]), column=float(found[2]), mag_v=float(found[3]))


def _side(columns: int) -> int:
    """Side of the blocks that fit a frame to the screen: even, so that a mosaic's colours mix evenly. [pixel]"""
    return max(2, 2 * math.ceil(columns / _WIDEST_PX / 2)) if columns > _WIDEST_PX else 1


def _reduced(pixels: npt.NDArray[np.generic], side: int) -> npt.NDArray[np.float32]:
    """Mean of square blocks."""
    rows, columns = (length // side for length in pixels.shape)
    blocks = pixels[: rows * side, : columns * side].reshape(rows, side, columns, side)
    return np.asarray(blocks.mean(axis=(1, 3), dtype=np.float32))


def _cells(told: SkyTold) -> Cells:
    sky = told.found.backgrounds[told.found.main]
    rows, columns = told.found.frame.shape
    down, across = sky.mesh_adu.shape
    where = [(r, c) for r in range(down) for c in range(across)]
    return Cells(
        left=[c * columns / across for _, c in where],
        right=[(c + 1) * columns / across for _, c in where],
        top=[r * rows / down for r, _ in where],
        bottom=[(r + 1) * rows / down for r, _ in where],
        level=[f"{sky.mesh_adu[at]:.1f} ADU" if math.isfinite(sky.mesh_adu[at]) else "no sky" for at in where],
        left_out=[not sky.clear[at] for at in where],
    )


def _path(folder: Path, name: str) -> Path:
    if not name.strip():
        msg = 'name a frame, a FITS file; write it like "frames/my-night/sub_0001.fits"'
        raise FrameError(msg)
    return folder / name.strip()


def look_at_sub(plan: Plan, folder: Path, asked: Asked, report: Callable[[float], None]) -> SubPicture:
    """Measure what a person named, and say what it means.

    Raises
    ------
    FrameError, ValueError
        With one sentence.
    """
    case = plan.case
    given = {"electrons_per_adu": optional_number("Electrons per ADU", asked.electrons_per_adu)}
    star = read_star(asked.star)
    report(0.05)
    names = [asked.frame, *([asked.second] if asked.second.strip() else ())]
    frames = [as_camera(read_frame(_path(folder, name), given), case) for name in names]
    report(0.3)
    below = asked.below.strip()
    known = {}
    if below.replace(".", "").replace(",", "").isdecimal():
        known["bias_adu"] = float(below.replace(",", "."))
    elif below:
        other = read_frame(_path(folder, below))
        known["bias" if other.known.kind == "bias" else "dark"] = other
    report(0.4)
    told = tell_sky(measure_sub(frames, behind_of(case, **known)), case, asked.filter_name or None, star)
    report(0.8)
    pixels = frames[0].pixels
    side = _side(pixels.shape[1])
    image = _reduced(pixels, side)
    low, high = shared_limits([image[np.isfinite(image)]])
    first, *rest = told.sentences
    warnings = told.warnings
    return SubPicture(
        told=told, image=image, shape=frames[0].shape, side=side, low=low, high=high, cells=_cells(told),
        reading="" if told.zenith_reading is None else say_reading(plan, told.zenith_reading),
        headline=first,
        others=(" ".join(rest), *(f"Note: {warning}." for warning in warnings)),
    )  # fmt: skip


def numbers(shown: SubPicture) -> Table:
    """Numbers behind the picture, colour by colour."""
    told, found = shown.told, shown.told.found

    def say(value: float | None, unit: str = "") -> str:
        return "unknown" if value is None or not math.isfinite(value) else f"{say_number(value, 3)}{unit}"

    rows = []
    for colour, one in found.colours.items():
        rows += [
            (f"sky, {colour}", say(one.sky_e_s, " electron/s"), f"± {say((one.high_e_s - one.low_e_s) / 2)}"),
            (f"sky over the plan's, {colour}", say(told.ratio.get(colour)), ""),
            (f"sky, {colour}, AB", say(told.mag_ab.get(colour), " mag/arcsec²"), ""),
            (f"noise of a pixel, {colour}", say(one.noise_e, " electron"), f"{one.noise_predicted_e:.3g} by its level"),
        ]
    if told.star is not None:
        clear = f"{say_number(told.star.low)} to {say_number(told.star.high)} on a clear night"
        rows.append(("light of the known star over what it should be", say(told.star.share), clear))
    if math.isfinite(found.second_light):
        rows.append(("light of the stars in the second frame over the first's", say(found.second_light), ""))
    known = found.frame.known
    rows += [
        ("reading at the zenith that means this sky", shown.reading or "unknown", "the plan's lamps"),
        ("held against the model for", told.seen.words if told.seen else "no plan", ""),
        ("stars", str(found.stars.count), ""),
        ("width of a star", say(found.stars.usual_fwhm_px, " pixel"), ""),
        ("electrons per ADU", say(found.gain.electrons_per_adu), f"from {found.gain.origin}"),
        ("length", say_duration(found.exposure_s), f"from {known.origin.get('exposure_s', 'you')}"),
        ("taken off below the light", found.method, ""),
    ]
    for name, word in _HEADER.items():
        value = getattr(known, name)
        if value is not None:
            said = f"{value:g}" if isinstance(value, float) else str(value)
            rows.append((word, said, f"from {known.origin.get(name, 'the header')}"))
    return Table(caption=f"{found.frame.name}", head=("What", "Value", "Remark"), rows=tuple(rows))
