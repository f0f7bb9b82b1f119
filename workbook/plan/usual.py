"""What is usual, to begin with: filters at usual widths, and the lamps of a town in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from expocalc.gear.sensors import DOUBLING
from expocalc.light.emission import LINES
from expocalc.plan import Where
from workbook.plan.values import at

__all__ = ["BROAD", "KINDS", "LAMP_MIXES", "NARROW", "WIDTHS", "filter_like", "free_name", "is_usual", "usual_beside"]

NARROW: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "H-alpha": ("H-alpha",),
        "O III": ("O III",),
        "S II": ("S II",),
        "N II": ("N II",),
        "H-beta": ("H-beta",),
        "Dual band, H-alpha and O III": ("H-alpha", "O III"),
        "Dual band, S II and O III": ("S II", "O III"),
    }
)
"""Narrow filters, by what they are called, with the lines that they pass."""

WIDTHS = ("3 nm", "4 nm", "5 nm", "6 nm", "7 nm", "10 nm", "12 nm")
"""Usual widths of narrow filters: common practice, no source."""

BROAD: Mapping[str, tuple[int, int]] = MappingProxyType(
    {
        "Luminance": (400, 700),
        "Red": (590, 690),
        "Green": (490, 580),
        "Blue": (400, 500),
        "Clear, no filter": (350, 1000),
    }
)
"""Broad filters and their ends: common practice, no source. [nm]"""

STANDARD = "Standard band V"
OWN = "My own filter"

KINDS = (*NARROW, *BROAD, STANDARD, OWN)
"""Kinds of filter to begin with."""

LAMP_MIXES: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "white LED and orange sodium": {"led-4000K": 0.6, "sodium-high-pressure": 0.4},
        "white LED alone": {"led-4000K": 1.0},
        "warm white LED alone": {"led-3000K": 1.0},
        "orange sodium alone": {"sodium-high-pressure": 1.0},
        "mostly orange sodium, some LED": {"led-4000K": 0.2, "sodium-high-pressure": 0.8},
        "bluish white: mercury or metal halide": {"mercury": 0.5, "metal-halide": 0.5},
    }
)
"""What a look around shows, and shares for it: assumed."""


_BESIDE: Mapping[Where, tuple[Where, tuple[str, ...], Where | None]] = MappingProxyType(
    {
        ("camera", "pixel"): (("camera", "quantum_efficiency"), ("back-lit mono", "back-lit colour"), None),
        ("camera", "dark_current", "rate"): (
            ("camera", "dark_current", "doubles_every"),
            (DOUBLING,),
            ("camera", "dark_current", "activation"),
        ),
    }
)
"""Where a value is typed that wants another beside it: that one's place, what is usual there, and what rules it out."""


def usual_beside(place: Where, values: Mapping[str, Any]) -> dict[Where, Any]:
    """What is usual beside a value that is typed, where nothing stands yet.

    Examples
    --------
    >>> usual_beside(("camera", "dark_current", "rate"), {})
    {('camera', 'dark_current', 'doubles_every'): '6 K'}
    >>> usual_beside(("camera", "pixel"), {"camera": {"quantum_efficiency": 0.8}})
    {}
    """
    if place not in _BESIDE:
        return {}
    there, usual, instead = _BESIDE[place]
    taken = [at(values, one) for one in (there, instead) if one is not None]
    return {there: usual[0]} if all(one is None for one in taken) else {}


def is_usual(place: Where, value: Any) -> bool:
    """Whether a value is what is usual at its place, so that it may not be one's own."""
    return any(place == there and value in usual for there, usual, _ in _BESIDE.values())


def _wavelength_nm(line: str) -> float:
    """Mean wavelength of a line that a filter is made for: of S II both lie inside."""
    found = LINES[line]
    pairs = list(zip(found.wavelength_nm, found.share, strict=True))
    near = [pair for pair in pairs if abs(pair[0] - pairs[0][0]) < 2]
    return sum(w * s for w, s in near) / sum(s for _, s in near)


def filter_like(kind: str, width: str) -> dict[str, Any]:
    """A filter of a plan by its kind.

    Examples
    --------
    >>> filter_like("Dual band, H-alpha and O III", "7 nm")["passbands"]
    [{'centre': '656.3 nm', 'width': '7 nm'}, {'centre': '500.7 nm', 'width': '7 nm'}]
    >>> filter_like("Luminance", "")
    {'name': 'Luminance', 'passbands': [{'centre': '550 nm', 'width': '300 nm'}]}
    """
    if kind in NARROW:
        name = f"Dual {width}" if len(NARROW[kind]) > 1 else f"{kind} {width}"
        if kind == "Dual band, S II and O III":
            name = f"S II and O III {width}"
        bands = [{"centre": f"{_wavelength_nm(line):.1f} nm", "width": width} for line in NARROW[kind]]
        return {"name": name, "passbands": bands}
    if kind in BROAD:
        low, high = BROAD[kind]
        return {"name": kind, "passbands": [{"centre": f"{(low + high) / 2:g} nm", "width": f"{high - low} nm"}]}
    if kind == STANDARD:
        return {"name": "V", "passbands": [{"standard": "bessell-V"}]}
    return {"name": "My filter", "passbands": [{}]}


def free_name(wanted: str, taken: list[str]) -> str:
    """The name, with a number behind it where it is taken.

    Examples
    --------
    >>> free_name("L", ["L", "L 2"])
    'L 3'
    """
    numbered = (wanted if number == 1 else f"{wanted} {number}" for number in range(1, 10_000))
    return next(name for name in numbered if name not in taken)
