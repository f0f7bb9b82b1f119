"""Words of the trade in plain words, 25 at most each; data only."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["TERMS"]

TERMS: Mapping[str, str] = MappingProxyType(
    {
        "sub": "One single shot of the camera. The mean of many subs is the picture.",
        "stack": ("The mean of many subs, lined up on the stars. Its grain is finer than that of any one sub."),
        "integration time": (
            "All the light-gathering time in a stack: the number of subs kept, times the length of one."
        ),
        "SNR": (
            "Signal over noise: how far a thing stands out of the grain. At 2 it is a hint, at 5 plain, at 10 good."
        ),
        "read noise": (
            "A little grain that the camera adds each time a sub is read out. The length of the sub does not matter."
        ),
        "shot noise": (
            "The grain of light itself. Light comes in single photons, like rain in drops, so equal "
            "times catch unequal counts."
        ),
        "sky background": ("The glow of the sky in front of and behind your target: lamps, Moon and the air itself."),
        "dark current": ("Electrons that a warm chip makes by itself, with no light at all. Cooling cuts them."),
        "gain": (
            "How many units of the file the camera writes for each electron. It makes numbers bigger;"
            " it makes no light."
        ),
        "offset": (
            "A fixed number that the camera adds to every pixel, so that noise never pushes a pixel below zero."
        ),
        "e-/ADU": ("Electrons for each unit in the file. Multiply the file's numbers by it to count electrons."),
        "ADU": "The unit of the numbers in a camera file. What it is worth in electrons hangs on the gain.",
        "full well": "The most electrons that one pixel can hold. More light spills over or is lost.",
        "saturation": (
            "A pixel is full, or its number is the largest the file can hold. More light changes "
            "nothing; star centres turn white."
        ),
        "QE": (
            "Quantum efficiency: the share of the photons on a pixel that it turns into electrons. 0.8 means 8 of 10."
        ),
        "bandwidth": (
            "How wide a slice of colour a filter lets through, in nanometres. A narrow slice shuts out more sky."
        ),
        "f-ratio": ("Focal length divided by aperture, written f/5. A small number packs the light onto fewer pixels."),
        "image scale": ("How much sky one pixel sees, in arcseconds. Large pixels or a short telescope see more."),
        "seeing": "The blur by moving air. It makes each star a small disc, mostly 2 to 4 arcseconds wide.",
        "FWHM": ("Full width at half maximum: the width of a star's disc, measured half way up its brightness."),
        "guiding RMS": ("How far the telescope wobbles about its aim while tracking, as an average, in arcseconds."),
        "dither": (
            "Moving the aim a few pixels between subs. Faults of the chip then land in new places and average out."
        ),
        "flat": ("A picture of an even light. It shows dust and dim corners, so that they can be divided out."),
        "dark": ("A sub with the cap on. It shows what the warm chip makes by itself, so that it can be subtracted."),
        "bias": "The shortest shot with the cap on. It shows the offset and the read noise alone.",
        "flat-dark": "A dark as long as the flats. It takes the offset and the dark current out of them.",
        "binning": "Joining neighbouring pixels into one bigger pixel: less detail, less grain.",
        "drizzle": ("A way to stack moved subs onto finer pixels. It can win detail, and it costs a smoother grain."),
        "airmass": "How much air the light crosses: 1 straight up, 2 at 30 degrees above the horizon.",
        "extinction": "The share of starlight that the air takes away. It grows toward the horizon.",
        "SQM": ("A sky meter's reading, in magnitudes per square arcsecond. A larger number is a darker sky."),
        "Bortle class": ("A scale of dark skies by eye, from 1 (darkest) to 9 (inner city). Each class spans a range."),
        "surface brightness": (
            "Light from each small patch of a thing. It, not the total, tells how hard a nebula is to catch."
        ),
        "Rayleigh": ("A unit for the glow of a nebula or the night sky in one colour. Faint gas has some 10."),
        "colour filter array": (
            "Tiny red, green and blue filters on the pixels of a colour camera. Each pixel sees one colour."
        ),
        "walking noise": "Streaks in a stack: the chip's faults drawn out by slow drift. Dither cures it.",
        "meridian flip": (
            "As a target passes due south or north, many mounts must swing over to the other side. It takes minutes."
        ),
        "equivalent dark hours": ("The hours of dark, moonless sky that would give the same SNR as the hours you had."),
    }
)
"""Term to explanation, in the order of a night's work."""
