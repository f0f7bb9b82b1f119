"""What a sub holds beside light: the level of its dark or bias, colour by colour."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from expocalc.frames.measure.background import Background, background
from expocalc.frames.read.fits import Frame, with_mosaic
from expocalc.frames.read.header import FrameError

__all__ = ["Behind", "Below", "below_of", "settled"]


@dataclass(frozen=True, kw_only=True)
class Behind:
    """What a sub holds beside light.

    Attributes
    ----------
    dark, bias : Frame, optional
    bias_adu : float, optional
        Level of the bias. [ADU]
    levels : mapping of str to (float, float), optional
        Level of a dark or bias and its error, by colour, where it was measured before: see :func:`settled`. [ADU]
    levels_from : str
        "a dark" or "a bias".
    dark_e_s : float, optional
        Dark current and glow, for what is not a dark. [electron s-1]
    read_noise_e : float, optional
        [electron]
    full_adu : float, optional
        Where pixels are full by the plan. [ADU]
    electrons_per_adu : float, optional
        The plan's, where neither person nor header says it. [electron/ADU]
    """

    dark: Frame | None = None
    bias: Frame | None = None
    bias_adu: float | None = None
    levels: Mapping[str, tuple[float, float]] | None = None
    levels_from: str = ""
    dark_e_s: float | None = None
    read_noise_e: float | None = None
    full_adu: float | None = None
    electrons_per_adu: float | None = None


@dataclass(frozen=True, kw_only=True)
class Below:
    """Level under the light and its error, by colour, with the words of what told it; `bias` where that is one number.

    All but the words in ADU.
    """

    level: Mapping[str, float]
    error: Mapping[str, float]
    bias: float | None
    words: str


def _levels(frame: Frame) -> Mapping[str, Background]:
    """Level of a dark or bias, colour by colour."""
    try:
        return {colour: background(planes) for colour, planes in frame.planes.items()}
    except ValueError as error:
        msg = f"{frame.name} can't be used: {error}"
        raise FrameError(msg) from None


def below_of(frame: Frame, behind: Behind) -> Below | None:
    """Level under the light, the first that is known of: dark, bias, level given, overscan."""
    if behind.levels is not None:
        return Below(
            level={c: one[0] for c, one in behind.levels.items()},
            error={c: one[1] for c, one in behind.levels.items()},
            bias=None,
            words=behind.levels_from,
        )
    for words, other in (("a dark", behind.dark), ("a bias", behind.bias)):
        if other is not None:
            levels = _levels(with_mosaic(other, frame.known.mosaic))
            return Below(
                level={c: one.level_adu for c, one in levels.items()},
                error={c: one.error_adu for c, one in levels.items()},
                bias=None,
                words=words,
            )
    for words, level in (("the bias level", behind.bias_adu), ("the overscan", frame.overscan_adu)):
        if level is not None:
            return Below(
                level=dict.fromkeys(frame.planes, level),
                error=dict.fromkeys(frame.planes, 0.0),
                bias=level,
                words=words,
            )
    return None


def settled(behind: Behind, mosaic: str | None) -> Behind:
    """The same, with its dark or bias measured once for many subs instead of held in memory."""
    for words, other in (("a dark", behind.dark), ("a bias", behind.bias)):
        if other is not None:
            levels = _levels(with_mosaic(other, mosaic))
            told = {colour: (one.level_adu, one.error_adu) for colour, one in levels.items()}
            return dataclasses.replace(behind, dark=None, bias=None, levels=told, levels_from=words)
    return behind
