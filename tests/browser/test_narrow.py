"""Figures on a telephone's page: nothing they say is cut, and back on a wide page they are as they were."""

import math

import pytest

pytestmark = pytest.mark.browser

# How a figure with that source stands on the page; words have 7 px a letter at most.
STANDS = """name => {
  const models = Bokeh.documents.flatMap(d => [...d._all_models.values()]);
  const fig = models.find(m => m.type === 'Figure' && m.renderers.some(r => r.data_source.name === name));
  const source = fig.renderers.map(r => r.data_source).find(one => one.name === name);
  const ends = fig.renderers.find(r => r.name === 'words at the end');
  return {across: fig.inner_width / fig.outer_width, width: fig.outer_width, title: fig.title.text,
          room: fig.min_border_right, align: ends.glyph.text_align.value ?? 'left', inner: fig.inner_width,
          low: fig.x_range.start, high: fig.x_range.end, data: Object.fromEntries(
            source.data instanceof Map ? source.data : Object.entries(source.data))};
}"""


def stands(screen, name):
    return screen.page.evaluate(STANDS, name)


def is_narrow(shown):
    return 0 < shown["width"] < 430 and shown["room"] <= 20


def test_curves_have_room_and_their_words_are_inside(screen):
    screen.open("hours.ipynb")
    screen.wait_live()
    wide = stands(screen, "marks")
    screen.page.set_viewport_size({"width": 390, "height": 844})
    screen.wait_until(lambda: is_narrow(stands(screen, "marks")))
    narrow = stands(screen, "marks")
    assert narrow["across"] > 0.6
    assert narrow["align"] == "right"
    assert all(7.8 * len(line) < narrow["width"] - 30 for line in narrow["title"].split("\n"))
    assert " ".join(narrow["title"].split()) == wide["title"]
    screen.press("Line brightness")  # a change sent by the kernel keeps it narrow
    screen.wait_until(lambda: stands(screen, "marks")["data"]["label"] != wide["data"]["label"])
    assert is_narrow(stands(screen, "marks"))
    screen.page.set_viewport_size({"width": 1366, "height": 768})
    screen.wait_until(lambda: stands(screen, "marks")["width"] > 430 and stands(screen, "marks")["room"] > 100)
    back = stands(screen, "marks")
    assert (back["title"], back["align"]) == (wide["title"], "left")


def test_words_at_the_limits_are_whole(screen):
    screen.open("sub_length.ipynb")
    screen.wait_live()
    screen.page.set_viewport_size({"width": 390, "height": 844})
    screen.wait_until(lambda: is_narrow(stands(screen, "bounds")))

    def cut():
        shown = stands(screen, "bounds")
        columns = shown["data"]
        words = zip(columns["sub_s"], columns["words"], columns["offset"], columns["align"], strict=True)
        return [said for place, said, offset, align in words if not inside(shown, place, said, offset, align)]

    screen.wait_until(lambda: not cut())
    assert len(stands(screen, "bounds")["data"]["words"]) == 3


def inside(shown, place, said, offset, align):
    """Whether words begin and end within the figure's frame and the room at its right."""
    share = math.log(place / shown["low"]) / math.log(shown["high"] / shown["low"])
    begin = share * shown["inner"] + offset - (6.6 * len(said) if align == "right" else 0)
    return begin > -1 and begin + 6.6 * len(said) < shown["inner"] + shown["room"] + 1


CUT = """() => [...document.querySelectorAll('.expo-panel button.expo-fold')]
  .filter(head => head.checkVisibility() && head.scrollHeight > head.clientHeight).map(head => head.textContent)"""
"""Heads of folded controls that are lower than their words."""


def test_a_folded_line_is_whole(screen):
    screen.open("compare.ipynb")
    screen.wait_live()
    heads = screen.page.locator(".expo-panel button.expo-fold:visible")
    one_line = {head.bounding_box()["height"] for head in heads.all()}
    assert one_line == {27}
    screen.page.set_viewport_size({"width": 390, "height": 844})
    screen.wait_until(lambda: max(head.bounding_box()["height"] for head in heads.all()) > 27)
    assert screen.page.evaluate(CUT) == []
