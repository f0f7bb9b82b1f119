"""Exposure budgets for a backyard deep-sky imager: from a sky reading to electrons, subs and hours.

Start with a plan, a TOML file that holds sky, telescope, camera, filters and target; ``python -m expocalc --keys``
lists what it may hold, ``python -m expocalc PLAN`` answers it.

>>> import expocalc
>>> plan = expocalc.Plan.read("tonight.toml")  # doctest: +SKIP
>>> plan.solve().filters[0].kept_h  # doctest: +SKIP
5.3

`Plan`
    A plan: read it, change it, solve it, save it.
`PlanError`
    What every mistake in a plan raises, with one sentence.
`sweep`
    Every combination of some values of a plan, solved into one table.

The layers follow a photon: `light` arrives, passes the `gear`, adds up in the `budget`; `frames` simulates subs with
the same rates. The formulas there take plain numbers and arrays. Importing the package alone loads nothing; the three
names above are loaded when they are first used.
"""

TYPE_CHECKING = False  # what type checkers take for true; typing itself would be most of this package's import
if TYPE_CHECKING:
    from expocalc.plan import Plan, PlanError
    from expocalc.sweeping import sweep

__all__ = ["Plan", "PlanError", "sweep"]
__version__ = "0.1.0"

_HOMES = {"Plan": "expocalc.plan", "PlanError": "expocalc.plan", "sweep": "expocalc.sweeping"}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    import importlib

    # first, from here: below a chain of our own imports Python maps and unmaps a piece of its stack at many calls
    importlib.import_module("astropy.units")
    found = globals()[name] = getattr(importlib.import_module(_HOMES[name]), name)
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__} - {"TYPE_CHECKING", "_HOMES"})
