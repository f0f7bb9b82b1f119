"""The box where the eye lands first: one sentence, and under it what it rests on."""

from __future__ import annotations

from html import escape

import ipywidgets as w

__all__ = ["Verdict"]


class Verdict:
    """One big sentence and smaller ones under it; every word is shown as text, whatever it holds."""

    def __init__(self) -> None:
        self.widget = w.HTML(layout=w.Layout(width="100%"))

    def say(self, headline: str, *others: str) -> None:
        """Say it."""
        small = "".join(f'<p class="expo-small">{escape(other)}</p>' for other in others if other)
        self.widget.value = (
            f'<div class="expo-verdict" role="status"><p class="expo-headline">{escape(headline)}</p>{small}</div>'
        )
