"""A mistake in a plan's text is said with its line; keys of absurd depth are refused before anything reads them."""

import itertools
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from expocalc.plan import Plan, PlanError
from expocalc.plan.lines import line_of, line_of_deep_key
from tests.test_bad_input import WHOLE

ROOT = Path(__file__).resolve().parent.parent
MONO = (ROOT / "notebooks" / "plans" / "mono-single-lines.toml").read_text(encoding="utf-8")


def refusal(text):
    with pytest.raises(PlanError) as error:
        Plan.parse(text)
    return str(error.value)


def line(text, start):
    """Number of the line that starts so."""
    return 1 + next(number for number, line in enumerate(text.splitlines()) if line.strip().startswith(start))


@pytest.mark.parametrize(
    ("old", "new", "start"),
    [
        ('aperture = "102 mm"', 'aperture = "-102 mm"', "aperture"),
        ('aperture = "102 mm"', 'aperure = "102 mm"', "aperure"),
        ('aperture = "102 mm"', "", "[telescope]"),
        ('aperture = "102 mm"', 'aperture = "102 mm"\nobstruction = "103 mm"', "[telescope]"),
        ('read_noise = "1.4 electron"', 'read_noise = "1.4 mm"', "read_noise"),
        ("dark_current = {", 'dark_current = { activation = "9 eV",', "dark_current"),
        ("[routine]", "[routin]", "[routin]"),
        ("[sky]", "[sky]\nmeasured = { nowhere = '1 electron/s' }", "measured"),
        ('"12 R"', '"-12 R"', '{ line = "H-alpha"'),
    ],
    ids=lambda text: text[:20],
)
def test_a_wrong_value_names_its_line(old, new, start):
    assert old in MONO
    text = MONO.replace(old, new, 1)
    assert refusal(text).endswith(f" (line {line(text, start)})")


def test_a_wrong_value_in_a_list_of_several_lines_names_its_line():
    text = MONO[: MONO.index("[[filters]]")] + (
        '[[filters]]\nname = "V"\npassbands = [{ standard = "bessell-V" }]\n'
        '[[filters]]\nname = "dual"\npassbands = [\n  { centre = "500.7 nm", width = "5 nm" }, # first\n'
        '  { centre = "656.3 nm", width = "0 nm" },\n]\n'
        '[target]\nlight = [{ line = "H-alpha", brightness = "12 R" }]\n'
    )
    said, start = refusal(text), '{ centre = "656'
    assert said.startswith("[[filters]] number 2 passband width must be at least 0.05 nm")
    assert said.endswith(f"(line {line(text, start)})")


def test_a_light_that_is_wrong_is_named():
    lights = '[{ line = "H-alpha", brightness = "12 R" }, { line = "O III", brightness = "-1 R" }]'
    text = MONO[: MONO.index("[target]")] + f"[target]\nlight = {lights}\n"
    assert "[target] light 2 (O III): brightness must be at least 0 R, got -1 R" in refusal(text)
    text = text.replace("12 R", "12 nm").replace("-1 R", "1 R")
    assert "[target] light 1 (H-alpha): brightness must be convertible to R" in refusal(text)
    text = MONO[: MONO.index("[target]")] + '[target]\nlight = [{ star = "99 mag" }]\n'
    assert "[target] light (star): star must be at most 40 mag" in refusal(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('title = "x\n[sky]\n', "line 1"),
        ("[sky]\nbortle = 5 5\n", "line 2"),
        ("[sky]\n[sky]\n", "line 2"),
        ("[sky]\nbortle = 5\n\nlamps = { mercury = 1\n", "line 4"),
        ("[sky]\nbortle = [5,\n6\n", "line 3"),
        ('[sky]\nname = """never\nclosed\n', "line 3"),
        (f"[sky]\n# {'9' * 30}\nbortle = {'9' * 30}\n", "64 bits (line 3)"),
        (f"[sky]\nbortle = 0x{'f' * 5000}\n", "64 bits (line 2)"),
        (f"[sky]\nbortle = {'9' * 5000}\n", "64 bits (line 2)"),
        (f"[sky]\n\n{'a.' * 40}a = 1\n", "deep (line 3)"),
    ],
    ids=ascii,
)
def test_what_is_no_toml_names_its_line(text, said):
    assert said in refusal(text)


@pytest.mark.parametrize("part", ['"!"', "'!'", "a", '"\\""', "'\"'", '"#"', '"."', ' "!" '], ids=ascii)
def test_a_deep_key_is_refused_whatever_its_parts_are(part):
    key = ".".join([part] * 12_000)
    for text in (f"{key} = 1", f"[{key}]", f"[[{key}]]", f"x = {{ {key} = 1 }}", f'ok = "a"\n\n{key} = 1'):
        assert "nested more than 32 deep (line " in refusal(text)


@pytest.mark.skipif(sys.platform != "linux", reason="reads the peak of memory from /proc")
def test_a_deep_key_takes_no_memory():
    program = (
        "import re, resource\nfrom expocalc.plan import Plan, PlanError\n"
        "def peak(): return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "before = peak()\n"
        "try: Plan.parse('.'.join(['\"!\"'] * 12_000) + ' = 1')\n"
        "except PlanError: print(peak() - before)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert int(done.stdout) < 20_000  # kB; the reader of TOML takes 600,000


def test_what_only_looks_deep_is_no_deep_key():
    dots = "a." * 100
    for text in (
        f"# {dots}\n",
        f'x = "{dots}"\n',
        f"x = '{dots}'\n",
        f'x = """\n{dots}\n"""\n',
        "x = [1.5, 2.5]\n" * 99,
    ):
        assert line_of_deep_key(text, 2) is None
    assert line_of_deep_key("a.b.c = 1", 3) is None
    assert line_of_deep_key("a.b.c.d = 1", 3) == 1


@pytest.mark.parametrize("text", ['"' * 300_000, "'" * 300_000, '\\"' * 300_000, '"""\\' * 200_000, "[" * 900_000])
def test_a_text_of_quotes_is_passed_once(text):
    assert line_of_deep_key(text, 32) is None  # looking again from each of them would take hours


# --- the line of every value of any TOML ---

KEYS = st.text(st.characters(codec="utf-8", exclude_characters="\x7f", exclude_categories=("Cc", "Cs")), max_size=5)
LEAVES = st.one_of(st.integers(-99, 99), st.floats(allow_nan=False), st.booleans(), KEYS, st.dates(), st.datetimes())
VALUES = st.recursive(LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3))


def places(value, place=()):
    yield place, value
    if isinstance(value, dict | list):
        for key, entry in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(entry, (*place, key))


@settings(max_examples=150, deadline=None)
@given(values=st.dictionaries(KEYS, VALUES, max_size=4), data=st.data())
def test_every_value_stands_on_the_line_that_is_named(values, data):
    text = tomlkit.dumps(values)
    held = tomllib.loads(text)
    at = [place for place, _ in places(held) if place]
    if not at:
        return
    place = data.draw(st.sampled_from(at))
    found = line_of(text, place)
    lines = text.split("\n")
    assert 1 <= found <= len(lines)
    # what stands above the line does not hold the value yet
    start = "\n".join(lines[: found - 1])
    try:
        before = dict(places(tomllib.loads(start)))
    except tomllib.TOMLDecodeError:
        return  # in the middle of a value
    assert place not in before or isinstance(place[-1], int) or isinstance(before[place], dict | list)


@pytest.mark.parametrize(
    "place", [place for place, value in places(WHOLE) if place], ids=lambda p: ".".join(map(str, p))
)
def test_every_value_of_a_whole_plan_is_found_on_its_line(place):
    text = tomlkit.dumps(WHOLE)
    found = text.splitlines()[line_of(text, place) - 1]
    named = [step for step in place if isinstance(step, str)]
    assert any(name in found for name in named)


def test_numbers_dates_and_dotted_tables_do_not_lead_astray():
    text = (
        '# c\na.b = 1.5\nd = 1979-05-27 07:32:00.5\n[x."y z"]\nq = [ 1.5, # one\n 2.5,\n]\n'
        "[[x.list]]\n[x.list.in]\nr = 1\n[[x.list]]\nr = 2\n"
    )
    assert tomllib.loads(text)["x"]["list"][1]["r"] == 2
    wanted = {("a", "b"): 2, ("d",): 3, ("x", "y z"): 4, ("x", "y z", "q", 1): 6, ("x", "list", 0, "in", "r"): 10,
              ("x", "list", 1, "r"): 12, ("x", "list", 1, "none"): 11, ("none",): None}  # fmt: skip
    assert {place: line_of(text, place) for place in wanted} == wanted


def test_a_refused_change_names_no_line():
    plan = Plan.parse(MONO)
    with pytest.raises(PlanError) as error:
        plan.with_values({("telescope", "aperture"): "0 mm"})
    assert "line" not in str(error.value)


@pytest.mark.parametrize("half", ["\ud83d", "ok \ud800 ok"], ids=ascii)
def test_half_a_sign_is_refused_in_one_sentence(half):
    said = refusal(f"{MONO}\n# {half}")
    assert "half a sign" in said
    assert f"(line {MONO.count(chr(10)) + 2})" in said
    plan = Plan.parse(MONO)
    changes = [
        {("title",): half}, {("filters", 0, "name"): half}, {("camera", "gains", half): {}},
        {("site", "time_zone"): half},
        {("sky", "lamps"): {half: 1.0}}, {("filters", 0, "passbands"): [{"table": f"{half}.ecsv"}]},
        {("telescope", "aperture"): f"102 mm {half}"},
    ]  # fmt: skip
    for change in changes:
        with pytest.raises(PlanError) as error:
            plan.with_values(change)
        assert str(error.value).isprintable()
        assert "half a sign" in str(error.value) or half in itertools.chain(*change)


@pytest.mark.parametrize("name", ["", " ", "\x1b[31m", "a\nb", "x" * 300, "\u202e"], ids=ascii)
def test_the_name_of_a_gain_setting_is_one_printable_line(name):
    gains = {name: {"read_noise": "1 electron", "electrons_per_adu": 1, "full_well": "15000 electron"}}
    with pytest.raises(PlanError, match="printable characters"):
        Plan.parse(MONO).with_values({("camera", "gains"): gains})
