"""The plan at hand, without widgets: opened, changed, taken back, saved without undoing what others wrote."""

from __future__ import annotations

import contextlib
import dataclasses
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from expocalc.base.lock import locked
from expocalc.base.wholefile import write_file, write_new
from expocalc.plan import Plan, PlanError, Where
from workbook.copies import shipped
from workbook.parts.drafts import Drafts
from workbook.parts.file_names import write_free
from workbook.parts.merging import Differs, Merged, merge, say_place
from workbook.parts.plan_files import PLANS, PlanFiles
from workbook.parts.units import kept_units, use_units

__all__ = ["Clash", "PlanStore"]

MINE, THEIRS = "mine", "theirs"
_MOST_STEPS = 100
_ONE_STEP_S = 2.0
"""Changes of the same values that follow each other so fast are one step of Undo: a slider that is dragged. [s]"""
_MOST_SAID = 3
_LARGEST_BYTES = 1_000_000


class Clash(PlanError):  # noqa: N818 - a name of the trade of merging, as in its sentences
    """The file was changed elsewhere in the same places; :meth:`PlanStore.save` takes which version counts."""

    def __init__(self, name: str, differs: list[Differs]) -> None:
        said = "; ".join(str(one) for one in differs[:_MOST_SAID])
        more = f"; and {len(differs) - _MOST_SAID} more" if len(differs) > _MOST_SAID else ""
        what = f"{said}{more}" if differs else "its changes and yours don't go together"
        super().__init__(
            f"{name} was changed on another page or by another program: {what}. Nothing was written. "
            "Which shall it be? Or type another name and press Save"
        )
        self.differs = tuple(differs)


@dataclass
class _Open:
    """A plan that is open: `filed` tells whether its file is there."""

    path: Path
    base: Plan
    plan: Plan
    drafts: Drafts
    filed: bool = True
    steps: list[Plan] = field(default_factory=list)


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
    """

    def __init__(
        self, folder: str | Path, name: str = "", check: Callable[[Plan], object] | None = None, at_hand: bool = True
    ) -> None:
        self.files = PlanFiles(folder)
        use_units(kept_units(self.files.root))
        self._check, self._at_hand = check or (lambda _: None), at_hand
        self._changed_s, self._changed = -_ONE_STEP_S, set[Where]()
        self.trouble = self.news = ""
        self.wanted = name or self.files.last_used()
        try:
            self.open(self.wanted)
        except PlanError as error:
            self._open_demo(error)

    @classmethod
    def beside(cls, other: PlanStore, plan: Plan, check: Callable[[Plan], object] | None = None) -> PlanStore:
        """Store of a plan that was made from another store's, and has no file yet; its draft comes back with it."""
        store = cls.__new__(cls)
        store.files, store._check, store._at_hand = other.files, check or (lambda _: None), False
        store._changed_s, store._changed, store.trouble, store.news = -_ONE_STEP_S, set(), "", ""
        drafts = Drafts(other.files.root / PLANS / "right-side.toml")
        path = other.files.free_path("right")
        store._open = _Open(path=path, base=other.plan, plan=plan, drafts=drafts, filed=False)
        for draft in drafts.take_over():
            with contextlib.suppress(PlanError, ValueError):
                if draft.base.values == other.plan.values:
                    store._check(draft.mine)
                    store._open.plan, store._open.steps = draft.mine, [plan]
                    store.news = f"The right side of {draft.at} is back; Undo takes it out."
        store.wanted = store.name
        return store

    def begin(self, path: Path, plan: Plan) -> None:
        """Work on a plan that has no file yet, and is to lie at that place."""
        self._open = _Open(path=path, base=plan, plan=plan, drafts=Drafts(path), filed=False)

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
        return self._open.plan.values != self._open.base.values

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._open.steps)

    def is_demo(self, name: str) -> bool:
        """Whether the plan of that name came with the workbook."""
        return self.files.is_demo(self.files.root / name)

    def state(self) -> _Open:
        """What is open, for :meth:`go_back`."""
        return dataclasses.replace(self._open, steps=list(self._open.steps))

    def go_back(self, state: _Open) -> None:
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
            opened = _Open(path=path, base=base, plan=base, drafts=Drafts(path))
            self.trouble, self.news = "", self._bring_back(opened)
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

    def _bring_back(self, opened: _Open) -> str:
        """Take unsaved changes over, and say so."""
        left = opened.drafts.take_over()
        plan = opened.base
        for draft in left:
            found = merge(draft.base, draft.mine, plan).plan
            with contextlib.suppress(PlanError):
                if found is not None:
                    self._allow(found)
                    plan = found
        with contextlib.suppress(OSError):
            if plan.values == opened.base.values:
                if left:
                    opened.drafts.forget_all()
                return ""
            opened.drafts.replace_all(opened.base, plan)
        opened.plan, opened.steps = plan, [opened.base]
        return f"Unsaved changes of {left[-1].at} are back; Undo takes them out."

    def _open_demo(self, why: PlanError) -> None:
        for path in sorted((shipped() / PLANS).glob("[!.]*.toml"), key=lambda one: one.name, reverse=True):
            plan = Plan.read(path)
            place = self.files.root / PLANS / path.name
            self._open = _Open(path=place, base=plan, plan=plan, drafts=Drafts(place))
            with contextlib.suppress(PlanError):
                self._allow(plan)
                break
        self.trouble = f"{why}. A demo is shown until you load another plan or mend this one and load it again."

    # Changing

    def note(self, plan: Plan) -> bool:
        """Take a changed plan; quick changes of the same values are one step of Undo.

        Returns
        -------
        bool
            Whether it was another plan than before.
        """
        if plan is self._open.plan:
            return False
        if plan.values == self._open.plan.values:
            self._open.plan = plan
            return False
        now, before = time.monotonic(), self._open.plan
        places = {where for where, value in plan.changes.items() if before.changes.get(where, ...) != value}
        if not (places == self._changed and self._open.steps and now - self._changed_s < _ONE_STEP_S):
            self._open.steps = [*self._open.steps[1 - _MOST_STEPS :], before]
        self._open.plan, self._changed, self._changed_s = plan, places, now
        return True

    def undo(self) -> Plan | None:
        """Take the last change back; None where there is none."""
        if not self._open.steps:
            return None
        self._open.plan = self._open.steps.pop()
        self._changed = set()
        return self._open.plan

    def keep_draft(self) -> str:
        """Keep unsaved changes for the next time; a sentence where that fails."""
        opened = self._open
        try:
            if self.unsaved:
                opened.drafts.keep(opened.base, opened.plan)
            else:
                opened.drafts.drop()
        except OSError as error:
            reason = error.strerror or "no reason given"
            return f"Changes can't be kept here ({reason}): a reload of the page loses what is not saved elsewhere"
        return ""

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
        with self._alone():
            said = self._save_over(path, prefer)
        self.keep_draft()
        return said

    def _save_over(self, path: Path, prefer: str) -> str:
        theirs = self._theirs()
        if theirs is None:
            return self._settle(path, self.plan, f"{self.name} was gone; it is written again.")
        if theirs.values == self._open.base.values:  # their comments may have changed
            return self._settle(path, dataclasses.replace(self.plan, text=theirs.text), f"Saved as {self.name}.")
        return self._save_merged(theirs, prefer)

    def _save_merged(self, theirs: Plan, prefer: str) -> str:
        base, mine = self._open.base, self.plan
        found = merge(base, mine, theirs)
        if (found.differs or found.plan is None) and not prefer:
            raise Clash(self.name, found.differs)
        plan = found.plan or mine
        if prefer == THEIRS:
            plan = merge(base, theirs, mine).plan or theirs
        self._allow(plan)
        other = theirs if prefer == MINE else mine
        said = self._settle(self._open.path, plan, self._say_merged(found, prefer))
        if prefer:  # Undo brings the other version back
            self._open.steps.append(other)
        return said

    def _say_merged(self, found: Merged, prefer: str) -> str:
        if prefer == THEIRS:
            return f"Saved as {self.name}, with the file's values; Undo brings yours back."
        if prefer == MINE:
            return f"Saved as {self.name}, with your values; Undo brings the file's back."
        if not found.taken:
            return f"Saved as {self.name}; another page had written the same."
        places = [say_place(where) for where in found.taken]
        more = f" and {len(places) - _MOST_SAID} more" if len(places) > _MOST_SAID else ""
        return f"Saved as {self.name}, with what was changed there meanwhile: {'; '.join(places[:_MOST_SAID])}{more}."

    def _save_new(self, path: Path) -> str:
        try:
            write_new(path, self.plan.to_toml().encode())
        except FileExistsError:
            msg = f"{self.files.name(path)} holds another plan, which stays; type another name, or load it"
            raise PlanError(msg) from None
        except (OSError, ValueError) as error:
            raise self._unwritten(path, error) from None
        self._reopen(path)
        return f"Saved as {self.name}."

    def _settle(self, path: Path, plan: Plan, said: str) -> str:
        """Write, and count from there."""
        text = plan.to_toml()
        try:
            write_file(path, text.encode())
        except (OSError, ValueError) as error:
            raise self._unwritten(path, error) from None
        if plan.values != self.plan.values:
            self._open.steps.append(self.plan)
            self._open.plan = plan
        self._open.base = Plan.parse(text, path.parent)
        return said

    def _reopen(self, path: Path) -> None:
        """Go on with the same plan under a name that was just written."""
        self._open.drafts.drop()
        plan = Plan.read(path)
        self._open = _Open(path=path, base=plan, plan=plan, drafts=Drafts(path), steps=self._open.steps)
        self.trouble = ""
        if self._at_hand:
            self.files.use(path)

    def _theirs(self) -> Plan | None:
        """The file as it stands now; None where it is gone."""
        path = self._open.path
        if not path.exists():
            return None
        try:
            return Plan.read(path)
        except PlanError as error:
            msg = f"{self.name} was changed elsewhere and can't be read: {error}. Type another name and press Save"
            raise PlanError(msg) from None

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        try:
            with locked(self._open.path.parent):
                yield
        except OSError as error:
            raise self._unwritten(self._open.path, error) from None

    def _unwritten(self, path: Path, error: Exception) -> PlanError:
        reason = getattr(error, "strerror", None) or error
        return PlanError(f"{self.files.name(path)} can't be written: {reason}; nothing was changed")

    # More than one plan

    def new(self) -> str:
        """Begin a new plan with a demo's values, under a free name."""
        demo = Plan.read(shipped() / PLANS / "mono-single-lines.toml")
        text = demo.with_values({("title",): "New plan, with the demo's values until you change them"}).to_toml()
        return self._open_new("new-plan", text, "A new plan: its values are the demo's until you change them.")

    def copy(self) -> str:
        """Open a copy of the plan as it is shown; the original keeps what its file says."""
        stem = self._open.path.stem
        return self._open_new(f"{stem}-copy", self.plan.to_toml(), f"A copy of {self.name}.")

    def take_in(self, name: str, data: bytes) -> str:
        """Take a file in that a person brought; it is a plan, or nothing is written.

        Raises
        ------
        PlanError
            If it is no plan.
        """
        if len(data) > _LARGEST_BYTES:
            msg = f"{name[:60]} is {len(data) / 1e6:.2g} MB; a plan is a text of at most {_LARGEST_BYTES / 1e6:g} MB"
            raise PlanError(msg)
        try:
            text = bytes(data).decode("utf-8-sig")
        except UnicodeDecodeError:
            msg = f"{name[:60]} is not a text file; a plan is text in UTF-8"
            raise PlanError(msg) from None
        self._allow(Plan.parse(text, self.files.root / PLANS))
        return self._open_new(Path(name).name, text, "Taken in.")

    def _open_new(self, stem: str, text: str, said: str) -> str:
        folder = self.files.root / PLANS
        with contextlib.suppress(OSError):
            folder.mkdir(exist_ok=True)
        path = write_free(folder, stem, ".toml", text)
        self.open(self.files.name(path))
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
        with self._alone():
            try:
                write_new(path, old.path.read_bytes())
                old.path.unlink()
            except FileExistsError:
                msg = f"{self.files.name(path)} holds another plan, which stays; type another name"
                raise PlanError(msg) from None
        before = self.name
        old.drafts.drop()
        self._open = dataclasses.replace(old, path=path, drafts=Drafts(path))
        self.keep_draft()
        if self._at_hand:
            self.files.use(path)
        return f"{before} is {self.name} now."

    def swap(self, other: PlanStore) -> None:
        """Change plans with another store, files and steps of Undo included."""
        self._open, other._open = other._open, self._open
