r"""What people read off the sky: Bortle classes and the faintest star, turned into V and back.

References
----------
.. [schaefer] Schaefer, B. E. 1990, PASP 102, 212: faintest star for the naked eye, after Hecht 1947
   (coefficients from memory).
.. [garstang] Garstang, R. H. 1986, PASP 98, 364: eq. 19, V to nanolambert.
.. [bortle] Bortle, J. E. 2001, Sky & Telescope 101, no. 2, 126: nine classes of night sky, told by what one
   sees. He gives no mag/arcsec2.
"""

from __future__ import annotations

import math
from types import MappingProxyType

__all__ = [
    "BORTLE",
    "bortle_classes",
    "bortle_v",
    "naked_eye_limit_of_v",
    "nanolambert",
    "v_of_naked_eye_limit",
    "v_of_nanolambert",
    "v_per_limit",
]

BORTLE = MappingProxyType(
    {
        1: (21.7, 22.0),
        2: (21.5, 21.7),
        3: (21.3, 21.5),
        4: (20.4, 21.3),
        5: (19.1, 20.4),
        6: (18.4, 19.1),
        7: (18.0, 18.4),
        8: (17.5, 18.0),
        9: (16.5, 17.5),
    }
)
"""Bortle class: the brightest and darkest V that goes with it; common practice, no source. [mag/arcsec2]"""

COMPILERS_DISAGREE_MAG = 0.3
"""How much the lists of V for a Bortle class differ from one another, from memory: 0.3 to 0.5 mag. [mag]."""

NANOLAMBERT_BY_MAG = 0.92104
"""Fall of the logarithm of nanolambert with a magnitude [garstang]_."""

_BRANCH_NL = 1500.0
_ROD_C, _ROD_K = 10**-9.80, 10**-1.90  # [schaefer]_ below 1500 nL: the rods see
_CONE_C, _CONE_K = 10**-8.35, 10**-5.90  # above: the cones see


def nanolambert(v_mag: float) -> float:
    """Nanolambert of a sky of V magnitude per square arcsecond [garstang]_.

    Examples
    --------
    >>> round(nanolambert(22.0), 2)
    54.01
    """
    return 34.08 * math.exp(20.7233 - NANOLAMBERT_BY_MAG * v_mag)  # [garstang]_ eq. 19


def v_of_nanolambert(nl: float) -> float:
    """V magnitude per square arcsecond, the inverse of :func:`nanolambert`.

    Examples
    --------
    >>> round(v_of_nanolambert(79.0), 3)
    21.587
    """
    return (20.7233 - math.log(nl / 34.08)) / NANOLAMBERT_BY_MAG


def _limit(nl: float, c: float, k: float) -> float:
    footcandle = c * (1 + math.sqrt(k * nl)) ** 2
    return -16.57 - 2.5 * math.log10(footcandle)


def naked_eye_limit_of_v(v_mag: float, k: float = 0.0) -> float:
    """Magnitude of the faintest star that the naked eye sees at the zenith [schaefer]_.

    Parameters
    ----------
    v_mag : float
        Brightness of the sky in V. [mag/arcsec2]
    k : float, optional
        Extinction in V, which dims the star and not the sky. [mag/airmass]

    Notes
    -----
    An average practised eye; people differ by a magnitude. At 18.4 mag/arcsec2 the formula changes from rods to cones
    with a step of 0.08 mag.

    Examples
    --------
    >>> round(naked_eye_limit_of_v(22.0), 2)
    6.62
    >>> round(naked_eye_limit_of_v(22.0, 0.26), 2)
    6.36
    """
    nl = nanolambert(v_mag)
    if nl < _BRANCH_NL:
        return _limit(nl, _ROD_C, _ROD_K) - k
    return _limit(nl, _CONE_C, _CONE_K) - k


def v_of_naked_eye_limit(limit_mag: float, k: float = 0.0) -> float:
    """V of the sky from the faintest star seen, the inverse of :func:`naked_eye_limit_of_v`. [mag/arcsec2].

    Parameters
    ----------
    limit_mag : float
        Catalogue magnitude of the star. [mag]
    k : float, optional
        Extinction in V. [mag/airmass]

    Raises
    ------
    ValueError
        If no sky of the formula shows that star, or the sky is so bright that the cones see: there a tenth of a
        magnitude of the limit is half a magnitude of sky, and people differ by ten such tenths.

    Examples
    --------
    >>> round(v_of_naked_eye_limit(6.62), 1)
    22.0
    >>> round(v_of_naked_eye_limit(6.36, 0.26), 1)
    22.0
    """
    faintest, brightest = (_limit(nl, _ROD_C, _ROD_K) - k for nl in (0.0, _BRANCH_NL))
    if limit_mag >= faintest:
        msg = f"naked_eye_limit must be below {faintest:.2f} mag, where the sky would be black, got {limit_mag:g} mag"
        raise ValueError(msg)
    if limit_mag < brightest - 1e-9:
        msg = (
            f"naked_eye_limit must be at least {math.ceil(brightest * 10) / 10:g} mag, got {limit_mag:g} mag: under so "
            'bright a sky the faintest star hardly tells how bright it is; give bortle = 8, zenith_brightness = "17.5 '
            'mag/arcsec2" from a meter, or measure a sub'
        )
        raise ValueError(msg)
    footcandle = 10 ** (-0.4 * (limit_mag + k + 16.57))
    return v_of_nanolambert((math.sqrt(footcandle / _ROD_C) - 1) ** 2 / _ROD_K)


def v_per_limit(v_mag: float) -> float:
    """Change of V with the naked-eye limit: 1.3 under a town's sky, 2 under a dark one. [-]

    Examples
    --------
    >>> round(v_per_limit(19.0), 2), round(v_per_limit(21.5), 2)
    (1.3, 1.96)
    """
    step = 0.01
    return 2 * step / (naked_eye_limit_of_v(v_mag + step) - naked_eye_limit_of_v(v_mag - step))


def bortle_v(bortle: int) -> float:
    """Middle of the range of V that goes with a Bortle class, common practice. [mag/arcsec2].

    Examples
    --------
    >>> round(bortle_v(6), 2)
    18.75
    """
    return sum(BORTLE[bortle]) / 2


def bortle_classes(v_mag: float) -> tuple[int, int]:
    """Best and worst Bortle class that a V may be called, common practice.

    Examples
    --------
    >>> bortle_classes(19.0)
    (5, 6)
    """
    at = min(max(v_mag, BORTLE[9][0]), BORTLE[1][1])
    near = [
        number
        for number, (bright, dark) in BORTLE.items()
        if bright - COMPILERS_DISAGREE_MAG < at < dark + COMPILERS_DISAGREE_MAG
    ]
    return near[0], near[-1]
