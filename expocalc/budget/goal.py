"""What the picture has to show."""

from __future__ import annotations

from typing import Any

from expocalc.base.noun import Noun, measure, number

__all__ = ["Goal"]


class Goal(Noun):
    """What the picture has to show.

    Raises
    ------
    TypeError, ValueError
        If a field has the wrong kind of unit or is out of range.

    Examples
    --------
    >>> Goal(snr="12,5").snr
    12.5
    """

    snr: float = number(
        10.0,
        above=0,
        maximum=1e6,
        example="10",
        meaning="Signal over noise that the target's patch must reach.",
        origin="common practice, no source; 3 to 5 is barely seen, 10 looks smooth",
    )
    noise_growth: float = number(
        0.05,
        above=0,
        maximum=10,
        example="0.05",
        meaning="What read noise may add to the noise: 0.05 is 5 %, which costs 10 % of the hours.",
        origin="common practice, no source",
        advanced=True,
    )
    unsaturated_star: Any = measure(
        "mag",
        None,
        minimum=-30,
        maximum=40,
        example='"9 mag"',
        meaning="AB magnitude of the brightest star that must not fill a pixel's well.",
        origin="your own choice; left out, stars may fill it",
        advanced=True,
    )
    sky_share_of_well: float = number(
        0.2,
        above=0,
        maximum=1,
        example="0.2",
        meaning="Largest share of the well that sky and dark current may fill.",
        origin="assumed",
        advanced=True,
    )
