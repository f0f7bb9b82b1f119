"""What the noise of the stack is made of, and the SNRs that must not be mixed up."""

from __future__ import annotations

import numpy as np

from expocalc.base.words import in_colour, say_duration, say_number, say_share
from expocalc.budget.parts import MOST_SUBS
from expocalc.budget.row import Row
from expocalc.budget.stack import colour_snr2, snr_per_element, snr_per_patch, snr_per_pixel
from workbook.hours.model import Picture, Stack
from workbook.parts.shares import Bar, divided
from workbook.parts.table import Table

__all__ = ["noise_bars", "noise_table"]


def noise_bars(shown: Picture) -> tuple[Bar, ...]:
    """What the noise of each filter's stack is made of when the goal is reached."""
    return tuple(divided(_noise_words(stack), _stack_shares(stack)) for stack in shown.stacks.values())


def _noise_words(stack: Stack) -> str:
    row = stack.row
    name = row.filter_shown + (f", {row.light}" if len(stack.rate.lights) > 1 else "") + _in_colour(row)
    if row.kept_h is None:
        return f"{name} after endless hours: the goal is never reached"
    return f"{name} after {say_duration(row.kept_h * 3600)}, SNR {say_number(row.snr_patch or 0.0)}"


def _in_colour(row: Row) -> str:
    """Whose pixels the shares are of."""
    return f"{in_colour(row.colour)} pixels" if row.colour else ""


def _stack_shares(stack: Stack) -> dict[str, float]:
    """Shares of the stack's noise, squared; the unevenness of the background and faint stars count as calibration."""
    share, floor = stack.row.noise_share, _floor_share(stack.row, stack)
    rest = 1 - floor
    return {
        "target": rest * share["target"],
        "sky": rest * share["sky"],
        "dark": rest * share["dark"],
        "read noise": rest * (share["read"] + share["quantisation"]),
        "calibration": rest * share["calibration"] + floor,
    }


def _floor_share(row: Row, stack: Stack) -> float:
    """Share of the unevenness and of faint stars in the noise squared of the colour that decides.

    At the kept subs, or of endless ones.

    As the other shares it is of that colour's pixels alone.
    """
    patch = stack.patch
    if patch is None or not (stack.habits.flatness or np.any(patch.faint_e_s)):
        return 0.0
    at = stack.rate.colours.index(row.colour) if row.colour else 0
    behind = (patch.signal_e_s + patch.light_e_s + patch.dark_e_s)[at]
    uneven = (float(stack.habits.flatness) * behind / patch.signal_e_s[at]) ** 2
    beside = 1 + (float(patch.side_px) / float(stack.habits.background_px)) ** 2
    lumpy = np.broadcast_to(patch.faint_e_s, patch.signal_e_s.shape)[at] / (float(patch.side_px) * patch.signal_e_s[at])
    uneven += beside * float(lumpy) ** 2
    rest = 1 / float(colour_snr2(patch, stack.habits, row.kept or MOST_SUBS)[at])
    return float(uneven / (uneven + rest))


def noise_table(shown: Picture) -> Table:
    """Table behind the picture of noise, with the three SNRs that must not be mixed up."""
    head = ("target", "sky", "dark", "read noise", "calibration", "of that uneven background")
    rows = []
    for stack in shown.stacks.values():
        found = _stack_shares(stack)
        shares_ = (*(say_share(found[name]) for name in head[:-1]), say_share(_floor_share(stack.row, stack)))
        rows.append((_noise_words(stack), *shares_, *_three_snrs(stack)))
    return Table(
        caption="Share of each cause in the noise of the stack, squared, in the colour that decides, and the SNR of "
        "a patch, of one pixel and of the area that one star fills, all colours together",
        head=("Filter", *head, "patch", "pixel", "star's area"),
        rows=tuple(rows),
    )


def _three_snrs(stack: Stack) -> tuple[str, str, str]:
    if stack.patch is None or stack.row.kept is None:
        return ("", "", "")
    patch, habits, kept = stack.patch, stack.habits, stack.row.kept
    found = (
        snr_per_patch(patch, habits, kept),
        snr_per_pixel(patch, habits, kept),
        snr_per_element(patch, habits, kept, stack.rate.fwhm_px),
    )
    return tuple(say_number(float(snr)) for snr in found)  # type: ignore[return-value]
