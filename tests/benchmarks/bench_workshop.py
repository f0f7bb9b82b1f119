"""Speed and memory of the workshop, as ratios within one run: ``python tests/benchmarks/bench_workshop.py``.

Each experiment's redraw, from the dials to the words, pictures and chart that its widgets hold, against numpy's own
random draws for the very same pixels plus one bare picture: all those pixels as one PNG by Pillow in an image widget.
Then the slowest cell of each lesson on one core that something else keeps half busy, and the memory of its kernel.
"""

import io
import json
import multiprocessing
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import ipywidgets as w
import numpy as np
from PIL import Image

from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.view import Trial

os.environ["WORKBOOK_BOKEH"] = "1"  # as under the launcher: no library of plots in each output

REPEATS = 25
BAR = 1.5
LESSONS = sorted((Path(__file__).parents[2] / "notebooks" / "workshop").glob("[1-5]-*.ipynb"))

# Runs the cells of one lesson in a bare IPython, and prints the slowest cell and the memory at its peak.
RUN = """
import json, resource, sys, time
from IPython.core.interactiveshell import InteractiveShell
shell, took = InteractiveShell.instance(), []

def timed(action):
    wall, cpu = time.perf_counter(), time.process_time()
    done = action()
    took.append((time.perf_counter() - wall, time.process_time() - cpu))
    return done

trials = []
for source in json.load(sys.stdin):
    done = timed(lambda: shell.run_cell(source))
    done.raise_error()
    if hasattr(done.result, "experiment"):
        trials.append(done.result)
for trial in trials:
    timed(trial.run)
assert all(trial.outcome for trial in trials)
walls, cpus = zip(*took)
megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
sys.__stdout__.write("\\n" + json.dumps([max(walls), max(cpus), megabytes, len(trials)]))
"""


class Recorder:
    """A generator that remembers what it was asked for; arrays are copied, since callers use them up."""

    def __init__(self, rng, asked):
        self._rng, self._asked = rng, asked

    def __getattr__(self, name):
        def draw(*args, **kwargs):
            kept = tuple(np.array(arg) if isinstance(arg, np.ndarray) else arg for arg in args)
            self._asked.append((name, kept, kwargs))
            return getattr(self._rng, name)(*args, **kwargs)

        return draw


def draws_of(experiment):
    """All that one run asks of numpy's generators."""
    asked, real = [], np.random.default_rng
    np.random.default_rng = lambda seed: Recorder(real(seed), asked)
    try:
        experiment.run(**experiment.start)
    finally:
        np.random.default_rng = real
    return asked


def median_s(action):
    took = []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        action()
        took.append(time.perf_counter() - begin)
    return statistics.median(took)


def redraws():
    worst = 0.0
    for name, experiment in EXPERIMENTS.items():
        trial = Trial(name)
        trial.run()
        together = np.concatenate([tile.brightness.ravel() for tile in trial.outcome.tiles])
        grey = (255 * together[: together.size // 64 * 64]).astype(np.uint8).reshape(-1, 64)
        asked, rng, widget = draws_of(experiment), np.random.default_rng(1), w.Image()

        def numpy_alone(asked=asked, rng=rng):
            for method, args, kwargs in asked:
                getattr(rng, method)(*args, **kwargs)

        def bare(grey=grey, widget=widget):
            file = io.BytesIO()
            Image.fromarray(grey).save(file, "PNG")
            widget.value = file.getvalue()

        ours, draws, picture = median_s(trial.run), median_s(numpy_alone), median_s(bare)
        ratio = ours / (draws + picture)
        worst = max(worst, ratio)
        said = f"redraw {1000 * ours:.1f} ms, draws {1000 * draws:.1f} ms, bare picture {1000 * picture:.1f} ms"
        print(f"  {name}: {said}: {ratio:.2f} x")
    print(f"redraw of an experiment: at most {worst:.2f} x of the draws and one bare picture (bar {BAR})")


def burn(stop):
    """Keep the core busy beside the lesson: each gets half of it."""
    while not stop.is_set():
        pass


def lessons():
    """Each lesson in a process of its own, on one core; without the right to choose a core it has all of them."""
    core = {min(os.sched_getaffinity(0))} if hasattr(os, "sched_getaffinity") else None
    stop = multiprocessing.Event()
    load = multiprocessing.Process(target=burn, args=(stop,))
    load.start()
    if core:
        os.sched_setaffinity(load.pid, core)
    try:
        for lesson in LESSONS:
            cells = json.loads(lesson.read_text(encoding="utf-8"))["cells"]
            sources = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]
            found = subprocess.run(
                [sys.executable, "-c", RUN], input=json.dumps(sources), capture_output=True, text=True, check=True,
                cwd=lesson.parent, preexec_fn=(lambda: os.sched_setaffinity(0, core)) if core else None,
            ).stdout  # fmt: skip
            wall, cpu, memory, trials = json.loads(found.splitlines()[-1])
            print(
                f"{lesson.stem}: slowest of {len(sources)} cells and {trials} runs {2 * cpu:.2f} s at half speed by "
                f"its own time (bar 2), {wall:.2f} s by the clock on half a core or less; {memory:.0f} MB (bar 200)"
            )
    finally:
        stop.set()
        load.join()


if __name__ == "__main__":
    redraws()
    lessons()
