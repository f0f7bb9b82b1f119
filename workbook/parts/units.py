"""Units that the user likes best, chosen at one place: millimetres or inches, magnitudes or luminance."""

from __future__ import annotations

import contextlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from expocalc.base.quantity import read_quantity
from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file
from workbook.parts.typed import MM_PER_INCH

__all__ = ["LENGTHS", "METRIC", "SKIES", "Units", "keep_units", "kept_units", "units_now", "use_units"]

_FILE = ".expocalc-units.json"
LENGTHS = ("mm", "inch")
SKIES = ("mag/arcsec2", "mcd/m2")


@dataclass(frozen=True, kw_only=True)
class Units:
    """Units that boxes show and that a bare number means.

    Attributes
    ----------
    length : str
        Of a telescope's lengths: one of :data:`LENGTHS`.
    sky : str
        Of the sky's brightness: one of :data:`SKIES`.
    """

    length: str = LENGTHS[0]
    sky: str = SKIES[0]

    def box(self, unit: str) -> str:
        """Unit that a box for a quantity of `unit` shows.

        Examples
        --------
        >>> Units(length="inch").box("mm"), Units().box("mm"), Units().box("cd/m2")
        ('inch', 'mm', 'mcd/m2')
        """
        if unit == "mm":
            return self.length
        return "mcd/m2" if unit == "cd/m2" else unit

    def shown(self, text: str, unit: str) -> str:
        """A quantity of a plan file in the unit that the box shows.

        Examples
        --------
        >>> Units(length="inch").shown("101.6 mm", "mm"), Units().shown("10 cm", "mm")
        ('4 inch', '10 cm')
        """
        if unit == "mm" and self.length == "inch":
            with contextlib.suppress(TypeError, ValueError):
                return f"{read_quantity('length', text, 'mm') / MM_PER_INCH:.6g} inch"
        return text

    def say_mm(self, length_mm: float) -> str:
        """A telescope's length as a sentence says it.

        Examples
        --------
        >>> Units().say_mm(102.0), Units(length="inch").say_mm(101.6)
        ('102 mm', '4 inch')
        """
        return f"{length_mm / MM_PER_INCH:.4g} inch" if self.length == "inch" else f"{length_mm:.4g} mm"


METRIC = Units()
_now = [METRIC]


def units_now() -> Units:
    """Units in use in this kernel."""
    return _now[0]


def use_units(units: Units) -> None:
    """Let all boxes of this kernel show these units."""
    _now[0] = units


def kept_units(root: Path) -> Units:
    """Units that were chosen in a workbook's folder."""
    try:
        kept = json.loads(read_text(root / _FILE, 10_000))
        length, sky = kept.get("length"), kept.get("sky")
    except (ValueError, AttributeError, RecursionError):
        return METRIC
    return Units(length=length if length in LENGTHS else LENGTHS[0], sky=sky if sky in SKIES else SKIES[0])


def keep_units(root: Path, units: Units) -> None:
    """Keep the choice for all pages, and use it; a folder that can't be written forgets it."""
    use_units(units)
    with contextlib.suppress(OSError):
        write_file(root / _FILE, json.dumps(asdict(units)).encode())
