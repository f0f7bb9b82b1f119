"""The panel on frames under a reader's hands: it opens with simulated frames and measures what the boxes name."""

import re
import subprocess
import sys

import pytest

pytestmark = pytest.mark.browser

HEADLINE = ".expo-headline"


@pytest.fixture
def panel(screen):
    """The notebook's page, its first frame measured."""
    screen.open("frames.ipynb")
    screen.wait_live()
    screen.wait_until(lambda: screen.source("cells") and screen.source("cells")["level"])
    screen.page.locator(".expo-panel").first.scroll_into_view_if_needed()
    return screen


def button(screen, words):
    return screen.page.locator(f".expo-panel button:has-text('{words}')").first


def headline(screen):
    return screen.page.locator(HEADLINE).first.inner_text()


FIGURE = """() => {
  const figures = Bokeh.documents.flatMap(d => [...d._all_models.values()]).filter(m => m.type === 'Figure');
  return figures.find(f => f.renderers.some(r => r.data_source.name === 'frame'));
}"""
# Data of a pixel of the screen across and down: the same where the sky keeps its shape
SHAPE = (
    f"() => {{ const picture = ({FIGURE})();"
    + """
  if (!picture?.inner_width) return [0, 1];
  return [(picture.x_range.end - picture.x_range.start) / picture.inner_width,
          (picture.y_range.start - picture.y_range.end) / picture.inner_height];
}"""
)


def beside(panel):
    """Share of the figure's frame, across or down, that is dark ground beside the picture."""
    across, down = panel.page.evaluate(SHAPE)
    (columns,), (rows,) = panel.source("frame")["dw"], panel.source("frame")["dh"]
    wide, high = panel.page.evaluate(f"() => [({FIGURE})().inner_width, ({FIGURE})().inner_height]")
    return max(1 - columns / (across * wide), 1 - rows / (down * high))


def alike(pair):
    return pair[0] == pytest.approx(pair[1], rel=0.01)


KERNEL = "() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel"


def test_a_hand_and_work_in_the_background_change_a_panel_one_after_the_other(panel):
    """Whatever the page says comes to the thread that runs the cells, where the background's steps run too."""
    assert panel.page.evaluate(f"{KERNEL}.commsOverSubshells") == "disabled"


def test_it_opens_with_a_demo_sub_and_a_click_says_the_value(panel):
    panel.wait_until(lambda: headline(panel).startswith("Keep going with"))
    panel.page.evaluate("() => document.querySelector('.bk-Canvas, canvas')?.scrollIntoView({block: 'center'})")
    canvas = panel.page.locator(".bk-Figure").first
    box = canvas.bounding_box()
    panel.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    panel.wait_until(lambda: panel.source("clicked")["words"])
    (said,) = panel.source("clicked")["words"]
    row, column, value = (int(number) for number in re.findall(r"\d+", said)[:3])
    assert said.endswith("ADU (mean of 2 x 2 pixels)")
    assert 0 < row < 640
    assert 0 < column < 960
    assert 400 < value < 60000
    panel.wait_until(lambda: alike(panel.page.evaluate(SHAPE)))
    panel.page.set_viewport_size({"width": 700, "height": 900})
    panel.wait_until(lambda: alike(panel.page.evaluate(SHAPE)))
    panel.wait_until(lambda: beside(panel) < 0.02)
    panel.page.set_viewport_size({"width": 390, "height": 844})
    panel.wait_until(lambda: panel.page.evaluate(f"() => ({FIGURE})().outer_width") < 390)
    panel.wait_until(lambda: beside(panel) < 0.02)


def test_the_sky_goes_into_the_plan_and_a_wrong_file_is_named(panel):
    button(panel, "Put this sky into the plan").click()
    panel.page.locator(".expo-done:has-text('is this now')").wait_for()
    panel.page.locator(".expo-panel:has-text('not saved')").first.wait_for()
    panel.type_into("Frame", "plans/mono-single-lines.toml")
    button(panel, "Measure").click()
    panel.page.locator(".expo-wrong:has-text('mono-single-lines.toml is no FITS file')").first.wait_for()
    assert headline(panel).startswith("Keep going with")


# Whether all numbers of a column lie between the ends of the figure's axis that goes up
SEEN = """([name, column]) => {
  const figures = Bokeh.documents.flatMap(d => [...d._all_models.values()]).filter(m => m.type === 'Figure');
  const fig = figures.find(f => f.renderers.some(r => r.data_source.name === name));
  const source = fig.renderers.map(r => r.data_source).find(one => one.name === name);
  const data = source.data instanceof Map ? Object.fromEntries(source.data) : source.data;
  return data[column].length > 0 && Array.from(data[column]).every(y => fig.y_range.start < y && y < fig.y_range.end);
}"""


def sees(panel, name, column):
    panel.wait_until(lambda: panel.page.evaluate(SEEN, [name, column]))


def test_all_views_measure_their_demo(panel):
    button(panel, "Camera").click()
    panel.wait_until(lambda: panel.source("photon transfer") and panel.source("photon transfer")["level"])
    panel.page.locator(f"{HEADLINE}:has-text('the camera is what the plan says')").wait_for()
    sees(panel, "photon transfer", "variance")
    sees(panel, "dark current", "rate")
    button(panel, "Morning after").click()
    panel.wait_until(lambda: panel.source("kept sky") and panel.source("kept sky")["sky"])
    for name in ("sky", "light", "width"):
        sees(panel, f"kept {name}", name)
    kept = len(panel.source("kept sky")["sky"])
    panel.page.locator(f"{HEADLINE}:has-text('{kept} of 24 subs kept')").wait_for()
    tick = panel.page.locator(".expo-panel .widget-checkbox input").first
    tick.check()  # a person keeps what was left out
    panel.page.locator(f"{HEADLINE}:has-text('{kept + 1} of 24 subs kept')").wait_for()
    button(panel, "Add to the ledger").click()
    panel.page.locator(".expo-done:has-text('The ledger holds 24 subs of 1 night now')").wait_for()
    assert (panel.lab.folder / "frames" / "ledger.ecsv").exists()
    button(panel, "Stack").click()
    panel.wait_until(lambda: panel.source("noise by subs") and panel.source("noise by subs")["noise"])
    sees(panel, "noise by subs", "noise")
    sees(panel, "noise by block", "noise")
    panel.wait_until(lambda: str(kept + 1) in headline(panel))


@pytest.fixture(scope="module")
def own(lab, tmp_path_factory):
    """Function from a plan's file to a folder elsewhere with frames of it, written by the command."""

    def written(plan, subs=12):
        place = tmp_path_factory.mktemp("my frames")
        assert lab.address  # the plans are there from then on
        command = [sys.executable, "-m", "expocalc.frames", "simulate", lab.folder / "plans" / plan, place]
        wanted = ["--seed", "5", "--subs", subs, "--biases", 2, "--flats", 5, "--darks", 1, "--warmer", 0, 10]
        command += [*wanted, "--size", 480, 320, "--sub", 300]
        subprocess.run([str(one) for one in command], check=True, capture_output=True)
        return place

    return written


def visible_box(screen, label):
    """The box of that label in the view that is looked at: several views have one."""
    named = screen.page.locator(f".widget-label:text-is('{label}')")
    return screen.page.locator(".jupyter-widgets:visible", has=named).last.locator("input[type=text]")


def test_frames_of_ones_own_go_through_every_view(panel, own):
    place = own("mono-single-lines.toml", subs=16)

    def measure(label, path):
        box = visible_box(panel, label)
        box.fill(str(path))
        box.press("Enter")
        panel.page.locator(".expo-panel button:text-is('Measure'):visible").first.click()

    demo = panel.source("cells")["level"]
    measure("Frame", place / "sub_0001.fits")
    panel.wait_until(lambda: panel.source("cells")["level"] != demo)
    panel.page.locator(f"{HEADLINE}:has-text('Keep going with')").first.wait_for()
    button(panel, "Camera").click()
    panel.wait_until(lambda: panel.source("photon transfer") and len(panel.source("photon transfer")["level"]) == 7)
    measure("Folder", place)
    panel.wait_until(lambda: len(panel.source("photon transfer")["level"]) == 5)
    button(panel, "Morning after").click()
    panel.wait_until(lambda: panel.source("kept sky") and panel.source("kept sky")["sky"])
    measure("Folder", place)
    panel.page.locator(f"{HEADLINE}:has-text('of 16 subs kept')").first.wait_for()
    button(panel, "Stack").click()
    panel.wait_until(lambda: panel.source("noise by subs") and panel.source("noise by subs")["noise"])
    measure("Folder", place)
    panel.page.locator(f"{HEADLINE}:has-text('16 subs: the grain is')").first.wait_for()


def test_reading_shows_how_far_it_is_and_can_be_stopped(panel, own):
    place = own("mono-single-lines.toml", subs=60)
    button(panel, "Morning after").click()
    panel.wait_until(lambda: panel.source("kept sky") and panel.source("kept sky")["sky"])
    panel.wait_idle()
    before = headline(panel)
    panel.type_into("Folder", str(place))  # there is no other view with such a box yet
    panel.press_once_it_stands("Stop")
    panel.page.locator(".expo-panel button:text-is('Measure'):visible").click()
    panel.page.locator(".expo-panel :text('Night: stopped.')").first.wait_for()
    panel.wait_idle()
    assert headline(panel) == before  # what was known stays
    button(panel, "Test sub").click()  # and the page lives
    panel.page.locator(f"{HEADLINE}:has-text('Keep going with')").first.wait_for()
    button(panel, "Morning after").click()
    panel.page.locator(".expo-panel button:text-is('Go on'):visible").click()
    panel.page.locator(f"{HEADLINE}:has-text('of 60 subs kept')").first.wait_for()
