"""Lives, spells, failures, forecasts, alarms and an appliance's components over the API: as the services give them."""

import csv
import datetime
import io
import json

import numpy as np
import pytest
from django.core.management import call_command

from jobs.models import Appliance
from jobs.services.forecasting import firm_forecast
from tests.api_phone import Phone
from tests.factories import OwnerFactory
from tests.spell_firms import random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
DAY = datetime.date(2022, 6, 30)
AS_OF = DAY.isoformat()


@pytest.fixture
def firm(db):
    book(random_firm(np.random.default_rng(7), appliances=40, busy=5))


@pytest.fixture
def owner(firm):
    return Phone(OwnerFactory())


def every_row(phone, path, **asked):
    rows, page = [], phone.get(path, **asked).json()
    while True:
        rows += page["results"]
        if not page["next"]:
            return rows
        address = page["next"].partition("/api/v1/")[2]
        page = phone.get(address).json()


def life(*options):
    out = io.StringIO()
    call_command("life", "--json", "--as-of", AS_OF, *options, stdout=out, stderr=io.StringIO())
    return json.loads(out.getvalue())


@pytest.mark.parametrize(
    ("asked", "options"),
    [
        ({"care_window": "9", "silence": "window"}, ["--care-window", "9", "--silence", "window"]),
        ({"before_care": "first", "level": "0.5"}, ["--before-care", "first", "--level", "0.5"]),
        ({"by": "component,fitted_year"}, ["--by", "component,fitted_year"]),
        ({"before_care": "unknown", "curve": "true"}, ["--before-care", "unknown", "--curve"]),
    ],
)
def test_lives_under_every_assumption_are_those_of_the_command(owner, asked, options):
    assert owner.get("lives/", as_of=AS_OF, **asked).json() == life(*options)


def test_groups_that_are_picked_out_keep_their_figures(owner):
    whole = life("--by", "component,model")["groups"]
    component, model = whole[0]["group"].split(" / ")
    asked = {"as_of": AS_OF, "by": "component,model"}
    found = owner.get("lives/", component=component, **asked).json()["groups"]
    assert found == [group for group in whole if group["group"].startswith(f"{component} / ")]
    assert owner.get("lives/", component=component, model=model, **asked).json()["groups"] == whole[:1]


def test_the_other_assumptions_are_those_of_the_command_with_the_usual_one_first(owner):
    told = owner.get("lives/sensitivity/", as_of=AS_OF).json()
    answers = {answer["key"]: answer for answer in told["answers"]}
    assert list(answers)[0] == "usual"
    assert set(answers) >= {"first", "unknown", "silence-window", "window-half", "window-double", "lost-double"}
    for key in ("usual", "first", "window-half"):
        answer = answers[key]
        options = ["--before-care", answer["before_care"], "--silence", answer["silence"]]
        groups = life(*options, "--care-window", str(answer["care_window_months"]))["groups"]
        assert [group | {"curve": None} for group in answer["groups"]] == groups


def test_spells_are_those_of_the_command_s_file_page_by_page(owner, tmp_path):
    file = tmp_path / "spells.csv"
    life("--spells", str(file))
    written = list(csv.DictReader(file.open(encoding="utf-8")))
    found = every_row(owner, "spells/", as_of=AS_OF, page_size=97)
    assert len(found) == len(written) > 97
    for ours, theirs in zip(found, written, strict=True):
        assert [ours[name] for name in ("entry", "exit", "weight")] == [
            float(theirs[name]) for name in ("entry", "exit", "weight")
        ]
        assert int(ours["failed"]) == int(theirs["failed"])
        for name in ("component", "appliance", "model", "clock", "opened_by", "closed_by"):
            assert ours[name] == theirs[name]


@pytest.mark.parametrize(
    ("name", "asked", "value"),
    [("failed", "yes", True), ("failed", "no", False), ("closed_by", "silent", "silent"), ("clock", "known", "known")],
)
def test_spells_are_filtered(owner, name, asked, value):
    every = every_row(owner, "spells/", as_of=AS_OF, page_size=5000)
    found = every_row(owner, "spells/", as_of=AS_OF, page_size=5000, **{name: asked})
    assert found == [row for row in every if row[name] == value]
    assert 0 < len(found) < len(every)


@pytest.mark.parametrize("name", ["component", "appliance", "model"])
def test_spells_of_one_thing_are_among_all(owner, name):
    every = every_row(owner, "spells/", as_of=AS_OF, page_size=5000)
    word = every[-1][name]
    assert every_row(owner, "spells/", as_of=AS_OF, **{name: word}) == [row for row in every if row[name] == word]


@pytest.mark.parametrize("by", ["component", "model", "maker", "supplier"])
def test_failures_are_those_of_the_command(owner, by):
    told = every_row(owner, "failures/", as_of=AS_OF, by=by)
    groups = {group["group"]: group for group in life("--by", by if by == "component" else f"component,{by}")["groups"]}
    assert len(told) == len(groups)
    for row in told:
        group = groups[row["component"] if by == "component" else f"{row['component']} / {row[by]}"]
        for name in ("failures", "exposure", "mtbf", "mtbf_low", "mtbf_high", "shrunk", "shrunk_low", "shrunk_high"):
            assert row[name] == group[name]


def test_failures_by_month_are_those_reported(owner):
    failed = every_row(owner, "spells/", as_of=AS_OF, failed="yes", page_size=5000)
    months = every_row(owner, "failures/", as_of=AS_OF, by="month")
    assert len(months) == 36
    assert months[-1]["month"] == "2022-06"
    assert 0 < sum(row["failures"] for row in months) <= len(failed)
    component = failed[0]["component"]
    own = every_row(owner, "failures/", as_of=AS_OF, by="month", component=component)
    assert len(own) == 36
    assert all(one["failures"] <= all_of["failures"] for one, all_of in zip(own, months, strict=True))


@pytest.mark.parametrize(
    ("by", "table"),
    [("component,van", "rows"), ("component", "by_component"), ("van", "by_van"), ("all", "total")],
)
def test_forecasts_are_those_of_the_service(owner, by, table):
    rows = [vars(row) for row in getattr(firm_forecast(DAY), table)]
    assert every_row(owner, "forecasts/", as_of=AS_OF, by=by) == rows
    soon = every_row(owner, "forecasts/", as_of=AS_OF, by=by, days=90)
    assert soon == [row for row in rows if row["days"] == 90]


def test_a_forecast_may_be_asked_for_any_days_one_component_or_van(owner):
    first = firm_forecast(DAY).rows[0]
    own = every_row(owner, "forecasts/", as_of=AS_OF, component=first.component, van=first.van)
    assert [row["days"] for row in own] == [30, 90, 365]
    fortnight = owner.get("forecasts/", as_of=AS_OF, days=14, by="all", level=0.5).json()
    assert fortnight["level"] == 0.5
    assert [row["days"] for row in fortnight["results"]] == [14]


def test_an_appliance_s_components_are_no_older_than_it_is_and_name_whose_work_they_are(owner):
    prompts = 0
    for appliance in Appliance.objects.exclude(installed_on=None):
        told = owner.get(f"appliances/{appliance.number}/components/", as_of=AS_OF).json()
        oldest = (DAY - appliance.installed_on).days / 365.25 + 1e-9
        for row in told["components"]:
            prompts += row["expected"] is not None
            assert row["age"] is None or row["age"] <= oldest
            assert row["hazard_per_year"] is None or row["hazard_per_year"] > 0
        assert "licensed" in told["licence"]
    assert prompts > 40
