"""What may be behind a sky, or a star's light, that the plan's doubt does not hold: told apart where the numbers can.

Two numbers of a sub need no trust in anybody: noise that fits its level says that the electrons per ADU are right, and
a star of known light says what the air took. A bright sky with a dimmed star is haze that lamps light up; a bright sky
behind clear air is light that was added. What one sub can't tell is said: without a known star haze and added light
look alike, and a leak looks like lamps until the telescope is capped.
"""

from __future__ import annotations

from collections.abc import Mapping

from expocalc.base.words import say_number, say_share
from expocalc.frames.measure.sub import SubFound
from expocalc.frames.tell.conditions import Seen
from expocalc.frames.tell.known_star import StarTold

__all__ = ["CHANGED", "reasons_of"]

_COLOUR_SHIFT = 1.25
CHANGED = 1.1
"""From this factor on two subs of one sitting had different air: common practice, no source."""


def reasons_of(
    found: SubFound, ratio: Mapping[str, float], doubt: tuple[float, float], seen: Seen, star: StarTold | None
) -> tuple[str, ...]:
    """Sentences without their full stop, none where sky and stars are as expected.

    Parameters
    ----------
    found : SubFound
    ratio : mapping of str to float
        Sky over the model's, by colour.
    doubt : (float, float)
        Ratios that the plan's doubt holds.
    seen : Seen
        Where the sub looked.
    star : StarTold, optional
        A star of known magnitude.
    """
    usual = ratio[found.main]
    inside = doubt[0] <= usual <= doubt[1]
    said = [] if inside else [_of_the_gain(found)]
    if star is not None:
        said.append(_of_the_star(star, usual > doubt[1], usual < doubt[0]))
    elif usual < doubt[0]:
        said.append(
            "A darker sky than planned: a clearer night or fewer lamps than the reading says, or less light through "
            "the gear (dew, a wrong filter, vignetting)"
        )
    if usual > doubt[1] and not (star is not None and star.dimmed):
        said.append(_of_the_excess(ratio, seen, clear=star is not None))
    if not inside and star is None:
        said.append(
            "A cap on the telescope tells a leak (the sky must fall to nothing); a star of known magnitude tells haze"
        )
    said += _of_two_subs(found)
    return tuple(said)


def _of_the_gain(found: SubFound) -> str:
    if found.gain.fits:
        return "The noise fits the level, so the electrons per ADU are right and the light is real"
    if found.gain.fits is False:
        return "The noise does not fit the level: mend the electrons per ADU first, the ratio may be theirs"
    return "The level is too low for its noise to say whether the electrons per ADU are right"


def _of_the_star(star: StarTold, brighter: bool, darker: bool) -> str:
    came = f"The known star shows {say_share(star.share)} of the light that it should"
    if star.dimmed and brighter:
        return f"{came}: haze or thin cloud, which the lamps (or the Moon) light up"
    if star.dimmed and darker:
        return f"{came}, and the sky is darker too: less light comes through the gear (dew, a wrong filter, vignetting)"
    if star.dimmed:
        return f"{came}: haze, thin cloud, or dew on the glass"
    if star.share > star.high:
        return f"{came}: is it the right star, and its magnitude? Else the gear is better than the plan says"
    if brighter:
        return f"{came}, as on a clear night: the air is no reason, light was added"
    if darker:
        return f"{came}, as on a clear night: it is the sky that is darker, fewer lamps than the reading says"
    return f"{came}, as on a clear night: no haze"


def _of_the_excess(ratio: Mapping[str, float], seen: Seen, *, clear: bool) -> str:
    """What else lights the sky; `clear` where a star says that the air is no reason."""
    haze = "" if clear else "haze, "
    bluer = ratio["B"] / ratio["R"] if {"B", "R"} <= set(ratio) and ratio["R"] > 0 else None
    if bluer is not None and bluer > _COLOUR_SHIFT:
        moon = "" if seen.known else "the Moon or "
        return f"The excess is bluer than the model's sky: {moon}white LED lamps"
    if bluer is not None and bluer < 1 / _COLOUR_SHIFT:
        return f"The excess is redder than the model's sky: sodium lamps, {haze}or light that leaks in"
    left = f"{haze}more lamps than the reading says, or a light leak are left"
    if seen.known:
        return f"The Moon was {'down' if seen.moon is None else 'up and is counted'}: {left}"
    if seen.moon is not None:
        return f"The plan's Moon is counted already: {left}"
    after = "else more lamps, or a leak" if clear else "else haze that lamps light up"
    return f"The plan has no Moon: if it is up, that is the first suspect; {after}"


def _of_two_subs(found: SubFound) -> list[str]:
    change = found.second_light
    if not (change > CHANGED or change < 1 / CHANGED):
        return []
    which = "second" if change < 1 else "first"
    share = change if change < 1 else 1 / change
    return [
        f"The same stars show {say_number(100 * share)} % of their light in the {which} sub: cloud or haze passes, or "
        "dew grows"
    ]
