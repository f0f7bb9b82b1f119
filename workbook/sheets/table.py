"""A solved plan as a table, one row per filter and light: CSV for spreadsheets, ECSV with its units, JSON."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from expocalc.plan import Plan, as_json
from workbook.parts.reading import zenith_reading

__all__ = ["to_csv", "to_ecsv", "to_json", "unit_of"]

_UNITS = {
    "_electron_s": "electron / s",
    "_read_noise_electron": "electron",
    "_altitude_deg": "deg",
    "_temperature_deg_c": "deg_C",
    "_mm": "mm",
    "input_patch_arcsec": "arcsec",
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
_TEXTS = ("filter", "light", "colour", "filter_light", "filter_colour", "bounded_by", "input_sky_reading", "input_gain")
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


_TOTALS = ("subs_to_shoot", "exposed_h", "kept_h", "clock_h", "storage_gb")
"""Of a filter, which are those of the light that needs most."""
_SETTER = ("light", "colour")
"""That light, and whose pixels it is counted in."""
_PLANNED = ("hours_p10", "hours_p50", "hours_p90")
"""Of a filter, whose lights have to show all; the sum over filters says nothing."""
_DIGITS = 5
"""Figures that are written: more than anything here is known to."""


def _rounded(value: Any) -> Any:
    """Plain data with its numbers rounded; whole numbers stay."""
    if isinstance(value, dict):
        return {key: _rounded(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_rounded(entry) for entry in value]
    return float(f"{value:.{_DIGITS}g}") if isinstance(value, float) else value


def _rows(plan: Plan, found: Answer, hours: Spread) -> list[dict[str, Any]]:
    """Rows of the answer: the parts of the noise as columns of their own, the filter's totals, and what went in."""
    plain, rows = _rounded(as_json(found, hours)), []
    filters = {one["filter"]: one for one in plain["filters"]}
    inputs = _inputs(plan)
    for row in plain["rows"]:
        shares = row.pop("noise_share")
        parts = {f"noise_share_{name}": share for name, share in shares.items()}
        totals = {f"filter_{name}": filters[row["filter"]][name] for name in (*_SETTER, *_TOTALS, *_PLANNED)}
        rows.append({**row, **parts, **totals, **inputs})
    return rows


def _inputs(plan: Plan) -> dict[str, Any]:
    """What the numbers rest on, in a few columns; the JSON holds the whole plan."""
    case = plan.case
    telescope, setting = case.telescope, case.camera.setting
    return _rounded(
        {
            "input_sky_reading": f"{zenith_reading(case.sky):.2f} mag/arcsec2 ({case.sky.reading_name})",
            "input_altitude_deg": float(case.target.altitude.value),
            "input_aperture_mm": float(telescope.aperture.value),
            "input_focal_length_mm": float(telescope.focal_length.value),
            "input_gain": str(case.camera.gain),
            "input_read_noise_electron": float(setting.read_noise.value),
            "input_temperature_deg_c": float(case.camera.temperature.value),
            "input_patch_arcsec": float(case.target.patch.value),
            "input_snr": float(case.goal.snr),
        }
    )


def to_csv(plan: Plan, found: Answer, hours: Spread) -> str:
    """An answer as CSV: units stand in the keys, a number that there is not leaves its cell empty.

    Parameters
    ----------
    plan : Plan
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
    rows = _rows(plan, found, hours)
    text = io.StringIO()
    writer = csv.DictWriter(text, rows[0])
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _harmless(value) for key, value in row.items()})
    return text.getvalue()


def _harmless(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(_COMMANDS) else value


def to_ecsv(plan: Plan, found: Answer, hours: Spread) -> str:
    """An answer as ECSV: the same table with units; title and verdicts are its meta data.

    Parameters
    ----------
    plan : Plan
    found : Answer
    hours : Spread
        Of the same plan.

    Returns
    -------
    str
        For :meth:`astropy.table.Table.read`.
    """
    from astropy.table import MaskedColumn, Table  # 160 ms that only an export needs

    rows = _rows(plan, found, hours)
    table = Table(
        meta={
            "title": found.title,
            "plan": plan.to_toml(),
            "verdicts": {one.filter_name: one.verdict for one in found.filters},
            "planned": {one["filter"]: one["planned"] for one in as_json(found, hours)["filters"]},
        }
    )
    for key in rows[0]:
        values = [row[key] for row in rows]
        missing = [value is None for value in values]
        kind = str if key in _TEXTS else int if "subs_" in key else float
        whole = [kind() if value is None else kind(value) for value in values]
        table[key] = MaskedColumn(whole, mask=missing, unit=unit_of(key))
    text = io.StringIO()
    table.write(text, format="ascii.ecsv")
    return text.getvalue()


def to_json(plan: Plan, found: Answer, hours: Spread) -> str:
    """An answer as JSON: what the command prints with its numbers rounded, the filters' sum, and the whole plan.

    Parameters
    ----------
    plan : Plan
    found : Answer
    hours : Spread
        Of the same plan.

    Returns
    -------
    str
    """
    plain = _rounded(as_json(found, hours))
    lit = {row["filter"] for row in plain["rows"] if row["light"] is not None}
    sums = {name: _sum([one[name] for one in plain["filters"] if one["filter"] in lit]) for name in _TOTALS}
    whole = {**plain, "total": _rounded(sums), "inputs": plan.values}
    return json.dumps(whole, allow_nan=False, indent=2, default=str) + "\n"


def _sum(numbers: list[Any]) -> Any:
    """Their sum; None where there are none, or one of them has no end."""
    return sum(numbers) if numbers and None not in numbers else None
