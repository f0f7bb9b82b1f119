"""The row that names the plan at hand, opens another one, saves it and takes changes back."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from html import escape
from urllib.parse import quote

import ipywidgets as w

from expocalc.plan import Plan
from workbook.parts.controls import say_wrong
from workbook.parts.incomplete import link_to_form
from workbook.parts.plan_store import PlanStore
from workbook.parts.saving import MINE, THEIRS, Clash
from workbook.parts.soon import Soon

__all__ = ["PlanRow"]

_REST_S = 0.5
"""After a change until it is kept as a draft. [s]"""
_CHOOSE = "(choose a plan)"


class PlanRow:
    """Title of the plan, its file's name, buttons, and under them what was done or went wrong.

    Parameters
    ----------
    store : PlanStore
    take : callable
        Called with a plan that the page is to show; it raises PlanError or ValueError to refuse.
    label : str, optional
        What the file is called on the screen.
    """

    def __init__(self, store: PlanStore, take: Callable[[Plan], None], label: str = "Plan file") -> None:
        self.store, self._take, self._label = store, take, label
        self.title = w.HTML(layout=w.Layout(flex="1 1 200px", min_width="0", width="auto"))
        self.name = w.Text(store.wanted, tooltip=label, layout=w.Layout(width="210px", flex="0 0 auto"))
        self.load = self._button("Load", f"Read: {label}", lambda: self._open(self.name.value))
        self.save = self._button("Save", f"Write: {label}", lambda: self._save(""))
        self.undo = self._button("Undo", f"Take the last change back: {label}", self._take_back)
        self.more = w.ToggleButton(description="Plans", tooltip=f"More: {label}", layout=w.Layout(width="64px"))
        self.more.observe(lambda _: self._show_more(), "value")
        shown = w.Label(label, layout=w.Layout(flex="0 0 auto", margin="0 4px 0 12px"))
        row = self._line(self.title, shown, self.name, self.load, self.save, self.undo, self.more)
        self.menu = w.Dropdown(
            options=(_CHOOSE,), tooltip=f"Plans, newest first: {label}", layout=w.Layout(width="240px")
        )
        self.menu.observe(self._chosen, "value")
        self.new = self._button("New", "Begin a plan with the demo's values", lambda: self._other(store.new))
        self.copy = self._button("Copy", "Copy the plan as it is shown", lambda: self._other(store.copy))
        self.rename = self._button(
            "Rename", "Give the file the name in the box", lambda: self._other(lambda: store.rename(self.name.value))
        )
        self.upload = w.FileUpload(
            accept=".toml", description="From a file", tooltip="Take a plan file in", layout=w.Layout(width="120px")
        )
        self.upload.observe(self._brought, "value")
        self.home = w.HTML(layout=w.Layout(width="auto", margin="0 0 0 8px"))
        self._more = self._line(self.menu, self.new, self.copy, self.rename, self.upload, self.home)
        self._more.layout.display = "none"
        self.said = w.HTML(layout=w.Layout(display="none", width="auto"))
        self.mine = self._button("Keep mine", "Write your values", lambda: self._save(MINE))
        self.theirs = self._button("Keep the file's", "Take the file's values", lambda: self._save(THEIRS))
        self._choice = self._line(self.mine, self.theirs)
        self._choice.layout.display = "none"
        self.widget = w.VBox([row, self._more, self.said, self._choice], layout=w.Layout(width="100%"))
        # by these names the extension finds where a plan that is dropped on the panel belongs
        for part, mark in ((self.widget, "plan"), (self.name, "plan-name"), (self.load, "plan-load")):
            part.add_class(f"expo-{mark}")
        self._draft = Soon(self._keep_draft, _REST_S)
        self._news()
        self._show_state()

    @staticmethod
    def _button(word: str, tooltip: str, press: Callable[[], None]) -> w.Button:
        button = w.Button(description=word, tooltip=tooltip, layout=w.Layout(width="auto", min_width="60px"))
        button.on_click(lambda _: press())
        return button

    @staticmethod
    def _line(*widgets: w.Widget) -> w.HBox:
        line = w.HBox(widgets, layout=w.Layout(width="100%", flex_flow="row wrap"))
        line.add_class("expo-row")
        return line

    # What the page calls

    def show(self, plan: Plan, title: str = "") -> None:
        """Show a plan's title and whether it is saved; call it whenever the page shows another plan.

        Parameters
        ----------
        plan : Plan
        title : str, optional
            In place of the plan's own.
        """
        self._title = title or plan.case.title
        if self.store.note(plan):
            self._draft.ask()
            self.hush()
        self._show_state()

    def hush(self) -> None:
        """Take away what was said of a file: it was of another plan. What is wrong stays."""
        if "expo-done" in self.said.value:
            self.said.value, self.said.layout.display = "", "none"

    def _show_state(self) -> None:
        store = self.store
        title = getattr(self, "_title", store.plan.case.title)
        marks = ["demo"] if store.demo else []
        if store.unsaved or not store.filed:
            marks.append("not saved" if store.filed else "no file yet")
        mark = f' <span class="expo-small">({", ".join(marks)})</span>' if marks else ""
        html = f'<span class="expo-title">{escape(title)}</span>{mark}'
        if self.title.value != html:
            self.title.value = html
        if self.undo.disabled is store.can_undo:
            self.undo.disabled = not store.can_undo
        if self.more.value:
            self._show_home()

    # What a person does

    def _open(self, name: str) -> None:
        def read() -> str:
            state = self.store.state()
            plan = self.store.open(name)
            self._hand_over(plan, state)
            self.name.value = self.store.name
            return f"Loaded {self.store.name}. {self.store.news}".strip()

        self._attempt(read, "Loading …")

    def _hand_over(self, plan: Plan, state: object) -> None:
        """Give the page another plan; where it refuses, the store goes back too."""
        try:
            self._take(plan)
        except ValueError:
            self.store.go_back(state)
            raise

    def _save(self, prefer: str) -> None:
        def write() -> str:
            state, before = self.store.state(), self.store.plan
            said = self.store.save(self.name.value, prefer)
            if self.store.plan is not before and self.store.plan.values != before.values:
                self._hand_over(self.store.plan, state)
            self.name.value = self.store.name
            return said

        self._attempt(write, "Saving …")

    def _take_back(self) -> None:
        def undo() -> str:
            state = self.store.state()
            plan = self.store.undo()
            if plan is None:
                return "Nothing to take back."
            self._hand_over(plan, state)
            self._draft.ask()
            return "Taken back."

        self._attempt(undo)

    def _other(self, act: Callable[[], str]) -> None:
        def do() -> str:
            state, before = self.store.state(), self.store.plan
            said = act()
            if self.store.plan is not before:
                self._hand_over(self.store.plan, state)
            self.name.value = self.store.name
            self._show_more()
            return said

        self._attempt(do, "Working …")

    def _chosen(self, change: dict[str, str]) -> None:
        if change["new"] not in (_CHOOSE, None):
            name = self._names[change["new"]]
            self.menu.value = _CHOOSE
            self._open(name)

    def _brought(self, _: object) -> None:
        for file in self.upload.value:
            self._other(lambda file=file: self.store.take_in(file["name"], bytes(file["content"])))
        if self.upload.value:
            self.upload.value = ()

    def _attempt(self, action: Callable[[], str], meanwhile: str = "") -> None:
        """Do it, and say what came of it."""
        self._choice.layout.display = "none"
        if meanwhile:
            self.tell(meanwhile)
        try:
            self.tell(action())
        except ValueError as error:
            self.said.value = say_wrong(error)
            self.said.layout.display = None
            if isinstance(error, Clash):
                self._choice.layout.display = None
        self._show_state()

    # What is shown

    def tell(self, sentence: str) -> None:
        """Say what was done."""
        self.said.value = f'<span class="expo-done" role="status">{escape(sentence)}</span>'
        self.said.layout.display = None

    def _news(self) -> None:
        if self.store.trouble:
            self.said.value = say_wrong(self.store.trouble)
            self.said.layout.display = None
        elif self.store.incomplete:
            self.said.value = f"{say_wrong(self.store.incomplete)} {link_to_form(self.store.files)}."
            self.said.layout.display = None
        elif self.store.news:
            self.tell(self.store.news)

    def _keep_draft(self) -> None:
        trouble = self.store.keep_draft()
        if trouble:
            self.said.value = say_wrong(trouble)
            self.said.layout.display = None

    def _show_more(self) -> None:
        self._more.layout.display = None if self.more.value else "none"
        if self.more.value:
            names = self.store.names()
            self._names = {f"{name}{' (demo)' if self.store.is_demo(name) else ''}": name for name in names}
            self.menu.options = (_CHOOSE, *self._names)
            self._show_home()

    def _left_behind(self) -> str:
        """What to take along beside the plan."""
        tables = self.store.plan.tables
        return f" (it needs {', '.join(tables)} too: take that along by hand)" if tables else ""

    def _show_home(self) -> None:
        """A link that hands the plan to the browser as a file, without any server."""
        data = b64encode(self.store.plan.to_toml().encode()).decode()
        file = self.store.name.split("/")[-1]
        address = f"data:application/toml;charset=utf-8;base64,{quote(data)}"
        html = (
            f'<a style="text-decoration: underline" download="{escape(file)}" href="{address}">'
            f"Take home {escape(file)}</a>{escape(self._left_behind())}"
        )
        if self.home.value != html:
            self.home.value = html
