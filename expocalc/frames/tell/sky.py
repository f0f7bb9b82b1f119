"""What a test sub means for the plan: the sky beside the model's, the likely reason, and whether to go on."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from expocalc.base.words import say_duration, say_number, say_span
from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.budget.planned import plan_for
from expocalc.budget.rates import Rates, rates
from expocalc.budget.row import FilterAnswer
from expocalc.budget.spread import Range, spread
from expocalc.frames.measure.sub import Behind, SubFound
from expocalc.frames.read.fits import Frame, with_mosaic
from expocalc.frames.read.header import FrameError

__all__ = ["SkyTold", "as_camera", "as_json", "behind_of", "measured_value", "tell_sky", "with_measured"]

_DRAWS = 2000
_EIGHT_OF_TEN = (0.1, 0.9)
_ROUND = 1.02
_NEARLY = 0.95
"""Part of the well from which a star counts as full: common practice, no source."""
_OTHER_GROWTH = 2.0
"""Hours have to grow by this before another filter is spoken of, and the other filter's by less than half as much."""
_COLOUR_SHIFT = 1.25
_BRIGHTEST, _DARKEST = 12.0, 22.5


@dataclass(frozen=True, eq=False, kw_only=True)
class SkyTold:
    """A test sub beside the plan; what needs a plan is None without one.

    Attributes
    ----------
    found : SubFound
    filter_name : str or None
    mag_ab : mapping of str to float
        Mean in the passband, by colour. [mag/arcsec2]
    zenith_reading : float or None
        Reading at the zenith, in the plan's own band, that makes the model give this sky. [mag/arcsec2]
    ratio : mapping of str to float
        Sky over the model's, by colour.
    doubt : (float, float)
        Ratios between which eight of ten skies lie by the plan's own doubt.
    planned, now : FilterAnswer or None
        The plan's answer with its own sky and with the measured one.
    hours : Range or None
        Kept hours with the measured sky.
    advice : str
        "keep going", "longer", "shorter", "other filter", or "" without a plan.
    reasons : tuple of str
        What may be behind a sky that the doubt does not hold.
    sentences : tuple of str
        Advice first, where there is a plan; then the sky, the hours and the reasons.
    """

    found: SubFound
    filter_name: str | None = None
    mag_ab: Mapping[str, float] = dataclasses.field(default_factory=dict)
    zenith_reading: float | None = None
    ratio: Mapping[str, float] = dataclasses.field(default_factory=dict)
    doubt: tuple[float, float] | None = None
    planned: FilterAnswer | None = None
    now: FilterAnswer | None = None
    hours: Range | None = None
    advice: str = ""
    reasons: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """All sentences in a row."""
        return " ".join(self.sentences)


def behind_of(case: Case | None, **given: Any) -> Behind:
    """What a plan knows of its camera, under what a person gives."""
    known: dict[str, Any] = {}
    if case is not None:
        setting = case.camera.setting
        known = {
            "dark_e_s": float(case.camera.dark_e_s),
            "read_noise_e": math.sqrt(setting.read_variance_e2),
            "electrons_per_adu": setting.electrons_per_adu,
            "bias_adu": setting.bias_level,
            "full_adu": (setting.bias_level or 0.0) + _NEARLY * setting.saturation_e / setting.electrons_per_adu,
        }
    return Behind(**{**known, **{name: value for name, value in given.items() if value is not None}})


def as_camera(frame: Frame, case: Case | None) -> Frame:
    """The frame with the mosaic of the plan's camera where its header names none."""
    return with_mosaic(frame, None if case is None or case.camera.mosaic == "none" else case.camera.mosaic)


def measured_value(found: SubFound) -> str | dict[str, str]:
    """The measured sky as a plan's section [sky.measured] takes it."""
    said = {colour: f"{max(one.sky_e_s, 0.0):.4g} electron/s" for colour, one in found.colours.items()}
    return said["mono"] if "mono" in said else said


def with_measured(case: Case, filter_name: str, value: str | Mapping[str, str]) -> Case:
    """The case with a measured sky in one of its filters."""
    measured: Any = {**(case.sky.measured or {}), filter_name: value}
    return dataclasses.replace(case, sky=dataclasses.replace(case.sky, measured=measured))


def _unmeasured(case: Case) -> Case:
    return dataclasses.replace(case, sky=dataclasses.replace(case.sky, measured=None)) if case.sky.measured else case


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


def _reasons(case: Case, found: SubFound, ratio: Mapping[str, float], doubt: tuple[float, float]) -> tuple[str, ...]:
    """What may be behind a ratio beyond the doubt, told apart where the numbers can."""
    usual = ratio[found.main]
    if doubt[0] <= usual <= doubt[1]:
        return ()
    said = []
    if found.gain.fits:
        said.append("The noise fits the level, so the electrons per ADU are right and the light is real")
    elif found.gain.fits is False:
        said.append("The noise does not fit the level: mend the electrons per ADU first, the ratio may be theirs")
    else:
        said.append("The level is too low for its noise to say whether the electrons per ADU are right")
    if usual < 1:
        said.append(
            "A darker sky than planned: a clearer night or fewer lamps than the reading says, or less light through "
            "the gear (dew, a wrong filter, vignetting)"
        )
        return tuple(said)
    bluer = ratio["B"] / ratio["R"] if {"B", "R"} <= set(ratio) and ratio["R"] > 0 else None
    if bluer is not None and bluer > _COLOUR_SHIFT:
        said.append("The excess is bluer than the model's sky: the Moon or white LED lamps")
    elif bluer is not None and bluer < 1 / _COLOUR_SHIFT:
        said.append("The excess is redder than the model's sky: sodium lamps, haze, or light that leaks in")
    elif case.moon is None:
        said.append("The plan has no Moon: if it is up, that is the first suspect; else haze that lamps light up")
    else:
        said.append("The Moon is counted already: haze, more lamps than the reading says, or a light leak are left")
    said.append(
        "A cap on the telescope tells a leak (the sky must fall to nothing); the same stars' light, later, tells haze"
    )
    return tuple(said)


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
            best = after / before, filter_.name
    return best[1] if best else None


def _advice(found: SubFound, now: FilterAnswer) -> tuple[str, str]:
    """Whether the sub's length is right under the measured sky."""
    row, length = now.neediest, found.exposure_s
    low = min(row.sub_low_s, row.sub_s)
    high = min(max(row.sub_high_s, row.sub_s), row.sub_longest_s)
    best = say_duration(now.sub_s)
    if length < low / _ROUND:
        return "longer", f"Take longer subs: {best} instead of {say_duration(length)}"
    if length > high * _ROUND:
        return "shorter", f"Take shorter subs: {best} instead of {say_duration(length)}"
    return "keep going", f"Keep going with {say_duration(length)} subs"


def _hours(now: FilterAnswer, planned: FilterAnswer, hours: Range | None) -> str:
    if now.neediest.light is None:
        return f"{now.filter_name} passes none of the target's light"
    if now.kept_h is None:
        return "With this sky no number of hours reaches the goal"
    before = f", instead of {say_duration(3600 * planned.kept_h)} at best with the plan's sky" if planned.kept_h else ""
    goal = f"{say_duration(3600 * now.kept_h)} at best" if hours is None else plan_for(now.kept_h, hours)
    return f"Hours for the goal under this sky: {goal}{before}"


def _sentence_of_sky(found: SubFound, told: Mapping[str, Any]) -> str:
    parts = []
    for colour, one in found.colours.items():
        name = "" if colour == "mono" else f"{colour} "
        parts.append(f"{name}{say_number(one.sky_e_s, 3)}")
    sentence = f"The sky brings {', '.join(parts)} electron/s to a pixel"
    if told.get("ratio"):
        ratio, (low, high) = told["ratio"][found.main], told["doubt"]
        within = low <= ratio <= high
        of = "" if found.main == "mono" else " in green"
        sentence += (
            f", {say_number(ratio)} times what the plan expects{of}, "
            f"{'within' if within else 'beyond'} its doubt of {say_span(say_number(low), say_number(high))}"
        )
    return sentence


def tell_sky(found: SubFound, case: Case | None = None, filter_name: str | None = None) -> SkyTold:
    """A test sub beside a plan.

    Parameters
    ----------
    found : SubFound
    case : Case, optional
        The plan's.
    filter_name : str, optional
        One of its filters; the one the header names, or the only one, where none is given.

    Returns
    -------
    SkyTold

    Raises
    ------
    FrameError
        If the filter is not one of the plan's, or the frame's colours are not those of its camera.
    """
    if case is None:
        sentence = _sentence_of_sky(found, {})
        return SkyTold(found=found, filter_name=found.frame.known.filter_name, sentences=(f"{sentence}.",))
    filter_name = _filter_of(found, case, filter_name)
    filter_ = filter_named(case, filter_name)
    plain = _unmeasured(case)
    rate = rates(plain, filter_)
    if set(rate.colours) != set(found.colours):
        msg = (
            f"{found.frame.name} has the colours {', '.join(found.colours)} and the plan's camera "
            f"{', '.join(rate.colours)}; one of the two is not this camera's"
        )
        raise FrameError(msg)
    sky = np.array([found.colours[colour].sky_e_s for colour in rate.colours])
    value = measured_value(found)
    measured = with_measured(case, filter_name, value)
    planned, now = answer_filter(plain, filter_)[0], answer_filter(measured, filter_)[0]
    reading = _zenith_reading(plain, filter_name, rate, sky)
    ratio = {c: float(s / m) for c, s, m in zip(rate.colours, sky, rate.model_sky_e_s, strict=True)}
    doubt = _doubt(plain, filter_name)
    hours = spread(measured, measured.doubt, draws=_DRAWS).filters.get(filter_name)
    growth = (now.kept_h or math.inf) / planned.kept_h if planned.kept_h else 1.0
    advice, sentence = _advice(found, now)
    other = _other_filter(plain, reading, filter_name, growth)
    if other:
        advice, sentence = "other filter", f"Another filter suffers less tonight: {other}; or: {sentence.lower()}"
    reasons = _reasons(case, found, ratio, doubt)
    told = {"ratio": ratio, "doubt": doubt}
    said = (sentence, _sentence_of_sky(found, told), _hours(now, planned, hours), *reasons)
    with np.errstate(divide="ignore", invalid="ignore"):
        mag = -2.5 * np.log10(np.maximum(sky, 0) / rate.ab_zero_e_s)
    return SkyTold(
        found=found, filter_name=filter_name, mag_ab=dict(zip(rate.colours, mag.tolist(), strict=True)),
        zenith_reading=reading, ratio=ratio, doubt=doubt, planned=planned, now=now, hours=hours, advice=advice,
        reasons=reasons, sentences=tuple(f"{one}." for one in said),
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


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def as_json(told: SkyTold) -> dict[str, Any]:
    """A test sub as plain data, units in the keys; missing and infinite numbers are None.

    The numbers that are no objects are those of the mono pixels, or of the green ones; `by_colour` has all.
    """
    found, main = told.found, told.found.main
    one = found.colours[main]
    return {
        "file": str(found.frame.path),
        "exposure_s": found.exposure_s,
        "exposure_from": found.frame.known.origin.get("exposure_s"),
        "filter": told.filter_name,
        "electrons_per_adu": found.gain.electrons_per_adu,
        "electrons_per_adu_from": found.gain.origin,
        "below_from": found.method,
        "sky_electron_s": {colour: _number(c.sky_e_s) for colour, c in found.colours.items()},
        "sky_electron_s_interval": {c: [_number(o.low_e_s), _number(o.high_e_s)] for c, o in found.colours.items()},
        "noise_electron": _number(one.noise_e),
        "noise_predicted_electron": _number(one.noise_predicted_e),
        "sky_mag_arcsec2_ab": _number(told.mag_ab.get(main)),
        "zenith_reading": _number(told.zenith_reading),
        "ratio_to_plan": _number(told.ratio.get(main)),
        "doubt_of_plan": list(told.doubt) if told.doubt else None,
        "by_colour": {
            colour: {
                "level_adu": _number(c.level_adu),
                "noise_electron": _number(c.noise_e),
                "noise_predicted_electron": _number(c.noise_predicted_e),
                "sky_mag_arcsec2_ab": _number(told.mag_ab.get(colour)),
                "ratio_to_plan": _number(told.ratio.get(colour)),
            }
            for colour, c in found.colours.items()
        },
        "stars": found.stars.count,
        "star_fwhm_px": _number(found.stars.usual_fwhm_px),
        "star_elongation": _number(found.stars.usual_elongation),
        "full_share": found.full_share,
        "sub_s": told.now.sub_s if told.now else None,
        "kept_h": _number(told.now.kept_h) if told.now else None,
        "hours_interval": [_number(told.hours.p10_h), _number(told.hours.p90_h)] if told.hours else None,
        "advice": told.advice or None,
        "warnings": list(found.warnings),
        "verdict": told.verdict,
    }
