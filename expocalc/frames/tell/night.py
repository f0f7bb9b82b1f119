"""The morning after: what each sub of a folder is worth, which stand out, and how far the goal is.

A sub's worth is its hours under the plan's own conditions: SNR^2 of the target gathered by it over what an hour of the
plan's gathers. Transparency counts squared, the noise that the sky brought once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from expocalc.budget.answer import answer_filter, filter_named
from expocalc.budget.case import Case
from expocalc.budget.row import FilterAnswer
from expocalc.frames.measure.behind import Behind, settled
from expocalc.frames.measure.folder import SubLine, find_frames, measure_folder, transparencies
from expocalc.frames.read.fits import read_frame, with_mosaic
from expocalc.frames.read.header import FrameError
from expocalc.frames.tell.beside_model import Beside, beside_model
from expocalc.frames.tell.conditions import begin_of, evening_of
from expocalc.frames.tell.course import Course, course_of
from expocalc.frames.tell.ledger import Entry, Ledger
from expocalc.frames.tell.night_words import headline_of, kept_sentences
from expocalc.frames.tell.own_factor import OwnFactor, own_factor
from expocalc.frames.tell.plan_side import behind_of
from expocalc.frames.tell.progress import Progress, progress_of
from expocalc.frames.tell.stands_out import stands_out

__all__ = ["MorningAfter", "read_folder", "tell_night", "with_choice"]

_NAMED = 10
"""Files that can't be used are named up to so many."""


@dataclass(frozen=True, eq=False, kw_only=True)
class MorningAfter:
    """A folder of subs, told.

    Attributes
    ----------
    entries : tuple of Entry
        One per sub, in the order of time.
    filters : mapping of str to Progress
    counts : tuple of mapping
        For [[routine.counts]] of a plan: sub_length, dither_every, taken, spoiled.
    own : OwnFactor or None
        What the nights of ledger and folder needed beside the hours at best; None before there are enough of them.
    course : Course
        What the night's model says for each sub.
    beside : mapping of str to Beside
        The night over that model, by filter.
    planned_sky_e_s : mapping of str to float
        The plan's sky, by filter. [electron s-1]
    warnings : tuple of str
    sentences : tuple of str
        What was kept; what was left out or stands out; how far each filter is.
    headline : str
        The same in one sentence.
    """

    entries: tuple[Entry, ...]
    filters: Mapping[str, Progress]
    counts: tuple[Mapping[str, Any], ...]
    own: OwnFactor | None
    course: Course
    beside: Mapping[str, Beside]
    planned_sky_e_s: Mapping[str, float]
    warnings: tuple[str, ...]
    sentences: tuple[str, ...]
    headline: str

    @property
    def verdict(self) -> str:
        """All sentences in a row."""
        return " ".join(self.sentences)


def read_folder(
    folder: str | Path,
    case: Case,
    given: Mapping[str, Any] | None = None,
    behind: Behind | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[list[SubLine], list[str]]:
    """Measure the subs of a folder; a bias in it gives their level where neither plan nor caller does.

    Raises
    ------
    FrameError
        If the folder holds no sub that can be used.
    """
    paths = find_frames(folder)
    known = behind or behind_of(case)
    mosaic = None if case.camera.mosaic == "none" else case.camera.mosaic
    if known.bias_adu is None and known.levels is None and known.dark is None and known.bias is None:
        named = [path for path in paths if "bias" in path.name.lower()]
        if named:
            known = replace(known, bias=with_mosaic(read_frame(named[0]), mosaic))
    lines, problems = measure_folder(paths, settled(known, mosaic), given, mosaic, workers, progress)
    if not lines:
        why = f": {problems[0]}" if problems else ", only biases, darks and flats"
        msg = f"{folder} holds no sub that can be used{why}"
        raise FrameError(msg)
    return lines, problems


def _night(date: str | None, path: Path) -> str:
    moment = begin_of(date)
    if moment is None:
        moment = datetime.fromtimestamp(path.stat().st_mtime if path.exists() else 0, UTC)
    return evening_of(moment)


def _filter_name(line: SubLine, names: Sequence[str]) -> str:
    said = str(line.known.filter_name or "")
    if said in names:
        return said
    if len(names) == 1:
        return names[0]
    near = [name for name in names if said and (said.lower() in name.lower() or name.lower() in said.lower())]
    return near[0] if len(near) == 1 else said or "unknown"


def _worth_h(line: SubLine, clear: float, case: Case, now: FilterAnswer, colour: str) -> float:
    """Hours under the plan's conditions that gather the SNR^2 of this sub. [h]"""
    rate = now.rates
    at = rate.colours.index(colour)
    read = case.camera.setting.read_variance_e2
    target = float(sum((light[at] for light in rate.extended.values()), 0.0))
    seconds, planned_s = float(line.known.exposure_s), float(now.sub_s)
    through = clear if math.isfinite(clear) else 1.0
    found = (max(line.sky_e_s[colour], 0.0) + target * through + rate.dark_e_s) * seconds + read
    planned = (float(rate.sky_e_s[at]) + target + rate.dark_e_s) * planned_s + read
    return through**2 * seconds**2 * planned / found / planned_s / 3600


def tell_night(
    lines: Sequence[SubLine],
    case: Case,
    problems: Sequence[str] = (),
    ledger: Ledger | None = None,
    choices: Mapping[str, bool] | None = None,
) -> MorningAfter:
    """What a night's subs are worth, and how far the goal is with those of the ledger.

    Parameters
    ----------
    lines : sequence of SubLine
    case : Case
    problems : sequence of str, optional
        Sentences on files that can't be used.
    ledger : Ledger, optional
        Nights before; rows of the same files are replaced.
    choices : mapping of str to bool, optional
        By file name, what a person keeps or drops; others are dropped where they are spoilt, and named.

    Returns
    -------
    MorningAfter
    """
    names = [one.name for one in case.filters]
    groups: dict[str, list[SubLine]] = {}
    for line in sorted(lines, key=lambda line: (str(line.known.date or ""), line.path.name)):
        groups.setdefault(_filter_name(line, names), []).append(line)
    warnings = list(problems[:_NAMED])
    if len(problems) > _NAMED:
        warnings.append(f"{len(problems) - _NAMED} more files can't be used")
    entries: list[Entry] = []
    skies, answers = {}, {}
    for name, group in groups.items():
        if name not in names:
            files = f"{group[0].path.name}{' and others' if len(group) > 1 else ''}"
            warnings.append(f"{files}: the plan has no filter {name!r}; it has {', '.join(names)}; not counted")
            continue
        now = answer_filter(case, filter_named(case, name))[0]
        colour = now.neediest.colour or now.rates.colours[0]
        if any(colour not in line.sky_e_s for line in group):
            warnings.append(
                f"{group[0].path.name} and the plan's camera have different colours; {case.filter_shown(name)} is "
                "not counted"
            )
            continue
        answers[name], skies[name] = now, float(now.rates.sky_e_s[now.rates.colours.index(colour)])
        entries += _entries(name, group, case, now, colour, choices or {})
    if not entries:
        raise FrameError(warnings[-1] if warnings else "no sub belongs to a filter of the plan")
    for line in lines:
        warnings += line.warnings
    before = [one for one in (ledger.entries if ledger else ()) if one.filter in names]
    keys = {(one.night, one.filter, one.file) for one in entries}
    together = [*(one for one in before if (one.night, one.filter, one.file) not in keys), *entries]
    for name in {one.filter for one in together} - set(answers):
        answers[name] = answer_filter(case, filter_named(case, name))[0]
    filters = progress_of(together, case, answers)
    counts = _counts(entries, case)
    warnings += ledger.warnings if ledger else ()
    course = course_of(case, entries, skies)
    warnings += [course.note] if course.note else []
    beside = beside_model(entries, course)
    air = tuple(one.words(case.filter_shown(name)) for name, one in beside.items())
    return MorningAfter(
        entries=tuple(entries), filters=filters, counts=counts, own=own_factor(together),
        course=course, beside=beside, planned_sky_e_s=skies,
        warnings=tuple(dict.fromkeys(warnings)), sentences=(*kept_sentences(entries, filters), *air),
        headline=headline_of(entries, filters),
    )  # fmt: skip


def _entries(
    name: str, group: Sequence[SubLine], case: Case, now: FilterAnswer, colour: str, choices: Mapping[str, bool]
) -> list[Entry]:
    clear = transparencies(group)
    found = []
    for line, through, (reason, bad) in zip(group, clear.tolist(), stands_out(group, clear, colour), strict=True):
        kept = choices.get(line.path.name, not bad)
        temperature = line.known.temperature_deg_c
        found.append(
            Entry(
                night=_night(line.known.date, line.path), file=line.path.name, filter=name,
                date=str(line.known.date or ""), exposure_s=float(line.known.exposure_s),
                temperature_deg_c=math.nan if temperature is None else temperature,
                sky_electron_s=line.sky_e_s[colour], noise_electron=line.noise_e[colour],
                star_fwhm_px=line.fwhm_px, star_elongation=line.elongation, stars=line.stars, transparency=through,
                kept=kept, reason=reason,
                equivalent_dark_h=_worth_h(line, min(through, 1.0), case, now, colour) if kept else 0.0,
            )
        )  # fmt: skip
    return found


def _counts(entries: Sequence[Entry], case: Case) -> tuple[dict[str, Any], ...]:
    """Taken and spoiled subs of each length, as a plan's [[routine.counts]] takes them."""
    lengths: dict[float, list[Entry]] = {}
    for one in entries:
        lengths.setdefault(round(one.exposure_s, 3), []).append(one)
    return tuple(
        {
            "sub_length": f"{seconds:g} s",
            **({"dither_every": case.routine.dither_every} if case.routine.dither_every else {}),
            "taken": len(group),
            "spoiled": sum(not one.kept for one in group),
        }
        for seconds, group in sorted(lengths.items())
    )


def with_choice(found: MorningAfter, choices: Mapping[str, bool]) -> dict[str, bool]:
    """Choices for :func:`tell_night` that hold what is kept now and change some."""
    return {**{one.file: one.kept for one in found.entries}, **choices}
