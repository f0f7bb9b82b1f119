"""An object that shows its widget when it is the last line of a cell."""

from __future__ import annotations

from typing import Any

import ipywidgets as w

__all__ = ["Shown"]

NO_WIDGETS = "This browser can't show the live box. Pair up with a neighbour, or use the paper version."


class Shown:
    """Base of the workshop's boxes; a subclass sets `widget`."""

    widget: w.Widget

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        bundle: dict[str, Any] = self.widget._repr_mimebundle_()
        return bundle | {"text/plain": NO_WIDGETS}
