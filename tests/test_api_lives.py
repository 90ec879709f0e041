import io
import json

import pytest
from django.core.management import call_command

from jobs.models import Finding, Fitted
from tests.api_phone import Firm
from tests.factories import ApplianceFactory, JobFactory, VisitFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    firm = Firm()
    for month in (3, 6, 9):
        appliance = ApplianceFactory(model=firm.model, installed_on="2015-01-01", installed_precision="day")
        job = JobFactory(appliance=appliance, reported_on=f"2025-{month:02}-01")
        visit = VisitFactory(job=job, on=f"2025-{month:02}-02", place=firm.van, outcome="fixed")
        Finding.objects.create(visit=visit, appliance=appliance, component=firm.pump)
    return firm


@pytest.mark.parametrize("by", ["component", "component,model", "component,maker"])
def test_lives_are_those_of_the_command(firm, by):
    out = io.StringIO()
    call_command("life", "--json", "--as-of", "2026-11-25", "--by", by, "--curve", stdout=out)
    told = firm.phone.get("lives/", by=by, as_of="2026-11-25", curve="true").json()
    assert told == json.loads(out.getvalue())
    assert told["groups"][0]["failures"] > 0


def test_a_new_record_makes_them_anew(firm):
    before = firm.phone.get("lives/").json()
    assert firm.phone.get("lives/").json() == before
    firm.phone.post("fitted/", firm.fitted())
    assert Fitted.objects.exists()
    assert firm.phone.get("lives/").json() != before


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"by": "colour"}, "by"),
        ({"level": "1"}, "level"),
        ({"level": "nan"}, "level"),
        ({"as_of": "9999-12-31"}, "as_of"),
        ({"as_of": "0001-01-01"}, "as_of"),
        ({"before_care": "guess"}, "before_care"),
        ({"silence": "loud"}, "silence"),
        ({"curve": "maybe"}, "curve"),
    ],
)
def test_what_cannot_be_asked_is_named(firm, asked, field):
    answer = firm.phone.get("lives/", **asked)
    assert answer.status_code == 400
    assert answer.json()["field"] == field


def test_a_firm_without_work_has_no_groups_that_fail(db):
    told = Firm().phone.get("lives/")
    assert told.status_code == 200
    assert all(group["failures"] == 0 for group in told.json()["groups"])
