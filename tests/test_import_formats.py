"""CSV as spreadsheets write it in several countries, XLSX, and the closed words in every spelling."""

from datetime import date, datetime, time
from decimal import Decimal

import pytest
from openpyxl import Workbook

from inventory.models import ComponentType, Part, Place, Supplier
from jobs.models import Appliance, Charge, Finding, Fitted, Job, Visit
from jobs.services.importing import import_firm
from jobs.services.importing.settings_file import ALSO_CALLED, KEYS, setting_name
from tests.firm_folder import START, WHOLE, faults, take_in, write_files

pytestmark = pytest.mark.django_db


def spreadsheet(path, *rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_every_delimiter_with_and_without_byte_order_mark(tmp_path, delimiter, encoding):
    header = ["part", "description", "covers", "fits", "litres"]
    row = ["P1", "Pump, 5 metre", '"circulating-pump;combustion-fan"', "*", "1.5"]
    row[1] = f'"{row[1]}"'
    text = delimiter.join(header) + "\r\n" + delimiter.join(row) + "\r\n"
    (tmp_path / "parts.csv").write_text(text, encoding=encoding, newline="")
    outcome = import_firm(tmp_path)
    assert outcome.errors == []
    part = Part.objects.get()
    assert (part.description, part.litres, part.covers.count()) == ("Pump, 5 metre", Decimal("1.5"), 2)


def test_a_spreadsheet_loses_the_decimals_of_its_numbers_and_knows_dates(tmp_path):
    write_files(tmp_path, {name: text for name, text in WHOLE.items() if name not in {"parts", "jobs", "visits"}})
    (tmp_path / "recipes.csv").unlink()
    for name in ("prices", "stock", "fitted", "needed"):
        (tmp_path / f"{name}.csv").unlink()
    spreadsheet(
        tmp_path / "parts.xlsx",
        ["part", "description", "covers", "fits", "gtin", "litres", "guarantee_months", "Notes"],
        [104286.0, "Pump", "pump", "*", 6291041500213, 1.1, 24.0, "x"],
        [None, None, None, None, None, None, None, None],
        [7.0, 10.5, "pump", "*", None, None, None, None],
    )
    spreadsheet(
        tmp_path / "jobs.xlsx",
        ["job", "appliance", "kind", "reported_on", "fault_code"],
        ["J1", "A1", "breakdown", date(2021, 11, 3), 133.0],
    )
    spreadsheet(
        tmp_path / "visits.xlsx",
        ["visit", "job", "engineer", "place", "on", "outcome", "time", "minutes"],
        ["V1", "J1", "Asha Rao", "van 1", datetime(2021, 11, 4), "fixed", time(8, 30), 45],
    )
    (tmp_path / "findings.csv").unlink()
    (tmp_path / "charges.csv").unlink()
    outcome = import_firm(tmp_path)
    assert [str(one) for one in outcome.errors] == []
    assert outcome.ignored_columns == {"parts": ["Notes"]}
    assert outcome.counts["parts"] == 2
    assert list(Part.objects.values_list("number", "description", "gtin", "guarantee_months")) == [
        ("104286", "Pump", "6291041500213", 24),
        ("7", "10.5", "", None),
    ]
    assert Job.objects.get().fault_code == "133"
    visit = Visit.objects.get()
    assert (visit.on, visit.time, visit.engineers.get().minutes) == (date(2021, 11, 4), time(8, 30), 45)


def test_rows_of_a_spreadsheet_are_numbered_as_it_shows_them(tmp_path):
    spreadsheet(
        tmp_path / "parts.xlsx",
        ["part", "description", "covers", "fits"],
        [None, None, None, None],
        ["P1", "Pump", "pumps", "*"],
    )
    assert [one[:4] for one in faults(tmp_path, {})] == [("parts", 3, "covers", "pumps")]


def test_a_row_of_csv_with_a_line_break_and_empty_rows_are_numbered_as_a_spreadsheet_shows_them(tmp_path):
    text = 'part,description,covers,fits\nP1,"Pump\nhead",circulating-pump,*\n\n,,,\nP2,Fan,fans,*\n'
    assert [one[:4] for one in faults(tmp_path, {"parts": text})] == [("parts", 5, "covers", "fans")]


def test_outer_blanks_are_trimmed_and_headers_forgive_case_and_blanks(tmp_path):
    take_in(tmp_path, {"parts": "Part, Description ,COVERS,fits,Guarantee months\n  P 1 ,Pump,,*, 12 \n"})
    assert list(Part.objects.values_list("number", "guarantee_months")) == [("P 1", 12)]


@pytest.mark.parametrize("said", ["maker-new", "Maker New", "MAKER_NEW", " maker new "])
def test_closed_words_forgive_case_blank_hyphen_and_underscore(tmp_path, said):
    take_in(tmp_path, {"parts": f"part,description,covers,fits,grade\nP1,Pump,,*,{said}\n"})
    assert Part.objects.get().grade == "maker-new"


@pytest.mark.parametrize(
    ("file", "column", "words"),
    [
        ("suppliers", "same_day", "yes no true false 1 0"),
        ("component_types", "hazards", "none pressurised-hot-water mains combustion gas oil refrigerant"),
        ("component_types", "wears", "early-life random wear-out"),
        (
            "appliance_models",
            "kind",
            "gas-combi gas-system gas-regular oil heat-pump unvented-cylinder wet-system controls other",
        ),
        ("parts", "grade", "maker-new approved-equivalent unapproved-copy reconditioned"),
        ("places", "kind", "store van"),
        ("jobs", "kind", "breakdown service planned installation other"),
        (
            "visits",
            "outcome",
            "fixed part-needed no-part-needed temporary-repair made-safe quote-to-agree declined for-others no-access",
        ),
        ("fitted", "why", "failed planned recall upgrade had-to-come-off"),
        ("charges", "kind", "call-out labour part travel other"),
        (
            "findings",
            "no_part_cause",
            "air-in-system blocked-flue-terminal closed-valve control-not-calling frozen-condensate low-pressure"
            " no-fuel sludge tripped-supply wrong-setting",
        ),
    ],
)
def test_every_allowed_word_is_taken_and_another_is_an_error_that_names_them(tmp_path, file, column, words):
    header, row = WHOLE[file].splitlines()[:2]
    place = header.split(",").index(column)
    for at, word in enumerate([*words.split(), "sideways"]):
        cells = row.split(",")
        cells[place] = word.upper().replace("-", " ")
        outcome = import_firm(
            write_files(tmp_path / str(at), WHOLE | {file: f"{header}\n{','.join(cells)}\n"}), check_only=True
        )
        mine = [one for one in outcome.errors if one.file == file and one.column == column]
        assert [one.value for one in mine] == (["SIDEWAYS"] if word == "sideways" else [])
    assert all(word in mine[0].reason for word in words.split())


def test_closed_words_stand_in_the_book_in_one_spelling(tmp_path):
    take_in(tmp_path, WHOLE)
    assert ComponentType.objects.get(key="valve").wears == "wear-out"
    assert set(ComponentType.objects.get(key="valve").hazards) == {"gas", "combustion", "mains"}
    assert ComponentType.objects.get(key="seal").hazards == []
    assert set(Visit.objects.values_list("outcome", flat=True)) == {"part-needed", "fixed", "no-part-needed"}
    assert Fitted.objects.get(part__number="S1").why == "had-to-come-off"
    assert Finding.objects.get(component=None).no_part_cause == "low-pressure"
    assert Charge.objects.first().kind == "call-out"
    assert Supplier.objects.get(key="Brook Supplies").same_day is True
    assert Place.objects.get(key="van 1").post_areas == ["HV1", "HV2"]


@pytest.mark.parametrize(("said", "precision"), [("2012", "year"), ("2012-05", "month"), ("2012-05-17", "day")])
def test_a_date_of_installation_has_three_precisions(tmp_path, said, precision):
    appliances = f"appliance,customer,address,post_area,model,installed_on\nA1,K,Street 1,X,M,{said}\n"
    take_in(tmp_path, START | {"appliances": appliances})
    assert Appliance.objects.get().installed_precision == precision


@pytest.mark.parametrize(("name", "meant"), [*((name, name) for name in KEYS), *ALSO_CALLED.items()])
def test_each_setting_is_known_by_its_names(name, meant):
    assert setting_name(name.replace("_", " ").title()) == meant
