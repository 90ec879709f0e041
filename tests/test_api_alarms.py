"""Alarms over the API: as the page tells them, with the parts concerned and whose work they are."""

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Caution, ComponentType
from jobs.services.alarms import firm_alarms
from tests.api_phone import Phone
from tests.factories import OwnerFactory
from tests.page_text import text_of
from tests.test_pages_alarms import bad_batch  # noqa: F401  a fixture

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(bad_batch):  # noqa: F811
    ComponentType.objects.update(hazards=["mains"])
    Caution.objects.get_or_create(hazard="mains", defaults={"title": "Mains", "cautions": ["x"], "licence": "y"})
    phone = Phone(OwnerFactory())
    return phone, phone.get("alarms/").json()


def test_an_alarm_is_the_service_s_with_its_cautions(told):
    found, (_, told) = firm_alarms(timezone.localdate()), told
    assert len(told["results"]) == len(found.alarms) > 0
    for name in ("streams", "threshold", "false_alarms_a_year", "delay_failures", "method"):
        assert told[name] == getattr(found, name)
    for row, alarm in zip(told["results"], found.alarms, strict=True):
        for name in ("kind", "failures", "expected", "ratio", "ratio_low", "ratio_high", "p", "level_reached"):
            assert row[name] == getattr(alarm, name)
        assert row["since"] == alarm.since.isoformat()
        assert row["concerned"] == len(alarm.pieces)
        assert "licensed" in row["warnings"]["licence"]


def test_its_code_is_that_of_the_page_and_its_parts_are_those_of_the_page(told, client):
    phone, alarms = told
    first = alarms["results"][0]
    client.force_login(OwnerFactory())
    assert first["title"] in text_of(client.get(reverse("alarm_detail", args=[first["code"]])))
    parts = phone.get(f"alarms/{first['code']}/parts/", page_size=500).json()
    assert parts["title"] == first["title"]
    assert parts["count"] == len(parts["results"]) == first["concerned"]
    assert "licensed" in parts["warnings"]["licence"]
    assert all(row["fitted_on"] and row["appliance"] for row in parts["results"])
    assert any(row["in_guarantee"] and row["fetch"] for row in parts["results"])


def test_parts_and_alarms_are_filtered(told):
    phone, alarms = told
    first = alarms["results"][0]
    address = f"alarms/{first['code']}/parts/"
    here, gone = (phone.get(address, in_place=word).json()["count"] for word in ("yes", "no"))
    assert here == first["in_place"]
    assert here + gone == first["concerned"]
    assert phone.get("alarms/", component=first["component"]).json()["count"] > 0
    assert all(row["kind"] == "batch" for row in phone.get("alarms/", kind="batch").json()["results"])
    assert phone.get("alarms/", supplier="nobody").json()["results"] == []
