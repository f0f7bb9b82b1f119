"""All words that a panel has on the screen: of its widgets, its tables and its figures."""

import html
import re

from bokeh.models import ColumnDataSource, FactorRange
from bokeh.models import Title as FigureTitle
from ipywidgets import Box, Widget


def plain(text: str) -> str:
    """A text of the screen with plain spaces where its lines may not end."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


def _every(widget):
    yield widget
    if isinstance(widget, Box):
        for child in widget.children:
            yield from _every(child)


def _of_figure(model):
    for one in model.references():
        if isinstance(one, ColumnDataSource):
            for column in one.data.values():
                yield from (str(entry) for entry in column if isinstance(entry, str))
        elif isinstance(one, FactorRange):
            yield from (str(factor) for factor in one.factors)
        elif isinstance(one, FigureTitle):
            yield one.text
        elif hasattr(one, "axis_label"):
            yield str(one.axis_label or "")
            yield from (str(word) for word in one.major_label_overrides.values())


def words_of(widget: Widget) -> list[str]:
    """Texts of a widget and all below it, without marks of HTML; a menu gives the words of its options."""
    found = []
    for one in _every(widget):
        for name in ("value", "description", "placeholder"):
            text = getattr(one, name, "")
            if isinstance(text, str) and text:
                found.append(html.unescape(re.sub(r"<style>.*?</style>|<[^>]*>", "\n", text, flags=re.S)))
        labels = getattr(one, "_options_labels", ())
        if labels:
            found = [text for text in found if text != getattr(one, "value", None)]
            found += [str(label) for label in labels]
        if hasattr(one, "_model"):
            found += list(_of_figure(one._model))
    return found
