"""What every light needs with subs of some length: how many, hours, SNR, and what its noise is made of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from expocalc.budget.clock import kept_share
from expocalc.budget.lights import Lights
from expocalc.budget.noise import sub_snr
from expocalc.budget.parts import MOST_SUBS, over_colours, whole
from expocalc.budget.stack import ELEMENT_AREA
from expocalc.budget.terms import Terms

__all__ = ["Needed", "needed"]


class Needed(NamedTuple):
    """As in :class:`expocalc.budget.solved.Solved`."""

    numbers: dict[str, Any]
    shares: dict[str, Any]
    colour: Any


def needed(lights: Lights, terms: Terms, sub_s: Any, near: Any) -> Needed:
    """Numbers of all lights with subs of these lengths, which take about so many kept ones. [s, -]"""
    parts, sky, dark = lights.still.at(sub_s), lights.sky_e_s, np.asarray(lights.still.patch.dark_e_s)
    empty = lights.of_names(lambda _, name: name is None)
    if sky.shape[-1] == 1:
        at: Any = np.zeros(parts.worth.shape[:-1], dtype=int)
    else:  # the colour that brings most to a light; of no light, the one with the brightest sky
        at = np.where(empty, sky.argmax(axis=-1), parts.colour_snr2(1.0).argmax(axis=-1))
    chosen = _chosen(at, sky.shape[-1])

    dark = dark[..., 0] if dark.ndim else dark
    sky_at, light_e_s, extended = map(chosen, (sky, lights.still.patch.signal_e_s, lights.extended_e_s))
    area: Any = 1.0
    own, in_pixel, behind = extended, light_e_s, sky_at + dark + extended
    stars = lights.of_names(lambda rate, name: name in rate.stars)
    if np.count_nonzero(stars):
        light_e_s = light_e_s * np.where(stars, np.square(lights.still.patch.side_px), 1.0)
        area = np.where(stars, np.maximum(1.0, ELEMENT_AREA * lights.fwhm_px**2), 1.0)
        star_e_s, in_pixel = np.where(stars, light_e_s, 0.0), light_e_s * np.where(stars, lights.peak, 1.0)
        own, behind = area * extended + star_e_s, behind + star_e_s * lights.peak

    dark_sky_e = (sky_at + dark) * sub_s
    above = np.minimum(dark_sky_e, terms.saturation_e) / terms.electrons_per_adu
    kept = parts.whole_subs_for(np.square(lights.snr), near)
    hopeless = (dark_sky_e >= terms.saturation_e) | empty
    if np.count_nonzero(hopeless):
        kept = np.where(hopeless, np.nan, kept)
    with np.errstate(over="ignore"):
        shot = whole(kept / kept_share(sub_s, terms.lost_per_hour, terms.lost_at_dither))
        mag = -2.5 * np.log10(np.maximum(sky_at, 0.0) / chosen(lights.of_rates("ab_zero_e_s")))
    none = np.isnan(kept)
    new, common = parts.noise_e2(np.where(none, MOST_SUBS, np.maximum(kept, 1.0))[..., None])
    noise = new + common
    numbers = {
        "goal_snr": lights.snr,
        "patch_arcsec": lights.patch_arcsec,
        "scale_arcsec_px": lights.scale_arcsec,
        "target_e_s": light_e_s,
        "sky_e_s": sky_at,
        "dark_e_s": dark,
        "sky_mag_ab": mag,
        "sub_s": sub_s,
        "shot": shot,
        "kept": kept,
        "exposed_h": shot * sub_s / 3600,
        "kept_h": kept * sub_s / 3600,
        "clock_h": shot * (sub_s + terms.dead_s) / 3600,
        "snr_one_sub": sub_snr(in_pixel, behind, sub_s, terms.read_variance_e2),
        "snr_patch": np.where(none, np.nan, np.sqrt(parts.with_floor(over_colours(np.add, parts.worth / noise)))),
        "snr_ceiling": np.sqrt(parts.endless_snr2()),
        "median_adu": above + terms.bias_adu,
        "median_adu_above_bias": above,
        "storage_gb": shot * terms.frame_gb,
    }
    calibration = chosen(common / noise)
    if np.count_nonzero(empty):
        numbers |= {name: np.where(empty, np.nan, numbers[name]) for name in ("target_e_s", "snr_one_sub")}
        numbers["snr_ceiling"] = np.where(empty, np.inf, numbers["snr_ceiling"])
        calibration = np.where(empty, 0, calibration)
    quantisation_e2 = area * np.asarray(terms.quantisation_e2)
    noise_e2 = {
        "target": own * sub_s,
        "sky": area * sky_at * sub_s,
        "dark": area * dark * sub_s,
        "read": area * terms.read_variance_e2 - quantisation_e2,
        "quantisation": quantisation_e2,
    }
    total = sum(noise_e2.values())
    per_total = (1 - calibration) / np.where(total > 0, total, np.inf)
    shares = {name: part * per_total for name, part in noise_e2.items()} | {"calibration": calibration}
    return Needed(numbers, shares, at)


def _chosen(at: Any, colours: int) -> Callable[[Any], Any]:
    """What takes the decisive colour's entry of an array that ends with the axis of colours."""

    def chosen(values: Any) -> Any:
        if colours == 1:
            return np.asarray(values)[..., 0]
        values, where = np.broadcast_arrays(values, at[..., None])
        return np.take_along_axis(values, where[..., :1], axis=-1)[..., 0]

    return chosen
