"""The four views: each asks for files, measures them in the background and hands the result to its figure."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import ipywidgets as w

from expocalc.frames.tell.ledger import append
from expocalc.frames.tell.night import with_choice
from expocalc.frames.tell.plan_side import measured_changes
from workbook.frames import camera_model, night_model, stack_model, sub_model
from workbook.frames.camera_figure import CameraFigure
from workbook.frames.demo import CAMERA, NIGHT, TEST, demo_folder, make_demo
from workbook.frames.night_figure import NightFigure
from workbook.frames.stack_figure import StackFigure
from workbook.frames.steps import in_thread
from workbook.frames.sub_figure import SubFigure
from workbook.parts.controls import Choice, Entry, filter_menu
from workbook.parts.slow_work import SlowWork, Steps
from workbook.parts.table import Table

if TYPE_CHECKING:
    from workbook.frames.view import FramesPanel

__all__ = ["CameraView", "NightView", "StackView", "TestSubView", "View"]

_NOTHING = Table(caption="Nothing is measured yet", head=("What",), rows=())
_FEW = 8
"""Subs that stand out are listed up to so many; the table has them all."""

_WRAP = """<style>
.expo-panel .expo-sentence label { white-space: normal; height: auto; line-height: 1.3; align-items: flex-start; }
</style>"""


def _wide(entry: Entry) -> Entry:
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
        return _wide(Entry(label, lambda _: None, example))

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


class TestSubView(View):
    """Sky from one test sub or two."""

    __test__ = False  # no test of pytest's
    work_name, demo_kind = "Test sub", TEST
    asks = "Name a test sub, and see whether the sky is what the plan says."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = SubFigure()
        super().__init__(panel)
        self.draw_filters()

    def boxes(self) -> list[w.Widget]:
        """Frame, filter, and what is no light."""
        self.frame = self.entry("Frame", "a FITS file, or a path to one")
        self.second = self.entry("Second frame", "of other length: no bias is needed")
        self.filter = Choice("Filter", lambda name: self._look_through(name))
        self.below = self.entry("Dark, bias or level", "the plan's bias level; or a file; or 500")
        self.gain = self.entry("Electrons per ADU", "the header's; a number here stands above it")
        self.star = self.entry("A star you know", "row, column, V magnitude: 300, 500, 9.8; it tells haze")
        return [one.widget for one in (self.frame, self.second, self.filter, self.below, self.gain, self.star)]

    def results(self) -> list[w.Widget]:
        """Button that writes the sky into the plan."""
        self.write = self._button(
            "Put this sky into the plan", "The plan's hours then rest on the measured sky", self._write
        )
        self.write.disabled = True
        return [self.write]

    def draw_filters(self) -> None:
        """Filters of the plan at hand."""
        names = [one.name for one in self.panel.plan.case.filters]
        self.filter_name = names[0]
        self.filter.show(filter_menu(self.panel.plan.case), names[0])

    def _look_through(self, name: str) -> None:
        self.filter_name = name
        self.work.poke()

    def forget(self) -> None:
        """Another plan has other filters."""
        super().forget()
        self.draw_filters()

    def first_box(self) -> Entry:
        """The frame."""
        return self.frame

    def demo_text(self) -> str:
        """One frame of the demo's folder."""
        return f"{super().demo_text()}/sub_0001.fits"

    def look(self, report: Callable[[float], None]) -> sub_model.SubPicture:
        """Measure the frame."""
        asked = sub_model.Asked(
            frame=self.frame.box.value, second=self.second.box.value, filter_name=self.filter_name,
            below=self.below.box.value, electrons_per_adu=self.gain.box.value, star=self.star.box.value,
        )  # fmt: skip
        return sub_model.look_at_sub(self.panel.plan, self.panel.folder, asked, report)

    def draw(self) -> None:
        """The frame, and the button: there is a sky to put into the plan, or none was seen."""
        super().draw()
        self.write.disabled = self.shown.told.now is None

    def _write(self) -> None:
        told = self.shown.told
        case = self.panel.plan.case
        changes = measured_changes(told.found, case, told.filter_name, told.seen)
        under = ", where those of the other filters were measured" if ("measured_under",) not in changes else ""
        shown = case.filter_shown(str(told.filter_name))
        self.panel.change(changes, f"The plan's sky in {shown} is this now{under} (for {told.seen.words}).")

    def numbers(self) -> Table:
        """Numbers colour by colour."""
        return _NOTHING if self.shown is None else sub_model.numbers(self.shown)


class CameraView(View):
    """The camera from biases, flats and darks."""

    work_name, demo_kind = "Camera", CAMERA
    asks = "Name a folder with biases, pairs of flats and darks."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = CameraFigure()
        super().__init__(panel)

    def boxes(self) -> list[w.Widget]:
        """The folder."""
        self.folder = self.entry("Folder", "with biases, pairs of flats and darks")
        return [self.folder.widget]

    def results(self) -> list[w.Widget]:
        """Button that puts the camera into the plan."""
        self.write = self._button(
            "Put this camera into the plan", "A gain setting with today's date, and the dark current", self._write
        )
        self.write.disabled = True
        return [self.write]

    def first_box(self) -> Entry:
        """The folder."""
        return self.folder

    def look(self, report: Callable[[float], None]) -> camera_model.CameraPicture:
        """Run the bench."""
        return camera_model.look_at_camera(self.panel.plan, self.panel.folder, self.folder.box.value, report)

    def draw(self) -> None:
        """The bench, and the button."""
        super().draw()
        self.write.disabled = False

    def _write(self) -> None:
        found = self.shown.found
        self.panel.change(camera_model.changes(found), f"The plan's gain setting is “{found.section['gain']}” now.")

    def numbers(self) -> Table:
        """Every number with its interval."""
        return _NOTHING if self.shown is None else camera_model.numbers(self.shown)


class NightView(View):
    """The morning after."""

    work_name, demo_kind = "Night", NIGHT
    asks = "Name a folder with a night's subs."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = NightFigure()
        self.read: night_model.Read | None = None
        self.choices: dict[str, bool] = {}
        super().__init__(panel)

    def boxes(self) -> list[w.Widget]:
        """Folder and ledger."""
        self.folder = self.entry("Folder", "with a night's subs")
        self.ledger = _wide(Entry("Ledger", self._take_ledger, "frames/ledger.ecsv: nights before count too"))
        return [self.folder.widget, self.ledger.widget]

    def results(self) -> list[w.Widget]:
        """What stands out, each to keep or drop, and the ledger's button."""
        self.odd = w.VBox(layout=w.Layout(width="100%", margin="4px 0 0 0"))
        self.add = self._button("Add to the ledger", "Write these subs into the ledger's file", self._add)
        self.count = self._button(
            "Put the counts into the plan", "Taken and spoiled subs: the plan's losses can then be learned", self._count
        )
        self.own = self._button(
            "Put my own factor into the plan",
            "The hours to plan for then rest on your nights in the ledger",
            self._take_own,
        )
        self.add.disabled = self.count.disabled = self.own.disabled = True
        buttons = w.HBox([self.add, self.count, self.own], layout=w.Layout(flex_flow="row wrap"))
        return [buttons, self.odd]

    def first_box(self) -> Entry:
        """The folder."""
        return self.folder

    def forget(self) -> None:
        """Another plan."""
        super().forget()
        self.read, self.choices = None, {}

    def _ledger_path(self) -> Path | None:
        name = self.ledger.box.value.strip()
        return self.panel.folder / name if name else None

    def look(self, report: Callable[[float], None]) -> night_model.NightPicture:
        """Measure the folder; a person's choices are forgotten with it."""
        read = night_model.read_night(self.panel.plan, self.panel.folder, self.folder.box.value, report)
        self.read, self.choices = read, {}
        return night_model.look_at_night(self.panel.plan, read, self._ledger_path(), {})

    def _again(self) -> None:
        """Tell the same night anew."""
        if self.read is not None:
            self._know(night_model.look_at_night(self.panel.plan, self.read, self._ledger_path(), self.choices))

    def _take_ledger(self, _: str) -> None:
        self._again()

    def draw(self) -> None:
        """The night, and a box for each sub that stands out."""
        super().draw()
        self.add.disabled = self.count.disabled = False
        self.own.disabled = self.shown.found.own is None
        self.panel.left_out = frozenset(one.file for one in self.shown.found.entries if not one.kept)
        listed = self.shown.odd[:_FEW]
        head = (
            f"{len(self.shown.odd)} subs stand out; keep those with a tick" if self.shown.odd else "No sub stands out."
        )
        rows: list[w.Widget] = [w.HTML(f'{_WRAP}<span class="expo-small">{escape(head)}</span>')]
        for one in listed:
            tick = w.Checkbox(
                value=one.kept, description=f"{one.file}: {one.reason or 'left out by you'}", indent=False,
                tooltip=f"Keep {one.file}", layout=w.Layout(width="100%", height="auto"),
            )  # fmt: skip
            tick.add_class("expo-sentence")
            tick.observe(self._chooser(one.file), "value")
            rows.append(tick)
        if len(self.shown.odd) > _FEW:
            rows.append(w.HTML('<span class="expo-small">The others stand in the table below.</span>'))
        for old in self.odd.children:
            old.close()
        self.odd.children = tuple(rows)

    def _chooser(self, file: str) -> Callable[[Any], None]:
        def choose(change: Any) -> None:
            self.choices = with_choice(self.shown.found, {**self.choices, file: change["new"]})
            self._again()

        return choose

    def _count(self) -> None:
        changes = night_model.counts_taken(self.panel.plan, self.shown.found)
        self.panel.change(changes, "The plan holds this night's counts now.")

    def _take_own(self) -> None:
        own = self.shown.found.own
        said = f"The plan's hours rest on your own {own.nights} nights now: {own.factor:.2g} times those at best."
        self.panel.change({("doubt", "practice"): own.plan_value}, said)

    def _add(self) -> None:
        path = self._ledger_path()
        if path is None:
            self.ledger.show("frames/ledger.ecsv")
            path = self._ledger_path()
        assert path is not None
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            held = append(path, self.shown.found.entries)
        except (OSError, ValueError) as error:
            self.panel.say_done(error)
            return
        nights = len({one.night for one in held.entries})
        self.panel.say_done(f"The ledger holds {len(held.entries)} subs of {nights} night{'s' * (nights > 1)} now.")

    def numbers(self) -> Table:
        """One row a sub."""
        return _NOTHING if self.shown is None else night_model.numbers(self.shown)


class StackView(View):
    """Whether the grain falls as it should."""

    work_name, demo_kind = "Stack", NIGHT
    asks = "Name a folder with subs, and see whether more of them help as they should."

    def __init__(self, panel: FramesPanel) -> None:
        self.figure = StackFigure()
        super().__init__(panel)

    def boxes(self) -> list[w.Widget]:
        """The folder."""
        self.folder = self.entry("Folder", "with subs of one length and filter")
        self.filter = Choice("Filter", lambda _: self.work.poke())
        names = [one.name for one in self.panel.plan.case.filters]
        self.filter.show(filter_menu(self.panel.plan.case), names[0])
        self.patch = self.entry("Patch", "row, column, side: 300, 500, 20")
        self.sky = self.entry("Sky beside it", "row, column, side of empty sky")
        return [one.widget for one in (self.folder, self.filter, self.patch, self.sky)]

    def first_box(self) -> Entry:
        """The folder."""
        return self.folder

    def forget(self) -> None:
        """Another plan has other filters."""
        super().forget()
        names = [one.name for one in self.panel.plan.case.filters]
        self.filter.show(filter_menu(self.panel.plan.case), names[0])

    def look(self, report: Callable[[float], None]) -> stack_model.StackPicture:
        """Lay the subs on each other; what the morning after left out stays out."""
        asked = stack_model.Asked(
            folder=self.folder.box.value, filter_name=str(self.filter.menu.value), patch=self.patch.box.value,
            sky=self.sky.box.value,
        )  # fmt: skip
        return stack_model.look_at_stack(
            self.panel.plan, self.panel.folder, asked, self.panel.left_out, report
        )  # fmt: skip

    def numbers(self) -> Table:
        """Noise by subs and by squares."""
        return _NOTHING if self.shown is None else stack_model.numbers(self.shown)
