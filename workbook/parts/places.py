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


def spread(places: Sequence[float], gap: float, low: float = -math.inf, high: float = math.inf) -> list[float]:
    """Places moved apart until neighbours keep `gap`, in the same order, each as near to its own as that allows.

    Parameters
    ----------
    places : sequence of float
    gap : float
    low, high : float, optional
        Ends that no place may pass; the room between them must do.

    Returns
    -------
    list of float
        In the order of `places`.

    Examples
    --------
    >>> spread([1.0, 1.2, 5.0], 1.0)
    [0.6, 1.6, 5.0]
    >>> spread([9.5, 9.9], 1.0, high=10.0)
    [9.0, 10.0]
    """
    order = sorted(range(len(places)), key=lambda number: places[number])
    groups: list[tuple[float, int]] = []  # mean of the places, how many: neighbours that touch move as one

    def middle(mean: float, count: int) -> float:
        half = gap * (count - 1) / 2
        return max(low + half, min(mean, high - half))

    for number in order:
        mean, count = places[number], 1
        while groups and middle(mean, count) - middle(*groups[-1]) < gap * (count + groups[-1][1]) / 2:
            other, others = groups.pop()
            mean, count = (mean * count + other * others) / (count + others), count + others
        groups.append((mean, count))
    moved = [middle(mean, count) + gap * (at - (count - 1) / 2) for mean, count in groups for at in range(count)]
    found = [0.0] * len(places)
    for number, place in zip(order, moved, strict=True):
        found[number] = place
    return found
