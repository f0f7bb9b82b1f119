"""A solved plan as a table, one row per filter and light: CSV for spreadsheets, ECSV with its units, JSON."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from expocalc.plan import as_json

__all__ = ["to_csv", "to_ecsv", "to_json", "unit_of"]

_UNITS = {
    "_electron_s": "electron / s",
    "_mag_arcsec2_ab": "mag / arcsec2",
    "_arcsec": "arcsec / pix",
    "_above_bias": "adu",
    "_adu": "adu",
    "_gb": "Gbyte",
    "_s": "s",
    "_h": "h",
    "hours_p10": "h",
    "hours_p50": "h",
    "hours_p90": "h",
}
"""Unit by the ending of a key; the first that fits counts."""
_TEXTS = ("filter", "light", "colour", "bounded_by")
_COMMANDS = ("=", "+", "-", "@", "\t", "\r")
"""A cell that starts with one of these is a formula to a spreadsheet."""


def unit_of(key: str) -> str | None:
    """Unit of a column as astropy writes it; None for a plain number or a text.

    Examples
    --------
    >>> unit_of("sky_electron_s"), unit_of("sub_s"), unit_of("snr_patch")
    ('electron / s', 's', None)
    """
    return next((unit for ending, unit in _UNITS.items() if key.endswith(ending)), None)


def _rows(found: Answer, hours: Spread) -> list[dict[str, Any]]:
    """Rows of the answer with the parts of the noise as columns of their own."""
    rows = []
    for row in as_json(found, hours)["rows"]:
        shares = row.pop("noise_share")
        rows.append({**row, **{f"noise_share_{name}": share for name, share in shares.items()}})
    return rows


def to_csv(found: Answer, hours: Spread) -> str:
    """An answer as CSV: units stand in the keys, a number that there is not leaves its cell empty.

    Parameters
    ----------
    found : Answer
    hours : Spread
        Of the same plan.

    Returns
    -------
    str

    Notes
    -----
    A filter's name that a spreadsheet would run as a formula, such as "=1+1", gets an apostrophe before it.
    """
    rows = _rows(found, hours)
    text = io.StringIO()
    writer = csv.DictWriter(text, rows[0])
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _harmless(value) for key, value in row.items()})
    return text.getvalue()


def _harmless(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(_COMMANDS) else value


def to_ecsv(found: Answer, hours: Spread) -> str:
    """An answer as ECSV: the same table with units; title and verdicts are its meta data.

    Parameters
    ----------
    found : Answer
    hours : Spread
        Of the same plan.

    Returns
    -------
    str
        For :meth:`astropy.table.Table.read`.
    """
    from astropy.table import MaskedColumn, Table  # 160 ms that only an export needs

    rows = _rows(found, hours)
    table = Table(
        meta={
            "title": found.title,
            "verdicts": {one.filter_name: one.verdict for one in found.filters},
        }
    )
    for key in rows[0]:
        values = [row[key] for row in rows]
        missing = [value is None for value in values]
        kind = str if key in _TEXTS else int if key.startswith("subs_") else float
        whole = [kind() if value is None else kind(value) for value in values]
        table[key] = MaskedColumn(whole, mask=missing, unit=unit_of(key))
    text = io.StringIO()
    table.write(text, format="ascii.ecsv")
    return text.getvalue()


def to_json(found: Answer, hours: Spread) -> str:
    """An answer as JSON, as the command prints it."""
    return json.dumps(as_json(found, hours), allow_nan=False, indent=2) + "\n"
