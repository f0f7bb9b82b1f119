"""The controls for counted sessions: four boxes, and what the plan holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as w

from expocalc.night.losses import learn_losses
from expocalc.plan import Plan, Where
from workbook.night.dither import counts_table, learned_changes, with_count, without_counts
from workbook.parts.controls import Control

__all__ = ["LossesFold"]


class LossesFold:
    """Sessions in, one after another; the losses that they tell into the plan.

    Parameters
    ----------
    current : callable
        Gives the plan at hand.
    change : callable
        Takes changes of the plan; it raises ValueError to refuse.
    """

    def __init__(self, current: Callable[[], Plan], change: Callable[[Mapping[Where, Any]], None]) -> None:
        self._current, self._change = current, change

        def box(words: str, value: str) -> w.Text:
            return w.Text(value, tooltip=words, placeholder=words, layout=w.Layout(width="72px"))

        self.length, self.every = box("Sub length", "300 s"), box("Dither every", "2")
        self.taken, self.spoiled = box("Subs taken", ""), box("Subs spoiled", "")
        self.row = Control("Count a session", self.length, self.every, self.taken, self.spoiled)
        self.row.origin.layout.display = "none"
        self.hint = w.HTML(
            '<span class="expo-small">sub length, dither every, taken, spoiled</span>',
            layout=w.Layout(margin="0 0 0 128px", width="auto"),
        )
        self.add = w.Button(description="Add", tooltip="Add this session to the plan", layout=w.Layout(width="76px"))
        self.remove = w.Button(
            description="Take out", tooltip="Take the last session out of the plan", layout=w.Layout(width="84px")
        )
        self.use = w.Button(
            description="Use the losses", tooltip="Put the learned losses into the plan", layout=w.Layout(width="124px")
        )
        self.add.on_click(lambda _: self.row.attempt(self._add))
        self.remove.on_click(lambda _: self.row.attempt(lambda: change(without_counts(current()))))
        self.use.on_click(lambda _: self.row.attempt(self._use))
        self.table = w.HTML(layout=w.Layout(width="100%"))
        buttons = w.HBox([self.add, self.remove, self.use], layout=w.Layout(margin="0 0 0 126px"))
        self.widgets = [self.row.widget, self.hint, buttons, self.table]
        self.summary = ""

    def _add(self) -> None:
        given = (self.length.value, self.every.value, self.taken.value, self.spoiled.value)
        self._change(with_count(self._current(), *given))

    def _use(self) -> None:
        counts = self._current().case.routine.counts
        self._change(learned_changes(learn_losses(counts) if counts else None))

    def show(self, plan: Plan) -> None:
        """Show the plan's sessions."""
        counts = plan.case.routine.counts
        html = counts_table(counts).to_html() if counts else ""
        if self.table.value != html:
            self.table.value = html
        self.remove.disabled = self.use.disabled = not counts
        self.summary = "no session counted" if not counts else f"{len(counts)} counted"
