"""How large figures are drawn: for a desk or for a wall. One choice holds for all figures of a kernel."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary, WeakSet

__all__ = ["DESK", "WALL", "Dress", "change_clothes", "dress", "make_as_high", "make_room"]

_SIZE = re.compile(r"([\d.]+)(px|pt|em)")
_TYPE = ("font_size", "x_offset", "y_offset", "min_border_right", "min_border_left")
_LINES = ("line_width", "size")


@dataclass(frozen=True, kw_only=True)
class Dress:
    """Factors on what :func:`workbook.parts.figures.quiet_figure` draws.

    Attributes
    ----------
    letters : float
        On type, and on the room left for words.
    lines : float
        On the width of lines and the size of marks.
    height : float
        On the figure's height.
    """

    letters: float = 1.0
    lines: float = 1.0
    height: float = 1.0


DESK = Dress()
WALL = Dress(letters=2.7, lines=2.0, height=1.9)
"""Type of 12 px becomes 32 px, which is 24 pt."""

_figures: WeakSet[Any] = WeakSet()
_at_the_desk: WeakKeyDictionary[Any, dict[str, Any]] = WeakKeyDictionary()
"""Of each part of a figure the sizes that it came with, since the browser may hand numbers back in another form."""
_today = [DESK]


def dress(fig: Any) -> None:
    """Draw a new figure as large as the others, from now on with them.

    Parameters
    ----------
    fig : bokeh.plotting.figure
    """
    _figures.add(fig)
    if _today[0] != DESK:
        _put_on(fig, _today[0])


def change_clothes(wanted: Dress) -> None:
    """Draw all figures so, those that are yet to come as well."""
    _today[0] = wanted
    for fig in list(_figures):
        _put_on(fig, wanted)


def make_as_high(fig: Any, height: int) -> None:
    """Give a figure another height, which is that for a desk. [px]"""
    _change(fig, "height", height, _today[0].height)


def make_room(fig: Any, right: int) -> None:
    """Leave other room for words at a figure's right, which is that for a desk. [px]"""
    _change(fig, "min_border_right", right, _today[0].letters)


def _change(fig: Any, name: str, base: int, factor: float) -> None:
    _at_the_desk.setdefault(fig, {})[name] = base
    wanted = round(base * factor)
    if getattr(fig, name) != wanted:
        setattr(fig, name, wanted)


def _put_on(fig: Any, wanted: Dress) -> None:
    for model in fig.references():
        for name in model.properties():
            if name.endswith(_TYPE):
                _scale(model, name, wanted.letters)
            elif name.endswith(_LINES):
                _scale(model, name, wanted.lines)
    _scale(fig, "height", wanted.height)


def _scale(model: Any, name: str, factor: float) -> None:
    """Scale a plain number or size; a column's name, or nothing, stays as it is."""
    base = _at_the_desk.setdefault(model, {}).setdefault(name, getattr(model, name))
    if isinstance(base, str) and (size := _SIZE.fullmatch(base)):
        setattr(model, name, f"{float(size[1]) * factor:.4g}{size[2]}")
    elif isinstance(base, int | float) and not isinstance(base, bool):
        setattr(model, name, round(base * factor) if isinstance(base, int) else base * factor)
