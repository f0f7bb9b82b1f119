"""The pictures of a panel, of which one is seen at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as w

__all__ = ["Stage"]


class Stage:
    """Draws a picture when it is looked at, and keeps it.

    Parameters
    ----------
    height : int
        Of every picture, so that nothing jumps when another is chosen. [px]
    drawn : callable
        Called with a picture's name and what is known, it gives a figure with its `widget`, or None where that is not
        enough for one.
    redraw : callable
        Called with a picture's name, its figure and what is known now.
    """

    def __init__(self, height: int, drawn: Callable[[str, Any], Any], redraw: Callable[[str, Any, Any], None]) -> None:
        self.figures: dict[str, Any] = {}
        self.widget = w.VBox(layout=w.Layout(width="100%", min_height=f"{height}px"))
        self._drawn, self._redraw = drawn, redraw

    def clear(self) -> None:
        """Forget all pictures: those of other filters have other curves."""
        old, self.figures = self.figures, {}
        self.widget.children = ()
        for figure in old.values():
            figure.widget.close()

    def show(self, name: str, known: Any) -> None:
        """Bring one picture up to date and hide the others, which follow when they are looked at."""
        figure = self.figures.get(name)
        if figure is not None:
            self._redraw(name, figure, known)
        elif (figure := self._drawn(name, known)) is not None:
            self.figures[name] = figure
            self.widget.children = (*self.widget.children, figure.widget)
        for other, drawn in self.figures.items():
            drawn.widget.layout.display = None if other == name else "none"
