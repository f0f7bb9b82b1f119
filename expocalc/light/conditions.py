"""Under which sky a test sub measured: what brings its rate to the plan's own."""

from __future__ import annotations

import datetime as dt

import astropy.units as u

from expocalc.base.date import read_calendar_date
from expocalc.base.noun import Noun, field_of, measure, nested
from expocalc.light.moon import Moon

__all__ = ["Conditions"]


class Conditions(Noun):
    """Where the telescope looked, and the Moon, when the sky of the plan was measured.

    The measured rate is brought to the plan's altitude and Moon by the ratio that the model gives. Lamps that went out
    at midnight and the year's airglow stay the user's to judge.

    Examples
    --------
    >>> Conditions(altitude="40 deg").altitude
    <Quantity 40. deg>
    """

    altitude: u.Quantity | None = measure(
        "deg",
        None,
        above=0,
        maximum=90,
        example='"55 deg"',
        meaning="Height above the horizon at which the test sub was taken; left out, that of the plan's target.",
        origin="the header of the test sub",
    )
    moon: Moon | None = nested(
        Moon,
        None,
        meaning="The Moon at that time, as in [moon]; left out, it was down.",
        origin="an almanac",
    )
    date: dt.date | None = field_of(
        read_calendar_date,
        None,
        kind="text",
        example='"2026-11-26"',
        meaning="Night of the test sub, to tell an old measurement by; it changes no number.",
        origin="the header of the test sub",
    )
