"""The numbers that one takes outside: what the median of a sub should read, and when the sky is too bright."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from expocalc.night.blocks import Block
from expocalc.night.moments import moments_of
from expocalc.night.night import Tonight
from expocalc.night.windows import almanac_of
from expocalc.night.worth import Reference, sky_worth, worth_over

__all__ = ["FieldNumbers", "Supplies", "field_numbers", "supplies_of"]

_BYTES_PER_GB = 1e9
_BRIGHTER = np.geomspace(1.0, 100.0, 60)


@dataclass(frozen=True)
class FieldNumbers:
    """What a sub of a block should read.

    Attributes
    ----------
    median_adu : float or None
        Expected median of a sub, the bias level in it; None where the plan gives no bias level. [ADU]
    above_bias_adu : float
        The same without the bias level. [ADU]
    low_adu, high_adu : float
        Its range above the bias over the block, by the error of the sky's reading. [ADU]
    change_adu : float or None
        Above this median, bias level in it where it is known, another filter of the plan gains more; None where
        there is no other. [ADU]
    change_to : str or None
        That filter.
    """

    median_adu: float | None
    above_bias_adu: float
    low_adu: float
    high_adu: float
    change_adu: float | None
    change_to: str | None


@dataclass(frozen=True)
class Supplies:
    """What a night's blocks take.

    Attributes
    ----------
    storage_gb : float
        [Gbyte]
    energy_wh : float or None
        From the first block to the end of the last; None where the plan gives no power. [W h]
    """

    storage_gb: float
    energy_wh: float | None


def _reference(night: Tonight, name: str) -> Reference:
    assert night.campaign is not None
    return next(r for r in night.campaign.nights.references if r.name == name)


def field_numbers(night: Tonight, block: Block) -> FieldNumbers:
    """Numbers of one block of a night."""
    case, almanac = night.case, almanac_of(night.case)
    assert almanac is not None
    reference, setting = _reference(night, block.filter_name), case.camera.setting
    at = moments_of(case, almanac, np.linspace(block.begin_s, block.end_s, 7))
    found = worth_over(case, reference, at)
    sky = found.rates.sky_e_s[:, reference.colour]
    to_adu = block.sub_s / setting.electrons_per_adu
    above = (sky + found.rates.dark_e_s) * to_adu
    error = 10 ** (0.4 * float(case.sky.brightness_error.value))
    if case.sky.measured and block.filter_name in case.sky.measured:
        error = 1.0
    low = float((sky.min() / error + found.rates.dark_e_s) * to_adu)
    high = float((sky.max() * error + found.rates.dark_e_s) * to_adu)
    bias = setting.bias_level
    change_adu, change_to = _change(night, block, reference)
    return FieldNumbers(
        median_adu=None if bias is None else float(above.mean()) + bias,
        above_bias_adu=float(above.mean()),
        low_adu=low,
        high_adu=high,
        change_adu=change_adu,
        change_to=change_to,
    )


def _change(night: Tonight, block: Block, reference: Reference) -> tuple[float | None, str | None]:
    """Median above which another filter, under the sky as expected, gains more for the plan."""
    campaign, case = night.campaign, night.case
    assert campaign is not None
    assert campaign.way is not None
    almanac = almanac_of(case)
    assert almanac is not None
    middle = moments_of(case, almanac, np.array([(block.begin_s + block.end_s) / 2]))
    price = {campaign.nights.references[p].name: campaign.way.price[i] for i, p in enumerate(campaign.use)}
    others = [r for r in campaign.nights.references if r.name in price and r.name != reference.name]
    if not others:
        return None, None
    worths = {r.name: float(price[r.name] * worth_over(case, r, middle).worth[0]) for r in others}
    best = max(worths, key=lambda name: worths[name])
    own = price[reference.name] * sky_worth(case, reference, middle, _BRIGHTER)
    lower = np.flatnonzero(own < worths[best])
    if not lower.size:
        return None, None
    factor = float(np.interp(-worths[best], -own, _BRIGHTER))
    found = worth_over(case, reference, middle).rates
    setting = case.camera.setting
    above = (float(found.sky_e_s[0, reference.colour]) * factor + found.dark_e_s) * block.sub_s
    return above / setting.electrons_per_adu + (setting.bias_level or 0.0), case.filter_shown(best)


def supplies_of(night: Tonight) -> Supplies:
    """Storage and energy of a night's blocks."""
    camera, blocks = night.case.camera, night.blocks
    per_pixel = next(count for count in (1, 2, 4) if camera.setting.bits <= 8 * count)
    frame_gb = camera.columns * camera.rows * per_pixel / _BYTES_PER_GB
    power = night.case.night.power
    hours = (blocks[-1].end_s - blocks[0].begin_s) / 3600 if blocks else 0.0
    return Supplies(
        storage_gb=sum(block.subs for block in blocks) * frame_gb,
        energy_wh=None if power is None else float(power.value) * hours,
    )
