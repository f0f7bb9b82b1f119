"""Tables of numbers: ECSV files that name their source in the header.

The files are ECSV 1.0 (Enhanced Character-Separated Values, astropy proposal APE 6). This reader takes the part that
the project uses, columns of numbers with units, in a tenth of the time of the general one; a test reads every shipped
table with astropy as well.
"""

from __future__ import annotations

import os
import re
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.textfile import read_text

__all__ = ["DATA", "read_table"]

DATA = Path(__file__).resolve().parent.parent / "data"
"""Folder of the tables that come with the package."""

_LARGEST_BYTES = 2_000_000


def read_table(path: Path) -> MappingProxyType[str, Floats]:
    """Columns of a table of numbers by name; read once, and again when the file has changed.

    Parameters
    ----------
    path : pathlib.Path
        An ECSV file, or comma- or space-separated text with one line of column names.

    Returns
    -------
    mapping of str to ndarray
        Read-only columns of one length.

    Raises
    ------
    ValueError
        If the file cannot be read, is larger than 2 MB or holds something else than rows of numbers.

    Examples
    --------
    >>> sorted(read_table(DATA / "band_bessell-V.ecsv"))
    ['response', 'wavelength']
    """
    try:
        found = os.stat(path)
    except (OSError, ValueError):  # the reader says why
        return _read(path, None)
    return _read(path, (found.st_mtime_ns, found.st_size, found.st_ino))


@lru_cache(maxsize=128)
def _read(path: Path, _state: tuple[int, int, int] | None) -> MappingProxyType[str, Floats]:
    """Columns of a file that is in this state."""
    try:
        lines = read_text(path, _LARGEST_BYTES).splitlines()
    except ValueError as error:
        msg = f"the table {error}"
        raise ValueError(msg) from None
    rows = [re.split(r"\s*,\s*|\s+", line.strip()) for line in lines if line.strip() and line.lstrip()[0] != "#"]
    if len(rows) < 3 or len({len(row) for row in rows}) != 1:
        msg = f"the table {path.name} must have a line of column names and two or more rows of as many numbers"
        raise ValueError(msg)
    try:
        numbers = np.array(rows[1:], dtype=np.float64)
    except ValueError:
        msg = f"the table {path.name} must hold numbers below its line of column names"
        raise ValueError(msg) from None
    numbers.setflags(write=False)
    return MappingProxyType(dict(zip(rows[0], numbers.T, strict=True)))
