"""Figures on a narrow page: words at the curves' ends move into the picture, and a long title takes more lines."""

from __future__ import annotations

from typing import Any

from bokeh.models import ColumnDataSource, CustomJS, Plot

from workbook.parts.looks import LETTER_PX, PAPER

__all__ = ["AT_END", "fit_narrow", "keep_inside"]

AT_END = "words at the end"
"""Name of a renderer whose words stand at the right of the curves, where the page is wide enough."""

# Runs in the page, which alone knows its width, and tells nobody: to Python a figure is always a wide one.
_FIT = """
if (!(fig.outer_width > 0)) return
const narrow = fig.outer_width < 430, title = fig.title
const kept = fig.kept_wide ??= {
  title: title.text, room: fig.min_border_right, top: fig.min_border_top, ends: new Map()
}
const set = (model, values) => model.setv(values, {sync: false})
const lines = (text, most) => text.split(/\\s+/).reduce((all, word) => {
  const last = all.at(-1)
  const longer = `${last} ${word}`.trim()
  return last.length && longer.length > most ? [...all, word] : [...all.slice(0, -1), longer]
}, [''])
if (title.text !== kept.broken) kept.title = title.text
const broken = narrow && !kept.title.includes('\\n') ? lines(kept.title, (fig.outer_width - 60) / 7.6) : [kept.title]
kept.broken = broken.join('\\n')
if (title.text !== kept.broken) set(title, {text: kept.broken})
if (fig.height !== kept.high) kept.height = fig.height
const more = 18 * (broken.length - 1) // a title that grows asks for no room by itself
kept.high = kept.height + more
if (fig.height !== kept.high) set(fig, {height: kept.high, min_border_top: more ? 31 + more : kept.top})
const ends = fig.renderers.filter(one => one.name === at_end)
if (!ends.length) return
if (fig.min_border_right !== kept.border) kept.room = fig.min_border_right
kept.border = narrow ? Math.min(20, kept.room) : kept.room
if (fig.min_border_right !== kept.border) set(fig, {min_border_right: kept.border})
for (const {glyph} of ends) {
  const inside = {text_align: 'right', text_baseline: 'top', x_offset: 0, y_offset: 4,
    background_fill_color: paper, background_fill_alpha: 0.7}
  for (const name in inside) inside[name] = {value: inside[name]}
  const outside = Object.keys(inside).map(name => [name, glyph[name]])
  if (!kept.ends.has(glyph)) kept.ends.set(glyph, Object.fromEntries(outside))
  set(glyph, narrow ? inside : kept.ends.get(glyph))
}
"""
_INSIDE = """
const data = source.data instanceof Map ? Object.fromEntries(source.data) : source.data
const wide = fig.inner_width, [low, high] = [Math.log(fig.x_range.start), Math.log(fig.x_range.end)]
if (!(wide > 0) || !data.words) return
for (let at = 0; at < data.words.length; at++) {
  const x = (Math.log(data[place][at]) - low) / (high - low) * wide, words = letter * data.words[at].length
  data.offset[at] = data.align[at] === 'left'
    ? Math.min(5, Math.max(wide + fig.min_border_right - 2 - words - x, 2 - x))
    : Math.max(-5, words + 2 - x)
}
source.change.emit()
"""


def fit_narrow(fig: Any) -> None:
    """Let a figure fit itself into a narrow page, and back into a wide one.

    Parameters
    ----------
    fig : bokeh.plotting.figure
        Whose words at the curves' ends are drawn by renderers named `AT_END`; a column of figures stays as it is.
    """
    if not isinstance(fig, Plot):
        return
    fit = CustomJS(args={"fig": fig, "at_end": AT_END, "paper": PAPER}, code=_FIT)
    for size in ("outer_width", "min_border_right", "height"):
        fig.js_on_change(size, fit)
    fig.title.js_on_change("text", fit)


def keep_inside(fig: Any, source: ColumnDataSource, place: str) -> None:
    """Shift words beside upright lines so far that no page cuts them.

    Parameters
    ----------
    fig : bokeh.plotting.figure
        With a long axis at its bottom.
    source : ColumnDataSource
        Of the words; their columns are `words`, `align` (left or right) and `offset` in pixels.
    place : str
        Its column with the lines' places.
    """
    args = {"fig": fig, "source": source, "place": place, "letter": LETTER_PX}
    inside = CustomJS(args=args, code=_INSIDE)
    fig.js_on_change("inner_width", inside)
    source.js_on_change("data", inside)
