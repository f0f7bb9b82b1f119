r"""Town light: the lamps whose light the air sends back.

A lamp's table is a continuum and, beside it, its lines at their own wavelengths: in the 5-nm bins of the
published tables the sodium line at 498 nm would flood an O III filter that in truth does not see it.

References
----------
.. [cie15] CIE 015:2018, Colorimetry, 4th edition: illuminants HP1, HP4 and LED-B1 to LED-B5.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve, Floats, Spectrum
from expocalc.base.noun import suggest
from expocalc.base.photometry import luminance_cd_m2
from expocalc.base.table import DATA, read_table

__all__ = ["BLUER_BY", "LAMPS", "bare_lamp", "lamp_spectrum"]

LAMPS = (
    "led-2700K",
    "led-3000K",
    "led-4000K",
    "led-5000K",
    "led-6600K",
    "sodium-high-pressure",
    "sodium-low-pressure",
    "mercury",
    "metal-halide",
)
"""Names of the lamps."""

BLUER_BY = 1.7
"""Skyglow is the lamp's light times (wavelength / 550 nm) to the power of minus this, uncertain by 0.8.

From a single-scattering model of a town 5 km across seen at its zenith, aerosol depths of 0.1 to 0.4 and
reddening by
the ground: an assumption, no published value."""


def _lines(name: str) -> tuple[Floats, Floats]:
    table = read_table(DATA / "lamp_lines.ecsv")
    if name not in table:
        return np.zeros(0), np.zeros(0)
    lit = table[name] > 0
    return table["wavelength"][lit], table[name][lit]


@cache
def bare_lamp(name: str) -> Spectrum:
    """Light of the lamp itself, at a luminance of 1 cd/m2.

    Parameters
    ----------
    name : str
        One of :data:`LAMPS`.

    Returns
    -------
    Spectrum
        [cie15]_ gives 380 to 780 nm. Below, the continuum falls in a straight line to nothing at 300 nm;
        above, it keeps its last power per nm up to 1100 nm. Both are assumptions, and the sodium line at
        819 nm is missing.

    Raises
    ------
    ValueError
        If there is no such lamp.

    Examples
    --------
    >>> round(luminance_cd_m2(bare_lamp("mercury")), 6)
    1.0
    """
    if name not in LAMPS:
        msg = f"lamp must be one of {', '.join(LAMPS)}, got {name!r}{suggest(name, LAMPS)}"
        raise ValueError(msg)
    table = read_table(DATA / "lamps.ecsv")
    x = np.concatenate(([RANGE_NM[0]], table["wavelength"], [RANGE_NM[1]]))
    power = np.concatenate(([0.0], table[name], table[name][-1:]))
    line_nm, line_power = _lines(name)
    # Power over the energy of a photon: times the wavelength, whose scale the normalisation takes out.
    lamp = Spectrum(Curve(x, power * x), line_nm, line_power * line_nm)
    return lamp * (1 / luminance_cd_m2(lamp))


@cache
def lamp_spectrum(name: str) -> Spectrum:
    """Light of the lamp as skyglow, on the scale on which the bare lamp has a luminance of 1 cd/m2.

    Parameters
    ----------
    name : str
        One of :data:`LAMPS`.

    Raises
    ------
    ValueError
        If there is no such lamp.

    Examples
    --------
    Skyglow is bluer than its lamp, so less of it is left at H-alpha:

    >>> narrow = Curve.boxes([(654.8, 657.8)], [1.0])
    >>> round(lamp_spectrum("led-4000K").through(narrow) / bare_lamp("led-4000K").through(narrow), 2)
    0.74
    """
    lamp = bare_lamp(name)
    x = lamp.continuum.wavelength_nm
    fine = np.union1d(x, np.arange(RANGE_NM[0], RANGE_NM[1], 10.0))  # so that long pieces follow the power law
    return Spectrum(
        Curve(fine, lamp.continuum(fine) * (fine / 550) ** -BLUER_BY),
        lamp.line_nm,
        lamp.line * (lamp.line_nm / 550) ** -BLUER_BY,
    )
