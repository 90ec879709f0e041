"""Every page of PAGES: WCAG 2.2 AA by axe, no broken Content-Security-Policy, no sideways scroll, nothing too small to
hit, and a keyboard walk with a ring on each stop."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.pages import PAGES

pytestmark = pytest.mark.browser
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LOOKS = [(width, scheme) for scheme in ("light", "dark") for width in (1280, 390, 320)]
TOO_SMALL = """() => [...document.querySelectorAll('a, button, input, select, textarea, summary')]
    .filter((e) => e.offsetParent && e.type !== 'hidden' && !e.closest('p, dd, th, td, .trail, .skip, .lines li'))
    .map((e) => [(e.closest('label') || e).getBoundingClientRect(), e.outerHTML.slice(0, 80)])
    .filter(([box]) => box.height < 24 || box.width < 24).map((pair) => pair[1])"""
FOCUS = """() => { const e = document.activeElement; if (!e || e === document.body) return null;
    const style = getComputedStyle(e.closest('.choice') || e), box = (e.closest('label') || e).getBoundingClientRect();
    const x = Math.min(box.x + box.width / 2, innerWidth - 2), y = box.y + Math.min(box.height / 2, 30);
    const top = document.elementFromPoint(x, y);
    const holder = e.closest('label') || e;
    return { what: e.outerHTML.slice(0, 90), ring: parseFloat(style.outlineWidth) >= 2 && style.outlineStyle !== 'none',
             free: !!top && (holder.contains(top) || top.contains(holder)) } }"""


@pytest.mark.parametrize("name", PAGES)
def test_page_is_accessible_at_every_width_in_light_and_dark(name, site, open_page):
    role, pattern = PAGES[name]
    address = site.path(pattern)
    assert address, f"the invented firm has no row for {pattern}"
    page = open_page(role, address)
    for width, scheme in LOOKS:
        page.set_viewport_size({"width": width, "height": 844})
        page.emulate_media(color_scheme=scheme)
        rules = ["color-contrast"] if scheme == "dark" else TAGS  # in the dark only colours differ
        found = Axe().run(page, options={"runOnly": rules, "resultTypes": ["violations"]})
        assert found.violations_count == 0, f"{name} at {width}, {scheme}: {found.generate_report()}"
        assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{name} scrolls sideways at {width}"
        assert page.evaluate(TOO_SMALL) == [], f"{name} at {width}"
    assert page.evaluate("violations") == [], name


@pytest.mark.parametrize(
    "name", ["this week", "failures", "component", "margins", "cash in stock", "settings", "today", "fit a part"]
)
def test_keyboard_reaches_everything_and_shows_where_it_is(name, site, open_page):
    role, pattern = PAGES[name]
    page = open_page(role, site.path(pattern), 390)
    seen = []
    for _ in range(60):
        page.keyboard.press("Tab")
        stop = page.evaluate(FOCUS)
        if stop is None or (seen and stop["what"] == seen[0]["what"]):
            break
        seen.append(stop)
    assert len(seen) >= 6
    assert [stop["what"] for stop in seen if not stop["ring"]] == []
    assert [stop["what"] for stop in seen if not stop["free"]] == []
