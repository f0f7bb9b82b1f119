"""The ledger: every sub of every night as one row of an ECSV file, added to and never rewritten by hand.

The file is ECSV 1.0 (astropy proposal APE 6), so that other programs read it. A row for a file that is there already
takes the older row's place when the ledger is read: that is how a sub is kept or dropped later. A line that can't be
read stays where it is and is named.
"""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from expocalc.base.lock import locked
from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file
from expocalc.frames.read.header import FrameError

__all__ = ["Entry", "Ledger", "append", "read_ledger"]

_LARGEST_BYTES = 200_000_000


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One sub.

    Attributes
    ----------
    night : str
        Date of the evening, UTC of the exposure's begin less twelve hours.
    file, filter, date : str
        Name without folder, filter, begin in UTC.
    exposure_s, temperature_deg_c : float
        [s], [deg_C]; NaN where not known.
    sky_electron_s, noise_electron : float
        [electron s-1], [electron]
    star_fwhm_px, star_elongation : float
        [pixel], [-]
    stars : int
    transparency : float
        Of the stars' light, over the night's best. [-]
    kept : bool
    reason : str
        Why it stands out; empty where it does not.
    equivalent_dark_h : float
        Worth in hours under the plan's conditions, 0 where it is not kept. [h]
    """

    night: str
    file: str
    filter: str
    date: str
    exposure_s: float
    temperature_deg_c: float
    sky_electron_s: float
    noise_electron: float
    star_fwhm_px: float
    star_elongation: float
    stars: int
    transparency: float
    kept: bool
    reason: str
    equivalent_dark_h: float


_UNITS = {
    "exposure_s": "s", "temperature_deg_c": "deg_C", "sky_electron_s": "electron / s", "noise_electron": "electron",
    "star_fwhm_px": "pix", "equivalent_dark_h": "h",
}  # fmt: skip
_TYPES = {"str": "string", "float": "float64", "int": "int64", "bool": "bool"}
_NAMES = tuple(one.name for one in fields(Entry))


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """What a ledger holds: the newest row of each sub, and sentences on lines that could not be read."""

    entries: tuple[Entry, ...] = ()
    warnings: tuple[str, ...] = ()


def _head() -> str:
    lines = ["# %ECSV 1.0", "# ---", "# delimiter: ','", "# datatype:"]
    for one in fields(Entry):
        unit = f", unit: {_UNITS[one.name]}" if one.name in _UNITS else ""
        lines.append(f"# - {{name: {one.name}{unit}, datatype: {_TYPES[str(one.type)]}}}")
    lines += ["# meta: !!omap", "# - {comments: [one row per sub; of two rows of a file the later one counts]}"]
    return "\n".join([*lines, ",".join(_NAMES)]) + "\n"


def _line(entry: Entry) -> str:
    out = io.StringIO()
    cells = [
        ("nan" if not math.isfinite(value) else repr(round(value, 6))) if isinstance(value, float) else str(value)
        for value in asdict(entry).values()
    ]
    # a line break would make two lines of one sub
    csv.writer(out, lineterminator="\n").writerow([" ".join(cell.split()) for cell in cells])
    return out.getvalue()


def _entry(cells: Sequence[str]) -> Entry:
    if len(cells) != len(_NAMES):
        msg = f"{len(cells)} instead of {len(_NAMES)} values"
        raise ValueError(msg)
    values: dict[str, Any] = {}
    for one, cell in zip(fields(Entry), cells, strict=True):
        kind = str(one.type)
        if kind == "bool":
            if cell not in ("True", "False"):
                msg = f"{one.name} is {cell[:20]!r}, not True or False"
                raise ValueError(msg)
            values[one.name] = cell == "True"
        else:
            values[one.name] = {"float": float, "int": int, "str": str}[kind](cell)
    return Entry(**values)


def _parse(name: str, text: str) -> Ledger:
    newest: dict[tuple[str, str, str], Entry] = {}
    warnings = []
    lines = text.splitlines()
    if lines and not lines[0].startswith("# %ECSV"):
        msg = f"{name} is no ledger: its first line is no ECSV header; nothing was written to it"
        raise FrameError(msg)
    seen_names = False
    for number, line in enumerate(lines, start=1):
        if line.startswith("#") or not line.strip():
            continue
        if not seen_names:
            seen_names = True
            if tuple(line.split(",")) != _NAMES:
                msg = f"{name} is no ledger of this program: its columns are others; nothing was written to it"
                raise FrameError(msg)
            continue
        try:
            entry = _entry(next(csv.reader([line], strict=True)))
        except (ValueError, csv.Error) as error:
            warnings.append(f"Line {number} of {name} can't be read ({str(error)[:80]}); it is left as it is")
            continue
        newest[entry.night, entry.filter, entry.file] = entry
    return Ledger(entries=tuple(newest.values()), warnings=tuple(warnings))


def read_ledger(path: str | Path) -> Ledger:
    """What a ledger holds; an empty one where there is no file yet.

    Raises
    ------
    FrameError
        With one sentence, if the file can't be read or is no ledger.
    """
    path = Path(path)
    if not os.path.lexists(path):
        return Ledger()
    try:
        return _parse(path.name, read_text(path, _LARGEST_BYTES))
    except FrameError:
        raise
    except ValueError as error:
        msg = f"the ledger {error}"
        raise FrameError(msg) from None


def append(path: str | Path, entries: Iterable[Entry]) -> Ledger:
    """Add rows; two who append at once both find their rows in it, and a full disk leaves the old file.

    Parameters
    ----------
    path : str or pathlib.Path
    entries : iterable of Entry
        Rows that are there already, word for word, are not written again.

    Returns
    -------
    Ledger
        What the file then holds.

    Raises
    ------
    FrameError
        If it can't be written, or is no ledger; nothing was changed then.
    """
    path = Path(path)
    try:
        with locked(path.parent):
            there = os.path.lexists(path)
            text = read_text(path, _LARGEST_BYTES) if there else _head()
            ledger = _parse(path.name, text)
            known = {_key(one): one for one in ledger.entries}
            new = [one for one in entries if _line(known.get(_key(one), one)) != _line(one) or _key(one) not in known]
            if text and not text.endswith("\n"):
                text += "\n"
            if new or not there:
                text += "".join(_line(one) for one in new)
                write_file(path, text.encode())
            return _parse(path.name, text)
    except FrameError:
        raise
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        msg = f"the ledger {path.name} can't be written: {why}; nothing was changed"
        raise FrameError(msg) from None


def _key(entry: Entry) -> tuple[str, str, str]:
    return entry.night, entry.filter, entry.file


def by_filter(entries: Iterable[Entry]) -> Mapping[str, list[Entry]]:
    """Entries in a list per filter."""
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.filter, []).append(entry)
    return found
