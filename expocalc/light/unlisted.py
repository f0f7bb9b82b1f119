r"""What lamps outside the list change a sky by: a factor that is alike for wavelengths that lie near each other.

A town may have lamps that no table here knows. What they change the light by is not known, but it is no noise either:
two broad bands side by side are off together, two narrow filters far apart are not. So the logarithm of the factor is
a Gaussian process [kennedy]_ whose covariance falls with the distance of the wavelengths,
:math:`\sigma^2 \exp(-|\lambda - \lambda'| / \ell)`; through a response its mean counts.

Both numbers come from lamps of the list: each kind (LED, sodium, mercury, metal halide) is left out in turn, up to
three tenths of a town's light are given to it, and the others are asked for skies that were not measured. By these
numbers the truth is as likely as by any, in narrow filters, broad bands, mosaic colours and a meter together.

References
----------
.. [kennedy] Kennedy, M. C. & O'Hagan, A. 2001, J. R. Statist. Soc. B 63, 425: a model's own discrepancy as a Gaussian
   process beside the errors of what is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache

import numpy as np

from expocalc.base.curve import RANGE_NM, Curve, Floats, Spectrum

__all__ = ["ALIKE_NM", "UNLISTED_LOG_SD", "unlisted_by_wavelength", "unlisted_covariance"]

UNLISTED_LOG_SD = 0.2
"""Standard deviation of the logarithm of the factor; what all wavelengths have in common is brightness alone. [-]"""
ALIKE_NM = 500.0
"""Distance over which the covariance falls to 1/e. [nm]"""
_NODES_NM = np.arange(RANGE_NM[0], RANGE_NM[1] + 1, 5.0)
_FLAT = Spectrum(Curve.constant(1.0))


@cache
def _between_nodes() -> Floats:
    apart = np.abs(_NODES_NM[:, None] - _NODES_NM)
    return np.asarray(UNLISTED_LOG_SD**2 * np.exp(-apart / ALIKE_NM))


@lru_cache(maxsize=256)
def _weight(response: Curve) -> Floats:
    """Share of each node in a response; sum 1."""
    weight = _FLAT.by_node(_NODES_NM, response)
    return np.asarray(weight / weight.sum())


def unlisted_covariance(one: Sequence[Curve], other: Sequence[Curve]) -> Floats:
    """Covariance of the factor's logarithm through responses.

    Parameters
    ----------
    one, other : sequence of Curve
        Responses that pass some light.

    Returns
    -------
    ndarray
        Shape (one, other). [-]

    Examples
    --------
    Two narrow filters are off more alike the nearer they lie:

    >>> a, b, c = (Curve.boxes([(nm, nm + 3)], [0.9]) for nm in (500, 530, 655))
    >>> unlisted_covariance([a], [a, b, c]).round(4).tolist()
    [[0.0399, 0.0377, 0.0293]]
    """
    return np.asarray(unlisted_by_wavelength(one)[1] @ np.stack([_weight(curve) for curve in other]).T)


def unlisted_by_wavelength(responses: Sequence[Curve]) -> tuple[Floats, Floats]:
    """Covariance of the factor's logarithm through responses with that at single wavelengths.

    Parameters
    ----------
    responses : sequence of Curve

    Returns
    -------
    wavelength_nm, covariance : ndarray
        Shapes (n,) and (responses, n). [nm], [-]
    """
    return _NODES_NM, np.asarray(np.stack([_weight(curve) for curve in responses]) @ _between_nodes())
