"""Speed of frames as ratios, and memory: python tests/benchmarks/bench_frames.py [folder with 3 GB].

A 26-megapixel sub to sky and stars against reading it and taking one median; a bench of forty such frames against
reading them; a folder on two cores against one; a stack of 500 subs against numpy's own draws for the same pixels.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from astropy.io import fits

from expocalc.frames.measure.behind import Behind
from expocalc.frames.measure.folder import measure_folder
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import read_frame
from expocalc.frames.simulate.detector import even_detector
from expocalc.frames.simulate.scene import even_scene
from expocalc.frames.simulate.stack import stack_of
from expocalc.frames.tell.camera import bench
from expocalc.gear.gain import GainSetting

SHAPE = (4176, 6248)
CAMERA = GainSetting(read_noise="1.5 electron", electrons_per_adu=0.25, bias_level=500, full_well="15000 electron")
BEHIND = Behind(bias_adu=500.0, dark_e_s=0.002, read_noise_e=1.5)


def seconds(work, turns=3):
    spent = []
    for _ in range(turns):
        begin = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begin)
    return min(spent)


def noise(level, spread, seed):
    rng = np.random.default_rng(seed)
    strip = rng.normal(level, spread, (SHAPE[0] // 8, SHAPE[1])).round().astype(np.uint16)
    return np.vstack([np.roll(strip, 37 * n, axis=1) for n in range(8)])


def write(path, level, spread, seed, **cards):
    data = noise(level, spread, seed)
    if cards.get("IMAGETYP") == "LIGHT":
        rng = np.random.default_rng(5)
        star = (np.outer([1, 4, 6, 4, 1], [1, 4, 6, 4, 1]) * 60).astype(np.uint16)
        for row, column in rng.integers(20, 4000, (1500, 2)):
            data[row - 2 : row + 3, column - 2 : column + 3] += star
    fits.PrimaryHDU(data, fits.Header(cards)).writeto(path, overwrite=True)
    return path


def one_sub(folder):
    path = write(folder / "sub.fits", 820, 18, 1, IMAGETYP="LIGHT", EXPTIME=300.0, EGAIN=0.25)
    base = seconds(lambda: np.median(fits.getdata(path)))
    ours = seconds(lambda: measure_sub([read_frame(path)], BEHIND))
    found = measure_sub([read_frame(path)], BEHIND)
    print(f"sub to sky and {found.stars.count} stars: {ours:.2f} s, {ours / base:.2f} x reading and one median")


def forty_frames(folder, count=40):
    flats = []
    for at in range((count - 2) // 2):
        level = 1000 + 2500 * at
        spread = ((level - 500) / 0.25 + 36) ** 0.5
        flats.append(
            [write(folder / f"flat_{at}_{t}.fits", level, spread, 10 * at + t, EXPTIME=float(at + 1)) for t in (1, 2)]
        )
    biases = [write(folder / f"bias_{t}.fits", 500, 6, 900 + t) for t in (1, 2)]
    paths = [*biases, *(path for pair in flats for path in pair)]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    base = seconds(lambda: [fits.getdata(path).sum() for path in paths], 1)
    ours = seconds(lambda: bench(biases, flats), 1)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"bench of {len(paths)} frames: {ours:.1f} s, {ours / base:.2f} x reading and adding up their pixels; "
        f"peak {peak / 1e6:.2f} GB (before it {before / 1e6:.2f})"
    )
    for path in paths:
        path.unlink()


def night(folder, count=200):
    source = write(folder / "sub.fits", 820, 18, 1, IMAGETYP="LIGHT", EXPTIME=300.0, EGAIN=0.25)
    paths = []
    for at in range(count):
        path = folder / f"s{at:03d}.fits"
        if not path.exists():
            path.hardlink_to(source)
        paths.append(path)
    alone = seconds(lambda: measure_folder(paths, BEHIND, workers=1), 1)
    both = seconds(lambda: measure_folder(paths, BEHIND, workers=2), 1)
    print(f"folder of {count}: {alone:.1f} s on one core, {both:.1f} s on two: {alone / both:.2f} times as fast")


def stack():
    scene, detector = even_scene(0.1, SHAPE), even_detector(CAMERA, 0.002, SHAPE)
    expected = np.full(SHAPE, 0.102 * 300 * 500)

    def bare():
        rng = np.random.default_rng(1)
        rng.poisson(expected)
        rng.standard_normal(SHAPE)

    base = seconds(bare, 2)
    ours = seconds(lambda: stack_of(scene, detector, 300.0, 500, np.random.default_rng(1)), 2)
    print(f"stack of 500 subs drawn: {ours:.2f} s, {ours / base:.2f} x numpy's draws")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as name:
        place = Path(name)
        one_sub(place)
        forty_frames(place)
        night(place)
    stack()
