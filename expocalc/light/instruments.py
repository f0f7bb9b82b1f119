"""One sky as each instrument would read it."""

from __future__ import annotations

from dataclasses import dataclass

from expocalc.base.photometry import standard_band
from expocalc.light.mix import cd_m2_per_photon, magnitude, meter_stars_photons
from expocalc.light.reading import bortle_classes, naked_eye_limit_of_v
from expocalc.light.sky import Sky

__all__ = ["SkyReadings", "sky_readings"]


@dataclass(frozen=True, kw_only=True)
class SkyReadings:
    """One sky as each instrument would read it.

    Parameters
    ----------
    bessell_v : float
        V. [mag/arcsec2, Vega]
    cie_v : float
        Luminance as a magnitude. [mag/arcsec2, AB]
    meter : float
        Hand-held meter, with the stars it sees. [mag/arcsec2, AB]
    luminance_cd_m2 : float
        [cd m-2]
    bortle : str
        Class or classes, common practice: "5" or "5 to 6".
    naked_eye_limit : float
        [mag]
    """

    bessell_v: float
    cie_v: float
    meter: float
    luminance_cd_m2: float
    bortle: str
    naked_eye_limit: float


def sky_readings(sky: Sky) -> SkyReadings:
    """Read the sky as every kind of reading would give it.

    Parameters
    ----------
    sky : Sky

    Examples
    --------
    >>> sky_readings(Sky(zenith_brightness="19 mag/arcsec2")).bortle
    '5 to 6'
    """
    v = sky.brightness("bessell-V")
    best, worst = bortle_classes(v)
    return SkyReadings(
        bessell_v=v,
        cie_v=sky.brightness("cie-V"),
        meter=magnitude(sky.through(standard_band("meter")) + meter_stars_photons(), "meter"),
        luminance_cd_m2=sky.through(standard_band("cie-V")) * cd_m2_per_photon(),
        bortle=str(best) if best == worst else f"{best} to {worst}",
        naked_eye_limit=naked_eye_limit_of_v(v, sky.extinction_v),
    )
