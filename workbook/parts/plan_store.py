"""The plan at hand, without widgets: opened, changed, taken back, saved without undoing what others wrote."""

from __future__ import annotations

import contextlib
import dataclasses
from collections.abc import Callable
from pathlib import Path

from expocalc.plan import Plan, PlanError
from workbook.copies import shipped
from workbook.parts.drafts import Drafts
from workbook.parts.incomplete import incomplete
from workbook.parts.open_plan import OpenPlan
from workbook.parts.plan_files import PLANS, PlanFiles, brought_text
from workbook.parts.saving import Saver
from workbook.parts.units import kept_units, use_units

__all__ = ["PlanStore"]


class PlanStore:
    """The plan that a page works on.

    Parameters
    ----------
    folder : str or pathlib.Path
        The notebook's.
    name : str, optional
        Plan file to open; by default the one that was used last on any page, else the demo.
    check : callable, optional
        Called with a plan before it is opened; raises PlanError or ValueError for one that the page can't show.
    at_hand : bool, optional
        Whether other pages open what this one opened last.

    Attributes
    ----------
    trouble : str
        Why the wanted plan was not opened, else "". Then a demo is shown, so that the page stays in use.
    news : str
        What to tell at the start: that unsaved changes are back.
    incomplete : str
        What the plan at hand still needs, where it is shown as it was saved, or a demo in its place; else "".
    """

    shows_sketches = False
    """Whether the page can show a plan that is not complete."""
    incomplete = ""

    def __init__(
        self, folder: str | Path, name: str = "", check: Callable[[Plan], object] | None = None, at_hand: bool = True
    ) -> None:
        self.files = PlanFiles(folder)
        use_units(kept_units(self.files.root))
        self._check, self._at_hand = check or (lambda _: None), at_hand
        self.trouble = self.news = ""
        self.wanted = name or self.files.last_used()
        try:
            self.open(self.wanted)
        except PlanError as error:
            self._open_demo(error)
        if not (name or self.shows_sketches or self.trouble):
            self.incomplete = incomplete(self.files, self.name)

    @classmethod
    def beside(cls, other: PlanStore, plan: Plan, check: Callable[[Plan], object] | None = None) -> PlanStore:
        """Store of a plan that was made from another store's, and has no file yet; its draft comes back with it."""
        store = cls.__new__(cls)
        store.files, store._check, store._at_hand = other.files, check or (lambda _: None), False
        path = other.files.free_path("right")
        base, plan = other.plan.moved(path.parent), plan.moved(path.parent)
        drafts = Drafts(other.files.root / PLANS / "right-side.toml")
        store._open = OpenPlan(path=path, base=base, plan=plan, drafts=drafts, filed=False)
        store.trouble, store.news = "", store._open.bring_right_back(store._allow)
        store.wanted = store.name
        return store

    def begin(self, path: Path, plan: Plan) -> None:
        """Work on a plan that has no file yet, and is to lie at that place."""
        self._open = OpenPlan(path=path, base=plan, plan=plan, drafts=Drafts(path), filed=False)

    # What is open

    @property
    def plan(self) -> Plan:
        """The plan as it is shown, with changes that were not saved."""
        return self._open.plan

    @property
    def name(self) -> str:
        """Name of its file: "plans/tonight.toml"."""
        return self.files.name(self._open.path)

    @property
    def demo(self) -> bool:
        """Whether it came with the workbook, and so is never written."""
        return self.files.is_demo(self._open.path)

    @property
    def filed(self) -> bool:
        """Whether it has a file yet."""
        return self._open.filed

    @property
    def unsaved(self) -> bool:
        """Whether it holds changes that its file does not."""
        return self._open.unsaved

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._open.steps)

    def is_demo(self, name: str) -> bool:
        """Whether the plan of that name came with the workbook."""
        return self.files.is_demo(self.files.root / name)

    def state(self) -> OpenPlan:
        """What is open, for :meth:`go_back`."""
        return self._open.copy()

    def go_back(self, state: OpenPlan) -> None:
        """Go back to what was open, where the page refuses a plan."""
        self._open = state

    def names(self) -> list[str]:
        """Names of the plans, the one that was written last first, the demos at the end."""
        return self.files.names()

    # Opening

    def open(self, name: str) -> Plan:
        """Open a plan, with the changes that pages left unsaved; the one that is open goes back to what was saved.

        Raises
        ------
        PlanError
            If it can't be read or the page can't show it; what was open stays open.
        """
        path = self.files.path(name)
        base = Plan.read(path)
        self._allow(base)
        before = getattr(self, "_open", None)
        if before is not None and before.filed and before.path == path:
            steps = [*before.steps, before.plan] if before.plan.values != base.values else before.steps
            opened = dataclasses.replace(before, base=base, plan=base, steps=steps)
            opened.drafts.drop()
            self.trouble, self.news = "", "It is as it was saved; Undo brings your changes back." if steps else ""
        else:
            opened = OpenPlan(path=path, base=base, plan=base, drafts=Drafts(path))
            self.trouble, self.news = "", opened.bring_back(self._allow)
        self._open = opened
        if self._at_hand:
            self.files.use(path)
        return opened.plan

    def _allow(self, plan: Plan) -> None:
        try:
            self._check(plan)
        except PlanError:
            raise
        except ValueError as error:
            raise PlanError(str(error)) from None

    def _open_demo(self, why: PlanError) -> None:
        for path in sorted((shipped() / PLANS).glob("[!.]*.toml"), key=lambda one: one.name, reverse=True):
            plan = Plan.read(path)
            place = self.files.root / PLANS / path.name
            self._open = OpenPlan(path=place, base=plan, plan=plan, drafts=Drafts(place))
            with contextlib.suppress(PlanError):
                self._allow(plan)
                break
        self.trouble = f"{why}. A demo is shown until you load another plan or mend this one and load it again."

    # Changing

    def note(self, plan: Plan) -> bool:
        """Take a changed plan, and tell whether it was another one; quick changes are one step of :meth:`undo`."""
        return self._open.note(plan)

    def undo(self) -> Plan | None:
        """Take the last change back; None where there is none."""
        return self._open.undo()

    def keep_draft(self) -> str:
        """Keep unsaved changes for the next time; a sentence where that fails."""
        return self._open.keep_draft()

    # Writing

    def save(self, name: str = "", prefer: str = "") -> str:
        """Save the plan; what others wrote meanwhile stays.

        Parameters
        ----------
        name : str, optional
            Another name makes a new file and opens it.
        prefer : {"", "mine", "theirs"}, optional
            Which version counts in places where both changed.

        Returns
        -------
        str
            What was done. The plan at hand is another one where it took changes over.

        Raises
        ------
        Clash
            If the file was changed in the same places, and nothing is preferred.
        PlanError
            If it is a demo, the name is taken or refused, or the file can't be written. Nothing was changed.
        """
        path = self.files.path(name) if name else self._open.path
        if self.files.is_demo(path):
            msg = (
                f"{self.files.name(path)} is a demo, which stays as it is; type a name of your own, "
                'like "tonight", and press Save'
            )
            raise PlanError(msg)
        if path != self._open.path or not self._open.filed:
            return self._save_new(path)
        said = self._saver.over(prefer)
        self.keep_draft()
        return said

    @property
    def _saver(self) -> Saver:
        return Saver(self.files, self._open, self._allow)

    def _save_new(self, path: Path) -> str:
        """Write the plan under another name, and go on with it there."""
        self._saver.new(path)
        self._open.drafts.drop()
        plan = Plan.read(path)
        self._open = dataclasses.replace(self._open.moved(path), base=plan, plan=plan, filed=True)
        self.trouble = ""
        if self._at_hand:
            self.files.use(path)
        return f"Saved as {self.name}."

    # More than one plan

    def new(self) -> str:
        """Begin a new plan with a demo's values, under a free name."""
        demo = Plan.read(shipped() / PLANS / "mono-single-lines.toml")
        text = demo.with_values({("title",): "New plan, with the demo's values until you change them"}).to_toml()
        return self._open_new("new-plan", text, "A new plan: its values are the demo's until you change them.")

    def copy(self) -> str:
        """Open a copy of the plan as it is shown; the original keeps what its file says."""
        stem = self._open.path.stem
        text = self.plan.moved(self.files.root / PLANS).to_toml()
        return self._open_new(f"{stem}-copy", text, f"A copy of {self.name}.")

    def take_in(self, name: str, data: bytes) -> str:
        """Take a file in that a person brought; it is a plan, or nothing is written.

        Raises
        ------
        PlanError
            If it is no plan.
        """
        text = brought_text(name, data)
        self._allow(Plan.parse(text, self.files.root / PLANS))
        return self._open_new(Path(name).name, text, "Taken in.")

    def _open_new(self, stem: str, text: str, said: str) -> str:
        self.open(self.files.name(self.files.write(stem, text)))
        return f"{said} It is {self.name}."

    def rename(self, name: str) -> str:
        """Give the plan's file another name; unsaved changes stay unsaved.

        Raises
        ------
        PlanError
            If it is a demo, or the name is taken or refused.
        """
        path, old = self.files.path(name), self._open
        if self.demo or not self.filed:
            msg = f"{self.name} keeps its name; press Copy, or type another name and press Save"
            raise PlanError(msg)
        if path == old.path:
            msg = f'Type the new name first, like "tonight"; it is {self.name} now'
            raise PlanError(msg)
        self._saver.move(path)
        before = self.name
        old.drafts.drop()
        self._open = old.moved(path)
        self.keep_draft()
        if self._at_hand:
            self.files.use(path)
        return f"{before} is {self.name} now."

    def swap(self, other: PlanStore) -> None:
        """Change plans with another store, files and steps of Undo included."""
        self._open, other._open = other._open, self._open
