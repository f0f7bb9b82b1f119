"""The boxes of one's own plan: how each is typed, where it stands in a plan, and what turning it changes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.light.reading import bortle_v
from expocalc.plan import Plan, PlanError, Where
from workbook.hours import knobs as hours_knobs
from workbook.hours import lights as light_knobs
from workbook.sub_length import knobs as plan_knobs
from workbook.workshop.experiments.dial import Dial

__all__ = [
    "BROAD",
    "CAMERAS",
    "DIALS",
    "KINDS",
    "camera_kind",
    "camera_turned",
    "filter_kind",
    "filter_turned",
    "lights_of",
    "turned",
    "values_of",
]

_CLASS = re.compile(r"(?:bortle|class|b)?\s*:?\s*([1-9])", re.I)
_LAST_CLASS = 9
_MAG_TAIL = re.compile(r"\s*mag(?:nitudes?)?\s*$", re.I)


@dataclass(frozen=True, kw_only=True)
class _SkyDial(Dial):
    """A reading in mag/arcsec2, or a Bortle class, which as a number is at most 9: no sky is so bright.

    Examples
    --------
    >>> DIALS["sky"].read("Bortle 5"), DIALS["sky"].read("5"), DIALS["sky"].read("19,1 mag")
    (5.0, 5.0, 19.1)
    >>> DIALS["sky"].say(5.0), DIALS["sky"].say(19.1)
    ('Bortle 5', '19.1 mag/arcsec²')
    """

    def read(self, text: str) -> float:
        said = _CLASS.fullmatch(text.strip())
        if said:
            return float(said[1])
        try:
            return super().read(_MAG_TAIL.sub("", text))
        except ValueError as error:
            msg = f"{str(error).rstrip('.')}, or a Bortle class from 1 to 9."
            raise ValueError(msg) from None

    def say(self, value: float | None) -> str:
        return f"Bortle {value:g}" if value is not None and value <= _LAST_CLASS else super().say(value)

    def turn(self, value: float | None) -> float:
        return super().turn(bortle_v(int(value)) if value is not None and value <= _LAST_CLASS else value)


DIALS: Mapping[str, Dial] = MappingProxyType(
    {
        "sky": _SkyDial(
            label="Sky straight up", unit="mag/arcsec2", low=16.5, high=22, step=0.1, example="19,1", start=19.1
        ),
        "aperture": Dial(label="Aperture", unit="mm", low=30, high=600, step=0.01, log=True, example="102", start=102),
        "focal length": Dial(
            label="Focal length", unit="mm", low=100, high=5000, step=0.01, log=True, example="510", start=510
        ),
        "pixel": Dial(label="Camera's pixel", unit="um", low=1, high=25, step=0.1, example="3,8", start=3.8),
        "read noise": Dial(label="Read noise", unit="electron", low=0.3, high=20, step=0.1, example="1,4", start=1.4),
        "width": Dial(label="Filter's width", unit="nm", low=1, high=400, step=0.02, log=True, example="5", start=5),
        "line": Dial(
            label="Glow of the target", unit="R", low=0.5, high=3000, step=0.02, log=True, example="12", start=12
        ),
        "continuum": Dial(
            label="Glow of the target", unit="mag/arcsec2", low=16, high=29, step=0.1, example="24", start=24
        ),
        "longest sub": Dial(
            label="Mount holds for", unit="s", low=2, high=3600, step=0.02, log=True, example="300", start=300
        ),
        "snr": Dial(label="SNR you want", unit="", low=1, high=100, step=0.02, log=True, example="10", start=10),
        "night": Dial(label="Hours in a night", unit="h", low=0.5, high=14, step=0.5, example="4", start=4),
    }
)
"""What a person fills in, by name; "line" and "continuum" are the two ways to say how bright the target is."""

CAMERAS = ("black and white", "colour")
"""A bare sensor, or one under a mosaic of red, green and blue."""
_LINES = MappingProxyType(
    {
        "H-alpha, red gas": (("H-alpha", "656.3 nm"),),
        "O III, blue-green gas": (("O III", "500.7 nm"),),
        "S II, deep red gas": (("S II", "672.4 nm"),),
        "two bands: H-alpha and O III": (("H-alpha", "656.3 nm"), ("O III", "500.7 nm")),
    }
)
BROAD = "broad: all colours"
KINDS = (*_LINES, BROAD)
"""What a filter passes, in a newcomer's words."""
_NAMES = MappingProxyType(dict(zip(KINDS, ("H-alpha", "O III", "S II", "Two bands", "Broad"), strict=True)))
_NARROW_NM, _BROAD_NM, _PEAK = 5.0, 300.0, 0.9
_BROAD_CENTRE, _GALAXY = "560 nm", "24 mag/arcsec2"
_GLOW = MappingProxyType({"H-alpha": "12 R", "O III": "15 R", "S II": "5 R"})
"""Where a target had no such light: the demo plan's, and for S II an invention of the same kind."""
_NARROW_NM_MOST, _SAME_NM = 40.0, 3.0
"""A passband up to this width is there for a line, and the line's where its centre lies so near. [nm]"""


def values_of(plan: Plan, filter_name: str, light_name: str) -> dict[str, float | None]:
    """Where the boxes stand for a plan, by the names of :data:`DIALS` but "night"; None where there is no such number.

    Parameters
    ----------
    plan : Plan
    filter_name, light_name : str
        What is looked at.
    """
    case = plan.case
    shown = plan_knobs.shown(plan, filter_name)
    kind = light_knobs.light_kind(light_knobs.light_named(plan, light_name))
    bright = light_knobs.light_shown(plan, light_name).value
    return {
        "sky": float(case.sky.bortle) if case.sky.bortle is not None else shown["sky"].value,
        "aperture": shown["aperture"].value,
        "focal length": shown["focal length"].value,
        "pixel": float(case.camera.pixel.value),
        "read noise": float(case.camera.setting.read_noise.value),
        "width": shown["width"].value,
        "line": bright if kind == "line" else None,
        "continuum": bright if kind == "continuum" else None,
        "longest sub": shown["longest sub"].value,
        "snr": case.goal.snr,
    }


def turned(plan: Plan, filter_name: str, light_name: str, name: str, value: float) -> tuple[Plan, str]:
    """The plan with one box turned, and the name of its filter, in which the width may stand.

    Raises
    ------
    PlanError, ValueError
        If the plan can't take it.
    """
    changes: dict[Where, Any]
    if name == "sky":
        changes = plan_knobs.changes(plan, filter_name, "bortle" if value <= _LAST_CLASS else "sky", value)
    elif name in ("line", "continuum"):
        changes = light_knobs.light_turned(plan, light_name, value)
    elif name == "snr":
        changes = hours_knobs.changes(plan, filter_name, "goal", value)
    elif name == "pixel":
        changes = {("camera", "pixel"): f"{value:.6g} um"}
    elif name == "read noise":
        changes = {("camera", "gains", str(plan.case.camera.gain), "read_noise"): f"{value:.6g} electron"}
    else:
        changes = plan_knobs.changes(plan, filter_name, name, value)
    new = _renamed(plan, filter_name, value) if name == "width" else filter_name
    if new != filter_name:
        changes = changes | {("filters", _number(plan, filter_name), "name"): new}
    return plan.with_values(changes), new


def _number(plan: Plan, filter_name: str) -> int:
    return [one.name for one in plan.case.filters].index(filter_name)


def _renamed(plan: Plan, filter_name: str, width_nm: float) -> str:
    """A filter's name with its new width, unless another bears it or something was measured under the old one."""
    old = plan_knobs.shown(plan, filter_name)["width"].value
    new = filter_name if old is None else filter_name.replace(f"{old:g} nm", f"{width_nm:.4g} nm")
    taken = [one.name for one in plan.case.filters]
    return filter_name if new in taken or filter_name in (plan.case.sky.measured or {}) else new


def camera_kind(plan: Plan) -> str:
    """One of :data:`CAMERAS`."""
    return CAMERAS[plan.case.camera.mosaic != "none"]


def camera_turned(plan: Plan, kind: str) -> Plan:
    """The plan with the other kind of camera; its dyes are typical ones."""
    if kind == camera_kind(plan):
        return plan
    colour = kind == CAMERAS[1]
    places = {"mosaic": "RGGB" if colour else None, "mosaic_curves": "typical" if colour else None}
    held = plan.values["camera"]
    return plan.with_values({("camera", key): value for key, value in places.items() if colour or key in held})


def lights_of(plan: Plan, filter_name: str) -> tuple[str, ...]:
    """Names of the target's lights that the filter passes, the one that needs most hours first."""
    found = plan.solve()
    neediest = found.of_filter(filter_name).neediest
    names = dict.fromkeys(row.light for row in (neediest, *found.rows) if row.filter_name == filter_name)
    return tuple(name for name in names if name in light_knobs.lights(plan))


def filter_kind(plan: Plan, filter_name: str) -> str:
    """One of :data:`KINDS`, or "" for a filter of another kind, which the plan's own notebooks know."""
    bands = plan.case.filters[_number(plan, filter_name)].passbands
    if any(band.width is None for band in bands):
        return ""
    if len(bands) == 1 and float(bands[0].width.value) > _NARROW_NM_MOST:
        return BROAD
    centres = sorted(float(band.centre.value) for band in bands)
    for kind, lines in _LINES.items():
        wanted = sorted(float(centre.split()[0]) for _, centre in lines)
        if len(wanted) == len(centres) and all(
            abs(one - other) < _SAME_NM for one, other in zip(wanted, centres, strict=True)
        ):
            return kind
    return ""


def filter_turned(plan: Plan, filter_name: str, kind: str) -> tuple[Plan, str, str]:
    """The plan with a filter of another kind in place of this one, its name, and the light that it is there for.

    A light that the target lacked comes with the brightness of faint gas, or of a faint galaxy.

    Raises
    ------
    PlanError
        If the plan can't take it.
    """
    lines = _LINES.get(kind, ())
    width = _NARROW_NM if lines else _BROAD_NM
    name = f"{_NAMES[kind]} {width:g} nm"
    if name != filter_name and name in [one.name for one in plan.case.filters]:
        msg = f"The plan has a filter {name} already; choose it under “Filter in view”"
        raise PlanError(msg)
    centres = [centre for _, centre in lines] or [_BROAD_CENTRE]
    bands = [{"centre": centre, "width": f"{width:g} nm", "peak": _PEAK} for centre in centres]
    filters = [dict(one) for one in plan.values["filters"]]
    wanted = [line for line, _ in lines] or ["continuum"]
    # a broad filter passes the lines too, but nobody takes it for them
    only = {} if lines else {"wanted": wanted}
    filters[_number(plan, filter_name)] = {"name": name, "passbands": bands, **only}
    changes: dict[Where, Any] = {("filters",): filters}
    measured = plan.values["sky"].get("measured", {})
    if filter_name in measured:
        changes["sky", "measured"] = {one: e_s for one, e_s in measured.items() if one != filter_name} or None
    missing = [one for one in wanted if one not in light_knobs.lights(plan)]
    if missing:
        given = plan.values["target"]["light"]
        lights = [given] if isinstance(given, Mapping) else list(given)
        new = [{"line": one, "brightness": _GLOW[one]} if lines else {"continuum": _GALAXY} for one in missing]
        changes["target", "light"] = [*map(dict, lights), *new]
    return plan.with_values(changes), name, wanted[0]
