"""One plan that is open: the version of its file, the version on the screen, and the steps between them."""

from __future__ import annotations

import contextlib
import dataclasses
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from expocalc.plan import Plan, PlanError, Where
from workbook.parts.drafts import Drafts
from workbook.parts.merging import merge

__all__ = ["OpenPlan"]

_MOST_STEPS = 100
_ONE_STEP_S = 2.0
"""Changes of the same values that follow each other so fast are one step of Undo: a slider that is dragged. [s]"""


@dataclass
class OpenPlan:
    """A plan that is open.

    Attributes
    ----------
    path : pathlib.Path
        Where its file lies, or is to lie.
    base, plan : Plan
        As it was saved last, and as it is shown.
    drafts : Drafts
        Changes that no page saved yet.
    filed : bool
        Whether its file is there.
    steps : list of Plan
        What Undo goes back to, the last one first to go.
    """

    path: Path
    base: Plan
    plan: Plan
    drafts: Drafts
    filed: bool = True
    steps: list[Plan] = field(default_factory=list)
    _changed: frozenset[Where] = frozenset()
    _changed_s: float = -_ONE_STEP_S

    @property
    def unsaved(self) -> bool:
        """Whether it holds changes that its file does not."""
        return self.plan.values != self.base.values

    def copy(self) -> OpenPlan:
        """The same, to go back to."""
        return dataclasses.replace(self, steps=list(self.steps))

    def moved(self, path: Path) -> OpenPlan:
        """The same under another path."""
        here = path.parent
        steps = [step.moved(here) for step in self.steps]
        base, plan = self.base.moved(here), self.plan.moved(here)
        return dataclasses.replace(self, path=path, base=base, plan=plan, drafts=Drafts(path), steps=steps)

    def bring_back(self, allow: Callable[[Plan], None]) -> str:
        """Take over what pages left unsaved, and say so; `allow` raises PlanError for what can't be shown."""
        left = self.drafts.take_over()
        plan = self.base
        for draft in left:
            found = merge(draft.base, draft.mine, plan).plan
            with contextlib.suppress(PlanError):
                if found is not None:
                    allow(found)
                    plan = found
        with contextlib.suppress(OSError):
            if plan.values == self.base.values:
                if left:
                    self.drafts.forget_all()
                return ""
            self.drafts.replace_all(self.base, plan)
        self.plan, self.steps = plan, [self.base]
        return f"Unsaved changes of {left[-1].at} are back; Undo takes them out."

    def bring_right_back(self, allow: Callable[[Plan], None]) -> str:
        """As :meth:`bring_back`, on the right side: what was left beside the same plan, as it was."""
        made, said = self.plan, ""
        for draft in self.drafts.take_over():
            with contextlib.suppress(PlanError):
                if draft.base.values == self.base.values:
                    allow(draft.mine)
                    self.plan, self.steps = draft.mine, [made]
                    said = f"The right side of {draft.at} is back; Undo takes it out."
        return said

    def note(self, plan: Plan) -> bool:
        """Take a changed plan; quick changes of the same values are one step of Undo.

        Returns
        -------
        bool
            Whether it was another plan than before.
        """
        if plan is self.plan:
            return False
        if plan.values == self.plan.values:
            self.plan = plan
            return False
        now, before = time.monotonic(), self.plan
        places = frozenset(w for w, value in plan.changes.items() if before.changes.get(w, ...) != value)
        if not (places == self._changed and self.steps and now - self._changed_s < _ONE_STEP_S):
            self.steps = [*self.steps[1 - _MOST_STEPS :], before]
        self.plan, self._changed, self._changed_s = plan, places, now
        return True

    def undo(self) -> Plan | None:
        """Take the last change back; None where there is none."""
        if not self.steps:
            return None
        self.plan, self._changed = self.steps.pop(), frozenset()
        return self.plan

    def keep_draft(self) -> str:
        """Keep unsaved changes for the next time; a sentence where that fails."""
        try:
            if self.unsaved:
                self.drafts.keep(self.base, self.plan)
            else:
                self.drafts.drop()
        except OSError as error:
            reason = error.strerror or "no reason given"
            return f"Changes can't be kept here ({reason}): a reload of the page loses what is not saved elsewhere"
        return ""
