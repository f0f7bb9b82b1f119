import runpy
from pathlib import Path
import pytest
pytestmark = pytest.mark.browser
K = runpy.run_path(str(Path(__file__).with_name("test_plan.py")))
OUT = Path("/tmp/gearshots")

def shot(screen, name):
    screen.page.wait_for_timeout(1500)
    screen.page.screenshot(path=str(OUT / f"{name}.png"))

def test_shots(start_lab, page_of, tmp_path):
    lab = start_lab(tmp_path / "mine")
    s = page_of(lab)
    K["open_page"](s)
    shot(s, "plan-demo")
    s.page.locator(".expo-panel button:text-is('From nothing')").click()
    s.wait_until(lambda: "things are missing" in K["headline"](s))
    shot(s, "plan-nothing-1366")
    for w, h in ((1920, 1080), (390, 844)):
        s.page.set_viewport_size({"width": w, "height": h}); shot(s, f"plan-nothing-{w}")
    s.page.set_viewport_size({"width": 1366, "height": 768})
    s.type_into("Bortle class", "6-7"); s.wait_idle()
    s.open("hours.ipynb", afresh=False); s.wait_live()
    shot(s, "hours-sketch")
    link = s.page.locator(".expo-plan a:has-text('Complete it')")
    with s.page.context.expect_page() as new:
        link.click()
    new.value.locator(".expo-headline").first.wait_for(timeout=60000)
    print("LINK", new.value.url)
    s.open("sub_length.ipynb"); s.wait_live(); shot(s, "sub-1366")
    s.page.locator(".expo-panel button:has-text('▸ Sky by a test sub')").first.click()
    s.page.locator(".widget-label:text-is('Median, ADU')").wait_for()
    s.type_into("Median, ADU", "560"); s.type_into("Test sub's length", "120")
    s.wait_idle(); shot(s, "sub-measured")
    s.page.locator(".expo-panel button:text-is('Put this sky into the plan')").click(); s.wait_idle(); shot(s, "sub-measured-in")
    s.page.locator(".expo-plan input").first.fill("plans/colour-dual-band.toml")
    s.page.locator(".expo-plan button:text-is('Load')").first.click()
    s.wait_idle(); shot(s, "sub-colour")
    s.open("hours.ipynb"); s.wait_live(); s.wait_idle()
    s.page.locator("button:text-is('See it')").click(); s.wait_idle(); shot(s, "seen")
    s.page.set_viewport_size({"width": 1920, "height": 1080}); shot(s, "seen-1920")
