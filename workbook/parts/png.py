"""A picture as a PNG file, so that a page shows it without any drawing library."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.frames.simulate.scene import Mask

__all__ = ["coloured_png", "data_address", "png"]

_MARK = bytes.fromhex("D55E00")
"""Colour of marked pixels: vermilion of Okabe & Ito 2008."""
_GREYS = 254
_STORED = 0
"""Grain can't be packed: trying costs more time than it saves."""


def png(brightness: Floats, marked: Mask | None = None) -> bytes:
    """PNG file of a picture, as the standard asks for (ISO/IEC 15948).

    Parameters
    ----------
    brightness : ndarray
        0 to 1, shape (rows, columns).
    marked : ndarray of bool, optional
        Pixels to show in vermilion.

    Returns
    -------
    bytes

    Examples
    --------
    >>> png(np.zeros((4, 6)))[1:4]
    b'PNG'
    """
    rows, columns = brightness.shape
    numbers = np.zeros((rows, columns + 1), dtype=np.uint8)  # each row starts with a 0: no filter
    numbers[:, 1:] = brightness * _GREYS + 0.5
    if marked is not None:
        numbers[:, 1:][marked] = 255
    greys = np.repeat(np.linspace(0, 255, _GREYS + 1).round().astype(np.uint8), 3).tobytes()
    return _file((rows, columns), 3, numbers, _chunk(b"PLTE", greys + _MARK))


def coloured_png(brightness: Floats) -> bytes:
    """PNG file of a picture in colour, or in grey where its colours are one.

    Parameters
    ----------
    brightness : ndarray
        0 to 1, shape (rows, columns, 3): red, green and blue; or (rows, columns, 1).

    Returns
    -------
    bytes
    """
    rows, columns = brightness.shape[:2]
    pixels = np.broadcast_to(brightness * 255 + 0.5, (rows, columns, 3)).astype(np.uint8)
    numbers = np.zeros((rows, 3 * columns + 1), dtype=np.uint8)
    numbers[:, 1:] = pixels.reshape(rows, -1)
    return _file((rows, columns), 2, numbers)


def _file(shape: tuple[int, int], kind: int, numbers: npt.NDArray[np.uint8], palette: bytes = b"") -> bytes:
    rows, columns = shape
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", struct.pack(">IIBBBBB", columns, rows, 8, kind, 0, 0, 0)),
            palette,
            _chunk(b"IDAT", zlib.compress(numbers.tobytes(), _STORED)),
            _chunk(b"IEND", b""),
        )
    )


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def data_address(file: bytes) -> str:
    """The file as an address that holds it whole: nothing is fetched."""
    return f"data:image/png;base64,{base64.b64encode(file).decode('ascii')}"
