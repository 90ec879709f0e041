"""One number, to the last digit, on the page (its file), over the API and from the command `life`."""

import csv
import io
import json

import numpy as np
import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from inventory.models import ComponentType
from tests.api_phone import Phone
from tests.factories import OwnerFactory
from tests.spell_firms import random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
ON_PAGE = {
    "failures": "Failures",
    "exposure": "Years in care",
    "mtbf": "Plain count",
    "mtbf_low": "Plain count, likely from",
    "mtbf_high": "Plain count, likely to",
    "shrunk": "Best estimate",
    "shrunk_low": "Best estimate, likely from",
    "shrunk_high": "Best estimate, likely to",
}


@pytest.fixture
def firm(client):
    book(random_firm(np.random.default_rng(7), appliances=40, busy=5))
    client.force_login(OwnerFactory())
    return client


def file_of(client, address, **asked):
    answer = client.get(address, asked)
    assert answer.status_code == 200
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def life(*options):
    out = io.StringIO()
    call_command("life", "--json", *options, stdout=out, stderr=io.StringIO())
    return json.loads(out.getvalue())["groups"]


def as_number(text):
    return float(text) if text else None


@pytest.mark.parametrize("before_care", ["perhaps", "first", "unknown"])
def test_all_component_types(firm, before_care):
    page = {row["Component"]: row for row in file_of(firm, reverse("component_list"), export="csv",
                                                     before_care=before_care)}  # fmt: skip
    api = Phone(OwnerFactory()).get("lives/", before_care=before_care).json()["groups"]
    names = dict(ComponentType.objects.values_list("key", "name"))
    assert api == life("--before-care", before_care)
    assert len(api) == len(page) > 0
    for group in api:
        row = page[names[group["group"]]]
        assert {name: as_number(row[label]) for name, label in ON_PAGE.items()} == {n: group[n] for n in ON_PAGE}
        if group["status"] == "fitted":
            assert float(row["Mean life"]) == group["mean"]


def test_one_component_type_by_model(firm):
    component = ComponentType.objects.get(key=life()[0]["group"])
    page = file_of(firm, reverse("component_detail", args=[component.pk]), **{"m-export": "csv"})
    asked = {"by": "component,model", "component": component.key}
    api = Phone(OwnerFactory()).get("lives/", **asked).json()["groups"]
    figures = [name for name in ON_PAGE if name != "exposure"]
    on_page = sorted([as_number(row[ON_PAGE[name]]) or 0 for name in figures] for row in page)
    assert on_page == sorted([group[name] or 0 for name in figures] for group in api)
    own = [group for group in life("--by", "component,model") if group["group"].startswith(f"{component.key} / ")]
    assert api == own


@pytest.mark.parametrize("by", ["model", "maker", "supplier"])
def test_failures_by_another_key(firm, by):
    page = file_of(firm, reverse("component_list"), by=by, export="csv")
    api = life("--by", f"component,{by}")
    assert sorted(float(row["Failures"]) for row in page) == sorted(group["failures"] for group in api)
    assert sorted(as_number(row["Best estimate"]) for row in page) == sorted(group["shrunk"] for group in api)


def test_the_spells_behind_them(firm, tmp_path):
    component = ComponentType.objects.get(key=life()[0]["group"])
    page = file_of(firm, reverse("component_spells", args=[component.pk]), export="csv")
    api = Phone(OwnerFactory()).get("spells/", component=component.key, page_size=5000).json()["results"]
    life("--spells", str(tmp_path / "spells.csv"))
    with (tmp_path / "spells.csv").open(encoding="utf-8") as file:
        written = [row for row in csv.DictReader(file) if row["component"] == component.key]
    numbers = sorted((row["appliance"], row["entry"], row["exit"], row["weight"]) for row in api)
    labels = ("From age, years", "To age, years", "Counts as")
    assert sorted((row["Appliance"], *(float(row[label]) for label in labels)) for row in page) == numbers
    names = ("entry", "exit", "weight")
    assert sorted((row["appliance"], *(float(row[name]) for name in names)) for row in written) == numbers
    assert all(len(row[name].partition(".")[2]) >= 6 for row in written for name in ("entry", "exit"))


def test_what_will_fail_next(firm):
    page = file_of(firm, reverse("forecast"), **{"c-export": "csv"})
    api = Phone(OwnerFactory()).get("forecasts/", by="component", as_of=timezone.localdate().isoformat()).json()
    for days, label in ((30, "Next 30 days"), (90, "Next 90 days"), (365, "Next year")):
        expected = sorted(row["expected"] for row in api["results"] if row["days"] == days)
        assert sorted(float(row[label]) for row in page) == expected
