"""The card at the door: is this laptop ready for the evening, and what to do when it is not."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as w
from bokeh.models import ColumnDataSource

from workbook.lab.plots import bring_plots
from workbook.parts.figures import quiet_figure, stand
from workbook.parts.frame import frame
from workbook.workshop.ready import Finding, check_speed, check_versions
from workbook.workshop.shown import Shown

__all__ = ["CheckIn"]

_WAITING = Finding(
    name="Drawing", good=None,
    words="waiting for the browser. Does this line stay for more than 10 seconds? Then drawing does not work here",
)  # fmt: skip
_WORDS = {True: "✓ good", False: "✗ not good", None: "… not known"}
WHAT_TO_DO = (
    "Pair up: two or three people at one laptop learn more than one alone.",
    "Or take the paper version: the sheet, a pen, coins and dice. Each lesson has a way to do it on paper.",
    "Close other programs and load the page again; a helper looks at it in the break.",
)


class CheckIn(Shown):
    """Checks versions and speed at once, and drawing as soon as the browser reports back.

    The browser works out how wide the plot came out and tells the kernel. Nothing else sets that number, so when it
    arrives, the plot was drawn and both talk to each other.
    """

    def __init__(self) -> None:
        bring_plots()
        self.findings = {one.name: one for one in (check_versions(), check_speed(), _WAITING)}
        source = ColumnDataSource({"x": [0, 1, 2, 3], "y": [1.0, 1.4, 1.7, 2.0]}, name="check-in")
        self.figure = quiet_figure(
            "A test drawing: a line that rises from left to right with four dots on it.", height=120
        )
        self.figure.line("x", "y", source=source, line_width=3)
        self.figure.scatter("x", "y", source=source, size=10)
        self.figure.on_change("inner_width", self._drawn)
        self.card = w.HTML(layout=w.Layout(width="100%"))
        self.widget = frame(self.card, stand(self.figure))
        self._say()

    def _drawn(self, _name: str, _old: Any, width_px: Any) -> None:
        if width_px and not self.findings["Drawing"].good:
            words = f"the browser drew a plot {width_px} px wide"
            self.findings["Drawing"] = Finding(name="Drawing", good=True, words=words)
            self._say()

    @property
    def ready(self) -> bool:
        """Whether nothing stands in the way."""
        return all(one.good for one in self.findings.values())

    def _say(self) -> None:
        rows = "".join(
            f"<li><b>{escape(one.name)}</b>: {_WORDS[one.good]}. {escape(one.words[0].upper() + one.words[1:])}.</li>"
            for one in self.findings.values()
        )
        headline = "✓ You are ready." if self.ready else "Not ready yet."
        card = "" if self.ready else "".join(f"<li>{escape(step)}</li>" for step in WHAT_TO_DO)
        help_ = f"<p>If it stays so:</p><ol>{card}</ol>" if card else ""
        self.card.value = (
            f'<div class="expo-verdict" role="status"><p class="expo-headline">{headline}</p>'
            f"<ul>{rows}</ul>{help_}</div>"
        )
