"""The controls for what the mount holds: numbers, the tube's material, and the limits that follow."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as w

from expocalc.base.words import say_duration
from expocalc.budget.mount import longest_held_s
from expocalc.gear.telescope import EXPANSION_PER_K
from expocalc.plan import Plan, Where
from workbook.night.knobs import MOUNT
from workbook.night.mount import limits_table
from workbook.parts.controls import Choice, Number

__all__ = ["MountFold"]


class MountFold:
    """What is known of mount and tube in, limits out.

    Parameters
    ----------
    numbers : mapping of str to Number
        Those of :data:`workbook.night.knobs.MOUNT` among others.
    change : callable
        Takes changes of the plan; it raises ValueError to refuse.
    """

    def __init__(self, numbers: Mapping[str, Number], change: Callable[[Mapping[Where, Any]], None]) -> None:
        self.tube = Choice("Tube", lambda name: change({("telescope", "tube"): name}))
        self.table = w.HTML(layout=w.Layout(width="100%"))
        self.widgets = [*(numbers[name].widget for name in MOUNT), self.tube.widget, self.table]
        self.summary = ""

    def show(self, plan: Plan) -> None:
        """Show the plan's mount."""
        longest_s = longest_held_s(plan.case)
        self.tube.show(EXPANSION_PER_K, plan.case.telescope.tube)
        html = limits_table(plan.case).to_html()
        if self.table.value != html:
            self.table.value = html
        self.summary = "no limit known" if longest_s == float("inf") else f"subs to {say_duration(longest_s)}"
