"""What a cell showed before it ran again is closed, or a page that is reloaded often fills kernel and browser."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from typing import Any

import ipywidgets as w
from IPython import get_ipython

__all__ = ["close_all", "put_in_place"]

_shown: dict[str, tuple[str, list[w.Widget]]] = {}
"""Of each cell the run that drew last, and the panels that it drew."""


def put_in_place(panel: w.Widget) -> None:
    """Remember a panel for its cell, and close those of the cell's earlier run.

    Nothing happens outside a notebook's cell: a panel that another one draws in a callback belongs to that one.
    """
    cell, run = _who_asks()
    if not cell:
        return
    before, panels = _shown.get(cell, ("", []))
    if before == run:
        panels.append(panel)
        return
    _shown[cell] = (run, [panel])
    if panels:
        gc.unfreeze()  # or what the old panels were made of would never be found
        for old in panels:
            close_all(old)


def _who_asks() -> tuple[str, str]:
    """Ids of the cell that runs and of its run; "" where none does."""
    shell = get_ipython()
    kernel = getattr(shell, "kernel", None)
    if kernel is None:
        return "", ""
    message: dict[str, Any] = kernel.get_parent() or {}
    header = message.get("header", {})
    if header.get("msg_type") != "execute_request":
        return "", ""
    return str(message.get("metadata", {}).get("cellId", "")), str(header.get("msg_id", ""))


def close_all(panel: w.Widget) -> None:
    """Close a widget and all that it is built of: parts, layouts and styles."""
    for widget in list(_parts(panel)):
        widget.close()
        if isinstance(widget, w.Box):  # the notebook's list of results holds on to the panel: to an empty one
            widget.children = ()


def _parts(root: w.Widget) -> Iterator[w.Widget]:
    seen: set[int] = set()
    waiting: list[Any] = [root]
    while waiting:
        one = waiting.pop()
        if isinstance(one, list | tuple):
            waiting.extend(one)
        elif isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, w.Widget) and id(one) not in seen:
            seen.add(id(one))
            yield one
            # asked for by name, so that no style is made only to be closed
            waiting.extend(one._trait_values.get(name) for name in one.keys)
