"""Sub lengths that are looked at, and what each is worth: along the first axis of arrays, before all others."""

from __future__ import annotations

from itertools import repeat
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from expocalc.base.curve import Floats

__all__ = ["LOG_NODES", "LONGEST_S", "SHORTEST_S", "USUAL_S", "Asked", "along", "asked_lengths", "taken"]

SHORTEST_S = 1.0
"""Shorter subs are not looked at: a plan of thousands of subs an hour is no plan. [s]"""
LONGEST_S = 1e7
"""Where the search for an unbounded sub ends. [s]"""

_MIN, _HOUR = 60, 3600
USUAL_S: Floats = np.array(
    [*range(1, 6), 6, 8, 10, 15, *range(20, 121, 10), *range(150, 301, 30)]
    + [_MIN * m for m in (6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 90)]
    + [_HOUR * h for h in (2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 18, 24)],
    dtype=float,
)
"""Lengths that a person would set: whole tens of seconds, half minutes, minutes, hours. [s]"""
_NODES: Floats = np.unique(np.concatenate([np.geomspace(SHORTEST_S, LONGEST_S, 160), USUAL_S]))
_APART = 1.0001
"""A node less than this factor below the longest is the longest: what lies so near tells of rounding alone."""
LOG_NODES = np.log(_NODES)
_USUAL_AT = _NODES.searchsorted(USUAL_S)


def asked_lengths(longest_s: npt.ArrayLike, *, beyond: bool = True) -> Floats:
    """Sub lengths at which hours are wanted; the last of them is the longest. [s]

    Those `beyond` the longest tell whether longer subs would still gain, where they lose nothing.
    """
    end = np.minimum(longest_s, LONGEST_S)
    nodes = _NODES if beyond else _NODES[: _NODES.searchsorted(end.max()) + 1]
    lengths = np.empty((nodes.size + 1, *end.shape))
    lengths[:-1] = nodes.reshape(-1, *(1,) * end.ndim)
    lengths[-1] = end
    return lengths


class Asked(NamedTuple):
    """What sub lengths are worth.

    Attributes
    ----------
    sub_s, worth : ndarray
        Lengths up to the longest, and one over the hours at each; beyond it both stay at its own. [s, h-1]
    most, endless : ndarray
        The highest worth of those that are allowed, and of all. [h-1]
    """

    sub_s: Floats
    worth: Floats
    most: Any
    endless: Any

    @classmethod
    def of(cls, worth: Floats, longest_s: npt.ArrayLike) -> Asked:
        """From the worth at :func:`asked_lengths`."""
        end = np.minimum(longest_s, LONGEST_S)
        nodes = _NODES[: len(worth) - 1].reshape(-1, *(1,) * end.ndim)
        ends = end / _APART <= nodes
        sub_s, allowed = np.where(ends, end, nodes), np.where(ends, worth[-1], worth[:-1])
        if sub_s.shape != allowed.shape:
            sub_s = np.broadcast_to(sub_s, allowed.shape)
        return cls(sub_s, allowed, allowed.max(axis=0), worth.max(axis=0))

    @property
    def usual(self) -> tuple[Floats, Floats]:
        """Usual lengths, with as many axes as the worth, and what they are worth. [s, h-1]"""
        count = int(_USUAL_AT.searchsorted(len(self.worth)))
        return USUAL_S[:count].reshape(-1, *(1,) * (self.worth.ndim - 1)), self.worth[_USUAL_AT[:count]]


def along(x: Floats, nodes: Floats, values: Floats) -> Any:
    """Values between nodes by straight lines along the first axis; what has no other axis stands for all columns."""
    columns = (repeat(array) if array.ndim == 1 else array.reshape(len(array), -1).T for array in (x, nodes, values))
    return np.array([np.interp(*each) for each in zip(*columns, strict=False)]).T.reshape(len(x), *nodes.shape[1:])


def taken(places: Any, *arrays: Floats) -> list[Any]:
    """Of each array the entries at `places` of its first axis; their last axes are the array's others."""
    width = arrays[0].size // len(arrays[0])
    flat = places * width + np.arange(width).reshape(arrays[0].shape[1:])
    return [array.take(flat) for array in arrays]
