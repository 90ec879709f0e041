"""The whole job in a browser: a call, a booking, a part fitted on the phone, its charge. With scripts and without."""

import re

import pytest

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_a_call_becomes_a_job_a_fitted_part_and_money(site, open_page, scripts):
    office = open_page("office", "/jobs/new/", scripts=scripts)
    number = _take_the_call(office)
    _book(office, site)
    phone = open_page("engineer", "/today/", 390, scripts=scripts)
    part = _fit_a_part(phone, office.url)
    office.reload()
    text = office.inner_text("main")
    assert number in text
    assert "Fixed" in text
    assert part in text
    _charge(office)
    assert "£99.00" in office.inner_text("main")
    assert "Margin over charges" in office.inner_text("main")


def _take_the_call(page):
    """Find the appliance by street, read the questions, take the job in. Return the job's number."""
    page.fill("#who", "weir terrace")
    page.click("text=Look")
    page.click("text=Take this one >> nth=0")
    page.check("input[name=symptoms] >> nth=0")
    page.fill("[name=words]", "It went off in the night")
    page.click("text=Take the job in")
    assert re.search(r"/jobs/\d+/$", page.url)
    return page.inner_text("h1").split()[-1]


def _book(page, site):
    """Book the engineer for today. The form stands open where a job has no visit."""
    page.check(f"label:has-text('{site.engineer_name.capitalize()}') input[name=engineers]")
    page.fill("[name=time]", "16:45")
    page.click("text=Book it")
    assert "16:45" in page.inner_text("main")


def _fit_a_part(page, job_url):
    """On the phone: today, the visit, which part, why, fitted, how it ended. Return the part's words."""
    page.locator("li.visit", has_text="16:45").last.locator("h2 a").click()
    assert "It went off in the night" in page.inner_text("main")
    page.click("text=Fit a part")
    assert "Before you open it" in page.inner_text("main")
    page.locator("a.choice.part").first.click()
    part = page.inner_text(".card b")
    if page.locator("select[name=component]").count():
        page.select_option("select[name=component]", index=1)
    page.click("button:has-text('Fitted')")
    assert f"Fitted: {part}" in page.inner_text("main")
    page.click("text=How it ended")
    page.check("input[value=fixed]")
    page.fill("[name=minutes]", "40")
    page.click("button:has-text('Save')")
    assert "Fixed" in page.inner_text("main")
    return part


def _charge(page):
    page.locator("section[aria-labelledby=h-parts]").get_by_text("Charge", exact=True).last.click()
    page.fill("[name=amount_ex_vat]", "99")
    page.click("button:has-text('Charge')")
