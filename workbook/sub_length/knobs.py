"""What can be turned in the sub-length panel: where each value stands in a plan, and where it comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.light.instruments import sky_readings
from expocalc.light.lamps import LAMPS
from expocalc.plan import Plan, Where
from workbook.parts.knob import Knob, Shown, origin_of, shown_at
from workbook.parts.reading import Luminance, SkyKnob, reading_as, say_sky, zenith_reading

__all__ = [
    "KNOBS",
    "Lamps",
    "changes",
    "gain_change",
    "gain_origin",
    "gains",
    "lamps",
    "lamps_change",
    "shown",
    "summary",
]

KNOBS: Mapping[str, Knob] = MappingProxyType(
    {
        "sky": SkyKnob(
            label="Sky at the zenith",
            unit="mag/arcsec2",
            low=16.5,
            high=22,
            step=0.05,
            example='"19.1 mag/arcsec2"',
        ),
        "bortle": Knob(label="Bortle class", unit="", low=1, high=9, step=1, example="6"),
        "lamps": Knob(label="Share of the first", unit="%", low=0, high=100, step=5, example='"60 %"'),
        "altitude": Knob(label="Target's altitude", unit="deg", low=15, high=90, step=1, example='"60 deg"'),
        "aperture": Knob(label="Aperture", unit="mm", low=30, high=600, step=0.01, log=True, example='"102 mm"'),
        "focal length": Knob(
            label="Focal length", unit="mm", low=50, high=5000, step=0.01, log=True, example='"510 mm"'
        ),
        "temperature": Knob(label="Temperature", unit="deg_C", low=-30, high=30, step=1, example='"-10 deg_C"'),
        "width": Knob(label="Filter's width", unit="nm", low=1, high=300, step=0.02, log=True, example='"5 nm"'),
        "longest sub": Knob(
            label="Mount's longest sub",
            unit="s",
            low=5,
            high=3600,
            step=0.02,
            log=True,
            example='"300 s"',
            without="no limit",
        ),
        "dead time": Knob(label="Pause after a sub", unit="s", low=0, high=60, step=0.5, example='"2 s"'),
    }
)
"""The numbers of the panel, by name."""

_PLACES: Mapping[str, Where] = MappingProxyType(
    {
        "altitude": ("target", "altitude"),
        "aperture": ("telescope", "aperture"),
        "focal length": ("telescope", "focal_length"),
        "temperature": ("camera", "temperature"),
        "longest sub": ("routine", "longest_sub"),
        "dead time": ("routine", "dead_time"),
    }
)
_READ_BY = MappingProxyType({"bortle": "from the class", "luminance": "from cd/m²", "naked_eye_limit": "by eye"})


def changes(plan: Plan, filter_name: str, name: str, value: float | None) -> dict[Where, Any]:
    """What turning the knob `name` to `value` changes in the plan.

    Parameters
    ----------
    plan : Plan
    filter_name : str
        The filter that is looked at.
    name : str
        One of :data:`KNOBS`.
    value : float or None
        In the knob's unit; None for having no value.

    Returns
    -------
    dict
        For :meth:`expocalc.plan.Plan.with_values`.

    Raises
    ------
    ValueError
        If the plan holds nothing that the knob could change.
    """
    if name == "sky" and isinstance(value, Luminance):
        return reading_as(plan, "luminance", f"{value:.6g} mcd/m2")
    if name == "sky":
        return reading_as(plan, "zenith_brightness", KNOBS[name].toml(value))
    if name == "bortle":
        if value is None or value != int(value):
            msg = f"Bortle class must be a whole number from 1 to 9, got {value:g}"
            raise ValueError(msg)
        return reading_as(plan, "bortle", int(value))
    if name == "lamps":
        mix = lamps(plan)
        if value is None or not 0 <= value <= 100:
            msg = f"Share of the first lamp must be from 0 % to 100 %, got {value:g} %"
            raise ValueError(msg)
        return lamps_change(mix.first, mix.second, value)
    if name == "width":
        found: dict[Where, Any] = {place: KNOBS[name].toml(value) for place in _widths(plan, filter_name)}
        if not found:
            msg = f"the curve of {plan.case.filter_shown(filter_name)} comes from a table, so its width can't be turned"
            raise ValueError(msg)
        return found
    return {_PLACES[name]: KNOBS[name].toml(value)}


def _widths(plan: Plan, filter_name: str) -> list[Where]:
    number = [f.name for f in plan.case.filters].index(filter_name)
    bands = plan.values["filters"][number]["passbands"]
    return [("filters", number, "passbands", at, "width") for at, band in enumerate(bands) if "width" in band]


def shown(plan: Plan, filter_name: str) -> dict[str, Shown]:
    """What each knob shows.

    Parameters
    ----------
    plan : Plan
    filter_name : str
        The filter that is looked at.

    Returns
    -------
    dict of str to Shown
        By the names of :data:`KNOBS`.
    """
    case = plan.case
    values: dict[str, float | None] = {
        "altitude": float(case.target.altitude.value),
        "aperture": float(case.telescope.aperture.value),
        "focal length": float(case.telescope.focal_length.value),
        "temperature": float(case.camera.temperature.value),
        "longest sub": None if case.routine.longest_sub is None else float(case.routine.longest_sub.value),
        "dead time": float(case.routine.dead_time.value),
    }
    found = shown_at(plan, KNOBS, _PLACES, values)
    mix = lamps(plan)
    found["lamps"] = Shown(value=mix.share, text=KNOBS["lamps"].say(mix.share), origin=mix.origin)
    return found | _shown_sky(plan, filter_name) | {"width": _shown_width(plan, filter_name)}


def _shown_sky(plan: Plan, filter_name: str) -> dict[str, Shown]:
    sky = plan.case.sky
    readings = sky_readings(sky.as_read)
    value = zenith_reading(sky)
    kind = sky.reading_name
    origin = _READ_BY.get(kind, "meter" if sky.reading_band == "meter" else "plan")
    if kind in ("zenith_brightness", "luminance") and plan.changes.get(("sky", kind)) is not None:
        origin = "set here"
    if sky.measured and filter_name in sky.measured:
        origin = "not used: measured"
    classes = [float(word) for word in readings.bortle.split(" to ")]
    middle = float(sky.bortle or round(sum(classes) / len(classes)))
    is_class = sky.bortle is not None
    return {
        "sky": Shown(value=value, text=say_sky(sky), origin=origin),
        "bortle": Shown(
            value=middle,
            text=str(sky.bortle) if is_class else readings.bortle,
            origin=origin_of(plan, ("sky", "bortle")) if is_class else "from the sky",
        ),
    }


def _shown_width(plan: Plan, filter_name: str) -> Shown:
    places = _widths(plan, filter_name)
    if not places:
        return Shown(value=None, text="from a table", origin="plan")
    band = plan.case.filters[int(places[0][1])].passbands[int(places[0][3])]
    value = float(band.width.value)
    return Shown(value=value, text=KNOBS["width"].say(value), origin=origin_of(plan, places[0]))


@dataclass(frozen=True, kw_only=True)
class Lamps:
    """The two lamps that matter most, and the share of the first. [%]"""

    first: str
    second: str
    share: float
    origin: str


def lamps(plan: Plan) -> Lamps:
    """Lamp mix of the plan as two lamps and a share; of a longer mix the two with the largest shares."""
    mix = list(plan.case.sky.lamps.items())
    if len(mix) > 2:
        mix.sort(key=lambda entry: -entry[1])
    first, share = mix[0]
    second = mix[1][0] if len(mix) > 1 else next(lamp for lamp in LAMPS if lamp != first)
    origin = origin_of(plan, ("sky", "lamps"))
    if len(mix) > 2:
        origin = f"mix of {len(mix)}" if plan.case.sky.told is None else "your rates"
    return Lamps(first=first, second=second, share=round(100 * share, 6), origin=origin)


def lamps_change(first: str, second: str, share: float) -> dict[Where, Any]:
    """The plan's new lamp mix; `share` of the first in per cent."""
    if first == second:
        return {("sky", "lamps"): {first: 1.0}}
    part = round(share / 100, 6)
    return {("sky", "lamps"): {first: part, second: round(1 - part, 6)}}


def gains(plan: Plan) -> tuple[tuple[str, ...], str]:
    """Names of the camera's gain settings, and the one in use."""
    return tuple(plan.case.camera.gains), str(plan.case.camera.gain)


def gain_change(name: str) -> dict[Where, Any]:
    """The plan's new gain setting."""
    return {("camera", "gain"): name}


def gain_origin(plan: Plan) -> str:
    """Where the gain setting comes from; a camera with a single one leaves no choice."""
    return origin_of(plan, ("camera", "gain")) if len(plan.case.camera.gains) > 1 else "the only one"


def summary(plan: Plan, values: Mapping[str, Shown]) -> dict[str, str]:
    """One line of each group of controls, for when it is folded."""
    text = {name: value.text for name, value in values.items()}
    holds = text["longest sub"] if values["longest sub"].value is None else f"holds {text['longest sub']}"
    return {
        "Sky": text["sky"],
        "Target": f"{text['altitude']} high",
        "Telescope": f"{text['aperture']} at f/{plan.case.telescope.focal_ratio:.3g}",
        "Camera": f"gain {plan.case.camera.gain}, {text['temperature']}",
        "Filter": f"{text['width']} wide" if values["width"].value else text["width"],
        "Mount and pauses": f"{holds}, pause {text['dead time']}",
    }
