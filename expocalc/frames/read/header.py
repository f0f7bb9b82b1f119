"""What a header says about a frame, each value with its origin; what a person gives stands above it.

References
----------
.. [fits] FITS Standard 4.0, IAU FITS Working Group 2018: EXPTIME, DATE-OBS, BSCALE, BZERO. The other keywords are those
   that cameras and observatories write: common practice, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from expocalc.base.refusal import Refusal

__all__ = ["GIVEN", "HEADER", "FrameError", "Known", "Slices", "read_header", "read_slices"]

GIVEN, HEADER = "given", "header"
Slices = tuple[slice, slice]

_GAIN_SETTING = "GAIN {value:g} is taken as the camera's setting, not as electrons per ADU"
_ELECTRON = re.compile(r"\be(lectrons?|-)?\s*(/|per)\s*(adu|dn|count)", re.IGNORECASE)
_SECTION = re.compile(r"\s*\[?\s*(\d+)\s*:\s*(\d+)\s*,\s*(\d+)\s*:\s*(\d+)\s*\]?\s*")
_KINDS = (("bias", "bias"), ("zero", "bias"), ("dark", "dark"), ("flat", "flat"), ("light", "sub"), ("object", "sub"))


class FrameError(Refusal):
    """A frame that can't be used, with the one sentence that says which and why."""


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of a frame beside its pixels; None where nothing is.

    Attributes
    ----------
    exposure_s : float
        [s]
    filter_name : str
    electrons_per_adu : float
        Per stored ADU, as given or as the header has it: see :mod:`expocalc.frames.measure.trust`. [electron/ADU]
    read_noise_e : float
        [electron]
    temperature_deg_c, set_temperature_deg_c : float
        Of the sensor. [deg_C]
    date : str
        Start of the exposure, UTC, ISO 8601.
    altitude_deg : float
        Of what was looked at, as OBJCTALT or CENTALT has it, or as AIRMASS means it in level layers. [deg]
    pixel_um, focal_length_mm : float
        [um], [mm]
    mosaic : str
        Colours of the first two rows, such as "RGGB".
    kind : str
        "sub", "bias", "dark" or "flat".
    combined : int
        How many exposures were added or averaged.
    gain_setting : float
        The camera's own number, without unit.
    trim, overscan : tuple of slice
        Rows and columns.
    origin : mapping of str to str
        For each value that is known "given" or the header's keyword.
    notes : tuple of str
        What the header says and can't be used.
    """

    exposure_s: float | None = None
    filter_name: str | None = None
    electrons_per_adu: float | None = None
    read_noise_e: float | None = None
    temperature_deg_c: float | None = None
    set_temperature_deg_c: float | None = None
    date: str | None = None
    altitude_deg: float | None = None
    pixel_um: float | None = None
    focal_length_mm: float | None = None
    mosaic: str | None = None
    kind: str | None = None
    combined: int | None = None
    gain_setting: float | None = None
    trim: Slices | None = None
    overscan: Slices | None = None
    origin: Mapping[str, str]
    notes: tuple[str, ...] = ()


def read_slices(name: str, text: str, shape: tuple[int, int]) -> Slices:
    """Rows and columns of a section as headers write it: [first column : last column, first row : last row], from 1.

    Raises
    ------
    FrameError
        If it is no such section, or reaches beyond the picture.

    Examples
    --------
    >>> read_slices("TRIMSEC", "[17:528, 1:520]", (520, 536))
    (slice(0, 520, None), slice(16, 528, None))
    """
    found = _SECTION.fullmatch(str(text))
    if found:
        left, right, bottom, top = (int(number) for number in found.groups())
        if 1 <= left <= right <= shape[1] and 1 <= bottom <= top <= shape[0]:
            return slice(bottom - 1, top), slice(left - 1, right)
    msg = (
        f"{name} must be columns and rows within 1 to {shape[1]} and 1 to {shape[0]}, got {str(text)[:60]!r}; "
        'write it like "[17:528, 1:520]"'
    )
    raise FrameError(msg)


def read_header(header: Mapping[str, Any], shape: tuple[int, int], given: Mapping[str, Any] | None = None) -> Known:
    """What a header and a person say.

    Parameters
    ----------
    header : mapping
        An astropy Header, or a dict.
    shape : (int, int)
        Of the picture. [pixel]
    given : mapping, optional
        Fields of :class:`Known` that a person gave.

    Returns
    -------
    Known

    Examples
    --------
    >>> known = read_header({"EXPTIME": "300", "EGAIN": 0.25}, (10, 10), {"electrons_per_adu": 0.26})
    >>> known.exposure_s, known.electrons_per_adu, dict(known.origin)
    (300.0, 0.26, {'exposure_s': 'EXPTIME', 'electrons_per_adu': 'given'})
    """
    reader = _Reader(header)
    values: dict[str, Any] = {
        "exposure_s": reader.number("exposure_s", "EXPTIME", "EXPOSURE", least=0),
        "filter_name": reader.words("filter_name", "FILTER"),
        "electrons_per_adu": reader.electrons_per_adu(),
        "read_noise_e": reader.number("read_noise_e", "RDNOISE", "READNOIS", least=0),
        "temperature_deg_c": reader.number("temperature_deg_c", "CCD-TEMP", least=-273.15),
        "set_temperature_deg_c": reader.number("set_temperature_deg_c", "SET-TEMP", least=-273.15),
        "date": reader.words("date", "DATE-OBS"),
        "altitude_deg": reader.altitude_deg(),
        "pixel_um": reader.number("pixel_um", "XPIXSZ", least=0),
        "focal_length_mm": reader.number("focal_length_mm", "FOCALLEN", least=0),
        "mosaic": reader.mosaic(),
        "kind": reader.kind(),
        "combined": reader.whole("combined", "NCOMBINE"),
        "gain_setting": reader.gain_setting,
        "trim": reader.section("trim", "TRIMSEC", shape),
        "overscan": reader.section("overscan", "BIASSEC", shape),
    }
    for name, value in (given or {}).items():
        if value is not None:
            values[name] = read_slices(name, value, shape) if name in ("trim", "overscan") else value
            reader.origin[name] = GIVEN
    return Known(**values, origin=reader.origin, notes=tuple(reader.notes))


class _Reader:
    """Values of one header; it notes where each came from and what could not be read."""

    def __init__(self, header: Mapping[str, Any]) -> None:
        self.header = header
        self.origin: dict[str, str] = {}
        self.notes: list[str] = []
        self.gain_setting: float | None = None

    def _number(self, keyword: str, least: float = -math.inf) -> float | None:
        value = self.header.get(keyword)
        if value is None or isinstance(value, bool) or not str(value).strip():
            return None
        try:
            number = float(str(value).replace(",", ".").strip())
        except ValueError:
            number = math.nan
        if math.isfinite(number) and number >= least:
            return number
        self.notes.append(f"{keyword} is {str(value)[:40]!r}, no number that can be used")
        return None

    def number(self, name: str, *keywords: str, least: float = -math.inf) -> float | None:
        for keyword in keywords:
            value = self._number(keyword, least)
            if value is not None:
                self.origin[name] = keyword
                return value
        return None

    def whole(self, name: str, keyword: str) -> int | None:
        value = self.number(name, keyword, least=1)
        return None if value is None else round(value)

    def words(self, name: str, keyword: str) -> str | None:
        value = str(self.header.get(keyword) or "").strip()
        if not value:
            return None
        self.origin[name] = keyword
        return value

    def section(self, name: str, keyword: str, shape: tuple[int, int]) -> Slices | None:
        text = self.words(name, keyword)
        if text is None:
            return None
        try:
            return read_slices(keyword, text, shape)
        except FrameError as error:
            self.origin.pop(name)
            self.notes.append(str(error))
            return None

    def electrons_per_adu(self) -> float | None:
        """EGAIN, or a GAIN that can only be meant so: its comment says it, or it is a broken number."""
        value = self.number("electrons_per_adu", "EGAIN", least=1e-6)
        gain = self._number("GAIN", 0)
        if gain is None:
            return value
        comments = getattr(self.header, "comments", None)
        said = _ELECTRON.search(str(comments["GAIN"])) if comments is not None else None
        if value is None and gain > 0 and (said or gain != round(gain)):
            self.origin["electrons_per_adu"] = "GAIN"
            return gain
        self.gain_setting = gain
        if value is None:
            self.notes.append(_GAIN_SETTING.format(value=gain))
        return value

    def altitude_deg(self) -> float | None:
        """As the header has it, above the horizon; from the airmass where it has that alone."""
        value = self.number("altitude_deg", "OBJCTALT", "CENTALT")
        if value is None:
            airmass = self.number("altitude_deg", "AIRMASS", least=1)
            value = None if airmass is None else math.degrees(math.asin(1 / airmass))
        if value is not None and 0 < value <= 90:
            return value
        self.origin.pop("altitude_deg", None)
        return None

    def mosaic(self) -> str | None:
        text = self.words("mosaic", "BAYERPAT")
        if text is None:
            return None
        if self.header.get("CLRCHNL"):  # one colour was taken out already
            self.origin.pop("mosaic")
            return None
        if sorted(text.upper()) == sorted("RGGB"):
            turned = text.upper()
            if (self._number("XBAYROFF") or 0) % 2:
                turned = turned[1] + turned[0] + turned[3] + turned[2]
            if (self._number("YBAYROFF") or 0) % 2:
                turned = turned[2:] + turned[:2]
            return turned
        self.origin.pop("mosaic")
        self.notes.append(f"BAYERPAT is {text[:20]!r}; only mosaics of two greens, a red and a blue are understood")
        return None

    def kind(self) -> str | None:
        text = (self.words("kind", "IMAGETYP") or "").lower()
        for word, kind in _KINDS:
            if word in text:
                return kind
        self.origin.pop("kind", None)
        return None
