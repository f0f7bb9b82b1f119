"""One test sub, or two: the sky's rate in each colour, its noise, and the stars."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.frames.measure.background import Background, background
from expocalc.frames.measure.behind import Behind, below_of
from expocalc.frames.measure.same_stars import BRIGHTEST, light_of_same
from expocalc.frames.measure.skies import ceiling_of, skies_of
from expocalc.frames.measure.stars import Stars
from expocalc.frames.measure.trust import Gain, gain_of, noise_e
from expocalc.frames.read.fits import Frame
from expocalc.frames.read.header import FrameError

__all__ = ["ColourSky", "SubFound", "measure_sub"]

_SAME_LENGTH = 0.01
_SAME_TEMPERATURE_K = 1.0


@dataclass(frozen=True, kw_only=True)
class ColourSky:
    """Sky of one colour. `low_e_s` to `high_e_s` holds it in 68 cases of 100, as far as counting decides.

    Attributes
    ----------
    sky_e_s, low_e_s, high_e_s : float
        Without dark current. [electron s-1]
    noise_e, noise_predicted_e : float
        Of one pixel of one sub, measured, and as level and read noise have it. [electron]
    level_adu : float
        As stored. [ADU]
    """

    sky_e_s: float
    low_e_s: float
    high_e_s: float
    noise_e: float
    noise_predicted_e: float
    level_adu: float

    @property
    def seen(self) -> bool:
        """Whether there is light: more than nothing by twice the error."""
        return self.sky_e_s > self.high_e_s - self.low_e_s


@dataclass(frozen=True, eq=False, kw_only=True)
class SubFound:
    """What one test sub, or two, tell.

    Attributes
    ----------
    frame : Frame
        The first.
    exposure_s : float
        [s]
    gain : Gain
    colours : mapping of str to ColourSky
    backgrounds : mapping of str to Background
        Of the first frame.
    stars : Stars
        Of the first frame.
    second_light : float
        Light of the same stars in the second frame over the first's; NaN without a second, or where they are not found.
    method : str
        How what is no light was taken off, in words.
    full_share, empty_share : float
        Pixels at the ceiling and at zero. [-]
    warnings : tuple of str
    """

    frame: Frame
    exposure_s: float
    gain: Gain
    colours: Mapping[str, ColourSky]
    backgrounds: Mapping[str, Background]
    stars: Stars
    second_light: float
    method: str
    full_share: float
    empty_share: float
    warnings: tuple[str, ...]

    @property
    def main(self) -> str:
        """The colour that most pixels have."""
        return "G" if "G" in self.colours else "mono"


def _check(frames: Sequence[Frame], behind: Behind) -> list[str]:
    first = frames[0]
    for other in (*frames[1:], behind.dark, behind.bias):
        if other is not None and other.shape != first.shape:
            msg = (
                f"{other.name} has {other.shape[1]} x {other.shape[0]} pixels and {first.name} "
                f"{first.shape[1]} x {first.shape[0]}; they must be of one size"
            )
            raise FrameError(msg)
    told = [note for frame in (*frames, behind.dark, behind.bias) if frame is not None for note in frame.notes]
    for kind in ("dark", "bias"):
        other = getattr(behind, kind)
        if other is not None and other.known.kind not in (None, kind):
            told.append(f"{other.name} calls itself a {other.known.kind}, it is used as the {kind}")
        if other is not None and None not in (other.known.gain_setting, first.known.gain_setting):
            if other.known.gain_setting != first.known.gain_setting:
                told.append(
                    f"{other.name} was taken at gain {other.known.gain_setting:g}, {first.name} at "
                    f"{first.known.gain_setting:g}: they do not belong together"
                )
    dark = behind.dark
    if dark is not None:
        if dark.known.exposure_s and abs(dark.known.exposure_s / first.exposure_s() - 1) > _SAME_LENGTH:
            told.append(
                f"{dark.name} is {dark.known.exposure_s:g} s long and {first.name} {first.exposure_s():g} s: "
                "its dark current does not fit"
            )
        warmer = None
        if dark.known.temperature_deg_c is not None and first.known.temperature_deg_c is not None:
            warmer = dark.known.temperature_deg_c - first.known.temperature_deg_c
        if warmer is not None and abs(warmer) > _SAME_TEMPERATURE_K:
            told.append(f"{dark.name} was {abs(warmer):.1f} K {'warmer' if warmer > 0 else 'colder'} than {first.name}")
    if first.known.kind not in (None, "sub"):
        told.append(f"{first.name} calls itself a {first.known.kind}, not a sub")
    return told


def measure_sub(frames: Sequence[Frame], behind: Behind | None = None) -> SubFound:
    """Sky, noise and stars of one test sub or two.

    Parameters
    ----------
    frames : sequence of Frame
        One; or two of the same length, which give the noise without the pixels' pattern; or two of different length,
        which give the sky without any bias.
    behind : Behind, optional
        What is known of dark and bias.

    Returns
    -------
    SubFound

    Raises
    ------
    FrameError
        If nothing tells the bias, the length or the electrons per ADU, the frames differ in size, or there is no sky.
    """
    behind = behind or Behind()
    if not 1 <= len(frames) <= 2:
        msg = f"one test sub or two can be measured together, got {len(frames)}"
        raise FrameError(msg)
    first = frames[0]
    seconds = [frame.exposure_s() for frame in frames]
    warnings = _check(frames, behind)
    ceilings = [min(ceiling_of(frame.pixels), behind.full_adu or math.inf) for frame in frames]
    found = [skies_of(frame, ceiling) for frame, ceiling in zip(frames, ceilings, strict=True)]
    skies, stars = found[0]
    main = "G" if "G" in skies else "mono"
    two_lengths = len(frames) == 2 and abs(seconds[1] / seconds[0] - 1) > _SAME_LENGTH
    twins = len(frames) == 2 and not two_lengths
    if twins:
        noise = _noise_of_difference(frames[0], frames[1], main)
        skies = {c: _average(skies[c], found[1][0][c]) for c in skies}
    else:
        noise = skies[main].noise_adu

    below = below_of(first, behind)
    if below is None and not two_lengths:
        msg = (
            f"nothing tells the bias of {first.name}: give a dark, a bias, the bias level, a plan that has it, "
            "or two subs of different length"
        )
        raise FrameError(msg)
    read_e = behind.read_noise_e if behind.read_noise_e is not None else first.known.read_noise_e
    if two_lengths:
        rate = (found[1][0][main].level_adu - skies[main].level_adu) / (seconds[1] - seconds[0])
        light_adu = rate * seconds[0]
    else:
        assert below is not None
        light_adu = skies[main].level_adu - (below.bias if below.bias is not None else below.level[main])
    gain = gain_of(first, light_adu, noise, read_e or 0.0, behind.electrons_per_adu, single=not twins)
    if gain is None:
        msg = f"nothing tells the electrons per ADU of {first.name}: its header has no EGAIN; give them, or a plan"
        raise FrameError(msg)
    if gain.warning:
        warnings.append(gain.warning)
    k, dark_e_s = gain.electrons_per_adu, behind.dark_e_s
    if dark_e_s is None and (two_lengths or below is None or below.words != "a dark"):
        warnings.append("No dark and no plan: dark current counts as sky")

    colours = {}
    for colour, sky in skies.items():
        if two_lengths:
            other = found[1][0][colour]
            span = seconds[1] - seconds[0]
            rate_e_s = k * (other.level_adu - sky.level_adu) / span - (dark_e_s or 0.0)
            error = k * math.hypot(sky.error_adu, other.error_adu) / abs(span)
            dark_part = (dark_e_s or 0.0) * seconds[0]
        else:
            assert below is not None
            rate_e_s = k * (sky.level_adu - below.level[colour]) / seconds[0]
            error = k * math.hypot(sky.error_adu, below.error[colour]) / seconds[0]
            dark_part = (dark_e_s or 0.0) * seconds[0]
            if below.words != "a dark":
                rate_e_s -= dark_e_s or 0.0
        grain = noise if colour == main else sky.noise_adu
        colours[colour] = ColourSky(
            sky_e_s=rate_e_s,
            low_e_s=rate_e_s - error,
            high_e_s=rate_e_s + error,
            noise_e=grain * k,
            noise_predicted_e=noise_e(rate_e_s * seconds[0] + dark_part, read_e or 0.0),
            level_adu=sky.level_adu,
        )
    if read_e is None:
        warnings.append("No read noise is known: the predicted noise is that of light alone")
    full = np.count_nonzero(first.pixels >= ceilings[0]) / first.pixels.size
    empty = np.count_nonzero(first.pixels == 0) / first.pixels.size
    if empty > 1e-4:
        warnings.append(f"{100 * empty:.2g} % of the pixels of {first.name} are 0: the camera's offset is too low")
    method = "two lengths" if two_lengths else below.words if below is not None else ""
    return SubFound(
        frame=first, exposure_s=seconds[0], gain=gain, colours=colours, backgrounds=skies, stars=stars, method=method,
        second_light=_second_light(frames, [one for _, one in found], seconds),
        full_share=float(full), empty_share=float(empty), warnings=tuple(dict.fromkeys(warnings)),
    )  # fmt: skip


def _second_light(frames: Sequence[Frame], stars: Sequence[Stars], seconds: Sequence[float]) -> float:
    """Light of the same stars in the second frame over the first's, for a second of exposure; NaN without it."""
    if len(frames) < 2:
        return math.nan
    usable = [np.flatnonzero(~one.full)[:BRIGHTEST] for one in stars]
    places = [np.stack([one.row, one.column], axis=1)[at] for one, at in zip(stars, usable, strict=True)]
    light = [one.flux_adu[at] / s for one, at, s in zip(stars, usable, seconds, strict=True)]
    corner = np.array(frames[0].shape) - 1.0
    return light_of_same(places[1], light[1], places[0], light[0], corner)


def _noise_of_difference(one: Frame, other: Frame, colour: str) -> float:
    """Noise of one of two frames of the same length, the pixels' pattern gone. [ADU]"""
    pairs = zip(one.planes[colour], other.planes[colour], strict=True)
    apart = [a.astype(np.float32) - b.astype(np.float32) for a, b in pairs]
    return background(apart).noise_adu / math.sqrt(2)


def _average(one: Background, other: Background) -> Background:
    return dataclasses.replace(
        one,
        level_adu=(one.level_adu + other.level_adu) / 2,
        error_adu=math.hypot(one.error_adu, other.error_adu) / 2,
    )
