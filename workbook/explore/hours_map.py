"""A map of hours over sub length and sky, or sub length and filter width: what is drawn and said of it, no widgets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from expocalc.base.curve import Floats
from expocalc.base.words import say_duration, say_number
from workbook.explore.placed import Label, Placed
from workbook.parts.table import Table

__all__ = ["LEVELS_H", "SKY", "SUB_S", "WIDTH", "Edge", "HoursMap", "map_table"]

SKY, WIDTH = "sky", "width"
"""What stands up the side of a map."""
SUB_S: Floats = np.geomspace(1, 3600, 65)
"""Sub lengths of a map's columns. [s]"""
LEVELS_H = (*(float(f"{step}e{decade}") for decade in range(-2, 3) for step in (1, 2, 3, 5)), 1000.0)
"""Hours at which lines are drawn, and at which the colour changes; above the last there is no colour. [h]"""
_ROUND = (0.2, 0.3, 0.5, 1, 2, 3, 5, 10, 20, 30, 50, 100)
"""Luminances that an axis of skies names. [mcd m-2]"""
_LEAST_REACH = 5.0
"""From one end of the axis of sub lengths to the other, at least, where a plan's own sub lies beyond the map."""
_TABLE_S = (10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0)
_LABELS_AT = (0.36, 0.5, 0.22, 0.62, 0.8, 0.12, 0.94)
"""Where along the axis of sub lengths a line's words may stand, as shares of its reach; the best first."""
_ROWS = {
    "read noise": (0.07, 0.2, 0.35, 0.93),
    "mount": (0.94, 0.84, 0.74),
    "star": (0.84, 0.94, 0.64),
    "sky": (0.74, 0.3, 0.2),
}
"""Where up the map the words of an edge may stand, as shares of its height; the best first."""


@dataclass(frozen=True, kw_only=True)
class Edge:
    """Sub length of each row at which something begins or ends; infinite where it does not. [s]"""

    kind: str
    words: str
    sub_s: Floats


@dataclass(frozen=True, kw_only=True)
class HoursMap:
    """Hours on the clock of one filter, until all its lights reach their goal.

    Attributes
    ----------
    kind : str
        :data:`SKY` or :data:`WIDTH`.
    filter_name, filter_shown : str
        Its name, and as people see it.
    whose : str
        The light that sets its hours at the plan's own place, where it is for several.
    up : ndarray
        Sky reading or width of each row. [mag arcsec-2 or nm]
    up_label : str
        Title of that axis.
    luminance : ndarray or None
        Of each row's sky, where that is how the user reads it. [mcd m-2]
    hours : ndarray
        Shape (rows, sub lengths); NaN where no hours will do. [h]
    edges : tuple of Edge
        Where read noise falls to what the goal allows, and what allows no longer subs.
    sub_s, up_here : float
        The plan's own place.
    here : str
        Words for it.
    """

    kind: str
    filter_name: str
    filter_shown: str
    whose: str
    up: Floats
    up_label: str
    luminance: Floats | None
    hours: Floats
    edges: tuple[Edge, ...]
    sub_s: float
    up_here: float
    here: str

    @property
    def title(self) -> str:
        """What the map shows."""
        over = "sky" if self.kind == SKY else "filter width"
        whose = f", at your plan {self.whose}" if self.whose else ""
        return f"{self.filter_shown}: hours at best by sub length and {over}{whose}"

    @property
    def ups_said(self) -> tuple[str, ...]:
        """Sky or width of each row in words."""
        if self.luminance is not None:
            return tuple(say_number(float(one)) for one in self.luminance)
        return tuple(f"{up:.2f}" if self.kind == SKY else f"{say_number(float(up))} nm" for up in self.up)

    @property
    def up_ticks(self) -> dict[float, str]:
        """Places of round luminances on the axis of skies, in words; empty where it counts in what stands there."""
        if self.luminance is None:
            return {}
        log = -np.log(self.luminance)  # rises with the reading
        inside = [one for one in _ROUND if self.luminance.min() <= one <= self.luminance.max()]
        return {float(np.interp(-math.log(one), log, self.up)): f"{one:g}" for one in inside}

    @property
    def beyond(self) -> Floats:
        """Longest sub that all bounds allow, for each row. [s]"""
        ends = [edge.sub_s for edge in self.edges if edge.kind != "read noise"]
        return np.min([np.full(self.up.shape, np.inf), *ends], axis=0)

    @property
    def sub_reach(self) -> tuple[float, float]:
        """Ends of the axis of sub lengths: from where hours begin to what is worth a look. [s]"""
        begins = SUB_S[(self.hours <= LEVELS_H[-1]).any(axis=0)]
        ends = [float(edge.sub_s.min()) for edge in self.edges if edge.kind in ("mount", "star")]
        high = 1.3 * max([2 * self.sub_s, *(end for end in ends if math.isfinite(end))])
        low = 0.8 * min(float(begins[0]) if begins.size else 1.0, self.sub_s / 3)
        low = float(np.clip(low, SUB_S[0], SUB_S[-1] / _LEAST_REACH))
        return low, float(np.clip(high, _LEAST_REACH * low, SUB_S[-1]))

    @property
    def hours_reach(self) -> tuple[float, float]:
        """Fewest and most hours that have a colour and are seen. [h]"""
        low, high = self.sub_reach
        seen = self.hours[:, (low <= SUB_S) & (high >= SUB_S)]
        seen = seen[seen <= LEVELS_H[-1]]
        return (float(seen.min()), float(seen.max())) if seen.size else (LEVELS_H[0], LEVELS_H[-1])

    @property
    def labels(self) -> tuple[Label, ...]:
        """All words, so placed that none covers another; a line without room for its hours stays without."""
        placed = Placed(self.sub_reach)
        here = float(np.clip(self.row_of(self.up_here), 0, 1))
        roomy = placed.share(self.sub_s) + placed.width(self.here) < 1
        placed.put("here", self.here, self.sub_s, here, "left" if roomy else "right")
        for edge in self.edges:
            for row in _ROWS[edge.kind]:
                at = float(np.interp(row, [self.row_of(up) for up in self.up], np.clip(edge.sub_s, 1e-6, 1e9)))
                if placed.put("edge", edge.words, at, row, "left" if placed.share(at) < 0.5 else "right"):
                    break
        for words, sub_s, row in self._never():
            if placed.put("never", words, sub_s, row, "left"):
                break
        unsaid = list(LEVELS_H)
        for share in _LABELS_AT:
            at = placed.column(share, SUB_S)
            for level, row in self._crossings(at, unsaid):
                if placed.put("hours", say_duration(level * 3600), float(SUB_S[at]), row, "center"):
                    unsaid.remove(level)
        return tuple(placed.labels)

    def row_of(self, up: float) -> float:
        """How far up the map a sky or width stands, as a share of its height."""
        ends = np.array([self.up[0], self.up[-1]])
        if self.kind == WIDTH:
            ends, up = np.log(ends), math.log(up)
        return float((up - ends[0]) / (ends[1] - ends[0]))

    def _crossings(self, column: int, levels: Sequence[float]) -> list[tuple[float, float]]:
        """Where the hours of one column first pass the levels, away from the map's upper and lower edge."""
        log_h = np.log(self.hours[:, column])
        found = []
        for level in levels:
            side = np.sign(log_h - math.log(level))
            passes = np.flatnonzero(side[1:] * side[:-1] < 0)
            if passes.size:
                at = int(passes[0])
                part = (math.log(level) - log_h[at]) / (log_h[at + 1] - log_h[at])
                low, high = self.row_of(float(self.up[at])), self.row_of(float(self.up[at + 1]))
                found.append((level, float(low + part * (high - low))))
        return [one for one in found if 0.04 < one[1] < 0.96]

    def _never(self) -> list[tuple[str, float, float]]:
        """Words, sub length and row where hours are more than the last line's, the best first; none if few are seen."""
        low, high = self.sub_reach
        seen = (low <= SUB_S) & (high >= SUB_S)
        empty = ~(self.hours[:, seen] <= LEVELS_H[-1])
        count = empty.sum(axis=1)
        words = f"over {say_duration(LEVELS_H[-1] * 3600)}, or never"
        places = []
        for at in np.argsort(-count, kind="stable"):
            row = self.row_of(float(self.up[at]))
            if count[at] >= 0.3 * seen.sum() and 0.04 < row < 0.96:
                places.append((words, float(SUB_S[seen][empty[at].argmax()]), row))
        return places


def map_table(shown: HoursMap) -> Table:
    """Table behind a map: hours at round sub lengths, a row for each sky or width."""
    step = 2 if shown.kind == SKY else 3
    log_h = np.log(np.where(np.isfinite(shown.hours), shown.hours, np.nan))

    def said(row: Floats, sub_s: float) -> str:
        hours = math.exp(float(np.interp(math.log(sub_s), np.log(SUB_S), row)))
        return say_duration(hours * 3600) if math.isfinite(hours) else "never"

    return Table(
        caption=f"{shown.title}; between the map's own sub lengths, to 1 %",
        head=(shown.up_label, *(say_duration(sub_s) for sub_s in _TABLE_S)),
        rows=tuple(
            (up, *(said(row, sub_s) for sub_s in _TABLE_S))
            for up, row in zip(shown.ups_said[::step], log_h[::step], strict=True)
        ),
    )
