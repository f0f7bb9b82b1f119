"""Under which sky a sub was taken: where the target and the Moon stood, by the header and the plan's place."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import astropy.units as u

from expocalc.base.words import say_share
from expocalc.budget.case import Case
from expocalc.frames.read.header import Known
from expocalc.light.conditions import Conditions
from expocalc.light.moon import CLOSEST_DEG, Moon
from expocalc.night.almanac import lit_share
from expocalc.night.moments import LOWEST_DEG, moments_of
from expocalc.night.windows import almanac_of, position_of

__all__ = ["Seen", "begin_of", "evening_of", "moment_of_header", "seen_by"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Seen:
    """Where a sub looked.

    Attributes
    ----------
    altitude_deg : float or None
        Of the target; None where only the plan says it. [deg]
    moon : Moon or None
        None where it was down.
    date : str or None
        Of the evening.
    words : str
        All of it in half a sentence.
    warning : str
        What in header and plan can't both be true; else empty.
    known : bool
        Whether header and plan say it, or the plan's own altitude and Moon stand for it.
    """

    altitude_deg: float | None
    moon: Moon | None
    date: str | None
    words: str
    warning: str = ""
    known: bool = True

    def plan_value(self) -> dict[str, Any]:
        """What a plan's section [measured_under] takes."""
        value: dict[str, Any] = {}
        if self.altitude_deg is not None:
            value["altitude"] = f"{self.altitude_deg:.1f} deg"
        if self.moon is not None:
            moon = self.moon
            value["moon"] = {
                "illuminated": round(float(lit_share(moon.phase_deg)), 4),
                "altitude": f"{float(moon.altitude.value):.1f} deg",
                "separation": f"{float(moon.separation.value):.1f} deg",
            }
        if self.date is not None:
            value["date"] = self.date
        return value

    def conditions(self) -> Conditions:
        """The same as the model takes it."""
        value = self.plan_value()
        if "moon" in value:
            value["moon"] = Moon(**value["moon"])
        return Conditions(**value)

    def there(self, case: Case) -> Case:
        """The case, looking where the sub looked."""
        target = case.target
        if self.altitude_deg is not None:
            target = dataclasses.replace(target, altitude=round(self.altitude_deg, 1) * u.deg)
        return dataclasses.replace(case, target=target, moon=self.conditions().moon)


def begin_of(date: str | None) -> datetime | None:
    """Moment of a header's date, UTC; None where it can't be read.

    Examples
    --------
    >>> begin_of("2026-11-26T21:00:00").isoformat(), begin_of("last night")
    ('2026-11-26T21:00:00+00:00', None)
    """
    try:
        begin = datetime.fromisoformat(str(date).strip().removesuffix("Z"))
    except ValueError:
        return None
    return begin.replace(tzinfo=UTC) if begin.tzinfo is None else begin.astimezone(UTC)


def moment_of_header(known: Known) -> datetime | None:
    """Middle of the exposure, UTC; None where the header has no date that can be read.

    Examples
    --------
    >>> from expocalc.frames.read.header import read_header
    >>> header = {"DATE-OBS": "2026-11-26T21:00:00", "EXPTIME": 300}
    >>> moment_of_header(read_header(header, (8, 8))).isoformat()
    '2026-11-26T21:02:30+00:00'
    """
    begin = begin_of(known.date)
    return None if begin is None else begin + timedelta(seconds=(known.exposure_s or 0.0) / 2)


def evening_of(moment: datetime) -> str:
    """Date of the evening before a moment: hours after midnight belong to the day before."""
    return (moment - timedelta(hours=12)).date().isoformat()


def seen_by(case: Case, known: Known) -> Seen:
    """Where a sub looked: by its date and the plan's place and target, else by the altitude of its header.

    Parameters
    ----------
    case : Case
    known : Known
        Of the sub's header.

    Returns
    -------
    Seen
        The plan's own altitude and Moon where neither is known.
    """
    moment = moment_of_header(known)
    date = None if moment is None else evening_of(moment)
    almanac = almanac_of(case)
    warning = ""
    if moment is not None and almanac is not None and position_of(case) is not None:
        try:
            at = moments_of(case, almanac, [moment.timestamp()])
        except ValueError:  # beyond the almanac
            warning = f"The almanac does not reach to {date}: the altitude and the Moon of the plan are taken"
        else:
            altitude = float(at.altitude_deg[0])
            by_day = float(almanac.sun(moment.timestamp()).altitude_deg) > 0
            if altitude > LOWEST_DEG and not by_day:
                moon = _moon(
                    float(at.moon_phase_deg[0]), float(at.moon_altitude_deg[0]), float(at.moon_separation_deg[0])
                )
                return Seen(altitude_deg=altitude, moon=moon, date=date, words=_words(altitude, moon))
            wrong = "the Sun was up" if by_day else f"the target was below the horizon, at {altitude:.0f}°"
            warning = (
                f"By its date (UTC) and the plan's place {wrong}: clock, place or coordinates are off, and the plan's "
                "altitude and Moon are taken"
            )
    # another altitude may not go together with the plan's Moon
    altitude_deg = known.altitude_deg if case.moon is None else None
    words = _words(float(case.target.altitude.value) if altitude_deg is None else altitude_deg, case.moon)
    origin = "as in the plan" if altitude_deg is None else f"by {known.origin['altitude_deg']}; the Moon as in the plan"
    return Seen(
        altitude_deg=altitude_deg, moon=case.moon, date=date, words=f"{words}, {origin}", warning=warning, known=False
    )


def _moon(phase_deg: float, altitude_deg: float, separation_deg: float) -> Moon | None:
    if altitude_deg <= 0:
        return None
    return Moon(
        phase_angle=phase_deg * u.deg,
        altitude=altitude_deg * u.deg,
        separation=max(separation_deg, CLOSEST_DEG) * u.deg,
    )


def _words(altitude_deg: float, moon: Moon | None) -> str:
    target = f"the target {altitude_deg:.0f}° high"
    if moon is None or float(moon.altitude.value) <= 0:
        return f"{target} and the Moon down"
    lit, altitude, apart = float(lit_share(moon.phase_deg)), float(moon.altitude.value), float(moon.separation.value)
    return f"{target} and the Moon {say_share(lit)} lit, {altitude:.0f}° high and {apart:.0f}° from it"
