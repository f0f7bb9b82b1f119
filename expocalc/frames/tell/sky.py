"""What a test sub means for the plan: the sky beside the model's, the likely reason, and whether to go on."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.budget.ranges import Range
from expocalc.budget.rates import Rates, rates
from expocalc.budget.row import FilterAnswer
from expocalc.budget.spread import spread
from expocalc.frames.measure.sub import SubFound
from expocalc.frames.read.header import FrameError
from expocalc.frames.tell.conditions import Seen, seen_by
from expocalc.frames.tell.known_star import KnownStar, StarTold, tell_star
from expocalc.frames.tell.plan_side import measured_value, unmeasured, with_measured
from expocalc.frames.tell.reasons import reasons_of
from expocalc.frames.tell.sky_words import advice_of, hours_words, no_sky_words, sky_words

__all__ = ["SkyTold", "tell_sky"]

_DRAWS = 2000
_EIGHT_OF_TEN = (0.1, 0.9)
_OTHER_GROWTH = 2.0
"""Hours have to grow by this before another filter is spoken of, and the other filter's by less than half as much."""
_BRIGHTEST, _DARKEST = 12.0, 22.5


@dataclass(frozen=True, eq=False, kw_only=True)
class SkyTold:
    """A test sub beside the plan; what needs a plan is None without one, and so is what needs a sky where none is seen.

    Attributes
    ----------
    found : SubFound
    filter_name : str or None
    mag_ab : mapping of str to float
        Mean in the passband, by colour. [mag/arcsec2]
    zenith_reading : float or None
        Reading at the zenith, in the plan's own band, that makes the model give this sky. [mag/arcsec2]
    seen : Seen or None
        Where the sub looked, and the Moon.
    star : StarTold or None
        What came through of a star whose magnitude somebody gave.
    ratio : mapping of str to float
        Sky over the model's for where the sub looked, by colour.
    doubt : (float, float)
        Ratios between which eight of ten skies lie by the plan's own doubt.
    planned, now, tonight : FilterAnswer or None
        The plan's answer with its own sky; with the measured one brought to the plan's altitude and Moon; and with the
        measured one as it is, where the sub looked.
    hours : Range or None
        Kept hours with the measured sky.
    advice : str
        "keep going", "longer", "shorter", "other filter", or "" without a plan or a sky.
    reasons : tuple of str
        What may be behind a sky that the doubt does not hold.
    sentences : tuple of str
        Advice first, where there is a plan; then the sky, the hours and the reasons. Or that no sky was seen.
    """

    found: SubFound
    filter_name: str | None = None
    mag_ab: Mapping[str, float] = dataclasses.field(default_factory=dict)
    zenith_reading: float | None = None
    seen: Seen | None = None
    star: StarTold | None = None
    ratio: Mapping[str, float] = dataclasses.field(default_factory=dict)
    doubt: tuple[float, float] | None = None
    planned: FilterAnswer | None = None
    now: FilterAnswer | None = None
    tonight: FilterAnswer | None = None
    hours: Range | None = None
    advice: str = ""
    reasons: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is odd about frame, header and plan together."""
        return (*self.found.warnings, *([self.seen.warning] if self.seen and self.seen.warning else ()))

    @property
    def verdict(self) -> str:
        """All sentences in a row."""
        return " ".join(self.sentences)


def _total(rate: Rates, sky_e_s: Any) -> float:
    return float((rate.pixel_share * sky_e_s).sum())


def _zenith_reading(case: Case, filter_name: str, rate: Rates, sky_e_s: Any) -> float | None:
    """Reading that makes the model give this sky, by halving; None where no sky of the model does."""
    filter_ = filter_named(case, filter_name)
    wanted = _total(rate, sky_e_s)

    def model(reading: float) -> float:
        sky = dataclasses.replace(
            case.sky, bortle=None, luminance=None, naked_eye_limit=None, measured=None,
            zenith_brightness=f"{reading} mag/arcsec2",
        )  # fmt: skip
        return _total(rate, rates(dataclasses.replace(case, sky=sky), filter_).model_sky_e_s)

    bright, dark = _BRIGHTEST, _DARKEST
    while dark - bright > 0.002:
        middle = (bright + dark) / 2
        try:
            darker = model(middle) > wanted
        except ValueError:  # darker than any sky
            darker = False
        bright, dark = (middle, dark) if darker else (bright, middle)
    found = (bright + dark) / 2
    at_an_end = min(found - _BRIGHTEST, _DARKEST - found) < 0.01
    return None if at_an_end or abs(model(bright) / wanted - 1) > 0.02 else found


def _doubt(case: Case, filter_name: str) -> tuple[float, float]:
    """Skies of eight draws in ten over the middle one."""
    for row in spread(case, case.doubt, draws=_DRAWS).rows:
        if row.filter_name == filter_name:
            light = np.asarray(row.patch.light_e_s)
            light = light.reshape(-1, light.shape[-1]).mean(axis=1)
            low, middle, high = np.quantile(light, (_EIGHT_OF_TEN[0], 0.5, _EIGHT_OF_TEN[1]))
            return float(low / middle), float(high / middle)
    error = 10 ** (0.4 * 1.28 * float(case.sky.brightness_error.value))
    return 1 / error, error


def _other_filter(case: Case, reading: float | None, filter_name: str, growth: float) -> str | None:
    """A filter that suffers less than half as much from this sky."""
    if growth < _OTHER_GROWTH or reading is None:
        return None
    sky = dataclasses.replace(
        case.sky, bortle=None, luminance=None, naked_eye_limit=None, measured=None,
        zenith_brightness=f"{reading} mag/arcsec2",
    )  # fmt: skip
    brighter = dataclasses.replace(case, sky=sky)
    best: tuple[float, str] | None = None
    for filter_ in case.filters:
        if filter_.name == filter_name:
            continue
        before, after = answer_filter(case, filter_)[0].kept_h, answer_filter(brighter, filter_)[0].kept_h
        if before and after and after / before < growth / 2 and (best is None or after / before < best[0]):
            best = after / before, filter_.shown_name
    return best[1] if best else None


def tell_sky(
    found: SubFound, case: Case | None = None, filter_name: str | None = None, star: KnownStar | None = None
) -> SkyTold:
    """A test sub beside a plan.

    Parameters
    ----------
    found : SubFound
    case : Case, optional
        The plan's.
    filter_name : str, optional
        One of its filters; the one the header names, or the only one, where none is given.
    star : KnownStar, optional
        A star of known magnitude, by which haze is told from added light.

    Returns
    -------
    SkyTold

    Raises
    ------
    FrameError
        If the filter is not one of the plan's, the frame's colours are not those of its camera, or the known star is
        not there or full; a star needs a plan.
    """
    if case is None:
        if star is not None:
            msg = "a known star needs a plan: its aperture, filter and sensor say how much light it should bring"
            raise FrameError(msg)
        name = found.frame.known.filter_name
        lit = found.colours[found.main].seen
        words = [sky_words(found)] if lit else list(no_sky_words(found))
        return SkyTold(found=found, filter_name=name, sentences=tuple(f"{one}." for one in words))
    filter_name = _filter_of(found, case, filter_name)
    filter_ = filter_named(case, filter_name)
    plain = unmeasured(case)
    seen = seen_by(case, found.frame.known)
    there = seen.there(plain)
    rate = rates(there, filter_)
    if set(rate.colours) != set(found.colours):
        msg = (
            f"{found.frame.name} has the colours {', '.join(found.colours)} and the plan's camera "
            f"{', '.join(rate.colours)}; one of the two is not this camera's"
        )
        raise FrameError(msg)
    if not found.colours[found.main].seen:
        return SkyTold(
            found=found, filter_name=filter_name, seen=seen, planned=answer_filter(plain, filter_)[0],
            sentences=tuple(f"{one}." for one in no_sky_words(found)),
        )  # fmt: skip
    sky = np.array([found.colours[colour].sky_e_s for colour in rate.colours])
    value = measured_value(found)
    measured = with_measured(plain, filter_name, value, seen.conditions())
    planned, now = answer_filter(plain, filter_)[0], answer_filter(measured, filter_)[0]
    tonight = answer_filter(seen.there(measured), filter_)[0]
    reading = _zenith_reading(there, filter_name, rate, sky)
    ratio = {c: float(s / m) for c, s, m in zip(rate.colours, sky, rate.model_sky_e_s, strict=True)}
    doubt = _doubt(there, filter_name)
    hours = spread(measured, measured.doubt, draws=_DRAWS).filters.get(filter_name)
    growth = (tonight.kept_h or math.inf) / planned.kept_h if planned.kept_h else 1.0
    advice, sentence = advice_of(found, tonight)
    other = _other_filter(plain, reading, filter_name, growth)
    if other:
        advice, sentence = "other filter", f"Another filter suffers less tonight: {other}; or: {sentence.lower()}"
    known = None if star is None else tell_star(found, there, filter_, star)
    reasons = reasons_of(found, ratio, doubt, seen, known)
    said = (sentence, sky_words(found, ratio, doubt, seen), hours_words(now, planned, hours), *reasons)
    with np.errstate(divide="ignore", invalid="ignore"):
        mag = -2.5 * np.log10(np.maximum(sky, 0) / rate.ab_zero_e_s)
    return SkyTold(
        found=found, filter_name=filter_name, mag_ab=dict(zip(rate.colours, mag.tolist(), strict=True)),
        zenith_reading=reading, seen=seen, star=known, ratio=ratio, doubt=doubt, planned=planned, now=now,
        tonight=tonight, hours=hours, advice=advice, reasons=reasons, sentences=tuple(f"{one}." for one in said),
    )  # fmt: skip


def _filter_of(found: SubFound, case: Case, filter_name: str | None) -> str:
    names = [one.name for one in case.filters]
    said = filter_name or found.frame.known.filter_name
    if said in names:
        return str(said)
    if filter_name is None and len(names) == 1:
        return names[0]
    near = [name for name in names if said and said.lower().split()[0] in name.lower()]
    if filter_name is None and len(near) == 1:
        return near[0]
    msg = f"{found.frame.name}: filter must be one of {', '.join(names)}, got {said or 'none'}; name it"
    raise FrameError(msg)
