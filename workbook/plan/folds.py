"""Parts of the form: what each of them is, a fold for what may wait, and a sentence between them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import ipywidgets as w

from workbook.parts.replaced import close_all
from workbook.plan.rows import words_of

__all__ = ["Fold", "Note", "Part"]


class Part(Protocol):
    """Something of the form that shows the plan's values."""

    widget: w.Widget

    def refresh(self) -> None:
        """Show what the plan holds now."""


class Fold:
    """A head, and below it what is made only when it is opened."""

    def __init__(
        self,
        name: str,
        make: Callable[[], list[Part]],
        say: Callable[[], str],
        opened: bool = False,
        alone: Callable[[Fold], None] = lambda _: None,
    ) -> None:
        self._name, self._make, self._say, self._alone = name, make, say, alone
        self._parts: list[Part] = []
        self.head = w.Button(layout=w.Layout(width="100%", margin="1px 0"))
        self.head.add_class("expo-fold")
        self.head.on_click(lambda _: self._press())
        self.body = w.VBox(layout=w.Layout(width="100%", padding="0 0 4px 14px", display="none"))
        self.widget = w.VBox([self.head, self.body], layout=w.Layout(width="100%"))
        self.open(opened)

    @property
    def opened(self) -> bool:
        """Whether its parts are shown."""
        return bool(self._parts)

    def _press(self) -> None:
        if not self.opened:
            self._alone(self)
        self.open(not self.opened)

    def open(self, opened: bool) -> None:
        """Open or close it."""
        for part in self._parts:
            close_all(part.widget)
        self._parts = self._make() if opened else []
        self.body.children = tuple(part.widget for part in self._parts)
        self.body.layout.display = None if opened else "none"
        self.refresh()

    def refresh(self) -> None:
        """Show what the plan holds now."""
        for part in self._parts:
            part.refresh()
        said = self._say()
        words = f"▾ {self._name}" if self._parts else f"▸ {self._name}{': ' if said else ''}{said}"
        if self.head.description != words:
            self.head.description = words


class Note:
    """A sentence in the form."""

    def __init__(self, text: str) -> None:
        self.widget = w.HTML(words_of(text), layout=w.Layout(width="100%"))

    def refresh(self) -> None:
        """Nothing changes."""
