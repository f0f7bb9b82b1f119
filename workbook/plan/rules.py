"""What the declarations of the fields don't say: which fields take each other's place, and the order of the form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.base.field import Field, fields_of
from expocalc.budget.case import Case

__all__ = [
    "FOLDED",
    "GROUPS",
    "INSTEAD",
    "LABELS",
    "TOGETHER",
    "Group",
    "label_of",
    "pattern",
    "rivals",
    "say_or",
    "spelled_out",
]

INSTEAD: Mapping[tuple[str, ...], tuple[tuple[str, ...], ...]] = MappingProxyType(
    {
        ("sky",): (("zenith_brightness",), ("bortle",), ("luminance",), ("naked_eye_limit",)),
        ("camera", "dark_current"): (("doubles_every",), ("activation",)),
        ("moon",): (("illuminated",), ("phase_angle",)),
        ("filters", "*", "passbands", "*"): (("centre", "width"), ("standard",), ("table",)),
    }
)
"""Sets of fields of which exactly one is given, by the place of their table; a set's fields belong together."""

TOGETHER: Mapping[tuple[str, ...], tuple[str, ...]] = MappingProxyType(
    {("target",): ("right_ascension", "declination")}
)
"""Fields that are given all or none, by the place of their table."""

_GOES_WITH: Mapping[str, tuple[str, ...]] = MappingProxyType({"zenith_brightness": ("brightness_error",)})
"""Fields that belong to one that another takes the place of."""

_NOT_BESIDE: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"table": ("peak", "shape"), "standard": ("shape", "designed_for")}
)
"""Fields that are refused beside that one."""


def pattern(where: tuple[str | int, ...]) -> tuple[str, ...]:
    """A place with "*" for each position in a list."""
    return tuple("*" if isinstance(step, int) else step for step in where)


LABELS: Mapping[tuple[str, ...], str] = MappingProxyType(
    {
        ("sky", "zenith_brightness"): "Sky brightness",
        ("sky", "bortle"): "Bortle class",
        ("sky", "naked_eye_limit"): "Faintest star seen",
        ("sky", "reading_band"): "Band of the reading",
        ("sky", "measured"): "Measured by a sub",
        ("camera", "mosaic"): "Mono or colour",
        ("camera", "dark_current", "rate"): "Dark current",
        ("camera", "dark_current", "at"): "At a sensor of",
        ("camera", "dark_current", "doubles_every"): "It doubles every",
        ("camera", "gain"): "Gain in use",
        ("telescope", "reducer"): "Reducer or extender",
    }
)
"""What boxes are called whose field's name says too little without its table."""

FOLDED = frozenset({("sky", "lamps")})
"""Fields that wait behind "More", as the advanced ones do: something easier stands in the form for them."""


def label_of(where: tuple[str | int, ...], field: Field) -> str:
    """What the box of a field at a place is called."""
    return LABELS.get(pattern(where), field.label)


@dataclass(frozen=True, kw_only=True)
class Group:
    """A group of the form: its name, and the sections of a plan that it holds."""

    name: str
    sections: tuple[str, ...]


def _groups() -> tuple[Group, ...]:
    """Groups in the order of a photon's way; a section that no group names gets one of its own, at the end."""
    known = {
        "Sky and place": ("sky", "site", "moon"),
        "Telescope": ("telescope",),
        "Camera": ("camera",),
        "Filters": ("filters",),
        "Target and its light": ("target",),
        "Routine": ("routine",),
        "Goal": ("goal",),
    }
    taken = {section for sections in known.values() for section in sections}
    others = {
        f.name.replace("_", " ").capitalize(): (f.name,) for f in fields_of(Case) if f.nouns and f.name not in taken
    }
    return tuple(Group(name=name, sections=sections) for name, sections in {**known, **others}.items())


GROUPS = _groups()


def rivals(table: tuple[str | int, ...], name: str) -> tuple[str, ...]:
    """Fields that must go when that one of the table is given.

    Examples
    --------
    >>> rivals(("sky",), "bortle")
    ('zenith_brightness', 'luminance', 'naked_eye_limit', 'brightness_error')
    """
    sets = INSTEAD.get(pattern(table), ())
    mine = next((one for one in sets if name in one), None)
    if mine is None:
        return ()
    others = [other for one in sets if one is not mine for other in one]
    with_them = [other for gone in others for other in _GOES_WITH.get(gone, ())]
    return tuple(dict.fromkeys((*others, *with_them, *_NOT_BESIDE.get(name, ()))))


def spelled_out(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values with each table as a table, where a plan may write its first value alone.

    Examples
    --------
    >>> spelled_out({"sky": {"bortle": 6, "gradient": "0.4 mag"}})
    {'sky': {'bortle': 6, 'gradient': {'at_45deg': '0.4 mag'}}}
    """
    found = dict(values)
    for section in fields_of(Case):
        given = found.get(section.name)
        if section.kind != "table" or not isinstance(given, Mapping):
            continue
        for field in fields_of(section.nouns[0]):
            alone = given.get(field.name)
            if field.kind == "table" and field.nouns and alone is not None and not isinstance(alone, Mapping):
                first = fields_of(field.nouns[0])[0].name
                found[section.name] = {**found[section.name], field.name: {first: alone}}
    return found


def say_or(names: tuple[str, ...]) -> str:
    """Names with "or" before the last."""
    return " or ".join(filter(None, (", ".join(names[:-1]), names[-1])))
