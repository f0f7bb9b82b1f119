"""What to aim at: faint extended light whose surface brightness was published, and how far to trust it.

The values stand in `data/targets.ecsv`, each with its source. Grade A was seen in the source; B and C are from memory,
and say so wherever they are shown.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from expocalc.base.noun import suggest
from expocalc.base.table import DATA
from expocalc.light.emission import LINES

__all__ = ["CONFIDENCE", "TARGETS", "Region", "region"]

CONFIDENCE: Mapping[str, str] = MappingProxyType(
    {
        "A": "seen in the source",
        "B": "from memory, believed good",
        "C": "from memory, to a factor of 2 or worse",
    }
)
"""Grades of confidence in a value and what they mean."""

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_ENDS = ("value", "low", "high")
_LEAST_DOUBT: Mapping[str, float] = MappingProxyType({"A": 1.25, "B": 1.4, "C": 2.0})
"""Factor of one standard deviation that a grade has at least: assumed, but for C, which says a factor of two itself."""
_TENTHS = 2.563
"""Standard deviations from a tenth to nine tenths of a normal distribution, which the ends of a range are taken for."""


@dataclass(frozen=True, kw_only=True)
class Region:
    """One part of one object in one kind of light.

    Attributes
    ----------
    name : str
    right_ascension_deg, declination_deg : float
        J2000. [deg]
    emits : str
        Name of the line, or "continuum".
    value : float
        Surface brightness above the air. [unit]
    low, high : float or None
        Its faint and its bright end (in magnitudes, low is the larger number); None where the source gives none. [unit]
    unit : str
        "R", "erg/(s cm2 arcsec2)" or "mag/arcsec2".
    system, band, shape : str or None
        Of a continuum, as in :class:`expocalc.light.target.ContinuumLight`.
    grade : str
        One of :data:`CONFIDENCE`.
    source : str
        Author, year, journal.
    part : str
        What of the object the value belongs to, and whose place the coordinates are.
    conflict : str
        What another source says against it, or nothing.
    companions : mapping of str to float
        Photons of other lines for one of the named line, where they are known. [-]
    holds : tuple of str
        Companions whose photons are inside the value.
    """

    name: str
    right_ascension_deg: float
    declination_deg: float
    emits: str
    value: float
    low: float | None
    high: float | None
    unit: str
    system: str | None
    band: str | None
    shape: str | None
    grade: str
    source: str
    part: str
    conflict: str
    companions: Mapping[str, float]
    holds: tuple[str, ...]

    @property
    def kind(self) -> str:
        """Either "line" or "continuum"."""
        return "continuum" if self.emits == "continuum" else "line"

    @property
    def best_month(self) -> str:
        """Month in whose middle the region stands highest nearest to midnight.

        Examples
        --------
        >>> region("M42, Orion Nebula, core").best_month
        'December'
        """
        # In the middle of September the sky's 0 h is 6 deg east of the meridian at midnight, the year's mean.
        months = 9 + 0.2 + self.right_ascension_deg / 30
        return _MONTHS[(round(months) - 1) % 12]

    @property
    def shown(self) -> str:
        """Value with its range, as it may be shown: a remembered one says so.

        Examples
        --------
        >>> region("Sh2-276, Barnard's Loop").shown
        'H-alpha 100 R (60 to 200), from memory'
        """
        ends = "" if self.low is None or self.high is None else f" ({self.low:g} to {self.high:g})"
        memory = "" if self.grade == "A" else ", from memory"
        band = f" {self.band}" if self.band else ""
        return f"{' with '.join((self.emits, *self.holds))}{band} {self.value:g} {self.unit}{ends}{memory}"

    @property
    def caution(self) -> str:
        """What to know before a plan rests on the value: its confidence, what it is for, and who disagrees.

        Examples
        --------
        >>> print(region("M31 O III arc").caution)
        Value seen in the source (Fesen et al. 2023, ApJ 957, 82): peak; 1.2 deg south-east of the galaxy's nucleus.
        In conflict: Amram et al. 2023 give ten times as much for a bright knot, and nobody has settled it.
        """
        where = {line: "inside the value, split off as" if line in self.holds else "beside it," for line in LINES}
        lines = [f"{line} {where[line]} {share:g} of {self.emits}" for line, share in self.companions.items()]
        beside = f" {' and '.join(lines)}." if lines else ""
        if not lines and self.emits == "H-alpha":
            beside = " N II beside it is not known here: a filter that passes both may get more."
        conflict = f" In conflict: {self.conflict}." if self.conflict else ""
        no_range = "" if self.low is not None else " The source gives no range."
        return f"Value {CONFIDENCE[self.grade]} ({self.source}): {self.part}.{no_range}{beside}{conflict}"

    @property
    def doubt(self) -> float:
        """Factor of one standard deviation: of its range, where it has one, and never less than its grade says.

        Examples
        --------
        >>> round(region("M31 O III arc").doubt, 2), region("NGC 1435, Merope Nebula").doubt
        (1.54, 2.0)
        """
        least = _LEAST_DOUBT[self.grade]
        if self.low is None or self.high is None:
            return least
        magnitudes = self.unit == "mag/arcsec2"
        log_range = 0.4 * math.log(10) * (self.low - self.high) if magnitudes else math.log(self.high / self.low)
        return max(least, math.exp(log_range / _TENTHS))

    def light(self, end: str = "value") -> dict[str, Any]:
        """Item of a plan's list of light; the value comes with its doubt and the lines beside it.

        A value that holds other lines is split: the item has the named line's own.

        Parameters
        ----------
        end : str
            "value", or "low" or "high" for the faint or the bright end of the range.

        Raises
        ------
        ValueError
            If there is no such end.

        Examples
        --------
        >>> region("M31 O III arc").light("low")
        {'line': 'O III', 'brightness': '2e-18 erg/(s cm2 arcsec2)'}
        """
        if end not in _ENDS:
            msg = f"end must be one of {', '.join(_ENDS)}, got {end!r}{suggest(end, _ENDS)}"
            raise ValueError(msg)
        number = getattr(self, end)
        if number is None:
            msg = f'end must be "value" for {self.name}, whose source gives no range, got {end!r}'
            raise ValueError(msg)
        held = sum(self.companions[line] * sum(LINES[line].share) for line in self.holds)
        brightness = f"{number / (1 + held):.4g} {self.unit}"
        doubt = {"doubt": float(f"{self.doubt:.3g}")} if end == "value" else {}
        if self.kind == "line":
            beside = {"companions": dict(self.companions)} if self.companions else {}
            return {"line": self.emits, "brightness": brightness, **beside, **doubt}
        about = {"system": self.system, "band": self.band, "shape": self.shape}
        return {"continuum": brightness, **{key: text for key, text in about.items() if text}, **doubt}


def _companions(text: str) -> Mapping[str, float]:
    """Lines and their shares from a text such as "N II 0.81; S II 1.42"."""
    parts = (one.rsplit(" ", 1) for one in text.split("; ") if one)
    return MappingProxyType({line: float(share) for line, share in parts})


def _read(path: Path) -> Mapping[str, Region]:
    """Regions of the table by name; its columns of text are why the reader of numbers can't take it."""
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    found = {}
    for row in rows:
        low, high = (float(row[end]) if row[end] else None for end in ("low", "high"))
        found[row["name"]] = Region(
            name=row["name"], right_ascension_deg=float(row["right_ascension"]),
            declination_deg=float(row["declination"]), emits=row["light"], value=float(row["value"]), low=low,
            high=high, unit=row["unit"], system=row["system"] or None, band=row["band"] or None,
            shape=row["shape"] or None, grade=row["grade"], source=row["source"], part=row["part"],
            conflict=row["conflict"], companions=_companions(row["companions"]),
            holds=tuple(filter(None, row["holds"].split("; "))),
        )  # fmt: skip
    return MappingProxyType(found)


TARGETS = _read(DATA / "targets.ecsv")
"""All regions by name, ordered by right ascension."""


def region(name: str) -> Region:
    """Region of that name.

    Raises
    ------
    ValueError
        If there is none; a near name is offered.

    Examples
    --------
    >>> region("Rosete Nebula")
    Traceback (most recent call last):
    ...
    ValueError: the library has no region 'Rosete Nebula'; did you mean "NGC 2237, Rosette Nebula"?
    """
    if name in TARGETS:
        return TARGETS[name]
    given = str(name).casefold().strip()
    near = [known for known in TARGETS if given and given in known.casefold()]
    if near:
        hint = "; did you mean " + " or ".join(f'"{known}"' for known in near[:3]) + "?"
    else:
        hint = suggest(name, TARGETS)
    msg = f"the library has no region {name!r}{hint or f'; it has {len(TARGETS)}, for example {next(iter(TARGETS))!r}'}"
    raise ValueError(msg)
