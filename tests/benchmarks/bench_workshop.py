"""Speed and memory of the workshop, as ratios within one run: ``python tests/benchmarks/bench_workshop.py``.

Each experiment's redraw (pictures, chart and words, up to the messages for the browser) against numpy's own random draws
for the very same pixels plus one bare picture: a plot of one image of as many pixels that gets new data, in a widget.
Then each lesson's cells under one core that is kept half busy, and the memory of its kernel.
"""

import json
import multiprocessing
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

os.environ["WORKBOOK_BOKEH"] = "1"

from bokeh.models import ColumnDataSource
from bokeh.plotting import figure
from jupyter_bokeh import BokehModel

from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.view import Trial

REPEATS = 25
BAR = 1.5
LESSONS = sorted((Path(__file__).parents[2] / "notebooks" / "workshop").glob("[1-5]-*.ipynb"))

# Runs the cells of one lesson in a bare IPython, and prints the slowest cell and the memory at its peak.
RUN = """
import json, resource, sys, time
from IPython.core.interactiveshell import InteractiveShell
shell, took = InteractiveShell.instance(), []
for source in json.load(sys.stdin):
    begin = time.perf_counter()
    shell.run_cell(source).raise_error()
    took.append(time.perf_counter() - begin)
from workbook.workshop.experiments.view import Trial
for one in [value for value in shell.user_ns.get("Out", {}).values() if isinstance(value, Trial)]:
    begin = time.perf_counter()
    one.run()
    took.append(time.perf_counter() - begin)
sys.__stdout__.write("\\n" + json.dumps([max(took), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""


class Recorder:
    """A generator that remembers what it was asked for."""

    def __init__(self, rng, asked):
        self._rng, self._asked = rng, asked

    def __getattr__(self, name):
        def draw(*args, **kwargs):
            self._asked.append((name, args, kwargs))
            return getattr(self._rng, name)(*args, **kwargs)

        return draw


def draws_of(experiment):
    """All that one run asks of numpy's generator, its arrays copied before they are used up."""
    asked, real = [], np.random.default_rng
    np.random.default_rng = lambda seed: Recorder(real(seed), asked)
    try:
        experiment.run(**experiment.start)
    finally:
        np.random.default_rng = real
    return asked


class CopyingRecorder(Recorder):
    """As above; some callers use the arrays they gave for something else afterwards."""

    def __getattr__(self, name):
        def draw(*args, **kwargs):
            kept = tuple(np.array(arg) if isinstance(arg, np.ndarray) else arg for arg in args)
            self._asked.append((name, kept, kwargs))
            return getattr(self._rng, name)(*args, **kwargs)

        return draw


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
        tiles = trial.outcome.tiles
        pixels = sum(tile.brightness.size for tile in tiles)
        image = np.zeros((1, pixels), dtype=np.uint8).reshape(-1, 128) if pixels % 128 == 0 else np.zeros((1, pixels), np.uint8)
        source = ColumnDataSource({"image": [image]})
        fig = figure()
        fig.image("image", x=0, y=0, dw=1, dh=1, source=source)
        view = BokehModel(fig)
        asked, rng = draws_of(experiment), np.random.default_rng(1)

        def numpy_alone(asked=asked, rng=rng):
            for method, args, kwargs in asked:
                getattr(rng, method)(*args, **kwargs)

        def bare(source=source, image=image):
            source.data = {"image": [image + 1]}

        ours, draws, picture = median_s(trial.run), median_s(numpy_alone), median_s(bare)
        ratio = ours / (draws + picture)
        worst = max(worst, ratio)
        print(
            f"  {name}: redraw {1000 * ours:.1f} ms, draws {1000 * draws:.1f} ms, bare picture {1000 * picture:.1f} ms: "
            f"{ratio:.2f} x"
        )
        view.close()
    print(f"redraw of an experiment: at most {worst:.2f} x of the draws and one bare picture (bar {BAR})")


def burn(stop):
    """Keep the core busy beside the lesson: each gets half of it."""
    while not stop.is_set():
        pass


def lessons():
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
            slowest, memory = json.loads(found.splitlines()[-1])
            print(
                f"{lesson.stem}: slowest cell or run {slowest:.2f} s on half a core (bar 2), memory {memory:.0f} MB (bar 200)"
            )
    finally:
        stop.set()
        load.join()


if __name__ == "__main__":
    redraws()
    lessons()
