"""100,000 random plans through everything, by hand: ``python tests/benchmarks/many_plans.py [first] [plans of each]``.

Prints the plans that break a rule, by the rule.
"""

import collections
import runpy
import sys
import warnings
from pathlib import Path
from types import SimpleNamespace

MADE = SimpleNamespace(**runpy.run_path(str(Path(__file__).resolve().parent.parent / "random_plans.py")))


def main(first=10_000, each=33_334):
    warnings.simplefilter("error")
    for kind in MADE.KINDS:
        counts, broken = collections.Counter(), collections.defaultdict(list)
        for number in range(first, first + each):
            try:
                refused = MADE.check(kind, number)
                counts["answered" if refused is None else "refused with a sentence"] += 1
            except Exception as error:  # every kind of failure is what is looked for
                counts["broken"] += 1
                broken[f"{type(error).__name__} {str(error)[:100]}"].append(number)
        print(kind, dict(counts))
        for what, numbers in broken.items():
            print(f"    {len(numbers)} x {what}: plans {numbers[:5]}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
