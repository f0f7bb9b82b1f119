"""Work that takes its time: it waits until the hand rests, shows how far it is, and can be stopped."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Generator
from typing import Any

import ipywidgets as w

from workbook.parts.controls import say_wrong

__all__ = ["SlowWork", "Steps"]

Steps = Generator[float, None, Any]
"""Yields the share that is done, in steps of some 20 ms; returns the result."""

REST_S = 0.3
"""How long nothing may have changed before the work starts."""
_PAUSE_S = 0.005
"""Between two steps, so that a slider gets its turn."""


class SlowWork:
    """A progress bar with a button, and the work behind them.

    Work that is asked for while other work runs takes its place. Where no event loop runs (in a script), it is done at
    once.

    Parameters
    ----------
    name : str
        What is worked out: "Range".
    steps : callable
        Begins the work.
    done : callable
        Takes the result.
    """

    def __init__(self, name: str, steps: Callable[[], Steps], done: Callable[[Any], None]) -> None:
        self._name, self._steps, self._done = name, steps, done
        self._task: asyncio.Task[None] | None = None
        self.bar = w.FloatProgress(
            min=0, max=1, tooltip=f"{name}: how much is done", layout=w.Layout(width="110px", visibility="hidden")
        )
        self.button = w.Button(description="Stop", layout=w.Layout(width="76px", height="26px", visibility="hidden"))
        self.said = w.HTML(layout=w.Layout(flex="1 1 auto", min_width="0"))
        self.button.on_click(self._pressed)
        self.widget = w.HBox([self.said, self.bar, self.button], layout=w.Layout(flex="1 1 auto", min_width="0"))

    @property
    def running(self) -> bool:
        """Whether work is waiting or under way."""
        return self._task is not None

    def poke(self) -> None:
        """Ask for the work, once things rest."""
        self._cancel()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._finish(_to_the_end(self._steps))
        else:
            self._task = loop.create_task(self._run())

    def stop(self) -> None:
        """Leave the work undone; the button then offers it again."""
        self._cancel()
        self._show(running=False, said=f"{self._name}: stopped.", offered="Go on")

    def _pressed(self, _: object) -> None:
        if self.running:
            self.stop()
        else:
            self.poke()

    def _cancel(self) -> None:
        if self._task is not None:
            self._task.cancel()
            self._task = None

    async def _run(self) -> None:
        await asyncio.sleep(REST_S)
        self.bar.value = 0.0
        self._show(running=True, said="", offered="Stop")
        result = None
        steps = self._steps()
        while True:
            if self.bar.comm is None:  # its panel was closed
                return
            try:
                self.bar.value = next(steps)
            except StopIteration as end:
                result = end.value
                break
            except (TypeError, ValueError, ArithmeticError) as error:
                result = error
                break
            await asyncio.sleep(_PAUSE_S)
        self._task = None
        self._finish(result)

    def _finish(self, result: Any) -> None:
        if isinstance(result, Exception):
            self._show(running=False, said=say_wrong(result), offered="")
            return
        self._show(running=False, said="", offered="")
        self._done(result)

    def _show(self, *, running: bool, said: str, offered: str) -> None:
        self.bar.layout.visibility = "visible" if running else "hidden"
        self.button.layout.visibility = "visible" if offered else "hidden"
        self.button.description = offered or "Stop"
        self.said.value = said


def _to_the_end(begin: Callable[[], Steps]) -> Any:
    """Result of all steps, or the error that ended them."""
    steps = begin()
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value
        except (TypeError, ValueError, ArithmeticError) as error:
            return error
