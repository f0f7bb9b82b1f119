"""The plan at hand: opened on every page, kept, taken back, and saved without undoing what others wrote."""

import json
import os
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.plan import Plan, PlanError
from workbook.copies import shipped
from workbook.parts.file_names import checked_stem
from workbook.parts.merging import merge, say_place
from workbook.parts.plan_files import AT_HAND, DEMO, PlanFiles
from workbook.parts.plan_store import PlanStore
from workbook.parts.saving import Clash

SKY, GOAL, PATCH = ("sky", "zenith_brightness"), ("goal", "snr"), ("target", "patch")
MINE = "plans/mine.toml"


@pytest.fixture
def folder(demo_folder):
    """A workbook with one plan of the reader's."""
    Plan.read(demo_folder / DEMO).save(demo_folder / MINE)
    return demo_folder


def change(store, changes):
    store.note(store.plan.with_values(changes))
    store.keep_draft()


def drafts(folder):
    return [path.name for path in (folder / "plans").glob(".*.unsaved")]


def at(folder, where, name=MINE):
    values = Plan.read(folder / name).values
    for step in where:
        values = values[step]
    return values


# One plan at hand


def test_the_demo_opens_where_nothing_was_used_yet(folder):
    store = PlanStore(folder)
    assert (store.name, store.demo, store.unsaved, store.trouble) == (DEMO, True, False, "")
    assert not (folder / AT_HAND).exists() or PlanStore(folder).name == DEMO


def test_every_page_opens_the_plan_that_was_used_last(folder):
    PlanStore(folder).open(MINE)
    assert PlanStore(folder).name == MINE
    (folder / "workshop").mkdir()
    assert PlanStore(folder / "workshop").plan.folder == folder / "plans"
    PlanStore(folder).save("tonight")
    assert PlanStore(folder).name == "plans/tonight.toml"
    PlanStore(folder, MINE, at_hand=False)
    assert PlanStore(folder).name == "plans/tonight.toml"


@pytest.mark.parametrize(
    "damage", ["", "{", "[]", '{"plan": 3}', '{"plan": "../../x.toml"}', '{"plan": "gone"}', "[" * 9000]
)
def test_a_damaged_note_of_the_last_plan_opens_the_demo(folder, damage):
    (folder / AT_HAND).write_text(damage)
    assert PlanStore(folder).name == DEMO


def test_plans_are_listed_newest_first_and_demos_last(folder):
    for number, name in enumerate(("old", "new", "middle")):
        Plan.read(folder / DEMO).save(folder / f"plans/{name}.toml")
        os.utime(folder / f"plans/{name}.toml", (0, (1, 3, 2)[number]))
    os.utime(folder / MINE, (0, 0))
    names = PlanStore(folder).names()
    assert names[:4] == ["plans/new.toml", "plans/middle.toml", "plans/old.toml", MINE]
    assert DEMO in names[4:]
    assert set(names[4:]) == {f"plans/{path.name}" for path in (shipped() / "plans").glob("*.toml")}


def test_a_demo_is_never_written(folder):
    store = PlanStore(folder)
    before = (folder / DEMO).read_bytes()
    change(store, {GOAL: 20})
    for name in ("", DEMO, "mono-single-lines"):
        with pytest.raises(PlanError, match="stays as it is; type a name"):
            store.save(name)
    with pytest.raises(PlanError, match="keeps its name"):
        store.rename("other")
    assert (folder / DEMO).read_bytes() == before
    assert store.save("tonight") == "Saved as plans/tonight.toml."
    assert at(folder, GOAL, "plans/tonight.toml") == 20
    assert not drafts(folder)


@pytest.mark.parametrize("text", ["sky = [", "", "[sky]\nbortle = 12\n"])
def test_a_plan_that_cannot_be_read_leaves_a_sentence_and_a_demo(folder, text):
    PlanStore(folder).open(MINE)
    (folder / MINE).write_text(text)
    store = PlanStore(folder)
    assert store.trouble.endswith("load it again.")
    assert store.wanted == MINE
    assert store.demo
    assert store.plan.solve()
    Plan.read(folder / DEMO).save(folder / MINE)
    store.open(store.wanted)
    assert (store.name, store.trouble) == (MINE, "")


def test_a_plan_that_the_page_cannot_show_leaves_its_sentence_too(folder):
    def check(plan):
        if plan.case.goal.snr > 50:
            msg = "too much"
            raise ValueError(msg)

    Plan.read(folder / DEMO).with_values({GOAL: 100}).save(folder / MINE)
    store = PlanStore(folder, MINE, check)
    assert store.trouble.startswith("too much. A demo is shown")
    with pytest.raises(PlanError, match="too much"):
        store.open(MINE)
    assert store.demo


# Unsaved changes


def test_unsaved_changes_are_back_after_a_reload_and_can_be_taken_out(folder):
    store = PlanStore(folder, MINE)
    change(store, {GOAL: 20, ("routine", "clip"): None})
    again = PlanStore(folder)
    assert again.news.startswith("Unsaved changes of ")
    assert (again.plan.case.goal.snr, again.unsaved) == (20, True)
    assert at(folder, GOAL) != 20
    assert again.undo().values == again.plan.values == Plan.read(folder / MINE).values
    again.keep_draft()
    assert not drafts(folder)
    assert PlanStore(folder).news == ""


def test_changes_of_two_pages_are_both_back(folder):
    one, other = PlanStore(folder, MINE), PlanStore(folder, MINE)
    change(one, {GOAL: 20})
    change(other, {PATCH: "33 arcsec"})
    again = PlanStore(folder, MINE)
    assert (again.plan.values["goal"]["snr"], again.plan.values["target"]["patch"]) == (20, "33 arcsec")
    again.save()
    assert not drafts(folder)
    change(one, {GOAL: 30})
    assert PlanStore(folder, MINE).plan.case.goal.snr == 30


def test_what_was_saved_is_no_draft_any_more(folder):
    store = PlanStore(folder, MINE)
    change(store, {GOAL: 20})
    assert drafts(folder)
    store.save()
    assert not drafts(folder)
    assert not store.unsaved


def test_load_goes_back_to_what_was_saved_and_undo_brings_the_changes_back(folder):
    store = PlanStore(folder, MINE)
    change(store, {GOAL: 20})
    assert store.open(MINE).case.goal.snr != 20
    assert not drafts(folder)
    assert store.undo().case.goal.snr == 20


@pytest.mark.parametrize(
    "damage", ["", "{", "[]", '{"a": 3}', '{"a": {"base": "x", "values": {}, "gone": [], "at": 1}}']
)
def test_a_damaged_draft_is_passed_over(folder, damage):
    (folder / "plans/.mine.toml.unsaved").write_text(damage)
    store = PlanStore(folder, MINE)
    assert (store.news, store.unsaved) == ("", False)
    change(store, {GOAL: 20})
    assert PlanStore(folder, MINE).plan.case.goal.snr == 20


def test_where_no_draft_can_be_kept_it_says_so(folder, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    store = PlanStore(folder, MINE)
    store.note(store.plan.with_values({GOAL: 20}))
    monkeypatch.setattr("os.fsync", full)
    assert "No space left on device" in store.keep_draft()
    assert store.plan.case.goal.snr == 20


# Undo


def test_a_dragged_slider_is_one_step_and_two_values_are_two(folder):
    store = PlanStore(folder, MINE)
    first = store.plan
    for snr in (11, 12, 13):
        change(store, {GOAL: snr})
    change(store, {PATCH: "33 arcsec"})
    change(store, {GOAL: 14})
    assert store.undo().case.goal.snr == 13
    assert "33" in store.plan.values["target"]["patch"]
    store.undo()
    assert store.undo().values == first.values
    assert store.undo() is None


# Two writers


def test_two_pages_that_change_different_places_keep_both(folder):
    one, other = PlanStore(folder, MINE), PlanStore(folder, MINE)
    change(one, {GOAL: 20})
    change(other, {PATCH: "33 arcsec"})
    one.save()
    said = other.save()
    assert said == f"Saved as {MINE}, with what was changed there meanwhile: goal, snr."
    assert (at(folder, GOAL), at(folder, PATCH)) == (20, "33 arcsec")
    assert other.plan.case.goal.snr == 20


def test_the_same_place_asks_and_writes_nothing_until_one_is_chosen(folder):
    one, other = PlanStore(folder, MINE), PlanStore(folder, MINE)
    change(one, {GOAL: 20})
    change(other, {GOAL: 30, PATCH: "33 arcsec"})
    one.save()
    with pytest.raises(Clash, match="goal, snr is 30 here and 20 in the file"):
        other.save()
    assert (at(folder, GOAL), other.plan.case.goal.snr) == (20, 30)


@pytest.mark.parametrize(("prefer", "kept", "back"), [("mine", 30, 20), ("theirs", 20, 30)])
def test_the_chosen_version_is_written_and_undo_has_the_other(folder, prefer, kept, back):
    one, other = PlanStore(folder, MINE), PlanStore(folder, MINE)
    change(one, {GOAL: 20})
    change(other, {GOAL: 30, PATCH: "33 arcsec"})
    one.save()
    other.save(prefer=prefer)
    assert (at(folder, GOAL), at(folder, PATCH)) == (kept, "33 arcsec")
    assert (other.plan.case.goal.snr, other.unsaved) == (kept, False)
    assert other.undo().case.goal.snr == back


def test_changes_that_do_not_go_together_are_asked_about(folder):
    Plan.read(folder / MINE).with_values({SKY: None, ("sky", "bortle"): 6}).save(folder / MINE)
    one, other = PlanStore(folder, MINE), PlanStore(folder, MINE)
    change(one, {("sky", "bortle"): None, SKY: "19 mag/arcsec2"})
    change(other, {("sky", "bortle"): None, ("sky", "luminance"): "0.002 cd/m2"})
    one.save()
    with pytest.raises(Clash, match="don't go together"):
        other.save()
    other.save(prefer="theirs")
    assert at(folder, ("sky",)) == one.plan.values["sky"]
    assert other.undo().values["sky"]["luminance"] == "0.002 cd/m2"


def test_comments_that_another_program_wrote_stay(folder):
    store = PlanStore(folder, MINE)
    (folder / MINE).write_text("# theirs\n" + (folder / MINE).read_text())
    change(store, {GOAL: 20})
    assert store.save() == f"Saved as {MINE}."
    assert (folder / MINE).read_text().startswith("# theirs\n")
    assert at(folder, GOAL) == 20


def test_a_file_that_another_program_broke_is_not_written_over(folder):
    store = PlanStore(folder, MINE)
    change(store, {GOAL: 20})
    (folder / MINE).write_text("half a pl")
    with pytest.raises(PlanError, match="can't be read"):
        store.save()
    assert (folder / MINE).read_text() == "half a pl"
    store.save("rescued")
    assert at(folder, GOAL, "plans/rescued.toml") == 20


def test_a_file_that_is_gone_is_written_again(folder):
    store = PlanStore(folder, MINE)
    (folder / MINE).unlink()
    assert "written again" in store.save()
    assert (folder / MINE).is_file()


def test_another_plan_is_never_written_over(folder):
    store = PlanStore(folder)
    before = (folder / MINE).read_bytes()
    for act in (lambda: store.save("mine"), lambda: store.save(MINE)):
        with pytest.raises(PlanError, match="holds another plan"):
            act()
    assert (folder / MINE).read_bytes() == before


def test_writers_at_the_same_time_lose_no_change(folder):
    places = [GOAL, ("routine", "clip"), ("target", "patch"), ("target", "altitude")]
    values = [20, 2.5, "33 arcsec", "55 deg"]
    start = threading.Barrier(4)

    def write(number):
        store = PlanStore(folder, MINE)
        change(store, {places[number]: values[number]})
        start.wait()
        store.save()

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(write, range(4)))
    assert [at(folder, place) for place in places] == values


NUMBERS = st.sampled_from([5, 10, 20, 30])
CHANGES = st.fixed_dictionaries(
    {},
    optional={GOAL: NUMBERS, ("routine", "darks"): NUMBERS | st.none(), ("routine", "flats"): NUMBERS | st.none(),
              ("filters", 0, "name"): st.sampled_from(["a", "b"])},
)  # fmt: skip


@given(mine=CHANGES, theirs=CHANGES)
def test_merging_loses_no_value(mine, theirs):
    base = Plan.read(shipped() / DEMO)
    one, other = base.with_values(mine), base.with_values(theirs)
    found = merge(base, one, other)

    def value(plan, where):
        at = plan.values
        for step in where:
            at = at.get(step) if isinstance(step, str) else at[step]
            if at is None:
                return None
        return at

    places = {differs.where for differs in found.differs}
    for where in {*mine, *theirs}:
        before, ours, his = (value(plan, where) for plan in (base, one, other))
        if ours != before and his != before and ours != his:
            assert any(where[: len(place)] == place for place in places)
        elif found.plan is not None:
            assert value(found.plan, where) == (his if ours == before else ours)
    if mine and not theirs:
        assert found.plan.values == one.values


def test_a_place_is_said_as_people_count():
    assert say_place(("target", "light", 1, "brightness")) == "target, light 2, brightness"


# More than one plan


def test_new_copy_and_rename(folder):
    store = PlanStore(folder)
    change(store, {GOAL: 20})
    assert "plans/mono-single-lines-copy.toml" in store.copy()
    assert at(folder, GOAL, store.name) == 20
    change(store, {GOAL: 25})
    assert store.rename("tonight") == "plans/mono-single-lines-copy.toml is plans/tonight.toml now."
    assert not (folder / "plans/mono-single-lines-copy.toml").exists()
    assert (at(folder, GOAL, store.name), store.plan.case.goal.snr, store.unsaved) == (20, 25, True)
    assert PlanStore(folder).plan.case.goal.snr == 25
    for name in ("tonight", "mine"):
        with pytest.raises(PlanError, match=r"Type the new name|holds another plan"):
            store.rename(name)
    assert "plans/new-plan.toml" in store.new()
    assert "plans/new-plan-2.toml" in store.new()


def test_a_brought_file_is_taken_in_only_if_it_is_a_plan(folder):
    store = PlanStore(folder)
    data = (folder / MINE).read_bytes()
    assert "plans/mine-2.toml" in store.take_in("mine.toml", data)
    assert (folder / "plans/mine-2.toml").read_bytes() == data
    before = store.names()
    for name, bad in (("a.toml", b"sky = ["), ("b.toml", b"\xff"), ("c.toml", b" " * 2_000_000), (".x.toml", data)):
        with pytest.raises(PlanError):
            store.take_in(name, bad)
    assert store.names() == before
    assert "plans/up.toml" in store.take_in("../../up.toml", data)


@pytest.mark.parametrize(
    "name",
    [
        "", " ", "../up", "a/../b", "/up", ".hidden", "a/.b", "a\nb", "a:b", "a\\b", "con", "plans/NUL.toml", "dot.",
        "half \ud83d", "a\0b",
    ],
)  # fmt: skip
def test_names_follow_the_rules_of_all_systems(folder, name):
    for call in (lambda: checked_stem(folder, name, ".toml"), lambda: PlanFiles(folder).path(name)):
        with pytest.raises(PlanError):
            call()


@pytest.mark.skipif(os.name == "nt", reason="links need rights")
def test_links_in_a_circle_are_refused_in_a_sentence(folder):
    (folder / "plans/circle.toml").symlink_to("circle.toml")
    (folder / "plans/ring").symlink_to("ring")
    store = PlanStore(folder)
    for name in ("circle", "ring/a"):
        for act in (store.open, store.save):
            with pytest.raises(PlanError):
                act(name)
    assert MINE in store.names()


def test_the_note_of_the_last_plan_holds_a_name_and_nothing_else(folder):
    PlanStore(folder).open(MINE)
    assert json.loads((folder / AT_HAND).read_text()) == {"plan": MINE}
