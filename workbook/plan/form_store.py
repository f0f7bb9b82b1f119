"""The plan at hand of a form, which may be without what an answer needs."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from expocalc.base.lock import locked
from expocalc.plan import Plan, PlanError, Where
from expocalc.plan.nouns import tables_moved
from expocalc.plan.toml import check_signs, dump
from workbook.copies import shipped
from workbook.parts.drafts import Drafts
from workbook.parts.merging import merge_values, say_place
from workbook.parts.open_plan import OpenPlan
from workbook.parts.plan_files import PLANS, PlanFiles
from workbook.parts.plan_store import PlanStore
from workbook.plan.gaps import gaps, say_gaps
from workbook.plan.rules import spelled_out
from workbook.plan.sketches import drop_sketch, keep_sketch, last_sketch, read_sketch, sketch_names
from workbook.plan.values import changed

__all__ = ["FormStore"]

_MOST_STEPS = 100
_MOST_SAID = 3
_NEW = "my-plan"


class FormStore(PlanStore):
    """A plan store whose plan may be a sketch for a while: values that lack something, or don't go together yet.

    A sketch is kept at each change, in a hidden file, and comes back. `plan` is then the last one that was complete;
    a plan that is begun from nothing gets its file when it is complete for the first time.

    Attributes
    ----------
    sketch : mapping or None
        Values that make no plan yet; None while the plan is complete.
    snag : str
        Why a sketch that lacks nothing makes no plan, else "".
    met : str
        What another page typed into the same plan meanwhile, to be said once; else "".
    """

    shows_sketches = True

    def __init__(self, folder: str | Path, name: str = "") -> None:
        self.sketch: Mapping[str, Any] | None = None
        self.snag = self.met = ""
        self._seen: Mapping[str, Any] | None = None
        self._before: list[Mapping[str, Any] | None] = []
        super().__init__(folder, name or last_sketch(PlanFiles(folder)))

    @property
    def values(self) -> Mapping[str, Any]:
        """Values as the form shows them."""
        return spelled_out(self._kept)

    @property
    def _kept(self) -> Mapping[str, Any]:
        return self.plan.values if self.sketch is None else self.sketch

    @property
    def unsaved(self) -> bool:
        """Whether it holds changes that its file does not."""
        return self.sketch is not None or super().unsaved

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._before) or super().can_undo

    def names(self) -> list[str]:
        """Names of the plans, those that have no file yet first."""
        return sketch_names(self.files) + super().names()

    # Opening

    def open(self, name: str) -> Plan:
        """Open a plan with its sketch; opened again, it is as it was saved."""
        path = self.files.path(name)
        again = getattr(self, "_open", None) is not None and self._open.path == path
        if not path.exists() and (values := read_sketch(path, {})) is not None:
            self._begin(path, values)
            self.news = "What you typed is back."
            return self.plan
        left, before = self.sketch, self._before
        self.sketch, self._before, self._seen, self.snag = None, [], None, ""
        try:
            plan = super().open(name)
        except PlanError:
            self.sketch, self._before = left, before
            raise
        sketch = read_sketch(path, plan.values)
        if again and left is not None:
            self._before = [*before, left]
            drop_sketch(path)
            self.news = "It is as it was saved; Undo brings your changes back."
        elif sketch is not None:
            self._seen = sketch
            self._look_at(sketch)
            self.news = "What you typed is back; it is not complete yet."
        return plan

    def _begin(self, path: Path, values: Mapping[str, Any]) -> None:
        """A plan without a file; below it lies the demo, which nobody sees."""
        demo = Plan.read(shipped() / PLANS / "mono-single-lines.toml")
        self.begin(path, demo)
        self._before, self.trouble, self.news = [], "", ""
        self._seen = read_sketch(path, {})
        self._look_at(values)
        self.files.use(path)

    def new(self) -> str:
        """Begin a plan from nothing."""
        taken = set(sketch_names(self.files))
        stems = (_NEW if number == 1 else f"{_NEW}-{number}" for number in range(1, 10_000))
        path = next(path for path in map(self.files.free_path, stems) if self.files.name(path) not in taken)
        self._begin(path, {})
        self._keep({})
        return "A new plan, with nothing in it yet. Fill in the groups from the top."

    # Changing

    def change(self, changes: Mapping[Where, Any]) -> None:
        """Take changes; None takes a value out.

        Raises
        ------
        PlanError
            If a complete plan would become one that is not allowed; nothing was changed.
        """
        check_signs(list(changes.values()))
        touched = {where[0] for where in changes}
        new = changed(self.values, changes)
        kept = {name: value for name, value in self._kept.items() if name in new and name not in touched}
        self.become({**new, **kept})

    def become(self, values: Mapping[str, Any]) -> None:
        """As :meth:`change`, with all values anew."""
        values = self._with_theirs(values)
        if not gaps(values):
            try:
                self._complete(self._plan_of(values))
                return
            except PlanError:
                if self.sketch is None:
                    raise
        self._before = [*self._before[1 - _MOST_STEPS :], self.sketch]
        self._look_at(values)
        self._keep(values)

    def _with_theirs(self, values: Mapping[str, Any]) -> Mapping[str, Any]:
        """The values, with what another page kept or completed since this one looked; where both typed, ours count."""
        path, seen = self._open.path, self._seen
        filed: Mapping[str, Any] = self._open.base.values if self.filed else {}
        theirs = read_sketch(path, filed)
        if not self.filed and path.exists():
            try:
                plan = Plan.read(path)
            except PlanError:  # told when the values are looked at
                return values
            self._open, theirs = OpenPlan(path=path, base=plan, plan=plan, drafts=Drafts(path)), plan.values
        if theirs is None or theirs == seen:
            return values
        base = filed if seen is None else seen
        if self.sketch is not None:  # Undo takes back what was typed here, and leaves theirs
            self.sketch, self._before = merge_values(base, self.sketch, theirs)[0], []
        merged, found = merge_values(base, values, theirs)
        self._seen = theirs
        said = [*(say_place(where) for where in found.taken), *(one.say("there") for one in found.differs)]
        if said:
            more = f" and {len(said) - _MOST_SAID} more" if len(said) > _MOST_SAID else ""
            self.met = f"Another page works on this plan too. From there: {'; '.join(said[:_MOST_SAID])}{more}."
        return merged

    def _plan_of(self, values: Mapping[str, Any]) -> Plan:
        if not self.filed:
            return Plan.parse(dump("", values), self._open.path.parent)
        old = self.plan.values
        sections = {
            (section,): values.get(section) for section in {*values, *old} if values.get(section) != old.get(section)
        }
        return self.plan.with_values(sections) if sections else self.plan

    def _complete(self, plan: Plan) -> None:
        """Take a complete plan; one that was begun from nothing gets its file."""
        path = self._open.path
        if not self.filed:
            below, self._open.plan = self._open.plan, plan
            try:
                self._save_new(path)
            except PlanError:
                self._open.plan = below
                raise
        if self.sketch is not None:
            self.sketch, self._before, self._seen, self.snag = None, [], None, ""
            drop_sketch(path)
        self.note(plan)
        self.trouble = self.keep_draft()

    def _look_at(self, values: Mapping[str, Any]) -> None:
        """Make a sketch of the values, and see whether what is there goes together."""
        self.sketch, self.snag = values, ""
        lacking = {str(gap.where[0]) for gap in gaps(values)}
        whole = {(section,): value for section, value in values.items() if section not in lacking}
        try:
            if lacking:
                self.plan.with_values(whole)
            elif self._plan_of(values) and not self.filed and self._open.path.exists():
                self.snag = f"{self.name} holds another plan by now; type another name and press Save"
        except PlanError as error:
            self.snag = str(error)

    def _keep(self, values: Mapping[str, Any]) -> None:
        path, base = self._open.path, self._open.base.values if self.filed else {}
        try:
            with locked(path.parent):
                values = self._with_theirs(values)
                keep_sketch(path, values, base)
                self.sketch, self._seen, self.trouble = values, read_sketch(path, base), ""
        except OSError as error:
            reason = error.strerror or "no reason given"
            self.trouble = f"What you typed can't be kept here ({reason}): a reload of the page loses it"

    def note(self, plan: Plan) -> bool:
        """Take a changed plan; while there is a sketch the plan below it stays."""
        return False if self.sketch is not None else super().note(plan)

    def undo(self) -> Plan | None:
        """Take the last change back."""
        if not self._before:
            return super().undo() if self.sketch is None else None
        self.sketch = self._before.pop()
        self.snag = ""
        if self.sketch is None:
            drop_sketch(self._open.path)
        else:
            self._look_at(self.sketch)
            self._keep(self.sketch)
        return self.plan

    def keep_draft(self) -> str:
        """Keep unsaved changes; a sketch is kept already."""
        if self.sketch is not None:
            return self.trouble
        return super().keep_draft()

    # Writing

    def save(self, name: str = "", prefer: str = "") -> str:
        """Save the plan; a sketch takes the name, and is told what it lacks."""
        if self.sketch is None:
            return super().save(name, prefer)
        path = self.files.path(name) if name else self._open.path
        if path != self._open.path and not self.filed:
            self._rename_sketch(path)
        raise PlanError(self._say_incomplete())

    def _rename_sketch(self, path: Path) -> None:
        name = self.files.name(path)
        if path.exists() or name in sketch_names(self.files):
            msg = f"{name} holds another plan, which stays; type another name"
            raise PlanError(msg)
        old = self._open.path
        values = tables_moved(self.values, old.parent, path.parent)
        self._begin(path, values)
        self._keep(values)
        drop_sketch(old)

    def _say_incomplete(self) -> str:
        lacks = say_gaps(gaps(self.values))
        why = f"it still needs {'; '.join(lacks)}" if lacks else self.snag
        return f"{self.name} is not complete yet: {why}. What you typed is kept, and is here again when you come back"

    def _refuse_sketch(self) -> None:
        if self.sketch is not None:
            raise PlanError(self._say_incomplete())

    def copy(self) -> str:
        """Open a copy of the plan as it is shown."""
        self._refuse_sketch()
        return super().copy()

    def rename(self, name: str) -> str:
        """Give the plan's file another name."""
        if self.sketch is not None and not self.filed:
            self._rename_sketch(self.files.path(name))
            return f"It is {self.name} now."
        self._refuse_sketch()
        return super().rename(name)
