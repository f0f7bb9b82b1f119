"""What may follow a change in a moment, so that what the eye waits for is not kept waiting."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

__all__ = ["Soon"]

_WAIT_S = 0.015
"""Time for what was sent to arrive: on a small machine its way shares the processor with us."""


class Soon:
    """Something to do a moment after a change, once for all changes of that moment.

    Where no event loop runs (in a script), it is done at once.

    Parameters
    ----------
    do : callable
        Takes no arguments, and raises nothing.
    wait_s : float, optional
        How long the moment is. [s]
    """

    def __init__(self, do: Callable[[], None], wait_s: float = _WAIT_S) -> None:
        self._do, self._wait_s, self._waits = do, wait_s, False

    def ask(self) -> None:
        """Ask for it to be done."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._do()
            return
        if not self._waits:
            self._waits = True
            loop.call_later(self._wait_s, self._run)

    def _run(self) -> None:
        self._waits = False
        self._do()
