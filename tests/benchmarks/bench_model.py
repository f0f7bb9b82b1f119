"""Speed of the model, as ratios within one run: ``python tests/benchmarks/bench_model.py``.

Each line compares ours with the same work done bare, on the same machine in the same run.
"""

import itertools
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
import tracemalloc
from pathlib import Path

import numpy as np

from expocalc.budget.noise import sub_snr
from expocalc.plan import Plan

ROOT = Path(__file__).resolve().parents[2]


def seconds(work, repeats):
    """Median time of `work` in seconds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def peak_bytes(work):
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def million_budgets():
    sky = np.geomspace(0.01, 10, 1000)[:, None]
    sub = np.geomspace(1, 1000, 1000)
    target, dark, read = 0.002, 0.002, 1.4

    def ours():
        return sub_snr(target, target + sky + dark, sub, read**2)

    def bare():
        return target * sub / np.sqrt((target + sky + dark) * sub + read**2)

    np.testing.assert_allclose(ours(), bare(), rtol=1e-12)
    for work in (ours, bare):
        work()
    print(
        f"a million noise budgets: {seconds(ours, 30) / seconds(bare, 30):.2f} x the time of bare numpy (bar 1.5), "
        f"{peak_bytes(ours) / peak_bytes(bare):.2f} x its peak memory (bar 2)"
    )


def solve_again():
    full = Plan.read(ROOT / "notebooks/plans/mono-single-lines.toml")
    plain = full.with_values({("routine", name): None for name in ("stacking", "darks", "flats")})
    steps = itertools.count(1)
    cached = {
        "a town's sky": lambda: {("sky", "zenith_brightness"): f"{18 + 1e-2 * (next(steps) % 200)} mag/arcsec2"},
        "a dark sky, few subs": lambda: {
            ("sky", "zenith_brightness"): f"{21 + 1e-2 * (next(steps) % 100)} mag/arcsec2"
        },
        "dead time": lambda: {("routine", "dead_time"): f"{2 + 1e-3 * next(steps)} s"},
        "temperature": lambda: {("camera", "temperature"): f"{-10 + 1e-2 * next(steps)} deg_C"},
    }
    scratch = {
        "altitude": lambda: {("target", "altitude"): f"{50 + 1e-2 * next(steps)} deg"},
        "aperture": lambda: {("telescope", "aperture"): f"{100 + 1e-1 * next(steps)} mm"},
        "filter width": lambda: {("filters", 0, "passbands", 0, "width"): f"{5 + 1e-3 * next(steps)} nm"},
    }
    for kind, plan in (("perfect masters, plain mean", plain), ("masters, dither, clipped mean", full)):
        plan.solve()
        for bar, moves in ((0.6, cached), (20, scratch)):
            for name, move in moves.items():
                took = seconds(lambda move=move, plan=plan: plan.with_values(move()).solve(), 60)
                print(f"one re-solve after {name} moved, {kind}: {1e3 * took:.2f} ms (bar {bar})")


def swept():
    """In a process of its own, whose memory is then the sweep's."""
    code = f"""if True:
        import resource, time
        import numpy as np
        import expocalc
        plan = expocalc.Plan.read({str(ROOT / "notebooks/plans/mono-single-lines.toml")!r})
        places = {{
            "sky.zenith_brightness": [f"{{mag:.3f}} mag/arcsec2" for mag in np.linspace(17.5, 22, 50)],
            "routine.sub_length": [f"{{s:.2f}} s" for s in np.geomspace(10, 1200, 100)],
            "filters.0.passbands.0.width": [f"{{nm:.2f}} nm" for nm in np.linspace(3, 12, 20)],
        }}
        start = time.perf_counter()
        rows = len(expocalc.sweep(plan, places))
        print(rows // 2, time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3)
    """
    told = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout.split()
    plans, took, peak = int(told[0]), *map(float, told[1:])
    print(f"{plans:,} plans swept, sky x sub length x width: {took:.2f} s (bar 5), {peak:.0f} MB in all (bar 500)")


def imports():
    """With bytecode at hand, as a package has it that pip installed, wherever this runs from."""
    with tempfile.TemporaryDirectory() as cache:
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        env = {**kept, "PYTHONPYCACHEPREFIX": cache}

        def took(code):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True, env=env)
            return time.perf_counter() - start

        codes = ("pass", "import expocalc", "import astropy.units", "import expocalc; expocalc.Plan")
        for code in codes:  # writes the bytecode
            took(code)
        # in turns, so that a machine that is slow for a while is slow for all
        empty, ours, theirs, model = np.array([[took(code) for code in codes] for _ in range(25)]).T
    print(f"import expocalc: {np.median(ours / empty):.2f} x a Python that imports nothing (bar 1.1)")
    ratio = np.median(model / theirs)
    print(f"import expocalc; expocalc.Plan, all of the model: {ratio:.2f} x import astropy.units (bar 1.2)")


if __name__ == "__main__":
    print(
        f"{platform.machine()}, {platform.processor() or 'processor unnamed'}, Python {platform.python_version()}, "
        f"numpy {np.__version__}"
    )
    million_budgets()
    solve_again()
    swept()
    imports()
