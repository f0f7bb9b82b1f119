r"""The colour of scattered moonlight: what a filter sees of it.

It is an assumption: sunlight, reddened by the Moon, bluer again by scattering. The two terms of the model of its
brightness (:mod:`expocalc.light.moonlight`) are scattering by molecules (wavelength^-4) and by dust (wavelength^-1);
each brings its colour in the share that it has in V. Blue light lost on the way and blue light scattered twice are
taken to cancel. No slope of the dust meets all that was measured in the red: a steeper one lacks light near 800 nm at
ten days [patat]_, a flatter one is worse for the colours of a survey; the plan's doubt of moonlight carries what is
left.

References
----------
.. [kieffer] Kieffer, H. H. & Stone, T. C. 2005, AJ 129, 2887, table 4: reflectance of the whole Moon, 350 to 2384 nm.
.. [green] Green, D. W. E. 1992, International Comet Quarterly 14, 55: extinction by dust goes as wavelength^-1.3.
.. [jones] Jones, A. et al. 2019, A&A 624, A39: scattered moonlight shows dust whose extinction is flatter than
   wavelength^-1.4.
.. [patat] Patat, F. 2003, A&A 400, 1183, sec. 7: the largest rises ten days past new Moon are 3 mag in B, 1.2 mag in I.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy.typing as npt

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import V_NM, standard_band, zero_photons
from expocalc.light.moonlight import dust_part, molecule_part, moonlight_nl
from expocalc.light.natural import sun_photons
from expocalc.light.reading import NANOLAMBERT_BY_MAG, v_of_nanolambert

__all__ = ["moonlight_parts", "scattered_sunlight"]

REFLECTANCE_SLOPE = 1.0
"""The Moon's reflectance goes as this power of wavelength: fitted to [kieffer]_ at 45 degrees of phase, 350 to 940 nm,
within 7 %; 0.9 at full Moon, 1.1 at the quarters.
"""
MOLECULE_SLOPE = -4.0
DUST_SLOPE = -1.0
"""Between the usual slope of the extinction [green]_ and what moonlight itself showed, flatter [jones]_."""
_PHOTONS_BY_NL = 0.4 * math.log(10) / NANOLAMBERT_BY_MAG  # 1 but for the rounding of the published constant


@cache
def scattered_sunlight() -> tuple[Spectrum, Spectrum]:
    """Shape of moonlight that molecules scatter, and of that by dust; equal at 550 nm, unscaled.

    Examples
    --------
    Molecules scatter blue light more:

    >>> molecules, dust = (light.continuum for light in scattered_sunlight())
    >>> round(float(molecules(450) / dust(450)), 2)
    1.83
    """
    sun = sun_photons()
    relative = sun.wavelength_nm / V_NM
    moon = sun.value * relative**REFLECTANCE_SLOPE
    molecules, dust = (
        Spectrum(Curve(sun.wavelength_nm, moon * relative**slope)) for slope in (MOLECULE_SLOPE, DUST_SLOPE)
    )
    return molecules, dust


@cache
def _scattered_in_v() -> tuple[float, float]:
    """Photons of both shapes in V."""
    molecules, dust = (light.through(standard_band("bessell-V")) for light in scattered_sunlight())
    return molecules, dust


def moonlight_parts(
    phase_deg: npt.ArrayLike,
    separation_deg: npt.ArrayLike,
    moon_altitude_deg: npt.ArrayLike,
    target_altitude_deg: npt.ArrayLike,
    k: npt.ArrayLike,
) -> tuple[Any, Any]:
    """How many times the shapes of :func:`scattered_sunlight` the Moon's sky holds: by molecules, and by dust.

    Together they have the V of :func:`moonlight_nl`, in the shares of its two terms.

    Parameters
    ----------
    phase_deg, separation_deg, moon_altitude_deg, target_altitude_deg, k : array_like
        As in :func:`moonlight_nl`.

    Returns
    -------
    molecules, dust : ndarray
        Of the broadcast shape; 0 where the Moon is at or below the horizon, NaN where the target is.

    Examples
    --------
    >>> molecules, dust = moonlight_parts(0, 60, [45, -3], 55, 0.2)
    >>> molecules.round(-3).tolist()[1], dust.round(-3).tolist()[1]
    (0.0, 0.0)
    """
    nl = moonlight_nl(phase_deg, separation_deg, moon_altitude_deg, target_altitude_deg, k)
    molecules, dust = molecule_part(separation_deg), dust_part(separation_deg)
    of_molecules, of_dust = _scattered_in_v()
    photons = zero_photons("bessell-V") * 10 ** (-0.4 * v_of_nanolambert(1.0)) * nl**_PHOTONS_BY_NL
    scale = photons / (molecules * of_molecules + dust * of_dust)
    return molecules * scale, dust * scale
