"""The routine of a night: how its subs are taken, and what a plan leaves to be assumed of it."""

from __future__ import annotations

import math
from typing import Any

from expocalc.base.noun import Noun, choice, field_of, measure, number, whole
from expocalc.budget.clock import clock_s, kept_share
from expocalc.budget.counts import Count, read_counts
from expocalc.budget.or_word import or_word

__all__ = ["Routine"]

LONGEST_SUB_S = 86400.0
RAREST_DITHER = 10_000
WIDEST_BACKGROUND_ARCSEC = 360_000.0
USUAL_FRAMES = 30
"""Darks, and flats, where a plan says nothing of them: common practice, no source."""
TYPICAL_FLATNESS = 3e-4
"""How uneven a background is where nobody says: an assumption, at the scale of a small patch and the sky beside it."""
WITHOUT_NUMBER = ("none", "perfect")
"""What may stand for a number of darks or flats."""


def _frames(meaning: str) -> Any:
    return or_word(
        whole,
        None,
        words={word: word for word in WITHOUT_NUMBER},
        said='30, "none" or "perfect"',
        minimum=1,
        maximum=100_000,
        choices=WITHOUT_NUMBER,
        example="30",
        meaning=meaning,
        origin=f"your own choice; left out, {USUAL_FRAMES} are assumed",
    )


class Routine(Noun):
    """How the subs are taken, and what is lost.

    Raises
    ------
    TypeError, ValueError
        If a field has no unit, the wrong kind of unit, or is out of range.

    Examples
    --------
    >>> Routine(longest_sub="5 min").longest_sub
    <Quantity 300. s>
    """

    sub_length: Any = or_word(
        measure,
        "s",
        "auto",
        words={"auto": None},
        above=0,
        maximum=LONGEST_SUB_S,
        choices=("auto",),
        example='"180 s" or "auto"',
        meaning="How long the shutter is open for one sub; auto takes the best one.",
        origin="your own choice",
    )
    longest_sub: Any = measure(
        "s",
        None,
        above=0,
        maximum=LONGEST_SUB_S,
        example='"300 s"',
        meaning="Longest sub that the mount holds with round stars; left out where it is not the limit.",
        origin="your own subs",
    )
    guiding: Any = measure(
        "arcsec",
        "0 arcsec",
        minimum=0,
        maximum=60,
        example='"0.8 arcsec"',
        meaning="Total error of guiding, root mean square, both axes together; it widens stars.",
        origin="the log of your own guiding; 0 is a perfect mount",
    )
    polar_error: Any = measure(
        "arcmin",
        None,
        above=0,
        maximum=600,
        example='"5 arcmin"',
        meaning="How far the mount's axis misses the pole: the field turns, and without guiding stars drift.",
        origin="the drift of your own stars, or the routine that aligns the mount",
        advanced=True,
    )
    guide_star: Any = or_word(
        measure,
        "arcmin",
        "0 arcmin",
        words={"none": None},
        minimum=0,
        maximum=600,
        choices=("none",),
        example='"30 arcmin" or "none"',
        meaning="Angle between the guide star and the middle of the picture; none where nothing guides.",
        origin="assumed: the guide star in the middle",
        advanced=True,
    )
    flexure: Any = measure(
        "arcsec / h",
        None,
        above=0,
        maximum=36_000,
        example='"4 arcsec/h"',
        meaning="How fast stars wander over the picture although the guide star stands still, as tubes bend.",
        origin="the stars of your own first and last sub without a dither between them",
        advanced=True,
    )
    stretch: float = number(
        0.1,
        above=0,
        maximum=1,
        example="0.1",
        meaning="Share by which stars may be longer than wide at the end of a sub.",
        origin="common practice, no source",
        advanced=True,
    )
    dead_time: Any = measure(
        "s",
        "0 s",
        minimum=0,
        maximum=3600,
        example='"2 s"',
        meaning="Time between two subs in which no light is taken: reading and saving.",
        origin="the times of your own subs; 0 is a camera that loses none",
    )
    dither_every: int | None = or_word(
        whole,
        None,
        words={"none": None},
        said='2 or "none"',
        minimum=1,
        maximum=RAREST_DITHER,
        choices=("none",),
        example="2",
        other='or "none"',
        meaning="Subs between two dithers, small shifts of the telescope; left out, none is assumed.",
        origin="your own choice",
    )
    dither_time: Any = measure(
        "s",
        "0 s",
        minimum=0,
        maximum=3600,
        example='"18 s"',
        meaning="Time that one dither takes, until the mount has settled.",
        origin="the times of your own subs",
    )
    dither_size: Any = measure(
        "pixel",
        "10 pixel",
        minimum=0,
        maximum=2000,
        example='"10 pixel"',
        meaning="Side of the square in which the shifts of the dithers lie.",
        origin="assumed",
        advanced=True,
    )
    lost_per_dither: float = number(
        0.0,
        minimum=0,
        below=1,
        example="0.04",
        meaning="Share of the subs after a dither that it spoils.",
        origin="a count of your own subs; 0 is no loss",
    )
    lost_per_hour: float = number(
        0.0,
        minimum=0,
        maximum=1000,
        example="0.2",
        meaning="Events that spoil a sub, such as wind or a passing light, per hour of open shutter.",
        origin="a count of your own subs; 0 is no loss",
    )
    stacking: str = choice(
        ("mean", "clipped mean", "median"),
        "mean",
        meaning="How the subs are made one picture; clipped leaves out what is far from the others.",
        origin="your own choice",
    )
    clip: float = number(
        3.0,
        minimum=1.5,
        maximum=10,
        example="3.0",
        meaning="How many standard deviations from the others a pixel must be for the clipped mean to leave it out.",
        origin="common practice, no source",
        advanced=True,
    )
    darks: Any = _frames("Dark frames in the master; none leaves the camera's own pattern in.")
    flats: Any = _frames("Flat frames in the master; none leaves dust, shading and uneven pixels in.")
    flat_level: float = number(
        0.5,
        above=0,
        maximum=1,
        example="0.4",
        meaning="How bright a flat is, as a share of the full well.",
        origin="common practice, no source",
        advanced=True,
    )
    biases: int | None = whole(
        None,
        minimum=1,
        maximum=100_000,
        example="50",
        meaning="Bias frames in the master; they go on the night's sheet, the hours do not depend on them.",
        origin="your own choice",
    )
    background_flatness: float | None = or_word(
        number,
        None,
        words={"perfect": 0.0},
        said='0.002 or "perfect"',
        minimum=0,
        below=1,
        example="0.002",
        other='or "perfect"',
        meaning="How uneven the background stays at the target's size, as a share of it; a limit that no hours mend.",
        origin=f"your own stacks; left out, a typical {100 * TYPICAL_FLATNESS:g} % is assumed",
        advanced=True,
    )
    background_patch: Any = measure(
        "arcsec",
        None,
        above=0,
        maximum=WIDEST_BACKGROUND_ARCSEC,
        example='"60 arcsec"',
        meaning="Side of the square that tells how bright the background beside the target is.",
        origin="your own choice; left out, the background is known",
        advanced=True,
    )
    counts: tuple[Count, ...] = field_of(
        read_counts,
        (),
        kind="list",
        nouns=(Count,),
        meaning="Sessions of yours in which spoiled subs were counted; losses are learned from them.",
        origin="a count of your own subs",
        advanced=True,
    )

    def __new__(cls, *_: Any, **given: Any) -> Routine:
        """Remember what was given, since what was not is assumed and said to be."""
        self = super().__new__(cls)
        object.__setattr__(self, "_given", frozenset(given))
        return self

    @property
    def given(self) -> frozenset[str]:
        """Names of the fields that were given."""
        return getattr(self, "_given", frozenset())

    @property
    def sub_s(self) -> float | None:
        """Length of a sub as it was asked for, None where the best is. [s]"""
        return None if self.sub_length is None else float(self.sub_length.value)

    def frames(self, kind: str) -> float:
        """Frames behind the master of "darks" or "flats": 0 for none, infinite for a perfect one."""
        said = getattr(self, kind)
        if isinstance(said, str):
            return 0.0 if said == "none" else math.inf
        return float(USUAL_FRAMES if said is None else said)

    @property
    def flatness(self) -> float:
        """How uneven the background stays, as a share of it: the plan's, or the typical one. [-]"""
        return TYPICAL_FLATNESS if self.background_flatness is None else self.background_flatness

    @property
    def dead_s(self) -> float:
        """Dead time per sub, its share of a dither included. [s]"""
        dither = self.dither_time.value / self.dither_every if self.dither_every else 0.0
        return float(self.dead_time.value + dither)

    def clock_h(self, kept: float, sub_s: float) -> float:
        """Hours on the clock until so many subs are kept, parts of a sub counted; infinite where no hours will do."""
        share = float(kept_share(sub_s, self.lost_per_hour, self.lost_at_dither))
        return clock_s(kept / share, sub_s, self) / 3600 if share > 0 else math.inf

    @property
    def lost_at_dither(self) -> float:
        """Share of all subs that dithers spoil. [-]"""
        return self.lost_per_dither / self.dither_every if self.dither_every else 0.0
