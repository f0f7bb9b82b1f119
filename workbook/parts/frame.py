"""The frame of every panel: its style, and what makes it readable in both themes."""

from __future__ import annotations

import gc
from collections.abc import Sequence
from typing import Any

import ipywidgets as w

from workbook.parts.replaced import put_in_place

__all__ = ["NO_WIDGETS", "beside", "frame"]

NO_WIDGETS = (
    "This page can't show the live panel: its extension for widgets is missing. Open the notebook with: "
    "python -m workbook"
)

STYLE = """<style>
.expo-panel { container-type: inline-size; padding: 0 4px 4px 0; }
.expo-panel .widget-html-content, .expo-panel .widget-html { line-height: 1.35; height: auto; min-height: 0; }
.expo-panel .expo-title { font-size: 15px; font-weight: 600; white-space: normal; height: auto; }
.expo-panel .expo-verdict { border-left: 5px solid #0072B2; padding: 2px 0 2px 12px; }
.expo-panel .expo-verdict p { margin: 0 0 2px; font-size: 12.5px; }
.expo-panel .expo-verdict p.expo-headline { font-size: 17px; font-weight: 600; line-height: 1.25; margin: 0 0 2px; }
.expo-panel .expo-small { color: var(--jp-ui-font-color1, #222); opacity: .85; }
.expo-panel .expo-wrong { color: var(--jp-error-color0, #b00020); font-size: 12px; }
.expo-panel .expo-wrong::before { content: "⚠ "; }
.expo-panel .expo-done { font-size: 12px; }
.expo-panel .expo-slider > .widget-label { display: none; }
.expo-panel .expo-origin { font-size: 11px; opacity: .85; }
.expo-panel .expo-row { align-items: center; }
.expo-panel .expo-row > .widget-label { font-size: 12.5px; }
.expo-panel .expo-fold button, .expo-panel button.expo-fold { text-align: left; font-weight: 600; padding: 0 8px; }
.expo-panel button.expo-fold { height: 27px; }
.expo-panel .expo-table { border-collapse: collapse; font-size: 12px; }
.expo-panel .expo-table caption { text-align: left; padding: 4px 0; }
.expo-panel .expo-table th, .expo-panel .expo-table td { padding: 2px 14px 2px 0; text-align: left; }
.expo-panel .expo-table thead th { border-bottom: 1px solid currentColor; }
.expo-panel .expo-tables { flex-flow: row wrap; }
.expo-panel .expo-split > .expo-controls { flex: 0 0 456px; width: 456px; }
.expo-panel .expo-split > .expo-pictures { flex: 1 1 0; min-width: 0; margin-left: 8px; }
.expo-panel .expo-pictures .widget-toggle-buttons { flex-wrap: wrap; width: auto; height: auto; }
@container (max-width: 960px) {
  .expo-panel .expo-split { flex-direction: column; }
  .expo-panel .expo-split > .expo-controls { flex: none; width: 100%; max-width: 560px; }
  .expo-panel .expo-split > .expo-pictures { flex: none; width: 100%; margin-left: 0; order: -1; }
}
@container (max-width: 430px) {
  .expo-panel button.expo-fold { white-space: normal; height: auto; min-height: 27px; line-height: 1.3; }
  .expo-panel .expo-row { flex-wrap: wrap; }
}
@media (min-height: 950px) {
  .expo-panel .quiet-tall { min-height: 40vh; }
  .expo-panel .quiet-half { min-height: 24vh; }
}
.expo-panel :focus-visible { outline: 2px solid #0072B2; outline-offset: 1px; }
body[data-jp-theme-light="false"] :is(.quiet-figure, .quiet-pair) { filter: invert(.92) hue-rotate(180deg); }
/* the widgets' own arrow of a menu is black in both themes */
body[data-jp-theme-light="false"] .expo-panel select { background-image: url("data:image/svg+xml,\
%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 18 18'%3E\
%3Cpath d='M5 7l4 4 4-4' fill='none' stroke='%23ddd' stroke-width='2'/%3E%3C/svg%3E"); }
</style>"""


class _Panel(w.VBox):
    """A box that leaves a sentence where a browser lacks what shows it."""

    def _repr_mimebundle_(self, **more: Any) -> dict[str, Any]:
        bundle: dict[str, Any] = super()._repr_mimebundle_(**more)
        return bundle | {"text/plain": NO_WIDGETS}


def beside(controls: Sequence[w.Widget], pictures: Sequence[w.Widget]) -> w.HBox:
    """Controls with pictures at their right; where the panel is narrow the pictures stand above."""
    columns = (w.VBox(list(controls)), w.VBox(list(pictures)))
    for column, name in zip(columns, ("expo-controls", "expo-pictures"), strict=True):
        column.add_class(name)
    box = w.HBox(columns)
    box.add_class("expo-split")
    return box


def frame(*rows: w.Widget) -> w.VBox:
    """Rows of a panel under one another, in the look that all panels share."""
    style = w.HTML(STYLE, layout=w.Layout(height="0", margin="0"))
    box = _Panel([style, *rows], layout=w.Layout(width="100%"))
    box.add_class("expo-panel")
    put_in_place(box)
    # Python's collector need not walk the libraries again while a slider moves: that stalls a press by tens of ms.
    gc.collect()
    gc.freeze()
    return box
