"""Focal length of a telescope alone and with its reducer; the plan keeps the second, and the reducer's factor."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from expocalc.base.quantity import read_number, read_quantity

__all__ = ["focal_changes", "native_mm"]

_RATIO = re.compile(r"\s*[fF]\s*/\s*([\d.,]+)\s*")


def native_mm(telescope: Mapping[str, Any]) -> float | None:
    """Focal length without the reducer; None where there is none yet. [mm]

    Examples
    --------
    >>> native_mm({"focal_length": "384 mm", "reducer": 0.8})
    480.0
    """
    if "focal_length" not in telescope:
        return None
    with_it = read_quantity("focal length", telescope["focal_length"], "mm")
    return float(f"{with_it / read_number('reducer', telescope.get('reducer', 1)):.7g}")


def focal_changes(telescope: Mapping[str, Any], name: str, value: Any) -> dict[str, Any]:
    """Values of the telescope that follow from a typed focal length (alone), focal ratio, reducer or aperture.

    Parameters
    ----------
    telescope : mapping
        Its values as the plan holds them.
    name : str
        "focal_length" or "reducer".
    value : str, float or None
        As the plan would hold it; a focal length may be written as a ratio, "f/6".

    Raises
    ------
    ValueError
        If a focal ratio is given before the aperture.

    Examples
    --------
    >>> focal_changes({"aperture": "80 mm", "reducer": 0.8}, "focal_length", "f/6")
    {'focal_length': '384 mm'}
    >>> focal_changes({"focal_length": "384 mm", "reducer": 0.8}, "reducer", None)
    {'reducer': None, 'focal_length': '480 mm'}
    """
    if name == "reducer":
        alone = native_mm(telescope)
        factor = 1.0 if value is None else read_number("Reducer", value)
        return {"reducer": value} | ({} if alone is None else {"focal_length": _mm(alone * factor)})
    if value is None:
        return {"focal_length": None}
    ratio = _RATIO.fullmatch(str(value))
    if ratio is not None:
        if "aperture" not in telescope:
            msg = f"Focal length was given as a ratio, {value}, which needs the aperture first"
            raise ValueError(msg)
        number = read_number("Focal length", ratio[1], above=0)
        alone = number * read_quantity("aperture", telescope["aperture"], "mm")
    else:
        alone = read_quantity("Focal length", value, "mm")
    return {"focal_length": _mm(alone * read_number("reducer", telescope.get("reducer", 1)))}


def _mm(length: float) -> str:
    return f"{length:.7g} mm"
