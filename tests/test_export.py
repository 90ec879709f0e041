"""A firm exported and imported into an empty database is the same firm; over itself it changes nothing."""

import csv
import tempfile
from decimal import Decimal
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from firm.models import User
from inventory.models import Part, Place, Stock, Supplier
from inventory.services.movements import top_up, undo
from inventory.services.places import counter, place_of_supplier
from jobs.models import Appliance, Customer, Fitted, Job, Visit
from jobs.services.auditing import audit_all
from jobs.services.exporting import FolderInUse, export_firm
from jobs.services.fitting import charge_fitted, fit, need, take_out
from jobs.services.importing import import_firm
from jobs.services.importing.tables import TABLES
from jobs.services.work import add_charge, add_finding, book_visit, open_job, record_outcome
from tests.firm_folder import START, WHOLE, dump, take_in, texts, undone

pytestmark = pytest.mark.django_db
DEMO = settings.BASE_DIR / "fixtures" / "demo"


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def exported_from_empty(folder, target):
    """Import `folder` into an empty database and export again."""
    outcome = import_firm(folder)
    assert [str(error) for error in outcome.errors] == []
    assert audit_all() == []
    export_firm(target)
    return texts(target)


@pytest.mark.parametrize("files", [START, WHOLE])
def test_an_exported_firm_is_the_same_firm_in_an_empty_database_and_changes_nothing_here(tmp_path, files):
    with undone():
        take_in(tmp_path / "in", files)
        export_firm(tmp_path / "first")
        before = dump()
        assert import_firm(tmp_path / "first").errors == []
        assert dump() == before
    assert not Part.objects.exists()
    assert exported_from_empty(tmp_path / "first", tmp_path / "second") == texts(tmp_path / "first")


def test_every_file_is_written_with_the_columns_that_are_read_in_their_order(tmp_path):
    counts = export_firm(tmp_path)
    assert sorted(texts(tmp_path)) == sorted(f"{name}.csv" for name in TABLES)
    assert counts["settings"] > 10
    for name, table in TABLES.items():
        header = (tmp_path / f"{name}.csv").read_text().splitlines()[0]
        assert header == ",".join(column.name for column in table.columns)


def work_inside():
    """A day's work in the program itself, after an import."""
    asha, van = User.objects.get(name="Asha Rao"), Place.objects.get(key="van 1")
    part = {row.number: row for row in Part.objects.all()}
    job = open_job(
        event=uuid4(), appliance=Appliance.objects.get(number="A1"), kind="breakdown",
        reported_on=Job.objects.latest("reported_on").reported_on, words="No heat; no heat; it drips",
    )  # fmt: skip
    visit = book_visit(job, on=job.reported_on, engineers=[asha, User.objects.get(name="Ben Lund")])
    pump = part["P1"].covers.get()
    add_finding(visit, component=pump, failure_mode="noise")

    def put_in(number, component, quantity, why, **more):
        fields = {"visit": visit, "part": part[number], "component": component, "by": asha}
        return fit(event=uuid4(), quantity=Decimal(quantity), why=why, **fields, **more)

    first = put_in("P1", pump, 1, "failed")
    put_in("P2", pump, 1, "upgrade", source=place_of_supplier(Supplier.objects.get(key="North Depot")))
    put_in("S1", part["S1"].covers.get(), 2, "planned", source=counter(Place.Kind.CUSTOMERS_OWN))
    wrong, mistake = put_in("V2", pump, 1, "failed"), put_in("S1", pump, 1, "failed")
    take_out(event=uuid4(), fitted=wrong, condition="opened", by=asha)
    undo(mistake.movement.event, event=uuid4(), by=asha, note="keyed twice")
    charge_fitted(first, Decimal(88), by=asha)
    need(event=uuid4(), visit=visit, component=pump, quantity=Decimal(1), by=asha)
    record_outcome(event=uuid4(), visit=visit, outcome="fixed", minutes=50, by=asha)
    add_charge(job, event=uuid4(), kind="labour", amount_ex_vat=part["P1"].litres * 50, vat_rate=None)
    top_up(van, [(part["P1"], Decimal(2))], event=uuid4(), by=asha)
    return visit


def test_work_done_inside_comes_out_as_plain_rows_and_is_not_doubled(tmp_path):
    with undone():
        take_in(tmp_path / "in", WHOLE)
        visit = work_inside()
        assert audit_all() == []
        export_firm(tmp_path / "first")
        before = dump()
        for folder in ("first", "in"):
            assert [str(error) for error in import_firm(tmp_path / folder).errors] == []
            assert dump() == before
        number = visit.number
    fitted = [row for row in rows(tmp_path / "first" / "fitted.csv") if row["visit"] == number]
    assert [(row["part"], row["from"]) for row in fitted] == [
        ("P1", ""),
        ("P2", "North Depot"),
        ("S1", "(customers-own)"),
    ]
    assert fitted[2]["unit_cost"] == "0"
    assert exported_from_empty(tmp_path / "first", tmp_path / "second") == texts(tmp_path / "first")


def test_our_own_stock_file_is_no_count_however_late_it_comes_back(tmp_path):
    take_in(tmp_path / "in", WHOLE)
    export_firm(tmp_path / "out")
    asha, visit = User.objects.get(name="Asha Rao"), Visit.objects.get(number="V4")
    pump = Part.objects.get(number="P1")
    fit(event=uuid4(), visit=visit, part=pump, component=pump.covers.get(), quantity=Decimal(1), why="failed", by=asha)
    before = dump()
    assert import_firm(tmp_path / "out").errors == []
    assert dump() == before
    assert Stock.objects.get(place__key="store", part=pump).on_hand == 3


def test_start_of_care_that_was_left_empty_comes_out_as_the_first_contact(tmp_path):
    take_in(tmp_path / "in", WHOLE)
    export_firm(tmp_path / "out")
    assert {row["appliance"]: row["in_care_from"] for row in rows(tmp_path / "out" / "appliances.csv")} == {
        "A1": "2019-03-01",
        "A2": "2022-05-02",
    }
    assert Appliance.objects.get(number="A2").in_care_from is None


def test_a_spreadsheet_of_the_same_name_in_the_folder_stops_the_export(tmp_path):
    (tmp_path / "parts.xlsx").write_bytes(b"")
    with pytest.raises(FolderInUse, match=r"parts\.xlsx"):
        export_firm(tmp_path)
    with pytest.raises(CommandError):
        call_command("export_firm", str(tmp_path))
    assert list(texts(tmp_path)) == ["parts.xlsx"]


def test_the_demo_firm_comes_in_and_out_as_it_is(tmp_path):
    with undone():
        outcome = import_firm(DEMO)
        assert [str(error) for error in outcome.errors] == []
        for name in TABLES:
            if (DEMO / f"{name}.csv").exists():
                assert outcome.counts[name] == len(rows(DEMO / f"{name}.csv"))
        assert Visit.objects.count() == outcome.counts["visits"]
        assert Fitted.objects.count() == outcome.counts["fitted"]
        stock = {(row["place"], row["part"]): float(row["quantity"]) for row in rows(DEMO / "stock.csv")}
        there = Stock.objects.values_list("place__key", "part__number", "on_hand")
        assert {(place, part): float(on_hand) for place, part, on_hand in there} == stock
        assert audit_all() == []
        export_firm(tmp_path / "first")
    assert exported_from_empty(tmp_path / "first", tmp_path / "second") == texts(tmp_path / "first")


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp"]), min_size=1, max_size=12)
KEY = st.text(st.sampled_from("abcXYZ019-_/. "), min_size=1, max_size=8).map(str.strip).filter(bool)
MONEY = st.decimals(0, 99999, places=2).map(str)


@st.composite
def firms(draw):
    """A small firm: parts, appliances, jobs, visits, fitted parts, stock and charges."""
    parts = draw(st.lists(KEY, min_size=1, max_size=4, unique=True))
    appliances = draw(st.lists(KEY, min_size=1, max_size=3, unique=True))
    jobs = draw(st.lists(KEY, max_size=3, unique=True))
    pick = st.sampled_from
    files = {
        "parts": [["part", "description", "covers", "fits", "litres"]],
        "places": [["place", "kind", "engineer"], ["van", "van", draw(TEXT.filter(lambda t: ";" not in t))]],
        "stock": [["place", "part", "quantity", "unit_cost", "carry_level"]],
        "appliances": [["appliance", "customer", "address", "post_area", "model", "installed_on", "access_note"]],
        "jobs": [["job", "appliance", "kind", "reported_on", "symptoms"]],
        "visits": [["visit", "job", "engineer", "place", "on", "outcome"]],
        "fitted": [["visit", "part", "component", "quantity", "why", "charge_ex_vat"]],
        "charges": [["job", "kind", "amount_ex_vat", "description"]],
    }
    for part in parts:
        files["parts"].append(
            [part, draw(TEXT), draw(pick(["", "gas-valve", "circulating-pump;gas-valve"])), "*", "1.5"]
        )
        files["stock"].append(["van", part, draw(st.integers(0, 9)), draw(MONEY), draw(pick(["", "2"]))])
    for number in appliances:
        dates = draw(pick(["", "2001", "2001-05", "2001-05-17"]))
        row = [number, draw(pick(["K1", "K2", ""])), draw(pick(["", "Weir St 1"])), "X", "M1", dates]
        files["appliances"].append([*row, draw(pick(["", "Dog"]))])
    for number in jobs:
        kind = draw(pick(["breakdown", "service"]))
        files["jobs"].append([number, draw(pick(appliances)), kind, "2020-02-29", draw(TEXT)])
        files["charges"] += [[number, "labour", draw(MONEY), draw(TEXT)]] * draw(st.integers(0, 2))
        files["visits"].append([number, number, "Asha", "van", "2020-03-01", draw(pick(["", "fixed"]))])
        fitted = [number, draw(pick(parts)), "gas-valve", draw(st.integers(1, 3)), "failed", draw(pick(["", "9.99"]))]
        files["fitted"] += [fitted] * draw(st.integers(0, 2))
    return files


@given(firms())
@examples(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_small_firm_goes_round(files):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "in").mkdir()
        for table, lines in files.items():
            with (folder / "in" / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows(lines)
        with undone():
            assert [str(error) for error in import_firm(folder / "in").errors] == []
            export_firm(folder / "first")
            before = dump()
            for again in ("in", "first"):
                assert import_firm(folder / again).errors == []
                assert dump() == before
        with undone():
            assert exported_from_empty(folder / "first", folder / "second") == texts(folder / "first")


def test_a_user_without_a_name_and_an_erased_customer_go_round(tmp_path):
    with undone():
        take_in(tmp_path / "in", WHOLE)
        User.objects.filter(name="Asha Rao").update(name="")
        Customer.objects.filter(number="K1").update(name="", phone="")
        export_firm(tmp_path / "first")
        before = dump()
        assert import_firm(tmp_path / "first").errors == []
        assert dump() == before
    assert exported_from_empty(tmp_path / "first", tmp_path / "second") == texts(tmp_path / "first")
