"""Write the plan that is open, without undoing what others wrote meanwhile."""

from __future__ import annotations

import contextlib
import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from expocalc.base.lock import locked
from expocalc.base.wholefile import write_file, write_new
from expocalc.plan import Plan, PlanError
from workbook.parts.merging import Differs, Merged, merge, say_place
from workbook.parts.open_plan import OpenPlan
from workbook.parts.plan_files import PlanFiles

__all__ = ["MINE", "THEIRS", "Clash", "Saver"]

MINE, THEIRS = "mine", "theirs"
_MOST_SAID = 3


class Clash(PlanError):  # noqa: N818 - a name of the trade of merging, as in its sentences
    """The file was changed elsewhere in the same places; :meth:`Saver.over` takes which version counts."""

    def __init__(self, name: str, differs: list[Differs]) -> None:
        said = "; ".join(one.say() for one in differs[:_MOST_SAID])
        more = f"; and {len(differs) - _MOST_SAID} more" if len(differs) > _MOST_SAID else ""
        what = f"{said}{more}" if differs else "its changes and yours don't go together"
        super().__init__(
            f"{name} was changed on another page or by another program: {what}. Nothing was written. "
            "Which shall it be? Or type another name and press Save"
        )
        self.differs = tuple(differs)


@dataclass(frozen=True)
class Saver:
    """Writes one plan.

    Attributes
    ----------
    files : PlanFiles
    opened : OpenPlan
        Its base moves on with what is written, and its plan where the file's values were taken over.
    allow : callable
        Called with a plan that came from the file; raises PlanError for one that the page can't show.
    """

    files: PlanFiles
    opened: OpenPlan
    allow: Callable[[Plan], None]

    @property
    def _name(self) -> str:
        return self.files.name(self.opened.path)

    def over(self, prefer: str = "") -> str:
        """Write over its own file; what was done. `prefer` is which version counts where both changed.

        Raises
        ------
        Clash
            If the file was changed in the same places, and nothing is preferred.
        PlanError
            If the file can't be read or written. Nothing was changed.
        """
        with self._alone():
            theirs = self._theirs()
            if theirs is None:
                return self._settle(self.opened.plan, f"{self._name} was gone; it is written again.")
            if theirs.values == self.opened.base.values:  # their comments may have changed
                plan = dataclasses.replace(self.opened.plan, text=theirs.text)
                return self._settle(plan, f"Saved as {self._name}.")
            return self._merged(theirs, prefer)

    def new(self, path: Path) -> None:
        """Write the plan where no file stands; PlanError where that fails."""
        try:
            write_new(path, self.opened.plan.moved(path.parent).to_toml().encode())
        except FileExistsError:
            msg = f"{self.files.name(path)} holds another plan, which stays; type another name, or load it"
            raise PlanError(msg) from None
        except (OSError, ValueError) as error:
            raise self._unwritten(path, error) from None

    def move(self, path: Path) -> None:
        """Give its file another name; PlanError where that fails."""
        with self._alone():
            try:
                write_new(path, self._moved(path.parent))
                self.opened.path.unlink()
            except FileExistsError:
                msg = f"{self.files.name(path)} holds another plan, which stays; type another name"
                raise PlanError(msg) from None

    def _moved(self, folder: Path) -> bytes:
        """The file as it is, but for the paths of tables where it goes to another folder."""
        path = self.opened.path
        if folder == path.parent:
            return path.read_bytes()
        return Plan.read(path).moved(folder).to_toml().encode()

    def _merged(self, theirs: Plan, prefer: str) -> str:
        base, mine = self.opened.base, self.opened.plan
        found = merge(base, mine, theirs)
        if (found.differs or found.plan is None) and not prefer:
            raise Clash(self._name, found.differs)
        plan = found.plan or mine
        if prefer == THEIRS:
            plan = merge(base, theirs, mine).plan or theirs
        self.allow(plan)
        other = theirs if prefer == MINE else mine
        said = self._settle(plan, self._say_merged(found, prefer))
        if prefer:  # Undo brings the other version back
            self.opened.steps.append(other)
        return said

    def _say_merged(self, found: Merged, prefer: str) -> str:
        if prefer == THEIRS:
            return f"Saved as {self._name}, with the file's values; Undo brings yours back."
        if prefer == MINE:
            return f"Saved as {self._name}, with your values; Undo brings the file's back."
        if not found.taken:
            return f"Saved as {self._name}; another page had written the same."
        places = [say_place(where) for where in found.taken]
        more = f" and {len(places) - _MOST_SAID} more" if len(places) > _MOST_SAID else ""
        return f"Saved as {self._name}, with what was changed there meanwhile: {'; '.join(places[:_MOST_SAID])}{more}."

    def _settle(self, plan: Plan, said: str) -> str:
        """Write, and count from there."""
        opened = self.opened
        text = plan.moved(opened.path.parent).to_toml()
        try:
            write_file(opened.path, text.encode())
        except (OSError, ValueError) as error:
            raise self._unwritten(opened.path, error) from None
        if plan.values != opened.plan.values:
            opened.steps.append(opened.plan)
            opened.plan = plan
        opened.base = Plan.parse(text, opened.path.parent)
        return said

    def _theirs(self) -> Plan | None:
        """The file as it stands now; None where it is gone."""
        path = self.opened.path
        if not path.exists():
            return None
        try:
            return Plan.read(path)
        except PlanError as error:
            msg = f"{self._name} was changed elsewhere and can't be read: {error}. Type another name and press Save"
            raise PlanError(msg) from None

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        try:
            with locked(self.opened.path.parent):
                yield
        except OSError as error:
            raise self._unwritten(self.opened.path, error) from None

    def _unwritten(self, path: Path, error: Exception) -> PlanError:
        reason = getattr(error, "strerror", None) or error
        return PlanError(f"{self.files.name(path)} can't be written: {reason}; nothing was changed")
