"""A table that stands folded behind its figure."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as w

from workbook.parts.table import Table

__all__ = ["FoldedTable", "tables_row"]


def tables_row(*widgets: w.Widget) -> w.HBox:
    """Buttons of tables beside each other; where the page is narrow they take more lines."""
    row = w.HBox(widgets)
    row.add_class("expo-tables")
    return row


class FoldedTable:
    """A button, and behind it the numbers of a figure; they are worked out only while they are seen.

    Parameters
    ----------
    name : str
        What the button says.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self._numbers: Callable[[], Table] | None = None
        self.button = w.ToggleButton(
            description=f"▸ {name}", tooltip=name, layout=w.Layout(width="auto", height="26px", margin="1px 4px 1px 0")
        )
        self.body = w.HTML(layout=w.Layout(display="none", width="100%"))
        self.button.observe(self._turn, "value")

    def show(self, numbers: Callable[[], Table]) -> None:
        """Take the function that works out the numbers."""
        self._numbers = numbers
        self._fill()

    def _turn(self, _: object) -> None:
        opened = self.button.value
        self.button.description = f"{'▾' if opened else '▸'} {self._name}"
        self._fill()
        self.body.layout.display = None if opened else "none"

    def _fill(self) -> None:
        if self.button.value and self._numbers is not None:
            self.body.value = self._numbers().to_html()
