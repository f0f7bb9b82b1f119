"""FITS files of people: one picture, its header's values, and what is odd about either.

The file is mapped, so that a frame costs its own pixels and no more; compressed and tiled files are unpacked by
astropy.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from astropy.io import fits
from astropy.io.fits.verify import VerifyError

from expocalc.base.curve import Floats
from expocalc.frames.read.header import FrameError, Known, read_header

__all__ = ["COLOURS", "SUFFIXES", "Frame", "Pixels", "native_step", "read_frame", "read_known", "with_mosaic"]

Pixels = npt.NDArray[Any]
SUFFIXES = (".fits", ".fit", ".fts", ".fits.gz", ".fit.gz", ".fts.gz", ".fits.fz", ".fit.fz")
COLOURS = ("R", "G", "B")
MOST_STEP = 16
_OTHER = (".tif", ".tiff", ".xisf", ".cr2", ".cr3", ".nef", ".arw", ".dng", ".png", ".jpg", ".jpeg", ".ser", ".raw")
_MOST_PIXELS = 400_000_000
_EIGHT_BIT = 255


@dataclass(frozen=True, eq=False, kw_only=True)
class Frame:
    """One frame.

    Attributes
    ----------
    path : pathlib.Path
    pixels : ndarray
        Stored numbers without the overscan, in the machine's own byte order, shape (rows, columns). [ADU]
    known : Known
        What header and person say.
    step_adu : float
        Distance of neighbouring stored numbers: 1, or 4 and 16 where 14 and 12 bits are stored in 16; 0 where
        the numbers are not whole. [ADU]
    overscan_adu, overscan_noise_adu : float or None
        Mean of the overscan and its noise, where there is one. [ADU]
    notes : tuple of str
        What is odd, one sentence each.
    """

    path: Path
    pixels: Pixels
    known: Known
    step_adu: float
    overscan_adu: float | None = None
    overscan_noise_adu: float | None = None
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The file's name without its folder."""
        return self.path.name

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns. [pixel]"""
        rows, columns = self.pixels.shape
        return rows, columns

    @property
    def planes(self) -> Mapping[str, tuple[Pixels, ...]]:
        """Pixels of each colour: one view for "mono", R and B, two for G."""
        if self.known.mosaic is None:
            return {"mono": (self.pixels,)}
        found: dict[str, tuple[Pixels, ...]] = {colour: () for colour in COLOURS}
        for place, colour in enumerate(self.known.mosaic):
            found[colour] += (self.pixels[place // 2 :: 2, place % 2 :: 2],)
        return found

    def exposure_s(self) -> float:
        """Length of the exposure. [s]

        Raises
        ------
        FrameError
            If neither header nor person says it.
        """
        if not self.known.exposure_s:
            msg = f"{self.name} does not say how long it was exposed (no EXPTIME above 0); give it in seconds"
            raise FrameError(msg)
        return self.known.exposure_s


def native_step(pixels: Pixels) -> float:
    """Distance of neighbouring stored numbers, up to 16; 0 where they are not whole. [ADU]

    Examples
    --------
    >>> native_step(np.array([[16, 64], [160, 48]], dtype=np.uint16)), native_step(np.array([[0.5, 2.0]]))
    (16.0, 0.0)
    """
    if pixels.dtype.kind == "f":
        sample = pixels[np.isfinite(pixels)]
        if (sample != np.rint(sample)).any():
            return 0.0
        pixels = sample.astype(np.int64)
    bits = int(np.bitwise_or.reduce(pixels, axis=None)) if pixels.size else 0
    return float(min(bits & -bits, MOST_STEP)) if bits else 1.0


def read_frame(path: str | Path, given: Mapping[str, Any] | None = None) -> Frame:
    """Read the first picture of a FITS file.

    Parameters
    ----------
    path : str or pathlib.Path
    given : mapping, optional
        Fields of :class:`expocalc.frames.read.header.Known` that a person gave: they stand above the header's.

    Returns
    -------
    Frame

    Raises
    ------
    FrameError
        With one sentence that names the file, if it can't be read, is no FITS, is cut off, or holds no picture of
        rows and columns.
    """
    path = Path(path)
    if path.suffix.lower() in _OTHER:
        msg = f"{path.name} is no FITS file; only FITS is read here, most camera programs can save it"
        raise FrameError(msg)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.filterwarnings("error", message=".*truncated.*")
            # opened here, since astropy leaves a file open that it can't read
            with open(path, "rb") as file, fits.open(file, memmap=True, do_not_scale_image_data=True) as hdus:
                pixels, header, pictures = _first_picture(hdus, path)
    except (OSError, VerifyError, ValueError, TypeError, IndexError, KeyError, EOFError, UserWarning, MemoryError) as e:
        if isinstance(e, FrameError):
            raise
        raise FrameError(_why(path, e)) from None
    return _frame(path, pixels, header, pictures, given)


def with_mosaic(frame: Frame, mosaic: str | None) -> Frame:
    """The frame as one of a camera with that mosaic, where its own header names none."""
    if mosaic is None or frame.known.mosaic is not None:
        return frame
    known = replace(frame.known, mosaic=mosaic, origin={**frame.known.origin, "mosaic": "plan"})
    return replace(frame, known=known)


def read_known(path: str | Path) -> Known:
    """What the header of a file says, its pixels unread.

    Raises
    ------
    FrameError
        As :func:`read_frame`.
    """
    path = Path(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with open(path, "rb") as file, fits.open(file, memmap=True, do_not_scale_image_data=True) as hdus:
                hdu = next((one for one in hdus if one.is_image and len(one.shape) >= 2), hdus[0])
                header = hdus[0].header.copy()
                header.update(hdu.header)
                shape = hdu.shape if len(hdu.shape) == 2 else (0, 0)
    except (OSError, VerifyError, ValueError, TypeError, IndexError, KeyError, EOFError) as error:
        raise FrameError(_why(path, error)) from None
    return read_header(header, (shape[0], shape[1]))


def _why(path: Path, error: BaseException) -> str:
    said = str(getattr(error, "strerror", None) or error).splitlines() or [type(error).__name__]
    if isinstance(error, FileNotFoundError):
        return f"{path.name} is not there (any more)"
    if isinstance(error, PermissionError | IsADirectoryError):
        return f"{path.name} can't be read: {said[0]}"
    if isinstance(error, EOFError | UserWarning) or any(
        word in said[0] for word in ("truncated", "too small", "end of")
    ):
        return f"{path.name} is cut off: the file ends before its picture does; copy it again"
    if "SIMPLE" in said[0]:
        return f"{path.name} is no FITS file, whatever its name says"
    if "Empty or corrupt" in said[0]:
        return f"{path.name} is no FITS file that can be read: it is empty, cut off or damaged"
    return f"{path.name} is no FITS file that can be read: {said[0][:120]}"


def _first_picture(hdus: Any, path: Path) -> tuple[Pixels, Any, int]:
    pictures = [hdu for hdu in hdus if hdu.is_image and len(hdu.shape) >= 2 and min(hdu.shape) > 0]
    if not pictures:
        msg = f"{path.name} holds no picture"
        raise FrameError(msg)
    hdu = pictures[0]
    shape = hdu.shape
    if len(shape) > 2:
        msg = f"{path.name} is a cube of {' x '.join(map(str, shape))}; a frame has rows and columns, one colour a file"
        raise FrameError(msg)
    if shape[0] * shape[1] > _MOST_PIXELS:
        msg = (
            f"{path.name} has {shape[0] * shape[1] / 1e6:.0f} million pixels; at most {_MOST_PIXELS / 1e6:.0f} are read"
        )
        raise FrameError(msg)
    header = hdu.header
    if hdu is not hdus[0]:
        header = hdus[0].header.copy()
        header.update(hdu.header)
    data = hdu.data
    if data is None:
        msg = f"{path.name} holds no picture"
        raise FrameError(msg)
    return _scaled(data, header), header, len(pictures)


def _scaled(stored: Pixels, header: Any) -> Pixels:
    """The numbers that stored ones mean, in the machine's byte order, in as few bytes as hold them."""
    zero, scale, blank = (header.get(key) for key in ("BZERO", "BSCALE", "BLANK"))
    pixels = stored.astype(stored.dtype.newbyteorder("="))
    whole = pixels.dtype.kind in "iu"
    gaps = pixels == blank if whole and blank is not None else None
    zero, scale = float(zero or 0.0), 1.0 if scale is None else float(scale)
    if whole and scale == 1 and zero == 2.0 ** (8 * pixels.itemsize - 1) and pixels.dtype.kind == "i":
        pixels = pixels.view(pixels.dtype.str.replace("i", "u"))  # FITS Standard 4.0, table 11: unsigned numbers
        pixels ^= pixels.dtype.type(int(zero))
    elif (zero, scale) != (0.0, 1.0):
        exact = whole and zero == round(zero) and scale == round(scale)
        pixels = pixels.astype(np.int64) * int(scale) + int(zero) if exact else pixels * scale + zero
    if gaps is not None and gaps.any():
        pixels = np.where(gaps, np.nan, pixels.astype(np.float64))
    return pixels


def _frame(path: Path, pixels: Pixels, header: Any, pictures: int, given: Mapping[str, Any] | None) -> Frame:
    shape = (pixels.shape[0], pixels.shape[1])
    known = read_header(header, shape, given)
    notes = [f"{path.name}: {note}" for note in known.notes]
    overscan_adu = noise_adu = None
    if known.overscan is not None:
        beside: Floats = pixels[known.overscan].astype(np.float64)
        overscan_adu, noise_adu = float(beside.mean()), float(np.diff(beside, axis=0).std() / np.sqrt(2))
    if known.trim is not None:
        pixels = np.ascontiguousarray(pixels[known.trim])
    step = native_step(pixels)
    if pictures > 1:
        notes.append(f"{path.name} holds {pictures} pictures; the first is used")
    if pixels.dtype.kind == "f":
        gaps = int(pixels.size - np.isfinite(pixels).sum())
        if gaps == pixels.size:
            msg = f"{path.name} has no pixel with a number"
            raise FrameError(msg)
        if gaps:
            notes.append(f"{path.name} has {gaps} pixels without a number (NaN or infinite); they are left out")
    if step > 1:
        bits = {2.0: 15, 4.0: 14, 8.0: 13, 16.0: 12}[step]
        notes.append(f"All values of {path.name} are multiples of {step:g}: {bits} bits stored in 16")
    if step == 0:
        notes.append(
            f"The values of {path.name} are not whole numbers: it is an average or was calibrated, "
            "so its noise is not that of one frame"
        )
    if (known.combined or 1) > 1:
        notes.append(f"{path.name} is made of {known.combined} frames (NCOMBINE), so its noise is not that of one")
    if pixels.dtype.kind in "iu" and (header.get("BITPIX") == 8 or 0 <= pixels.min() <= pixels.max() <= _EIGHT_BIT):
        notes.append(f"{path.name} has at most 8 bits: a picture for the screen, not what the camera counted")
    return Frame(
        path=path,
        pixels=pixels,
        known=known,
        step_adu=step,
        overscan_adu=overscan_adu,
        overscan_noise_adu=noise_adu,
        notes=tuple(notes),
    )
