"""Tables and charts in a real browser: with and without JavaScript, by keyboard, and on paper."""

import re

import pytest

from tests.browser.pages import PAGES

pytestmark = pytest.mark.browser


def test_a_table_sorts_and_filters_without_javascript(open_page):
    page = open_page("owner", "/failures/", scripts=False)
    page.get_by_role("link", name="Years in care").click()
    assert "sort=-exposure" in page.url
    page.get_by_label("Name").fill("pump")
    page.get_by_role("button", name="Show").click()
    assert "q=pump" in page.url
    assert "sort=-exposure" in page.url
    shown = page.locator("#table-main tbody th").all_inner_texts()
    assert shown
    assert all("pump" in text.lower() for text in shown)


def test_with_javascript_only_the_table_changes_and_the_address_can_be_sent(open_page):
    page = open_page("owner", "/failures/")
    page.evaluate("document.querySelector('h1').dataset.mine = 'yes'")
    page.get_by_role("link", name="Component", exact=True).click()
    page.locator("th[aria-sort=ascending]", has_text="Component").wait_for()
    assert page.evaluate("document.querySelector('h1').dataset.mine") == "yes"
    assert "sort=name" in page.url
    assert page.evaluate("document.activeElement.id") == "table-main-sort-name"
    page.reload()
    assert page.locator("th[aria-sort]").inner_text().strip() == "Component"
    assert page.evaluate("violations") == []


def test_a_chart_reads_out_its_values_by_arrow_keys_and_by_pointer(open_page, site):
    page = open_page("owner", site.path(PAGES["component"][1]))
    chart = page.locator("#life svg[data-chart]")
    chart.focus()
    page.keyboard.press("ArrowRight")
    said = page.locator("#life output")
    assert re.match(r"Age 0: 100", said.inner_text())
    page.keyboard.press("End")
    assert re.match(r"Age \d+: \d", said.inner_text())
    box = chart.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 20)
    assert re.match(r"Age \d+: \d", said.inner_text())


def test_every_picture_has_a_name_a_description_and_a_table_behind_it(open_page, site):
    page = open_page("owner", site.path(PAGES["component"][1]), scripts=False)
    for figure in page.locator("figure.chart").all():
        name, description = figure.locator("svg title").text_content(), figure.locator("svg desc").text_content()
        assert len(name) > 10
        assert len(description) > 10
        least = 1 if figure.get_attribute("id") == "added" else 4  # one line for each age at which one failed
        assert figure.locator("details table tbody tr").count() >= least


def test_files_come_down_with_the_rows_of_the_view(open_page):
    page = open_page("owner", "/failures/?q=pump")
    with page.expect_download() as coming:
        page.get_by_role("link", name="CSV").click()
    lines = coming.value.path().read_text("utf-8-sig").splitlines()
    assert len(lines) == 1 + page.locator("#table-main tbody tr").count()


def test_settings_refuse_with_focus_on_the_wrong_field(open_page):
    page = open_page("owner", "/settings/")
    page.get_by_label("What a second visit costs the firm").fill("99999999999.00")
    page.get_by_role("button", name="Save").click()
    assert page.get_by_role("alert").is_visible()
    assert page.evaluate("document.activeElement.getAttribute('aria-invalid')") == "true"


def test_on_paper_stand_the_figures_and_not_the_controls(open_page, site):
    page = open_page("owner", site.path(PAGES["component"][1]))
    page.emulate_media(media="print")
    assert page.locator(".figures").is_visible()
    for gone in (".way", ".find", ".foot", "form.filters"):
        assert not page.locator(gone).first.is_visible()
