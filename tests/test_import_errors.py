"""Everything that is wrong is said at once, where it stands, and nothing is changed."""

import json
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import ComponentType, Part
from tests.firm_folder import START, WHOLE, dump, faults, take_in, write_files

pytestmark = pytest.mark.django_db


def changed(**files):
    """The whole firm, in each named file one text replaced by another."""
    return WHOLE | {name: WHOLE[name].replace(old, new, 1) for name, (old, new) in files.items()}


def test_ten_mistakes_of_a_hand_written_firm_are_all_named(tmp_path):
    files = changed(
        component_types=("gas;combustion;mains", "gas;fire"),
        parts=("6291041500213", "6291041500214"),
        suppliers=("North Depot,3", "North Depot,three"),
        prices=("48.00", '"48,00"'),
        places=("Asha Rao,900", "Asha Rao,-900"),
        stock=("van 1,S1,12", "van 7,S1,12"),
        appliances=("2019-03-01", "01/03/2019"),
        jobs=("J3,A2,service", "J1,A2,service"),
        visits=("V4,J3", "V4,J1"),
        fitted=("2,had to come off", "2,worn"),
    )
    files["visits"] = files["visits"].replace("part needed,08:30", "part needed,25:30")
    assert faults(tmp_path, files) == [
        (
            "component_types",
            3,
            "hazards",
            "gas;fire",
            "Must be one of: none, pressurised-hot-water, mains, combustion, gas, oil, refrigerant.",
        ),
        ("parts", 2, "gtin", "6291041500214", "Not a GTIN of 8, 12, 13 or 14 digits with the right check digit."),
        ("suppliers", 3, "lead_time_days", "three", "Not a number (digits and a decimal point, no blanks, no units)."),
        ("prices", 2, "price_ex_vat", "48,00", "Write a decimal point, not a comma: 48.00."),
        ("places", 3, "litres", "-900", "Must not be less than 0."),
        ("stock", 4, "place", "van 7", "There is no such place in these files or in the database."),
        ("appliances", 2, "in_care_from", "01/03/2019", "Not a date: write year-month-day, as 2024-03-09."),
        ("jobs", 4, "job", "J1", "Stands in row 2 already."),
        ("visits", 2, "time", "25:30", "There is no such time of day."),
        ("fitted", 3, "why", "worn", "Must be one of: failed, planned, recall, upgrade, had-to-come-off."),
    ]
    assert not Part.objects.exists()
    assert not ComponentType.objects.exists()


def test_an_error_changes_nothing_of_a_firm_that_is_there(tmp_path):
    take_in(tmp_path / "first", WHOLE)
    before = dump()
    files = changed(customers=("Ines Holm", "Ines Lund"), charges=("J1,call-out", "J9,call-out"))
    reason = "There is no such job in these files or in the database."
    assert faults(tmp_path / "second", files) == [("charges", 2, "job", "J9", reason)]
    assert dump() == before


def test_a_reference_to_a_refused_row_is_no_second_error(tmp_path):
    found = faults(
        tmp_path, changed(appliances=("A1,K1,3 Mill Row,HV1,C24,2019-03-01", "A1,K1,3 Mill Row,HV1,C24,2019"))
    )
    assert [(one[0], one[1], one[2]) for one in found] == [("appliances", 2, "in_care_from")]


def test_a_model_that_only_a_refused_appliance_names_is_no_second_error(tmp_path):
    files = {name: text.replace("HV1,Calder 24", "HV1," + "x" * 81) for name, text in START.items()}
    files["parts"] = files["parts"].replace("*", "Calder 24")
    assert [one[:3] for one in faults(tmp_path, files)] == [("appliances", 2, "model"), ("appliances", 3, "model")]


def test_a_reference_into_a_file_that_cannot_be_read_is_no_second_error(tmp_path):
    files = WHOLE | {"jobs": WHOLE["jobs"].replace("reported_on", "reported")}
    assert faults(tmp_path, files) == [("jobs", 1, "reported_on", "", "This column is required and missing.")]


@pytest.mark.parametrize(
    ("file", "old", "new", "row", "column", "reason"),
    [
        ("jobs", "2021-11-20,,,J1", "2021-11-20,,,J2", 3, "return_of", "return to itself"),
        ("jobs", "2021-11-03,no", "2021-12-03,no", 3, "return_of", "reported later, on 2021-12-03"),
        ("jobs", "2021-11-03", "1821-11-03", 2, "reported_on", "between 1900 and 2100"),
        ("jobs", "2021-11-03", "2021-11-31", 2, "reported_on", "no such day"),
        ("visits", "2021-11-04", "2021-11-02", 2, "on", "Before breakdown J1 was reported on 2021-11-03"),
        ("visits", "30;45", "30", 4, "minutes", "One number of minutes for each engineer"),
        ("visits", "part needed,08:30,40", "part needed,08:30,40,9", 2, None, "More cells than the header"),
        ("parts", "mark 2,valve,C24;T9,,,", "mark 2,valve,C24;T9,,,V1", 4, "superseded_by", "circle"),
        ("parts", "P1,Pump head", "P1,", 2, "description", "Must not be empty"),
        ("parts", "valve,C24;T9", "valve,C24;T8", 5, "fits", "no such appliance model"),
        ("parts", "pump;seal", "pump;seals", 3, "covers", "no such component type"),
        ("parts", "1.2,0.8,24", "1.2345,0.8,24", 2, "litres", "At most 3 decimals"),
        ("parts", "0.8,24", "0.8,2.5", 2, "guarantee_months", "whole number"),
        ("recipes", "S1*2", "S1*0", 2, "parts", "more than 0"),
        ("recipes", "S1*2", "S1*", 2, "parts", "Not a number"),
        ("recipes", "S1*2,T9", "S1*2,;", 2, "fits", "without an entry"),
        ("earlier", "A1,pump,,2017", "A1,pump,,2020", 2, "renewed_on", "between the installation of A1 and its start"),
        ("earlier", "A1,pump,,", "A1,pump,0,", 2, "position", "less than 1"),
        ("earlier", "A1,seal,2,", "A1,pump,1,", 3, "appliance", "row 2 already"),
        ("appliances", "2015-06", "2019-04", 2, "installed_on", "on or before the start of care"),
        ("appliances", "2015-06,0012,,", "2015-06,0012,2018-01-01,", 2, "in_care_until", "Before the start"),
        ("fitted", "V2,P1,pump,1", "V2,P1,pump,-1", 2, "quantity", "more than 0"),
        ("fitted", "failed,,1,,96.50", "failed,,0,,96.50", 2, "position", "less than 1"),
        ("fitted", "North Depot", "South Depot", 3, "from", "no such place or supplier"),
        ("findings", "low pressure", "", 3, "component", "Name a component or a no_part_cause"),
        ("prices", "52.50,2022-01-01", "52.50,2020-01-01", 3, "supplier", "row 2 already"),
        ("prices", "BP1,P1,1,52.50", "BP1,P2,1,52.50", 3, "part", "stands for part P1 already"),
        ("prices", "48.00", "4e3", 2, "price_ex_vat", "Not a number"),
        ("prices", "48.00", "99999999999", 2, "price_ex_vat", "Too large"),
        ("settings", "call-out,48", "tea,48", 4, "setting", "Must be one of: firm_name"),
        ("settings", "call-out,48", "labour_cost,48", 4, "setting", "row 3 already"),
        ("settings", "call-out,48", "currency,pounds", 4, "value", "3 letters"),
        ("customers", "Ines Holm", "x" * 201, 2, "name", "Longer than 200"),
        ("customers", "Ines Holm", "Ines\0Holm", 2, "name", "NUL"),
        ("places", "van 1,van", "(fitted),van", 3, "place", "The ledger uses this name"),
        ("component_types", "0.5;0.75;1.5", "1.5;0.75;0.5", 2, "fitting_hours", "low;usual;high"),
        ("appliance_models", "seal*2", "seal*1.5", 2, "components", "whole number"),
    ],
)  # fmt: skip
def test_each_kind_of_mistake_is_named_where_it_stands(tmp_path, file, old, new, row, column, reason):
    assert old in WHOLE[file]
    found = [one for one in faults(tmp_path, changed(**{file: (old, new)})) if one[0] == file]
    assert (found[0][1], found[0][2]) == (row, column)
    assert reason in found[0][4]


@pytest.mark.parametrize(
    ("content", "row", "reason"),
    [
        (b"", None, "empty"),
        ("part,description,covers,fits\nP1,Pümp,pump,*\n".encode("latin-1"), 2, "not UTF-8"),
        ("part,description".encode("utf-16"), 1, "not UTF-8"),
        (b'part,description,covers,fits\nP1,"Pump,pump,*\n', 2, "quote that is not closed"),
        (b"part,part,description,covers,fits\nP1,P1,Pump,pump,*\n", 1, "twice"),
    ],
)
def test_a_file_that_cannot_be_read_is_one_clear_error(tmp_path, content, row, reason):
    write_files(tmp_path, START)
    (tmp_path / "parts.csv").write_bytes(content)
    found = faults(tmp_path, {})
    assert [(one[0], one[1]) for one in found] == [("parts", row)]
    assert reason in found[0][4]


def test_two_files_for_one_table_and_a_broken_spreadsheet_are_errors(tmp_path):
    write_files(tmp_path, START)
    (tmp_path / "parts.xlsx").write_bytes(b"no spreadsheet")
    assert [one[:4] for one in faults(tmp_path, {})] == [("parts", None, None, "parts.csv and parts.xlsx")]
    (tmp_path / "parts.csv").unlink()
    assert "no spreadsheet that can be read" in faults(tmp_path, {})[0][4]


def test_an_unknown_model_is_an_error_once_the_firm_has_a_file_of_models(tmp_path):
    found = faults(tmp_path, changed(appliances=("HV2,T9", "HV2,T10")))
    assert [one[:4] for one in found] == [("appliances", 3, "model", "T10")]


def test_the_answer_as_json_has_errors_ignored_columns_and_counts(tmp_path, capsys):
    write_files(tmp_path, START | {"parts": START["parts"].replace("fits\n", "fits,shelf\n").replace(",*\n", ",*,7\n")})
    (tmp_path / "notes.txt").write_text("none of ours")
    out = StringIO()
    call_command("import_firm", str(tmp_path), "--json", stdout=out, stderr=StringIO())
    assert json.loads(out.getvalue()) == {
        "errors": [],
        "ignored_columns": {"parts": ["shelf"]},
        "counts": {"parts": 1, "appliances": 2},
    }
    (tmp_path / "parts.csv").write_text("part,description,covers,fits\nP1,Pump,pumps,*\n")
    out = StringIO()
    with pytest.raises(SystemExit) as stopped:
        call_command("import_firm", str(tmp_path), "--json", stdout=out, stderr=StringIO())
    assert stopped.value.code == 1
    assert json.loads(out.getvalue())["errors"] == [
        {
            "file": "parts",
            "row": 2,
            "column": "covers",
            "value": "pumps",
            "reason": "There is no such component type in these files or in the database.",
        }
    ]


def test_a_folder_without_a_file_of_a_firm_is_an_error(tmp_path):
    assert "No file of a firm" in faults(tmp_path, {})[0][4]
