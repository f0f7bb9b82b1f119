"""My gear and my targets: a plan as a form, made from nothing or changed."""

from workbook.plan.view import PlanPage, show

__all__ = ["PlanPage", "show"]
