"""The shell: signing in, home and navigation by role, error pages, people, and what no template may hold."""

import re
from pathlib import Path

import pytest
from django.test import RequestFactory
from django.urls import reverse
from django.views.defaults import bad_request, server_error

from firm.models import Setting, User
from firm.tokens import issue
from tests.factories import OfficeFactory, OwnerFactory, UserFactory

ROOT = Path(__file__).parents[1]
TEMPLATES = [path for app in ("firm", "inventory", "jobs") for path in (ROOT / app / "templates").rglob("*.html")]
FORBIDDEN = {
    "a style attribute": r"\sstyle\s*=",
    "a script in the page": r"<script(?![^>]*\ssrc=)[^>]*>",
    "a style element": r"<style",
    "an inline handler": r"\son[a-z]+\s*=\s*[\"']",
    "hx-on": r"hx-on",
    "a filter in hx-trigger": r"hx-trigger=\"[^\"]*\[",
    "javascript in hx-vals": r"js:|javascript:",
    "an address outside": r"(?:src|href)=\"(?:https?:)?//",
}
ROLES = {"week": OwnerFactory, "job_list": OfficeFactory, "today": UserFactory}


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_needs_an_exception_from_the_content_security_policy(path):
    text = path.read_text()
    assert {what for what, pattern in FORBIDDEN.items() if re.search(pattern, text)} == set()


@pytest.mark.django_db
@pytest.mark.parametrize("name", ROLES)
def test_each_role_starts_on_its_own_page(client, name):
    client.force_login(ROLES[name]())
    assert client.get("/").headers["Location"] == reverse(name)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("factory", "page"), [(OwnerFactory, "week"), (OwnerFactory, "job_list"), (OfficeFactory, "part_list")]
)
def test_navigation_has_six_entries_at_most_and_marks_the_open_one(client, factory, page):
    client.force_login(factory())
    body = client.get(reverse(page)).content.decode()
    way = re.search(r'<nav class="way".*?</nav>', body, re.S).group(0)
    assert 4 <= way.count("<li") <= 6
    assert way.count('aria-current="true"') == 1


@pytest.mark.django_db
def test_an_engineer_has_four_tabs_and_no_owner_page(client):
    client.force_login(UserFactory())
    assert client.get(reverse("today")).content.decode().count('class="icon" aria-hidden="true"><use href="#i-') >= 4
    for name in ("week", "component_list", "margin_list", "cash_list", "settings", "people"):
        assert client.get(reverse(name)).status_code == 403


@pytest.mark.django_db
def test_the_office_sees_no_owner_page(client):
    client.force_login(OfficeFactory())
    for name in ("week", "component_list", "margin_list", "cash_list", "not_charged_list", "settings"):
        assert client.get(reverse(name)).status_code == 403
    assert client.get(reverse("people")).status_code == 200


@pytest.mark.django_db
def test_pages_ask_a_stranger_to_sign_in_and_bring_him_back(client):
    answer = client.get(reverse("week"))
    assert answer.headers["Location"] == f"{reverse('sign_in')}?next={reverse('week')}"


@pytest.mark.django_db
def test_the_sign_in_form_suits_password_managers(client):
    body = client.get(reverse("sign_in")).content.decode()
    assert 'autocomplete="username"' in body
    assert 'autocomplete="current-password"' in body
    assert "onpaste" not in body


@pytest.mark.django_db
def test_a_name_rests_after_eight_wrong_passwords_and_the_page_says_so(client):
    UserFactory(username="asha").set_password("right")
    for _ in range(8):
        answer = client.post(reverse("sign_in"), {"username": "asha", "password": "wrong"})
    assert answer.status_code == 429
    assert b"quarter of an hour" in answer.content


@pytest.mark.django_db
def test_every_page_has_the_strict_policy(client):
    policy = client.get(reverse("sign_in")).headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


@pytest.mark.django_db
def test_unknown_addresses_get_our_own_page(client):
    answer = client.get("/nowhere/")
    assert answer.status_code == 404
    assert b"There is no such page" in answer.content


@pytest.mark.django_db
def test_the_page_for_a_fault_of_ours_needs_no_database(django_assert_num_queries):
    with django_assert_num_queries(0):
        assert b"Something broke" in server_error(RequestFactory().get("/")).content


@pytest.mark.django_db
def test_what_cannot_be_read_is_refused_in_words():
    assert b"cannot be read" in bad_request(RequestFactory().get("/"), ValueError()).content


@pytest.mark.django_db
def test_settings_are_saved_and_a_wrong_one_keeps_what_was_typed(client):
    client.force_login(OwnerFactory())
    form = client.get(reverse("settings")).context["form"]
    sent = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
    assert client.post(reverse("settings"), sent | {"second_visit": "95"}).status_code == 302
    assert Setting.current().second_visit == 95
    refused = client.post(reverse("settings"), sent | {"second_visit": "dear"})
    assert refused.status_code == 400
    assert b'value="dear"' in refused.content
    assert b'aria-invalid="true"' in refused.content
    assert Setting.current().second_visit == 95


@pytest.mark.django_db
def test_the_owner_adds_a_person_who_can_sign_in(client):
    client.force_login(OwnerFactory())
    sent = {
        "name": "Ines Holm",
        "username": "ines",
        "is_engineer": "on",
        "is_active": "on",
        "password": "marrow bridge lamp",
    }
    assert client.post(reverse("person_new"), sent).status_code == 302
    assert User.objects.get(username="ines").check_password("marrow bridge lamp")
    assert (
        client.post(reverse("person_new"), sent | {"username": "ivo", "name": "Ivo", "password": "short"}).status_code
        == 400
    )
    assert not User.objects.filter(username="ivo").exists()


@pytest.mark.django_db
def test_a_lost_phone_is_ended_at_once(client):
    device, token = issue(UserFactory(), "phone of Asha")
    client.force_login(OfficeFactory())
    client.post(reverse("phone_revoke", args=[device.pk]))
    device.refresh_from_db()
    assert device.revoked_at is not None
    client.logout()
    assert client.get("/api/v1/visits/", headers={"Authorization": f"Bearer {token}"}).status_code == 401
