"""100,000 random plans through everything, by hand: ``python tests/benchmarks/many_plans.py [first] [kind …]``.

Prints the plans that break a rule as they come, and counts at the end. Most plans of a kind are refused at once, so the
kinds get as many as give like numbers of answers.
"""

import collections
import runpy
import sys
import warnings
from pathlib import Path
from types import SimpleNamespace

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
MADE = SimpleNamespace(**runpy.run_path(str(ROOT / "tests" / "random_plans.py")))
PLANS = {"tame": 10_000, "wide": 25_000, "mutated": 65_000}


def main(first=10_000, kinds=MADE.KINDS):
    warnings.simplefilter("error")
    for kind in kinds:
        counts = collections.Counter()
        for number in range(first, first + PLANS[kind]):
            try:
                refused = MADE.check(kind, number)
                counts["answered" if refused is None else "refused with a sentence"] += 1
            except Exception as error:  # every kind of failure is what is looked for
                counts["broken"] += 1
                print(f"    {kind} {number}: {type(error).__name__} {str(error)[:200]}", flush=True)
            if (number + 1 - first) % 1000 == 0:
                print(kind, dict(counts), flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]), **({"kinds": sys.argv[2:]} if sys.argv[2:] else {}))
