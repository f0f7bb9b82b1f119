"""The lamps of a plan's town: shares that are named, or those that measured rates tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.base.noun import suggest
from expocalc.base.quantity import read_number
from expocalc.light.lamps import LAMPS
from expocalc.light.town import Town

__all__ = ["FROM_RATES", "USUAL_LAMPS", "LampsFromRates", "read_lamps"]

USUAL_LAMPS: Mapping[str, float] = MappingProxyType({"led-4000K": 0.6, "sodium-high-pressure": 0.4})
"""Shares of luminance where a plan names no lamps: an assumption."""

FROM_RATES = "from rates"
"""What a plan says instead of shares, where what it measured is to tell them."""


@dataclass(frozen=True, repr=False, eq=False)
class LampsFromRates(Mapping[str, float]):
    """Shares of lamps that measured rates tell; the usual lamps until they are told.

    Parameters
    ----------
    town : Town, optional
        What the rates say.
    read_v : float, optional
        V of the reading that was one of the rates, with the usual lamps. [mag/arcsec2]

    Examples
    --------
    >>> dict(LampsFromRates())
    {'led-4000K': 0.6, 'sodium-high-pressure': 0.4}
    """

    town: Town | None = None
    read_v: float = 0.0

    def _shares(self) -> Mapping[str, float]:
        return USUAL_LAMPS if self.town is None else self.town.all_lamps

    def __getitem__(self, lamp: str) -> float:
        return self._shares()[lamp]

    def __iter__(self) -> Iterator[str]:
        return iter(self._shares())

    def __len__(self) -> int:
        return len(self._shares())


def read_lamps(name: str, value: Any) -> Mapping[str, float]:
    """Check the lamps of a plan.

    Parameters
    ----------
    name : str
        The field's name, for the error message.
    value : mapping of str to float, or str
        Shares of luminance by lamp, or "from rates".

    Raises
    ------
    TypeError, ValueError
        If it is something else, a lamp is not known, or the shares do not sum to 1.

    Examples
    --------
    >>> dict(read_lamps("lamps", {"mercury": 1}))
    {'mercury': 1.0}
    >>> read_lamps("lamps", "from rates").town is None
    True
    """
    if isinstance(value, LampsFromRates):
        return value
    if value == FROM_RATES:
        return LampsFromRates()
    if not isinstance(value, Mapping) or not value:
        msg = (
            f"{name} must map lamps to their shares of luminance, got {value!r}; write it like {{'led-4000K': 1.0}}, "
            f'or "{FROM_RATES}" where what you measured is to tell them'
        )
        raise TypeError(msg)
    for lamp in value:
        if lamp not in LAMPS:
            msg = f"{name} must be of {', '.join(LAMPS)}, got {lamp!r}{suggest(lamp, LAMPS)}"
            raise ValueError(msg)
    shares = {lamp: read_number(f"{name} {lamp}", share, minimum=0, maximum=1) for lamp, share in value.items()}
    total = sum(shares.values())
    if abs(total - 1) > 1e-3:
        msg = f"{name} must be shares that sum to 1, got a sum of {total:g} from {shares}"
        raise ValueError(msg)
    return MappingProxyType(shares)
