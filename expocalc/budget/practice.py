"""What real sessions lose beside the model: haze, focus, masks, covariance, stacking, one factor on the hours.

The model says the hours at best. Published depths say what instruments really needed: 34 of them, of 14 surveys from a
lens of 33 mm to a mirror of 8 m, stand in ``data/practice.ecsv`` with their sources and what had to be assumed. Their
hours over the model's are taken as log-normal, one value per survey; the range is that of the next survey by Student's
t. It is one factor for all causes, and one-sided: practice gives no time back.

How far it holds: of 1,000 halves drawn at random one foretells 83 % of the surveys and of the outcomes of the other on
average, with a standard deviation of 8 % from split to split; in the order of the table 11 of 14 surveys and 27 of 34
outcomes, and thirteen foretell the fourteenth 10 times of 14 (27 of 34 outcomes). Student's interval is that of the
next value, so eight of ten hold for few surveys too; 1.28 standard deviations of the seven seen hold 77 %. With the
other doubts of a plan, as it is said, and never below 1, the range holds 82 % of the outcomes of the other half. The
ratios were seen before the way of fitting was settled; three other ways (maximum likelihood with and without the error
of the mean, with what was assumed taken out of the spread) held 10 or 11 of 14 as well.

What limits it: a depth is what its authors call one. Most are of stars, some inside a circle and not corrected for the
light outside; the noise may be that of neighbouring pixels that were resampled. Four surveys work in all phases of the
Moon under a sky that nobody printed: the table has their dark sky, from memory, so that their ratios of 7 to 10 hold
the Moon's cost too, where the other ten lie between 1 and 2.1. A log-normal is a rough form for that. Skilled surveys
on mountains are most of the table: a backyard may lose more.
"""

from __future__ import annotations

import math
import re
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats
from expocalc.base.quantity import read_number

__all__ = ["NONE", "PUBLISHED", "Practice", "read_practice"]

_EIGHT_OF_TEN = 1.2816
"""Standard deviations on either side that hold eight cases of ten."""
_RANGED = r"\s*(\d+(?:[.,]\d+)?)\s*,\s+(\d+(?:[.,]\d+)?)\s+to\s+(\d+(?:[.,]\d+)?)\s*"


class Practice(NamedTuple):
    """Log-normal factor on the hours at best, never below 1.

    Parameters
    ----------
    factor : float
        Median. [-]
    log_sd : float
        Standard deviation of its logarithm. [-]
    """

    factor: float
    log_sd: float

    def factors(self, z: npt.ArrayLike) -> Floats:
        """Factor of each draw. [-]

        Parameters
        ----------
        z : array_like
            Standard normal numbers, any shape.

        Examples
        --------
        >>> PUBLISHED.factors([-1.28, 0.0, 1.28]).round(1)
        array([1. , 2.3, 7.6])
        >>> NONE.factors([-1.28, 0.0, 1.28])
        array([1., 1., 1.])
        """
        return np.maximum(self.factor * np.exp(self.log_sd * np.asarray(z, dtype=float)), 1.0)

    @property
    def words(self) -> str:
        """The factor as a person says it."""
        if self.factor == 1 and not self.log_sd:
            return "none"
        return f"factor {self.factor:.2g}" + (f", {_range(self)} in eight cases of ten" if self.log_sd else "")


def _range(practice: Practice) -> str:
    low, high = practice.factors([-_EIGHT_OF_TEN, _EIGHT_OF_TEN])
    return f"{low:.2g} to {high:.2g}"


PUBLISHED = Practice(factor=2.32, log_sd=0.927)
"""Fitted to ``data/practice.ecsv``; a test fits it again."""
NONE = Practice(factor=1.0, log_sd=0.0)


def read_practice(name: str, value: Any) -> Practice:
    """What a plan says of practice.

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : str, float or Practice
        "published", "none", or one's own factor on the hours, learned from nights that are over: 1.6, or with the
        range of eight cases in ten "1.6, 1.2 to 2.3".

    Raises
    ------
    TypeError, ValueError
        If it is something else, a factor below 1, or one outside its range.

    Examples
    --------
    >>> read_practice("practice", 1.6).words
    'factor 1.6'
    >>> read_practice("practice", "1.6, 1.2 to 2.3").words
    'factor 1.6, 1.2 to 2.2 in eight cases of ten'
    """
    if isinstance(value, Practice):
        return value
    if value == "published":
        return PUBLISHED
    if value == "none":
        return NONE
    example = '"published", "none", the factor 1.6, or with its range "1.6, 1.2 to 2.3"'
    ranged = re.fullmatch(_RANGED, value) if isinstance(value, str) else None
    if ranged:
        factor, low, high = (
            read_number(name, x.replace(",", "."), minimum=1, maximum=100, example=example) for x in ranged.groups()
        )
        if not low <= factor <= high:
            msg = f"{name} must be a factor inside its range, got {value!r}; write it like {example}"
            raise ValueError(msg)
        # no factor is below 1: a range that ends there tells its width by the other end
        width = 2 * math.log(high / factor) if low == 1 else math.log(high / low)
        return Practice(factor=factor, log_sd=width / (2 * _EIGHT_OF_TEN))
    return Practice(factor=read_number(name, value, minimum=1, maximum=100, example=example), log_sd=0.0)
