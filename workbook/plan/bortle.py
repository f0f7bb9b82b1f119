"""A span of Bortle classes such as "6-7": its middle is the reading, half of it what the reading may be off by."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from expocalc.light.reading import BORTLE

__all__ = ["range_of", "read_range"]

_RANGE = re.compile(r"\s*([1-9])\s*(?:-|–|—|to|/|bis)\s*([1-9])\s*", re.I)


def _reading(first: int, last: int) -> dict[str, str]:
    bright, dark = BORTLE[last][0], BORTLE[first][1]
    middle, half = (bright + dark) / 2, (dark - bright) / 2
    return {"zenith_brightness": f"{middle:.5g} mag/arcsec2", "brightness_error": f"{half:.3g} mag/arcsec2"}


def read_range(text: str) -> dict[str, str] | None:
    """Reading and its error of a span of classes; None where the text is none.

    Half the span is the error, as for one class.

    Examples
    --------
    >>> read_range("6-7")
    {'zenith_brightness': '18.55 mag/arcsec2', 'brightness_error': '0.55 mag/arcsec2'}
    """
    match = _RANGE.fullmatch(text)
    if match is None:
        return None
    first, last = sorted((int(match[1]), int(match[2])))
    return _reading(first, last) if first < last else None


def range_of(sky: Mapping[str, Any]) -> tuple[int, int] | None:
    """Span of classes that a sky's reading and error came from; None where it was no such span.

    Examples
    --------
    >>> range_of({"zenith_brightness": "18.55 mag/arcsec2", "brightness_error": "0.55 mag/arcsec2"})
    (6, 7)
    """
    if "zenith_brightness" not in sky or "brightness_error" not in sky or "reading_band" in sky:
        return None
    given = {key: sky[key] for key in ("zenith_brightness", "brightness_error")}
    spans = ((first, last) for first in BORTLE for last in BORTLE if first < last)
    return next((span for span in spans if _reading(*span) == given), None)
