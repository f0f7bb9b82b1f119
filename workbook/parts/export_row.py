"""The row that writes a solved plan as files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.plan import Plan, PlanError
from workbook.parts.controls import say_wrong
from workbook.parts.file_names import write_free
from workbook.sheets.formats import FORMATS, Format

__all__ = ["ExportRow"]


class ExportRow:
    """A name and one button for each kind of file.

    Parameters
    ----------
    folder : pathlib.Path
        The notebook's folder, where the files go.
    get_plan : callable
        Gives the plan at hand.
    formats : sequence of Format, optional
        Kinds of file, each with a name, a suffix and a use.
    text : callable, optional
        Makes a kind of file's text; by default of the plan's answer.
    name : str, optional
        Name of the files before a person gives another.

    Notes
    -----
    An existing file is never replaced: a name that is taken gets a number, and the row says the name that it wrote.
    """

    def __init__(
        self,
        folder: Path,
        get_plan: Callable[[], Plan],
        formats: Sequence[Format] = FORMATS,
        text: Callable[[Format], str] | None = None,
        name: str = "project",
    ) -> None:
        self._folder, self._get_plan, self._text = Path(folder), get_plan, text or self._of_plan
        self.name = w.Text(
            name,
            tooltip="Name of the file to write",
            continuous_update=False,
            layout=w.Layout(width="150px", flex="0 0 auto"),
        )
        self.buttons = {
            form.name: w.Button(
                description=form.name,
                tooltip=f"Write {form.suffix}: {form.use}",
                layout=w.Layout(width="auto"),
            )
            for form in formats
        }
        self.said = w.HTML(layout=w.Layout(display="none", width="auto"))
        label = w.Label("Write as", layout=w.Layout(flex="0 0 auto", margin="0 4px 0 0"))
        row = w.HBox([label, self.name, *self.buttons.values()], layout=w.Layout(width="100%", flex_flow="row wrap"))
        row.add_class("expo-row")
        self.widget = w.VBox([row, self.said], layout=w.Layout(width="100%"))
        for form in formats:
            self.buttons[form.name].on_click(lambda _, form=form: self._press(form))

    def _press(self, form: Format) -> None:
        try:
            path = self._write(form)
        except PlanError as error:
            self.said.value = say_wrong(error)
        else:
            words = f"Wrote {path.relative_to(self._folder).as_posix()} in {self._folder}: {form.use}."
            self.said.value = f'<span class="expo-done" role="status">{escape(words)}</span>'
        self.said.layout.display = None

    def _write(self, form: Format) -> Path:
        """Write the file whole or not at all."""
        return write_free(self._folder, self.name.value, form.suffix, self._text(form))

    def _of_plan(self, form: Format) -> str:
        plan = self._get_plan().moved(self._folder)
        found = plan.solve()
        return form.write(plan, found, plan.spread(found))
