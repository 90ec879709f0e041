"""What may be asked of the figures over the API, by whom, and at what cost."""

import datetime

import numpy as np
import pytest
from django.core.cache import cache

from jobs import lives
from jobs.models import Appliance
from tests.api_phone import Phone
from tests.factories import ApplianceFactory, JobFactory, OfficeFactory, OwnerFactory, UserFactory, VisitFactory
from tests.spell_firms import random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
AS_OF = "2022-06-30"
OWNERS = ["failures/", "forecasts/", "alarms/", "alarms/none/parts/"]
STAFF = ["lives/", "lives/sensitivity/", "spells/"]


@pytest.fixture
def owner(db):
    book(random_firm(np.random.default_rng(7), appliances=12, busy=5))
    return Phone(OwnerFactory())


@pytest.mark.parametrize("path", OWNERS)
def test_what_the_owner_s_pages_show_is_for_owners(path):
    for who in (UserFactory, OfficeFactory):
        assert Phone(who()).get(path).status_code == 403
    assert Phone(OwnerFactory()).get(path, as_of=AS_OF).status_code in {200, 404}


@pytest.mark.parametrize("path", [*STAFF, *OWNERS, "appliances/X/components/"])
def test_nobody_without_a_role_sees_figures(path):
    assert Phone(UserFactory(is_engineer=False)).get(path).status_code == 403


@pytest.mark.parametrize(
    ("path", "asked", "field"),
    [
        ("lives/", {"component": "flux"}, "component"),
        ("lives/", {"model": "flux", "by": "component,model"}, "model"),
        ("lives/", {"care_window": "0"}, "care_window"),
        ("lives/", {"care_window": "nan"}, "care_window"),
        ("lives/", {"level": "1e400"}, "level"),
        ("lives/sensitivity/", {"by": "colour"}, "by"),
        ("lives/sensitivity/", {"component": "flux"}, "component"),
        ("spells/", {"component": "flux"}, "component"),
        ("spells/", {"model": "flux"}, "model"),
        ("spells/", {"closed_by": "magic"}, "closed_by"),
        ("spells/", {"clock": "magic"}, "clock"),
        ("spells/", {"failed": "perhaps"}, "failed"),
        ("spells/", {"silence": "loud"}, "silence"),
        ("failures/", {"by": "colour"}, "by"),
        ("failures/", {"component": "flux"}, "component"),
        ("failures/", {"maker": "Norwick", "by": "month"}, "maker"),
        ("failures/", {"supplier": "Depot"}, "supplier"),
        ("forecasts/", {"days": "0"}, "days"),
        ("forecasts/", {"days": "731"}, "days"),
        ("forecasts/", {"days": "30.5"}, "days"),
        ("forecasts/", {"by": "postman"}, "by"),
        ("forecasts/", {"component": "flux"}, "component"),
        ("alarms/", {"kind": "loud"}, "kind"),
        ("alarms/", {"component": "flux"}, "component"),
        ("alarms/", {"as_of": "yesterday"}, "as_of"),
    ],
)
def test_what_cannot_be_asked_is_named(path, asked, field):
    answer = Phone(OwnerFactory()).get(path, **asked)
    assert answer.status_code == 400
    assert answer.json()["field"] == field


@pytest.mark.parametrize("path", [*STAFF, *OWNERS[:3], "visits/", "parts/", "suppliers/", "components/", "moves/"])
@pytest.mark.parametrize("name", ["componant", "page", "ordering", "\0", "detail", "as-of"])
def test_a_name_that_nothing_reads_is_refused_by_that_name(path, name):
    answer = Phone(OwnerFactory()).get(path, **{name: "1"})
    assert answer.status_code == 400
    assert name.replace("\0", "�") == answer.json().get("field", "detail")
    assert "only: " in answer.json()["detail"]


def test_a_model_without_groups_by_model_is_named(owner):
    model = Appliance.objects.first().model.key
    assert owner.get("lives/", model=model).json()["field"] == "model"


@pytest.mark.parametrize("path", [*STAFF, *OWNERS[:3]])
def test_the_cost_does_not_grow_with_the_firm(db, path, django_assert_max_num_queries):
    book(random_firm(np.random.default_rng(1), appliances=4, busy=4))
    phone = Phone(OwnerFactory())
    with django_assert_max_num_queries(300) as few:
        assert phone.get(path, as_of=AS_OF).status_code == 200
    for n in range(30):
        model = Appliance.objects.first().model
        appliance = ApplianceFactory(number=f"Z{n}", model=model, in_care_from="2019-01-01")
        job = JobFactory(number=f"Z{n}", appliance=appliance, reported_on=f"2021-03-{n + 1:02}")
        VisitFactory(number=f"Z{n}", job=job, on="2021-04-02")
    cache.clear()
    with django_assert_max_num_queries(len(few.captured_queries) + 2):
        assert phone.get(path, as_of=AS_OF).status_code == 200


@pytest.mark.parametrize("level", ["1e-9", "0.999999999"])
@pytest.mark.parametrize("path", ["lives/", "forecasts/"])
def test_odd_levels_give_numbers_or_nothing(owner, path, level):
    assert owner.get(path, as_of=AS_OF, level=level).status_code == 200


def test_before_anything_was_recorded_there_is_nothing(owner):
    for path in ("spells/", "failures/", "alarms/"):
        assert owner.get(path, as_of="1995-01-01").status_code == 200
    assert owner.get("spells/", as_of="1995-01-01").json()["results"] == []
    assert lives.report(datetime.date(1995, 1, 1)).groups == ()
