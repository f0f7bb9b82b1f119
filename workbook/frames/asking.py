"""What the views share: each asks for files, measures them in the background and hands the result to its figure."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import ipywidgets as w

from workbook.frames.demo import demo_folder, make_demo
from workbook.frames.steps import in_thread
from workbook.parts.controls import Entry
from workbook.parts.slow_work import SlowWork, Steps
from workbook.parts.table import Table

if TYPE_CHECKING:
    from workbook.frames.view import FramesPanel

__all__ = ["NOTHING", "View", "wide"]

NOTHING = Table(caption="Nothing is measured yet", head=("What",), rows=())
"""Numbers before there are any."""


def wide(entry: Entry) -> Entry:
    """A box for a path: no origin stands beside it."""
    entry.origin.layout.display = "none"
    return entry


class View:
    """What the views share: boxes at the left, picture and progress at the right, and one result at a time."""

    work_name: ClassVar[str]
    demo_kind: ClassVar[str]
    asks: ClassVar[str]
    figure: Any

    def __init__(self, panel: FramesPanel) -> None:
        self.panel = panel
        self.shown: Any = None
        self.work = SlowWork(self.work_name, self._steps, self._know)
        self.measure = self._button("Measure", "Measure what the boxes name", self.work.poke)
        self.demo = self._button("Demo frames", "Measure simulated frames of this plan", self._use_demo)
        self._figure_box = w.VBox(layout=w.Layout(width="100%", min_height="372px"))
        controls = w.VBox(
            [*self.boxes(), w.HBox([self.measure, self.demo]), *self.results()],
            layout=w.Layout(width="auto", flex="0 1 440px", min_width="0"),
        )
        pictures = w.VBox(
            [self.work.widget, self._figure_box],
            layout=w.Layout(flex="1 1 460px", width="auto", min_width="0", max_width="100%", margin="0 0 0 8px"),
        )
        # on a narrow page the picture stands under the boxes
        self.widget = w.HBox([controls, pictures], layout=w.Layout(width="100%", flex_flow="row wrap"))

    # What each view says of itself

    def boxes(self) -> list[w.Widget]:
        """Controls that ask."""
        raise NotImplementedError

    def results(self) -> list[w.Widget]:
        """Controls that use what was measured."""
        return []

    def look(self, report: Callable[[float], None]) -> Any:
        """Measure; runs in a thread of its own and touches no widget."""
        raise NotImplementedError

    def draw(self) -> None:
        """Show the result that is known."""
        self.figure.show(self.shown)

    def numbers(self) -> Table:
        """Numbers behind the picture."""
        raise NotImplementedError

    @property
    def words(self) -> tuple[str, ...]:
        """Headline, and what it rests on."""
        if self.shown is None:
            return (self.asks,)
        return (self.shown.headline, *self.shown.others)

    # What happens

    @staticmethod
    def _button(word: str, tooltip: str, press: Callable[[], object]) -> w.Button:
        button = w.Button(description=word, tooltip=tooltip, layout=w.Layout(width="auto", align_self="flex-start"))
        button.on_click(lambda _: press())
        return button

    @staticmethod
    def entry(label: str, example: str) -> Entry:
        """A box whose text is read when something is measured."""
        return wide(Entry(label, lambda _: None, example))

    def demo_place(self) -> Path:
        """Folder of this view's demo frames."""
        return demo_folder(self.panel.folder, self.panel.store.name, self.demo_kind)

    def demo_text(self) -> str:
        """What the first box says for the demo."""
        return self.demo_place().relative_to(self.panel.folder).as_posix()

    def first_box(self) -> Entry:
        """The box that names what is measured."""
        raise NotImplementedError

    def _use_demo(self) -> None:
        self.first_box().show(self.demo_text())
        self.work.poke()

    def come(self) -> None:
        """Come into sight; the first time demo frames are measured."""
        if not self.first_box().box.value:
            self._use_demo()
        elif self.shown is None and not self.work.running:
            self.work.poke()

    def forget(self) -> None:
        """Another plan: what is in the boxes is measured again when it is looked at."""
        if "demo" in self.first_box().box.value:
            self.first_box().show("")
        self.shown = None
        self.panel.left_out = frozenset()

    def _steps(self) -> Steps:
        return in_thread(self._work)

    def _work(self, report: Callable[[float], None]) -> Any:
        if self.first_box().box.value.strip() == self.demo_text():
            make_demo(self.panel.plan, self.demo_place(), self.demo_kind, lambda share: report(share / 2))
            return self.look(lambda share: report(0.5 + share / 2))
        return self.look(report)

    def _know(self, shown: Any) -> None:
        self.shown = shown
        if not self._figure_box.children:
            self._figure_box.children = (self.figure.widget,)
        self.draw()
        if self.panel.view is self:
            self.panel.told()
