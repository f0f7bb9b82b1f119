"""Places for labels and ends for axes."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["nice_above", "nice_below", "spread"]

_STEPS = (1.0, 2.0, 5.0, 10.0)


def nice_below(value: float) -> float:
    """Largest of …, 1, 2, 5, 10, … that is not above `value`.

    Examples
    --------
    >>> nice_below(7.2), nice_below(0.3)
    (5.0, 0.2)
    """
    decade = 10.0 ** math.floor(math.log10(value))
    return max(step * decade for step in _STEPS if step * decade <= value * (1 + 1e-9))


def nice_above(value: float) -> float:
    """Smallest of …, 1, 2, 5, 10, … that is not below `value`.

    Examples
    --------
    >>> nice_above(7.2), nice_above(0.3)
    (10.0, 0.5)
    """
    decade = 10.0 ** math.floor(math.log10(value))
    return min(step * decade for step in _STEPS if step * decade >= value * (1 - 1e-9))


def spread(places: Sequence[float], gap: float) -> list[float]:
    """Places moved apart until neighbours keep `gap`; their order and their middle stay.

    Parameters
    ----------
    places : sequence of float
    gap : float

    Returns
    -------
    list of float
        In the order of `places`.

    Examples
    --------
    >>> spread([1.0, 1.2, 5.0], 1.0)
    [0.6, 1.6, 5.0]
    """
    order = sorted(range(len(places)), key=lambda number: places[number])
    groups: list[list[float]] = []  # [middle, count]: neighbours that touch move as one
    for number in order:
        groups.append([places[number], 1.0])
        while len(groups) > 1 and groups[-1][0] - groups[-2][0] < gap * (groups[-1][1] + groups[-2][1]) / 2:
            (a, n), (b, m) = groups[-2], groups.pop()
            groups[-1] = [(a * n + b * m) / (n + m), n + m]
    moved = [middle + gap * (at - (count - 1) / 2) for middle, count in groups for at in range(int(count))]
    found = [0.0] * len(places)
    for number, place in zip(order, moved, strict=True):
        found[number] = place
    return found
