"""One plan, one file: its text, its nouns, its answer as plain data, and a listing of all its keys."""

from expocalc.plan.error import PlanError, Where, one_sentence
from expocalc.plan.keys import Table, keys_markdown, keys_text, plan_tables
from expocalc.plan.plan import Plan
from expocalc.plan.rows import as_json
from expocalc.plan.whole import write_whole

__all__ = [
    "Plan",
    "PlanError",
    "Table",
    "Where",
    "as_json",
    "keys_markdown",
    "keys_text",
    "one_sentence",
    "plan_tables",
    "write_whole",
]
