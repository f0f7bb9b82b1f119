"""The row that names the plan, loads one and saves it."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.plan import Plan, PlanError
from workbook.parts.controls import say_wrong

__all__ = ["PlanRow", "plan_path"]


def plan_path(folder: Path, name: str) -> Path:
    """Path of a plan file that a person named, inside `folder`.

    Parameters
    ----------
    folder : pathlib.Path
        The notebook's.
    name : str

    Raises
    ------
    PlanError
        If the name leads out of the folder or is not a plan's: a slip must not overwrite a notebook.

    Examples
    --------
    >>> plan_path(Path("/mine"), "plans/tonight.toml").as_posix()
    '/mine/plans/tonight.toml'
    """
    name = name.strip()
    if not name.endswith(".toml") or not name.isprintable():
        msg = f'Plan file must be a name that ends in .toml, got {name[:60]!r}; write it like "plans/tonight.toml"'
        raise PlanError(msg)
    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()):
        msg = f'Plan file must lie in the notebook\'s folder, got {name[:60]!r}; write it like "plans/tonight.toml"'
        raise PlanError(msg)
    return path


class PlanRow:
    """Title of the plan, its file's name, and buttons to load and save it.

    Parameters
    ----------
    folder : pathlib.Path
        The notebook's folder, where names start.
    name : str
        The file that is open.
    load : callable
        Called with the plan that was read; it raises PlanError to refuse.
    current : callable
        Gives the plan to save.
    label : str, optional
        What the file is called on the screen.
    """

    def __init__(
        self,
        folder: Path,
        name: str,
        load: Callable[[Plan], None],
        current: Callable[[], Plan],
        label: str = "Plan file",
    ) -> None:
        self._folder, self._load, self._current = folder, load, current
        self.title = w.HTML(layout=w.Layout(flex="1 1 auto", min_width="0"))
        self.name = w.Text(name, tooltip=label, layout=w.Layout(width="230px", flex="0 0 auto"))
        self.load = w.Button(description="Load", tooltip=f"Read: {label}", layout=w.Layout(width="64px"))
        self.save = w.Button(description="Save", tooltip=f"Write: {label}", layout=w.Layout(width="64px"))
        self.said = w.HTML(layout=w.Layout(display="none", width="auto"))
        shown = w.Label(label, layout=w.Layout(flex="0 0 auto", margin="0 4px 0 12px"))
        row = w.HBox([self.title, shown, self.name, self.load, self.save], layout=w.Layout(width="100%"))
        row.add_class("expo-row")
        self.widget = w.VBox([row, self.said], layout=w.Layout(width="100%"))
        self.load.on_click(self._read)
        self.save.on_click(self._write)

    def show(self, title: str) -> None:
        """Show the plan's title."""
        html = f'<span class="expo-title">{escape(title)}</span>'
        if self.title.value != html:
            self.title.value = html

    def _read(self, _: object) -> None:
        def read() -> str:
            path = plan_path(self._folder, self.name.value)
            self._load(Plan.read(path))
            return f"Loaded {self.name.value.strip()}."

        self._attempt(read)

    def _write(self, _: object) -> None:
        def write() -> str:
            self._current().save(plan_path(self._folder, self.name.value))
            return f"Saved as {self.name.value.strip()}."

        self._attempt(write)

    def _attempt(self, action: Callable[[], str]) -> None:
        try:
            self.said.value = f'<span class="expo-done" role="status">{escape(action())}</span>'
        except PlanError as error:
            self.said.value = say_wrong(error)
        self.said.layout.display = None
