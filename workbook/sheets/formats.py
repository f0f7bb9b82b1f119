"""The kinds of file that a plan is written as."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from expocalc.budget.case import Case
from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from workbook.sheets.card import to_card
from workbook.sheets.field import field_sheet
from workbook.sheets.page import to_html
from workbook.sheets.table import to_csv, to_ecsv, to_json

__all__ = ["FORMATS", "Format"]


@dataclass(frozen=True)
class Format:
    """A kind of file.

    Attributes
    ----------
    name : str
        What its button says.
    suffix : str
    use : str
        What it is good for.
    write : callable
        Makes the file's text: of a plan, its answer and the spread of its hours, or of what else a row writes.
    """

    name: str
    suffix: str
    use: str
    write: Callable[..., str]


def _of_case(write: Callable[[Case, Answer, Spread], str]) -> Callable[..., str]:
    return lambda plan, found, hours: write(plan.case, found, hours)


FORMATS: tuple[Format, ...] = (
    Format("Field sheet", ".txt", "40 lines of plain text for the nights", _of_case(field_sheet)),
    Format("Page", ".html", "one page to print; open it in a browser", _of_case(to_html)),
    Format("Card", "-card.html", "one page to print: sub lengths and hours of this gear by sky", to_card),
    Format("CSV", ".csv", "table for a spreadsheet", to_csv),
    Format("ECSV", ".ecsv", "table with its units, for astropy", to_ecsv),
    Format("JSON", ".json", "the answer for programs", to_json),
)
"""In the order of their buttons."""
