"""One plan, one file: its text, its nouns, its answer as plain data; `keys` lists all that it may hold."""

from expocalc.plan.error import PlanError, Where, one_sentence
from expocalc.plan.plan import Plan
from expocalc.plan.rows import as_json
from expocalc.plan.whole import write_whole

__all__ = [
    "Plan",
    "PlanError",
    "Where",
    "as_json",
    "one_sentence",
    "write_whole",
]
