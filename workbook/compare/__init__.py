"""Which of two plans takes fewer hours, by how much, and why? The panel, its model and its figures."""

from workbook.compare.view import ComparePanel, show

__all__ = ["ComparePanel", "show"]
