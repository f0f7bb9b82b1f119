"""A list of targets of the user's own: an ECSV or CSV file, one target a line."""

from __future__ import annotations

import csv
from pathlib import Path

import astropy.units as u

from expocalc.base.noun import suggest
from expocalc.base.textfile import read_text
from expocalc.light.lights import read_light
from expocalc.light.position import read_declination, read_right_ascension
from expocalc.night.ranking import Candidate

__all__ = ["COLUMNS", "read_own_list"]

COLUMNS = ("name", "right_ascension", "declination", "light", "brightness")
"""Columns of the list; `light` is the name of a line, or "continuum"."""
_LARGEST_BYTES = 1_000_000
_MOST = 1000
_EXAMPLE = '"Veil, north",20h56m,+31d 43m,O III,"20 R"'


def read_own_list(path: str | Path) -> tuple[Candidate, ...]:
    """Targets of a list.

    Parameters
    ----------
    path : str or pathlib.Path
        Lines that begin with # are skipped, so that an ECSV header is; the first other line names the columns.
        Coordinates are texts such as "20h 45m" or degrees, the brightness a text with its unit.

    Raises
    ------
    ValueError
        In one sentence, with the line, if the file can't be read or a line is broken.
    """
    path = Path(path)
    text = read_text(path, _LARGEST_BYTES)
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    lines = [(number, line) for number, line in lines if not line.startswith("#")]
    if not lines:
        msg = f"{path.name} has no lines; the first names the columns: {', '.join(COLUMNS)}"
        raise ValueError(msg)
    rows = list(csv.reader((line for _, line in lines), skipinitialspace=True))
    names = [name.strip() for name in rows[0]]
    for name in COLUMNS:
        if name not in names:
            near = suggest(name, names).replace("did you mean", "it has")
            msg = f"{path.name} needs a column {name}{near}; its columns are {', '.join(COLUMNS)}"
            raise ValueError(msg)
    if len(rows) - 1 > _MOST:
        msg = f"{path.name} may hold at most {_MOST} targets, got {len(rows) - 1}"
        raise ValueError(msg)
    found = []
    for (number, _), row in zip(lines[1:], rows[1:], strict=True):
        where = f"{path.name}, line {number}"
        if len(row) != len(names):
            msg = f"{where} must have {len(names)} values, got {len(row)}; write it like {_EXAMPLE}"
            raise ValueError(msg)
        found.append(_candidate(where, dict(zip(names, (cell.strip() for cell in row), strict=True))))
    return tuple(found)


def _candidate(where: str, row: dict[str, str]) -> Candidate:
    light = row["light"]
    item = (
        {"continuum": row["brightness"]} if light == "continuum" else {"line": light, "brightness": row["brightness"]}
    )
    try:
        east = read_right_ascension("right_ascension", _angle(row["right_ascension"]))
        north = read_declination("declination", _angle(row["declination"]))
        read_light(item)
    except (TypeError, ValueError, u.UnitsError) as error:
        msg = f"{where}: {error}"
        raise ValueError(msg) from None
    if not row["name"] or not row["name"].isprintable() or len(row["name"]) > 200:
        msg = f"{where}: name must be one line of 1 to 200 printable characters, got {row['name'][:40]!r}"
        raise ValueError(msg)
    return Candidate(row["name"], float(east.value), float(north.value), (tuple(item.items()),), row["brightness"])


def _angle(text: str) -> str:
    """A bare number is in degrees, as the column of a table would have it."""
    try:
        return f"{float(text)} deg"
    except ValueError:
        return text
