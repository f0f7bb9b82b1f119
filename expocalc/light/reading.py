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


def naked_eye_limit_of_v(v_mag: float) -> float:
    """Magnitude of the faintest star that the naked eye sees, above the air [schaefer]_.

    Parameters
    ----------
    v_mag : float
        Brightness of the sky in V. [mag/arcsec2]

    Notes
    -----
    No extinction, an average practised eye; people differ by a magnitude. At 18.4 mag/arcsec2 the formula
    changes from rods to cones with a step of 0.08 mag.

    Examples
    --------
    >>> round(naked_eye_limit_of_v(22.0), 2)
    6.62
    """
    nl = nanolambert(v_mag)
    if nl < _BRANCH_NL:
        return _limit(nl, _ROD_C, _ROD_K)
    return _limit(nl, _CONE_C, _CONE_K)


def v_of_naked_eye_limit(limit_mag: float) -> float:
    """V of the sky from the faintest star seen, the inverse of :func:`naked_eye_limit_of_v`. [mag/arcsec2].

    Parameters
    ----------
    limit_mag : float
        Below 7.93, where the formula ends at a black sky. [mag]

    Raises
    ------
    ValueError
        If no sky of the formula shows that star.

    Examples
    --------
    >>> round(v_of_naked_eye_limit(6.62), 1)
    22.0
    """
    if limit_mag >= _limit(0.0, _ROD_C, _ROD_K):
        msg = f"naked_eye_limit must be below 7.93 mag, where the sky would be black, got {limit_mag:g} mag"
        raise ValueError(msg)
    if limit_mag > _limit(_BRANCH_NL, _ROD_C, _ROD_K):
        c, k = _ROD_C, _ROD_K
    elif limit_mag < _limit(_BRANCH_NL, _CONE_C, _CONE_K):
        c, k = _CONE_C, _CONE_K
    else:
        return v_of_nanolambert(_BRANCH_NL)
    footcandle = 10 ** (-0.4 * (limit_mag + 16.57))
    return v_of_nanolambert((math.sqrt(footcandle / c) - 1) ** 2 / k)


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
