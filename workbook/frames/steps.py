"""Long work in a thread, as steps that a panel can show and stop."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Generator
from typing import Any

__all__ = ["in_thread"]

Report = Callable[[float], None]
_WAIT_S = 0.02


class _Stopped(BaseException):
    """Nobody waits for the work any more."""


def in_thread(work: Callable[[Report], Any]) -> Generator[float, None, Any]:
    """Run `work(report)` in a thread; yields the share done and returns what it returns.

    Parameters
    ----------
    work : callable
        Calls `report` with the share that is done now and then: that is where it ends when nobody waits any more.

    Examples
    --------
    >>> def work(report):
    ...     report(0.5)
    ...     return "done"
    >>> steps = in_thread(work)
    >>> try:
    ...     while True:
    ...         share = next(steps)
    ... except StopIteration as end:
    ...     end.value
    'done'
    """
    told: queue.SimpleQueue[float] = queue.SimpleQueue()
    stop = threading.Event()
    result: list[Any] = []

    def report(share: float) -> None:
        if stop.is_set():
            raise _Stopped
        told.put(share)

    def run() -> None:
        try:
            result.append(work(report))
        except _Stopped:
            pass
        except Exception as error:  # handed over, and raised where somebody waits
            result.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    share = 0.0
    try:
        while thread.is_alive() or not told.empty():
            try:
                share = told.get(timeout=_WAIT_S)
            except queue.Empty:
                thread.join(0)
            yield share
    finally:
        stop.set()
    if isinstance(result[0], Exception):
        raise result[0]
    return result[0]
