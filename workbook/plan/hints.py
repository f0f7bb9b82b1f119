"""What follows from the values around a box: a class's range, a focal ratio, what another instrument would read."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from expocalc.base.quantity import read_number, read_quantity
from expocalc.base.words import say_number
from expocalc.light.instruments import sky_readings
from expocalc.light.reading import BORTLE
from expocalc.light.sky import Sky
from expocalc.plan import Where
from workbook.parts.units import Units
from workbook.plan.bortle import range_of
from workbook.plan.entry import say_unit
from workbook.plan.telescope import native_mm
from workbook.plan.values import at

__all__ = ["Hint", "hint"]


_ALONE = "Of the telescope alone, without reducer or extender; “f/6” is understood."
_REDUCER = "Factor by which it changes the focal length: a reducer's is below 1, an extender's above."


@dataclass(frozen=True, kw_only=True)
class Hint:
    """What to add to a box.

    Attributes
    ----------
    words : str
        A sentence more.
    empty : str
        What stands faintly in the empty box.
    text : str or None
        What stands in it, where that is not the plan's own value.
    meaning : str
        In place of the field's own, where the box asks for something else.
    """

    words: str = ""
    empty: str = ""
    text: str | None = None
    meaning: str = ""


def hint(name: str, table: Where, values: Mapping[str, Any], units: Units) -> Hint:
    """Hint for the box of a field, mostly none."""
    with contextlib.suppress(TypeError, ValueError, KeyError, ArithmeticError):
        if table == ("sky",):
            return _sky(name, at(values, table, {}), units)
        if table == ("telescope",):
            return _telescope(name, at(values, table, {}), units)
        if table == ("camera",) and name == "pixel":
            return Hint(words=_scale(values))
        if table == ("camera",) and name == "gain" and len(at(values, ("camera", "gains"), {})) < 2:
            return Hint(empty="the only one")
    return Hint()


def _sky(name: str, sky: Mapping[str, Any], units: Units) -> Hint:
    span = range_of(sky)
    if name == "bortle":
        if span is not None:
            first, last = span
            return Hint(text=f"{first}-{last}", words=_class_words(first, last, units))
        if "bortle" in sky:
            return Hint(words=_class_words(int(sky["bortle"]), int(sky["bortle"]), units))
    if name in ("zenith_brightness", "luminance", "naked_eye_limit", "bortle") and name not in sky:
        readings = sky_readings(Sky(**{key: value for key, value in sky.items() if key != "measured"}))
        shown = {
            "zenith_brightness": f"{readings.bessell_v:.2f} mag/arcsec²",
            "luminance": f"{say_number(1000 * readings.luminance_cd_m2)} mcd/m2",
            "naked_eye_limit": f"{readings.naked_eye_limit:.1f}",
            "bortle": readings.bortle,
        }
        return Hint(empty=f"would be {shown[name]}", words="“6-7” is understood." if name == "bortle" else "")
    if name == "bortle":
        return Hint(words="“6-7” is understood.")
    if name in ("zenith_brightness", "brightness_error") and span is not None:
        return Hint(words=f"It follows from the Bortle classes {span[0]} to {span[1]}.")
    return Hint()


def _class_words(first: int, last: int, units: Units) -> str:
    bright, dark = BORTLE[last][0], BORTLE[first][1]
    if units.sky == "mcd/m2":
        skies = (Sky(zenith_brightness=f"{mag} mag/arcsec2") for mag in (dark, bright))
        low, high = (say_number(1000 * sky_readings(sky).luminance_cd_m2) for sky in skies)
        said = f"{low} to {high} mcd/m2"
    else:
        said = f"{bright} to {dark} mag/arcsec²"
    what = f"Class {first} is" if first == last else f"Classes {first} to {last} are"
    return f"{what} {said}."


def _telescope(name: str, telescope: Mapping[str, Any], units: Units) -> Hint:
    if name == "focal_length":
        alone = native_mm(telescope)
        text = None if alone is None else say_unit(units.shown(f"{alone:.6g} mm", "mm"))
        return Hint(text=text, meaning=_ALONE, words=_ratio(telescope, units))
    if name == "reducer":
        return Hint(meaning=_REDUCER)
    return Hint()


def _ratio(telescope: Mapping[str, Any], units: Units) -> str:
    if "focal_length" not in telescope or "aperture" not in telescope:
        return ""
    focal_mm = read_quantity("focal length", telescope["focal_length"], "mm")
    ratio = focal_mm / read_quantity("aperture", telescope["aperture"], "mm")
    reducer = read_number("reducer", telescope.get("reducer", 1))
    return f"{'With it the camera sees' if reducer != 1 else 'That is'} {units.say_mm(focal_mm)}, f/{ratio:.3g}."


def _scale(values: Mapping[str, Any]) -> str:
    pixel = read_quantity("pixel", at(values, ("camera", "pixel")), "um")
    focal = read_quantity("focal length", at(values, ("telescope", "focal_length")), "mm")
    return f"In this telescope {say_number(206.265 * pixel / focal, 3)}″ on the sky."
