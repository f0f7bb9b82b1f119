"""One notebook, seen on a screen, on a wall, under the stars and on paper: a switch and its style rules.

The rules hold for the whole page, so that no white menu is left in the field view. They come with the switch's cell:
what the browser shows before that cell has run is JupyterLab's own page. So choose the field view before going out.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import ipywidgets as w

from workbook.parts.dress import DESK, WALL, change_clothes
from workbook.parts.frame import frame
from workbook.workshop.shown import Shown

__all__ = ["VIEWS", "Views", "style"]

VIEWS: Mapping[str, str] = MappingProxyType(
    {
        "screen": "Screen",
        "projector": "Projector: large type",
        "field-red": "Field: red on black",
        "field-amber": "Field: amber on black",
        "print": "Print: no buttons",
    }
)
"""Name of each view, and what the switch says."""

_SHEET = "jp-Notebook"
_PROJECTOR = f"""
.{_SHEET} .jp-RenderedHTMLCommon, .{_SHEET} .expo-panel, .{_SHEET} .expo-panel :is(p, button, input, select, label,
.widget-label, .widget-html-content, summary, td, th, caption, .expo-small, .expo-done, .expo-wrong, .expo-origin) {{
  font-size: 24pt !important; line-height: 1.3 !important; }}
.{_SHEET} .jp-RenderedHTMLCommon {{ max-width: 74rem; }}
.{_SHEET} .expo-panel .expo-chart {{ max-width: none; }}
.{_SHEET} .jp-RenderedHTMLCommon :is(h1, h2, h3), .{_SHEET} .expo-panel .expo-headline {{ font-size: 30pt !important; }}
.{_SHEET} .jp-RenderedHTMLCommon :is(p, li, td, th, code) {{ font-size: 24pt !important; }}
.{_SHEET} .expo-panel :is(button, input, select, .widget-text, .widget-dropdown, .widget-label, .widget-inline-hbox) {{
  height: auto !important; width: auto !important; min-height: 44px; overflow: visible; }}
.{_SHEET} .expo-panel :is(.widget-hbox, .widget-inline-hbox) {{ flex-wrap: wrap; height: auto !important; }}
.{_SHEET} .expo-panel .expo-tiles figure {{ flex: 1 1 330px !important; max-width: 480px !important; }}
.{_SHEET} .jp-CodeCell .jp-Cell-inputWrapper {{ display: none; }}
"""
# Brightness upside down, in one colour only: whatever stands on the page, nothing but red (or amber) leaves it.
_FIELD = """
html {{ filter: url(#expo-field); background: #fff; }}
.{sheet} :is(img, .expo-picture) {{ filter: url(#expo-field-picture); }}
"""
_MIDDLE = 0.95
"""What a middling brightness of the turned page is lifted to, so that thin letters can be read."""
_PICTURE_STEPS = 20
_COLOURS = {"field-red": (0.95, 0.0), "field-amber": (0.68, 0.42)}
"""Red and green of the brightest letter: the dimmest that still have a contrast of 4.5 : 1 on black."""
_LUMINANCE = (0.2126, 0.7152, 0.0722)  # of red, green and blue, as WCAG 2 counts them
_PAPER_PX = 700
"""Of a sheet between its margins, A4 or Letter, as browsers count; a chart drawn wider would lose its right end."""
_PRINT = f"""
.{_SHEET} .expo-panel {{ max-width: {_PAPER_PX}px; }}
.{_SHEET} .expo-panel :is(button, .widget-slider):not(.expo-views *) {{ display: none !important; }}
.{_SHEET} .jp-CodeCell .jp-Cell-inputWrapper, .jp-InputPrompt, .jp-OutputPrompt {{ display: none !important; }}
.{_SHEET}, .{_SHEET} .jp-Cell {{ background: #fff !important; color: #000 !important; }}
.{_SHEET} .expo-panel .expo-verdict {{ border-color: #000; }}
"""
# On paper whatever the view: the notebook flows over the pages, and JupyterLab's own bars stay away.
_PAPER = f"""@media print {{
html {{ filter: none !important; }}
html, body, .lm-Widget:has(.{_SHEET}), .{_SHEET}, .{_SHEET} :is(.jp-WindowedPanel-outer, .jp-WindowedPanel-inner,
.jp-WindowedPanel-viewport, .jp-Cell) {{ position: static !important; overflow: visible !important;
  height: auto !important; width: auto !important; min-height: 0 !important; min-width: 0 !important;
  display: block !important; contain: none !important; content-visibility: visible !important; }}
.lm-Widget:not(.{_SHEET}, .{_SHEET} *, :has(.{_SHEET})), .jp-Notebook-footer {{ display: none !important; }}
.expo-views, .expo-show-all {{ display: none !important; }}
.{_SHEET} :is(.quiet-figure, figure, .expo-verdict) {{ break-inside: avoid; }}
{_PRINT} }}"""


def style(view: str) -> str:
    """Style rules of a view, as HTML.

    Parameters
    ----------
    view : str
        One of `VIEWS`.
    """
    rules = {"projector": _PROJECTOR, "print": _PRINT}.get(view, "")
    filter_ = ""
    if view in _COLOURS:
        rules = _FIELD.format(sheet=_SHEET)
        filter_ = _field_filter(*_COLOURS[view])
    return f"<style>{rules}{_PAPER}</style>{filter_}"


def _field_filter(red: float, green: float) -> str:
    """An SVG filter: brightness, turned over, lifted where it is middling, and then coloured."""
    over = " ".join(f"{-part:g}" for part in _LUMINANCE) + " 0 1"
    rows = " ".join([over] * 3 + ["0 0 0 1 0"])
    lift = "".join(f'<feFunc{c} type="table" tableValues="0 {_MIDDLE:g} 1"/>' for c in "RGB")
    # A picture is turned and lifted backwards first, so that its stars and its nebula stay as far apart as they are.
    greys = [step / _PICTURE_STEPS for step in range(_PICTURE_STEPS + 1)]
    back = " ".join(f"{1 - _before_lift(grey):.4g}" for grey in greys)
    picture = "".join(f'<feFunc{c} type="table" tableValues="{back}"/>' for c in "RGB")
    tint = f"{red:g} 0 0 0 0  0 {green:g} 0 0 0  0 0 0 0 0  0 0 0 1 0"
    return (
        '<svg width="0" height="0" style="position:absolute" aria-hidden="true">'
        '<filter id="expo-field" color-interpolation-filters="sRGB">'
        f'<feColorMatrix type="matrix" values="{rows}"/><feComponentTransfer>{lift}</feComponentTransfer>'
        f'<feColorMatrix type="matrix" values="{tint}"/></filter>'
        '<filter id="expo-field-picture" color-interpolation-filters="sRGB">'
        f"<feComponentTransfer>{picture}</feComponentTransfer></filter></svg>"
    )


def _before_lift(grey: float) -> float:
    """Brightness that the lift brings to `grey`."""
    return grey / _MIDDLE / 2 if grey <= _MIDDLE else 0.5 + (grey - _MIDDLE) / (1 - _MIDDLE) / 2


class Views(Shown):
    """The switch; one in each notebook is enough."""

    _now = "screen"  # of this kernel: running the cell again must not flash white

    def __init__(self) -> None:
        self.menu = w.Dropdown(
            options=[(words, name) for name, words in VIEWS.items()], value=Views._now, tooltip="View",
            layout=w.Layout(width="auto"),
        )  # fmt: skip
        self.rules = w.HTML(style(Views._now), layout=w.Layout(height="0", margin="0"))
        row = w.HBox([w.Label("View"), self.menu])
        row.add_class("expo-views")
        self.widget = frame(row, self.rules)
        self.menu.observe(self._turn, "value")

    def _turn(self, change: dict[str, str]) -> None:
        view = Views._now = change["new"]
        self.rules.value = style(view)
        change_clothes(WALL if view == "projector" else DESK)
