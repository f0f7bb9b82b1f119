"""The plan as a picture on the screen: tiles with their words, and a choice of shape. It computes nothing."""

from __future__ import annotations

from html import escape

import ipywidgets as w
import numpy as np

from workbook.hours.model import Picture
from workbook.hours.seen import SHAPES, Seen, Tile, seen
from workbook.parts.png import coloured_png, data_address

__all__ = ["SeenView"]

_STYLE = (
    "<style>.expo-seen { display: flex; flex-wrap: wrap; gap: 8px; margin: 4px 0; }"
    ".expo-seen figure { flex: 1 1 150px; max-width: 320px; margin: 0; }"
    ".expo-seen img { width: 100%; display: block; image-rendering: pixelated; }"
    ".expo-seen figcaption { font-size: 12px; line-height: 1.3; padding-top: 3px; }</style>"
)


class SeenView:
    """Pictures of the light in view after some hours.

    Parameters
    ----------
    shown : Picture
    at_hand_h : float
        Hours on the clock that one has. [h]

    Attributes
    ----------
    shown : Seen
        What is seen.
    """

    def __init__(self, shown: Picture, at_hand_h: float) -> None:
        self.shape = w.ToggleButtons(
            options=list(SHAPES), tooltips=[f"Draw a {name.lower()}" for name in SHAPES], style={"button_width": "80px"}
        )
        self.said = w.HTML(layout=w.Layout(width="100%"))
        self.tiles = w.HTML(layout=w.Layout(width="100%"))
        self.shape.observe(lambda _: self.show(*self._of), "value")
        self.widget = w.VBox([self.shape, self.tiles, self.said], layout=w.Layout(width="100%"))
        self.show(shown, at_hand_h)

    def show(self, shown: Picture, at_hand_h: float) -> None:
        """Draw the light of a plan in its filter in view."""
        self._of = (shown, at_hand_h)
        self.shown = seen(shown, self.shape.value, at_hand_h)
        tiles = "".join(_figure(tile, self.shown) for tile in self.shown.tiles)
        self.tiles.value = f'{_STYLE}<div class="expo-seen">{tiles}</div>'
        self.said.value = f'<p class="expo-small" style="margin: 0">{escape(self.shown.sentence)}</p>'


def _figure(tile: Tile, shown: Seen) -> str:
    address = data_address(coloured_png(np.where(shown.outline[..., None], 1.0, tile.brightness)))
    words = escape(tile.words)
    return (
        f'<figure><img src="{address}" alt="Simulated picture after {words}"><figcaption>{words}</figcaption></figure>'
    )
