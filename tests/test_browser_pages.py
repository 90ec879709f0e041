"""Every page that has an address of its own is among those that the browser tests open."""

import inspect
import re

import pytest
from django.urls import get_resolver

from tests.browser.pages import NUMBERS, PAGES

NO_PAGE = {"healthy", "home", "sign_out"}  # an answer for machines, and two that lead elsewhere


def patterns(resolver, prefix=""):
    for one in resolver.url_patterns:
        if hasattr(one, "url_patterns"):
            yield from patterns(one, prefix + str(one.pattern))
        else:
            yield f"/{prefix}{one.pattern}", one


def readable(view):
    """Whether the view answers GET: one that only takes what is posted has no page."""
    written = inspect.getsource(inspect.getmodule(inspect.unwrap(view)))
    above = re.search(rf"((?:@.*\n)*)def {inspect.unwrap(view).__name__}\(", written)
    return "@require_POST" not in (above[1] if above else "")


OWN = [
    pytest.param(address, id=one.name)
    for address, one in patterns(get_resolver())
    if not address.startswith(("/admin/", "/api/")) and one.name not in NO_PAGE and readable(one.callback)
]


@pytest.mark.parametrize("address", OWN)
def test_the_browser_opens_it(address):
    wanted = re.sub(r"<int:\w+>", r"\\{\\w+\\}", address)
    wanted = re.sub(r"<slug:\w+>", r"[0-9a-f]+", wanted)
    opened = [pattern.split("?")[0] for _, pattern in PAGES.values()]
    assert any(re.fullmatch(wanted, one) for one in opened), f"tests/browser/pages.py lacks {address}"


def test_every_word_of_an_address_has_its_query():
    assert {word for _, pattern in PAGES.values() for word in re.findall(r"\{(\w+)\}", pattern)} == {*NUMBERS}
