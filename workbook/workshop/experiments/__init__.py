"""Beliefs to try on simulated frames: each a pure model; one view shows them all."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from workbook.workshop.experiments import (
    binning,
    colder,
    dark_site,
    darks,
    f_ratio,
    five_percent,
    histogram,
    hours,
    lamps,
    moon,
    more_gain,
    per_patch,
    photon_rain,
    short_or_long,
    smoothing,
    subtracted_sky,
)
from workbook.workshop.experiments.outcome import Experiment, Outcome

__all__ = ["EXPERIMENTS", "Experiment", "Outcome"]

EXPERIMENTS: Mapping[str, Experiment] = MappingProxyType(
    {
        "photon rain": photon_rain.EXPERIMENT,
        "subtracted sky": subtracted_sky.EXPERIMENT,
        "short or long": short_or_long.EXPERIMENT,
        "histogram": histogram.EXPERIMENT,
        "gain": more_gain.EXPERIMENT,
        "five per cent": five_percent.EXPERIMENT,
        "binning": binning.EXPERIMENT,
        "hours": hours.EXPERIMENT,
        "per patch": per_patch.EXPERIMENT,
        "noise reduction": smoothing.EXPERIMENT,
        "darks": darks.EXPERIMENT,
        "Moon": moon.EXPERIMENT,
        "lamps": lamps.EXPERIMENT,
        "dark place": dark_site.EXPERIMENT,
        "f-ratio": f_ratio.EXPERIMENT,
        "colder": colder.EXPERIMENT,
    }
)
"""All experiments by name, in the order of the lessons."""
