"""Where the hours of a plan are said, and which sentences must say whether they are at best or to plan for."""

import re
import runpy
import tempfile
from html import unescape
from pathlib import Path

from expocalc.base.words import say_duration
from expocalc.frames.simulate.files import Order, write_frames
from expocalc.frames.tell.night import read_folder, tell_night
from expocalc.night.dark_words import sky_sentences
from expocalc.night.night import tonight_of
from expocalc.night.words import schedule_sentences, second_best, supply_words
from expocalc.report import report
from workbook.compare.model import Side, compare
from workbook.frames.sub_model import Asked, look_at_sub
from workbook.hours.model import picture
from workbook.hours.nights import nights_steps
from workbook.hours.sure import sure_steps
from workbook.hours.verdict import words as hours_words
from workbook.plan.model import words as plan_words
from workbook.sheets.page import to_html
from workbook.sub_length.model import Picture
from workbook.workshop.own_plan_model import page

finished = runpy.run_path(str(Path(__file__).with_name("random_panels.py")))["finished"]
WHICH = re.compile(r"\bat best\b|\bplan for\b", re.I)
OF_THE_GOAL = re.compile(
    r"nights on the calendar|goals are met|hours reach|goals? (?:is|are) reached|\bleft\b.* hours|of the [\d.]+ \w+ in|"
    r"such nights|on the clock that is|with (?:a patch|SNR) [^.]*: [\d.]+ (?:h|min)|"
    r"hours for the goal|% of the goal",
    re.I,
)
"""What a sentence on a goal's hours or nights says besides the numbers."""
NEVER = re.compile(r"no (?:number of )?hours reach|not reached|never|out of reach|no year|will ever|a chance of", re.I)
"""No hours, so none at best; or the chance of some."""


def sentences(text):
    """Sentences of a text; a decimal point ends none."""
    return re.split(r"(?<=[.;:!?])\s+(?=[A-Z])", " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split()))


def all_words(plan, found, spread):
    """What each screen, command and sheet says of the hours, by where it stands."""
    said = {
        "verdict": " ".join(one.verdict for one in found.filters),
        "command": report(found, spread).split("\n\n", 2)[-1],
        "page of the plan": " ".join((lambda w: (w.headline, *w.rest))(plan_words(plan.values, plan))),
        "printed page": to_html(plan.case, found, spread),
    }
    first = found.filters[0]
    other = plan.with_values({("telescope", "throughput"): 0.6})
    said["compare"] = compare(Side.of(plan), Side.of(other), 1.0).words.headline
    said["compare, the same"] = compare(Side.of(plan), Side.of(plan), 1.0).words.headline
    sub = Picture(plan, first.filter_name).words
    said["sub length"] = f"{sub.headline} {sub.rest}"
    if first.neediest.light is not None:
        shown = picture(plan, first.filter_name)
        hours = hours_words(shown, finished(sure_steps(shown)))
        said["hours"] = " ".join(str(part) for part in vars(hours).values() if isinstance(part, str))
        own = page(plan, first.filter_name, first.neediest.light, 5.0)
        said["own plan"] = " ".join((own.headline, own.planned, *own.rest))
    return said


def night_words(plan, _number):
    """What the night's panel, command, sheets and the hours panel's nights say."""
    night = tonight_of(plan.case)
    sure = [finished(nights_steps(plan.case, one.name)) for one in plan.case.filters]
    return {
        "night": " ".join((*sky_sentences(night), *schedule_sentences(night), supply_words(night))),
        "field sheet of the night": second_best(night),
        "nights of the hours panel": " ".join(sure),
    }


def frames_words(plan, number):
    """What the views of a test sub and of the morning after say of simulated frames of the plan."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_frames(plan.case, folder, Order(subs=2, biases=1, shape=(96, 128)), seed=number)
        sub, bias = (next(folder.glob(f"{kind}*")).name for kind in ("sub", "bias"))
        shown = look_at_sub(plan, folder, Asked(frame=sub, below=bias), lambda _: None)
        after = tell_night(read_folder(folder, plan.case, workers=1)[0], plan.case)
    return {
        "test sub": " ".join((shown.headline, *shown.others)),
        "morning after": " ".join((after.headline, *after.sentences)),
    }


def unmarked(said, found):
    """Sentences with hours or nights for a goal that say neither "at best" nor "plan for", with where they stand."""
    hours = [
        (say_duration(3600 * value), kind)
        for one in found.filters
        for value, kind in ((one.kept_h, "kept|of kept subs|are good"), (one.clock_h, "on the clock"))
        if value is not None
    ]
    numbers = [re.compile(rf"(?<![\d.]){re.escape(text)}\)? (?:{kind})") for text, kind in hours]
    return [
        (where, sentence)
        for where, text in said.items()
        for sentence in sentences(text)
        if not WHICH.search(sentence)
        if any(number.search(sentence) for number in numbers)
        or (OF_THE_GOAL.search(sentence) and re.search(r"\d", sentence) and not NEVER.search(sentence))
    ]
