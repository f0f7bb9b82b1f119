"""The lamps of the town from the sky rates that a plan holds: what they tell, in the sky's group of controls."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as w

from expocalc.base.words import say_number, say_share
from expocalc.budget.lamps_told import lamps_told
from expocalc.light.lamp_shares import FROM_RATES
from expocalc.plan import Plan, Where
from workbook.parts.controls import say_wrong
from workbook.parts.folded_table import FoldedTable
from workbook.parts.table import Table

__all__ = ["LampsTold", "lamps_table"]

_ASK = "Lamps from my rates"
_LEAVE = "Back to the usual lamps"


class LampsTold:
    """A button that lets measured rates tell the lamps, and what they say; nothing where nothing was measured.

    Parameters
    ----------
    change : callable
        Takes changes of the plan; whatever it refuses comes back by :meth:`refuse`.
    """

    def __init__(self, change: Callable[[Mapping[Where, Any]], None]) -> None:
        self._told = False
        self.button = w.Button(description=_ASK, layout=w.Layout(width="auto", height="27px"))
        self.button.on_click(lambda _: change({("sky", "lamps"): None if self._told else FROM_RATES}))
        self.words = w.HTML(layout=w.Layout(width="100%"))
        self.fold = FoldedTable("What the rates tell")
        self.widget = w.VBox([self.button, self.words, self.fold.button, self.fold.body], layout=w.Layout(width="100%"))

    def show(self, plan: Plan) -> None:
        """Show what the rates of a plan tell; the numbers are worked out only while they are seen."""
        sky = plan.case.sky
        self._told = sky.told is not None
        self.widget.layout.display = None if sky.measured or self._told else "none"
        self.button.description = _LEAVE if self._told else _ASK
        self.fold.button.layout.display = None if self._told else "none"
        self.fold.body.layout.display = None if self._told and self.fold.button.value else "none"
        self.words.value = ""
        if sky.told is not None:
            names = ", ".join(one.name for one in sky.told.measured)
            self.words.value = f'<p class="expo-small">Lamps told by the rates of {escape(names)}.</p>'
            self.fold.show(lambda: lamps_table(plan))

    def refuse(self, error: Exception) -> None:
        """Say why the rates tell no lamps."""
        self.words.value = say_wrong(str(error))


def lamps_table(plan: Plan) -> Table:
    """What measured rates say of the town of a plan whose lamps they tell."""
    told = lamps_told(plan.case)
    assert told is not None  # shown only where rates tell the lamps
    rows = [
        *((f"{one.name}: measured over fitted", say_number(one.over_fitted, 3), f"± {say_share(one.error)}")
          for one in told.fits),
        *((f"Share of {lamp}", say_share(middle), f"{say_share(low)} to {say_share(high)}")
          for lamp, (low, middle, high) in told.lamps.items()),
        *((f"Sky of {one.name}", f"{one.middle:.2f} mag/arcsec² AB",
           f"± {say_share(one.error)}; usual lamps ± {say_share(one.worth.by_default)}") for one in told.foretold),
    ]  # fmt: skip
    return Table(
        caption=" ".join(told.sentences), head=("Lamps from rates", "Value", "68 cases of 100"), rows=tuple(rows)
    )
