"""A real server over the invented firm, and headless Chromium signed in by role."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from datetime import date, timedelta
from pathlib import Path

import pytest

from firm.management.commands.demo import PASSWORD
from tests.browser.pages import Site

ROOT = Path(__file__).parents[2]
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


@pytest.fixture(scope="session")
def site(tmp_path_factory):
    """The invented firm up to today behind a real server, both gone afterwards."""
    folder = tmp_path_factory.mktemp("site")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "DJANGO"))}
    environment |= {"DATABASE_URL": f"sqlite:///{folder}/firm.sqlite3", "DATA_DIR": str(folder), "DEBUG": "1"}
    manage = [sys.executable, "manage.py"]
    subprocess.run([*manage, "demo", "--no-serve", "-v0"], cwd=ROOT, env=environment, check=True, capture_output=True)
    last = date.today() - timedelta(days=1)
    for lists in (["friday_list", "-v0"], ["back_test", "-v0", "--first", str(last - timedelta(days=30))]):
        subprocess.run([*manage, *lists], cwd=ROOT, env=environment, check=True, capture_output=True)
    papers = [sys.executable, "-m", "tests.browser.papers"]
    subprocess.run(papers, cwd=ROOT, env=environment, check=True, capture_output=True)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    log = folder / "server.log"
    with log.open("wb") as said:
        server = subprocess.Popen(
            [*manage, "runserver", "--noreload", str(port)], cwd=ROOT, env=environment, stdout=said, stderr=said
        )
    try:
        _wait_for(f"http://127.0.0.1:{port}/healthy/", server, log)
        yield Site(f"http://127.0.0.1:{port}", folder / "firm.sqlite3")
    finally:
        server.terminate()
        server.wait(10)


def _wait_for(url, server, log, seconds=120):
    last = time.monotonic() + seconds
    while time.monotonic() < last and server.poll() is None:
        try:
            with urllib.request.urlopen(url, timeout=2):
                return
        except OSError:
            time.sleep(0.2)
    raise RuntimeError(f"The server did not answer at {url}: {log.read_text()[-2000:]}")


@pytest.fixture(scope="session")
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"), args=ARGUMENTS
        )
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def signed_in(site, chromium):
    """role -> the cookies of somebody who signed in as that; None has none."""
    states = {None: None}

    def state_of(role):
        if role not in states:
            context = chromium.new_context()
            page = context.new_page()
            page.goto(site.url + "/sign-in/")
            page.fill("[name=username]", site.name_of(role))
            page.fill("[name=password]", PASSWORD)
            page.click("main button")
            states[role] = context.storage_state()
            context.close()
        return states[role]

    return state_of


@pytest.fixture
def open_page(site, chromium, signed_in):
    """open_page(role, address, width=1280, scheme="light", scripts=True) -> a page, closed after the test."""
    contexts = []

    def opened(role, address, width=1280, scheme="light", *, scripts=True):
        context = chromium.new_context(
            viewport={"width": width, "height": 844},
            color_scheme=scheme,
            reduced_motion="reduce",
            storage_state=signed_in(role),
            java_script_enabled=scripts,
        )
        contexts.append(context)
        page = context.new_page()
        if scripts:
            page.add_init_script("window.violations = []; document.addEventListener('securitypolicyviolation', "
                                 "(e) => violations.push(e.violatedDirective + ' ' + e.blockedURI))")  # fmt: skip
        first, _, link = address.partition(" > ")
        page.goto(site.url + first)
        if link:
            page.goto(site.url + page.locator(link).first.get_attribute("href"))
        return page

    yield opened
    for context in contexts:
        context.close()
