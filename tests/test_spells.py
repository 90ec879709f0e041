"""The rules of contracts.md section 2, each by an example worked by hand, and all against a slow derivation."""

import csv
import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.reliability import history
from tests.spell_firms import as_records, as_rows, day_of, random_firm, spells_of
from tests.spells_by_hand import spells_by_hand

AS_OF = "2021-01-01"


def firm(*, holds=None, installed_on="2015-01-01", in_care_from="2020-01-01", **tables):
    """One appliance A with the given components, in care since new year 2020, and the given rows."""
    appliance = {"appliance": "A", "model": "M", "installed_on": installed_on, "in_care_from": in_care_from}
    appliance |= tables.pop("appliance", {})
    empty = {name: [] for name in ("earlier", "jobs", "visits", "findings", "fitted")}
    models = {"M": {"holds": holds or {"pump": 1}}}
    covers = {"P": ["pump"], "ASSEMBLY": ["pump", "block", "sensor"], "SEAL": []}
    return {"models": models, "covers": covers, "appliances": [appliance], **empty, **tables}


def job(reported_on, *visits, number="J1", kind="breakdown", return_of=""):
    """Rows of one job with visits (day, findings, fitted); a finding is a component or a dict, so is a fitted row."""
    tables = {
        "jobs": [{"job": number, "appliance": "A", "kind": kind, "reported_on": reported_on, "return_of": return_of}],
        "visits": [],
        "findings": [],
        "fitted": [],
    }
    for count, (day, findings, fitted) in enumerate(visits):
        visit = f"{number}/{count}"
        tables["visits"].append({"visit": visit, "job": number, "on": day})
        for row in findings:
            row = row if isinstance(row, dict) else {"component": row}
            tables["findings"].append({"visit": visit, "appliance": "A", **row})
        for row in fitted:
            row = row if isinstance(row, dict) else {"component": row}
            filled = {"visit": visit, "appliance": "A", "part": "SEAL", "quantity": "1", "why": "failed", **row}
            tables["fitted"].append(filled)
    return tables


def together(*jobs):
    return {name: [row for one in jobs for row in one[name]] for name in jobs[0]}


def lives(a_firm, as_of=AS_OF, months=18.0):
    """Spells by component and position as (opened, closed, failed, clock, opened_by, closed_by), by opening."""
    spells = spells_of(a_firm, as_of, months)
    days = [
        spells.opened_day.astype("datetime64[D]").astype(str),
        spells.closed_day.astype("datetime64[D]").astype(str),
    ]
    words = [spells.words(name) for name in ("clock", "opened_by", "closed_by")]
    found = {}
    rows = zip(spells.words("component"), spells.position, *days, spells.failed.astype(int), *words, strict=True)
    for component, position, *row in rows:
        found.setdefault(f"{component} {position}", []).append(tuple(row))
    return {key: sorted(rows) for key, rows in found.items()}


def pump(a_firm, **when):
    return lives(a_firm, **when)["pump 1"]


# Rule 1: watching


def test_watching_starts_with_care_at_the_age_of_the_appliance():
    spells = spells_of(firm(), AS_OF)
    assert spells.entry.tolist() == [1826 / 365.25]  # 2015-01-01 to 2020-01-01: five years, one leap day
    assert spells.exit.tolist() == [2192 / 365.25]  # and 2020 has 366 days
    assert pump(firm()) == [("2020-01-01", "2021-01-01", 0, "perhaps", "care", "as-of")]


def test_an_appliance_installed_in_care_is_watched_from_its_installation():
    assert pump(firm(installed_on="2020-05-01")) == [("2020-05-01", "2021-01-01", 0, "known", "installed", "as-of")]


def test_an_appliance_told_to_have_left_is_watched_until_that_day_and_later_work_leaves_its_spells_alone():
    later = job("2020-09-01", ("2020-09-02", [], ["pump"]))
    left = firm(appliance={"in_care_until": "2020-07-01"}, **later)
    assert pump(left) == [("2020-01-01", "2020-07-01", 0, "perhaps", "care", "left")]


def test_leaving_after_the_day_of_analysis_is_not_known():
    assert pump(firm(appliance={"in_care_until": "2021-02-01"}))[-1][-1] == "as-of"


def test_a_failure_reported_in_care_counts_though_it_was_mended_after():
    left = firm(appliance={"in_care_until": "2020-07-01"}, **job("2020-06-30", ("2020-07-05", [], ["pump"])))
    assert pump(left) == [("2020-01-01", "2020-06-30", 1, "perhaps", "care", "failed")]


def test_silence_beyond_the_window_ends_watching_at_the_last_contact():
    # 18 months are 547.875 days: lost on the 548th day after the visit of 2020-03-03, not on the 547th
    visited = firm(**job("2020-03-01", ("2020-03-03", [], []), kind="service"))
    assert pump(visited, as_of="2021-09-01")[-1] == ("2020-01-01", "2021-09-01", 0, "perhaps", "care", "as-of")
    assert pump(visited, as_of="2021-09-02")[-1] == ("2020-01-01", "2020-03-03", 0, "perhaps", "care", "lost")


def test_a_gap_between_two_contacts_is_exposure_however_long():
    late = together(
        job("2020-02-01", ("2020-02-01", [], []), kind="service"),
        job("2023-02-01", ("2023-02-01", [], []), kind="service", number="J2"),
    )
    assert pump(firm(**late), as_of="2023-06-01") == [("2020-01-01", "2023-06-01", 0, "perhaps", "care", "as-of")]


# Rule 2: imprecise dates


@pytest.mark.parametrize(
    ("installed_on", "renewed_on", "expected"),
    [
        ("2012", None, ("2012-07-01", None)),
        ("2012-02", None, ("2012-02-15", None)),
        ("2020", None, ("2020-01-01", None)),  # care began on new year's day: the only day left
        ("2012", "2012-03", ("2012-03-15", "2012-03-15")),  # the installation gives way to the more precise date
        ("2012-08", "2012", ("2012-08-15", "2012-08-15")),
        ("2012", "2012-03-09", ("2012-03-09", "2012-03-09")),
        ("2019-12-20", "2019", ("2019-12-20", "2019-12-20")),
        ("2012", "2016", ("2012-07-01", "2016-07-01")),
    ],
)
def test_an_imprecise_date_moves_to_the_allowed_day_nearest_to_its_middle(installed_on, renewed_on, expected):
    earlier = [{"appliance": "A", "component": "pump", "renewed_on": renewed_on}] if renewed_on else []
    records = as_records(firm(installed_on=installed_on, earlier=earlier))
    placed = history.place_dates(records.appliances, records.earlier)
    days = [*placed.installed, *placed.renewed]
    assert days == [day_of(text) for text in expected if text]
    assert not placed.installed_impossible.any()
    assert not placed.renewed_impossible.any()


@pytest.mark.parametrize(
    ("installed_on", "renewed_on", "installed_wrong", "renewed_wrong"),
    [
        ("2021", None, True, False),  # in care since 2020
        ("2020-02", None, True, False),
        ("2015", "2014", False, True),
        ("2015-06-10", "2015-05", False, True),
        ("", "2020-03", False, True),
        ("", "2020-01-02", False, True),
    ],
)
def test_dates_that_leave_no_day_are_named(installed_on, renewed_on, installed_wrong, renewed_wrong):
    earlier = [{"appliance": "A", "component": "pump", "renewed_on": renewed_on}] if renewed_on else []
    records = as_records(firm(installed_on=installed_on, earlier=earlier))
    placed = history.place_dates(records.appliances, records.earlier)
    assert placed.installed_impossible.tolist() == [installed_wrong]
    assert placed.renewed_impossible.tolist() == ([renewed_wrong] if renewed_on else [])


# Rule 3: clocks


def test_without_an_installation_date_age_is_unknown_and_exit_is_the_years_watched():
    spells = spells_of(firm(installed_on=""), AS_OF)
    assert (spells.entry.tolist(), spells.exit.tolist()) == ([0.0], [366 / 365.25])
    assert spells.words("clock").tolist() == ["unknown"]


def test_an_original_component_has_a_known_clock_only_where_the_installation_is_known():
    original = [{"appliance": "A", "component": "pump", "renewed_on": ""}]
    assert pump(firm(earlier=original))[0][3] == "known"
    assert pump(firm(earlier=original, installed_on=""))[0][3] == "unknown"


def test_a_renewal_remembered_from_before_care_starts_the_clock():
    spells = spells_of(firm(earlier=[{"appliance": "A", "component": "pump", "renewed_on": "2018-01-01"}]), AS_OF)
    assert spells.entry.tolist() == [730 / 365.25]
    assert spells.words("clock").tolist() == ["known"]
    assert spells.fitted_year.tolist() == [2018]


def test_watching_from_the_day_of_installation_knows_every_clock():
    assert pump(firm(installed_on="2020-01-01"))[0][3:5] == ("known", "installed")


# Rule 4: failures


def test_a_breakdown_fails_on_its_report_and_is_renewed_by_the_visit_that_fitted():
    mended = firm(**job("2020-06-01", ("2020-06-03", ["pump"], []), ("2020-06-10", [], ["pump"])))
    assert pump(mended) == [
        ("2020-01-01", "2020-06-01", 1, "perhaps", "care", "failed"),
        ("2020-06-10", "2021-01-01", 0, "known", "renewal", "as-of"),
    ]


def test_a_failure_found_on_a_service_is_dated_by_the_visit():
    mended = firm(**job("2020-06-01", ("2020-06-03", [], ["pump"]), kind="service"))
    assert pump(mended)[0] == ("2020-01-01", "2020-06-03", 1, "perhaps", "care", "failed")


@pytest.mark.parametrize("reported_on", ["2019-12-30", "2020-01-01"])
def test_the_breakdown_that_brought_the_customer_opens_the_watch_and_is_not_counted(reported_on):
    first = firm(holds={"pump": 1, "fan": 1}, **job(reported_on, ("2020-01-04", [], ["pump"])))
    assert lives(first) == {
        "fan 1": [("2020-01-01", "2021-01-01", 0, "perhaps", "care", "as-of")],
        "pump 1": [("2020-01-04", "2021-01-01", 0, "known", "renewal", "as-of")],
    }


def test_a_part_fitted_before_the_watch_sets_the_clock():
    spells = spells_of(firm(**job("2019-11-30", ("2019-12-02", [], ["pump"]))), AS_OF)
    assert spells.entry.tolist() == [30 / 365.25]
    assert spells.words("clock").tolist() == ["known"]
    assert spells.words("opened_by").tolist() == ["care"]


def test_a_finding_is_no_failure_where_the_component_was_fitted_for_another_reason():
    recalled = firm(**job("2020-06-01", ("2020-06-03", ["pump"], [{"component": "pump", "why": "recall"}])))
    assert pump(recalled)[0] == ("2020-01-01", "2020-06-03", 0, "perhaps", "care", "recall")


def test_a_cause_that_needs_no_part_is_no_failure():
    shut = firm(**job("2020-06-01", ("2020-06-03", [{"component": "pump", "no_part_cause": "closed-valve"}], [])))
    assert len(pump(shut)) == 1


def test_a_position_fails_at_most_once_on_one_job():
    twice = firm(**job("2020-06-01", ("2020-06-03", ["pump"], ["pump"]), ("2020-06-20", ["pump"], ["pump"])))
    assert pump(twice) == [
        ("2020-01-01", "2020-06-01", 1, "perhaps", "care", "failed"),
        ("2020-06-03", "2020-06-20", 0, "known", "renewal", "failed"),
        ("2020-06-20", "2021-01-01", 0, "known", "renewal", "as-of"),
    ]


def test_a_return_for_the_same_position_adds_no_failure_but_renews():
    back = together(
        job("2020-06-01", ("2020-06-01", [], ["pump"])),
        job("2020-07-01", ("2020-07-02", [], ["pump"]), number="J2", return_of="J1"),
    )
    assert [row[1:3] + row[5:] for row in pump(firm(**back))] == [
        ("2020-06-01", 1, "failed"),
        ("2020-07-02", 0, "failed"),
        ("2021-01-01", 0, "as-of"),
    ]


def test_a_return_on_which_another_component_failed_counts():
    back = together(
        job("2020-06-01", ("2020-06-01", [], ["fan"])),
        job("2020-07-01", ("2020-07-02", [], ["pump"]), number="J2", return_of="J1"),
    )
    assert pump(firm(holds={"pump": 1, "fan": 1}, **back))[0][1:3] == ("2020-07-01", 1)


def test_a_job_reported_before_the_last_renewal_adds_no_failure():
    crossed = together(
        job("2020-06-01", ("2020-06-10", [], ["pump"])),
        job("2020-06-05", ("2020-06-12", ["pump"], []), number="J2"),
    )
    assert pump(firm(**crossed)) == [
        ("2020-01-01", "2020-06-01", 1, "perhaps", "care", "failed"),
        ("2020-06-10", "2021-01-01", 0, "known", "renewal", "as-of"),
    ]


# Rule 5: renewals


def test_an_assembly_fails_what_it_was_fitted_for_and_censors_the_others():
    fitted = {"component": "pump", "part": "ASSEMBLY"}
    whole = firm(holds={"pump": 1, "sensor": 2, "block": 1}, **job("2020-06-01", ("2020-06-03", [], [fitted])))
    seen = lives(whole)
    assert seen["pump 1"][0][1:3] == ("2020-06-01", 1)
    for other in ("block 1", "sensor 1", "sensor 2"):
        assert seen[other] == [
            ("2020-01-01", "2020-06-03", 0, "perhaps", "care", "covered"),
            ("2020-06-03", "2021-01-01", 0, "known", "renewal", "as-of"),
        ]


def test_a_covered_component_that_the_model_lacks_is_ignored_and_a_named_one_is_added_with_a_warning():
    fitted = {"component": "fan", "part": "ASSEMBLY"}
    odd = firm(holds={"pump": 1}, **job("2020-06-01", ("2020-06-03", [], [fitted])))
    assert sorted(lives(odd)) == ["fan 1", "pump 1"]
    assert spells_of(odd, AS_OF).warnings == ["A: fan is not among its model's components; added."]


def test_a_planned_renewal_is_a_censored_end():
    early = firm(**job("2020-06-01", ("2020-06-03", [], [{"component": "pump", "why": "planned"}]), kind="planned"))
    assert pump(early)[0] == ("2020-01-01", "2020-06-03", 0, "perhaps", "care", "planned")


def test_each_piece_renews_one_position_and_no_more_than_there_are():
    fitted = {"component": "sensor", "quantity": "2"}
    two = lives(firm(holds={"sensor": 3}, **job("2020-06-01", ("2020-06-01", [], [fitted]))))
    assert [len(two[f"sensor {n}"]) for n in (1, 2, 3)] == [2, 2, 1]
    many = {"component": "sensor", "quantity": "9"}
    nine = lives(firm(holds={"sensor": 2}, **job("2020-06-01", ("2020-06-01", [], [many]))))
    assert [len(nine[f"sensor {n}"]) for n in (1, 2)] == [2, 2]


def test_the_supplier_and_the_year_are_those_of_the_part_that_opened_the_spell():
    fitted = {"component": "pump", "supplier": "S2"}
    spells = spells_of(firm(**job("2020-06-01", ("2020-06-03", [], [fitted]))), AS_OF)
    assert sorted(zip(spells.words("supplier"), spells.words("fitted_year"), strict=True)) == [
        ("S2", "2020"),
        ("unknown", "2015"),
    ]


# Rule 6: repairs in place


def test_a_repair_in_place_goes_on_with_the_same_clock_from_the_last_visit():
    repaired = firm(**job("2020-06-01", ("2020-06-03", ["pump"], []), ("2020-06-09", [], [])))
    assert pump(repaired) == [
        ("2020-01-01", "2020-06-01", 1, "perhaps", "care", "failed"),
        ("2020-06-09", "2021-01-01", 0, "perhaps", "repair", "as-of"),
    ]
    spells = spells_of(repaired, AS_OF)
    assert spells.entry.tolist() == [1826 / 365.25, (1826 + 160) / 365.25]  # 9 June is day 160 of 2020


def test_what_a_part_covers_was_renewed_and_not_repaired():
    fitted = {"component": "block", "part": "ASSEMBLY", "why": "upgrade"}
    both = firm(holds={"pump": 1, "block": 1}, **job("2020-06-01", ("2020-06-03", ["pump"], [fitted])))
    assert pump(both) == [
        ("2020-01-01", "2020-06-01", 1, "perhaps", "care", "failed"),
        ("2020-06-03", "2021-01-01", 0, "known", "renewal", "as-of"),
    ]


# Rule 7: positions that nobody wrote down


def test_an_unnamed_position_is_the_one_watched_longest_then_the_lowest():
    one = together(*(job(f"2020-0{n}-01", (f"2020-0{n}-01", [], ["sensor"]), number=f"J{n}") for n in (3, 4, 5)))
    seen = lives(firm(holds={"sensor": 2}, **one))
    assert [row[1] for row in seen["sensor 1"]] == ["2020-03-01", "2020-05-01", "2021-01-01"]
    assert [row[1] for row in seen["sensor 2"]] == ["2020-04-01", "2021-01-01"]


def test_a_finding_and_a_part_of_one_job_mean_the_same_position():
    named = {"component": "sensor", "position": "2"}
    seen = lives(
        firm(holds={"sensor": 2}, **job("2020-06-01", ("2020-06-02", [named], []), ("2020-06-04", [], ["sensor"])))
    )
    assert len(seen["sensor 1"]) == 1
    assert [row[:3] for row in seen["sensor 2"]] == [("2020-01-01", "2020-06-01", 1), ("2020-06-04", "2021-01-01", 0)]


# Rules 8 and 9


def test_a_part_taken_out_again_renews_nothing_and_ends_nothing():
    out = {"component": "pump", "taken_out": "2020-06-05"}
    tried = firm(**job("2020-06-01", ("2020-06-03", [], [out])))
    assert pump(tried) == [("2020-01-01", "2021-01-01", 0, "perhaps", "care", "as-of")]
    assert pump(tried, as_of="2020-06-04")[0][1:3] == ("2020-06-01", 1)  # it was still in


def test_a_spell_without_length_is_written_only_when_it_failed():
    same_day = together(
        job("2020-06-01", ("2020-06-01", [], [{"component": "pump", "why": "planned"}]), kind="planned"),
        job("2020-06-01", ("2020-06-01", [], ["pump"]), number="J2"),
        job("2020-06-01", ("2020-06-01", [], [{"component": "pump", "why": "upgrade"}]), number="J3", kind="other"),
    )
    assert pump(firm(**same_day)) == [
        ("2020-01-01", "2020-06-01", 0, "perhaps", "care", "planned"),
        ("2020-06-01", "2020-06-01", 1, "known", "renewal", "failed"),
        ("2020-06-01", "2021-01-01", 0, "known", "renewal", "as-of"),
    ]


def test_what_a_visit_after_the_day_of_analysis_found_is_not_known():
    mended = firm(**job("2020-06-01", ("2020-06-03", [], ["pump"])))
    assert pump(mended, as_of="2020-06-02") == [("2020-01-01", "2020-06-02", 0, "perhaps", "care", "as-of")]


# All at once


@settings(max_examples=200, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    busy=st.integers(0, 7),
    as_of=st.sampled_from(["2020-02-01", "2020-09-01", "2021-01-15", "2021-06-01", "2022-12-01"]),
    months=st.sampled_from([2.0, 6.0, 18.0]),
)
def test_array_operations_agree_with_the_slow_derivation(seed, busy, as_of, months):
    a_firm = random_firm(np.random.default_rng(seed), busy=busy)
    ours, slow = as_rows(spells_of(a_firm, as_of, months)), spells_by_hand(a_firm, as_of, months)
    assert [row[:4] + row[6:] for row in ours] == [row[:4] + row[6:] for row in slow]
    assert np.allclose([row[4:6] for row in ours], [row[4:6] for row in slow], atol=1e-12)


def test_a_firm_with_nothing_in_it_has_no_spells():
    nothing = {"models": {}, "covers": {}, "appliances": [], "earlier": [], "jobs": [], "visits": [], "findings": [],
               "fitted": []}  # fmt: skip
    assert len(spells_of(nothing, AS_OF)) == 0


def test_asking_for_some_components_gives_the_same_spells_of_those():
    a_firm = random_firm(np.random.default_rng(5), busy=6)
    records, as_of = as_records(a_firm), day_of(AS_OF)
    pumps = list(records.names.components).index("pump")
    some = history.build_spells(records, as_of=as_of, care_window_months=18.0, components=[pumps])
    every = history.build_spells(records, as_of=as_of, care_window_months=18.0)
    assert as_rows(some) == [row for row in as_rows(every) if row[0] == "pump"]


def test_positions_in_care_have_the_age_of_the_running_spell():
    mended = firm(holds={"pump": 1, "fan": 1}, **job("2020-06-01", ("2020-06-03", ["fan"], ["pump"])))
    here = history.positions_in_care(as_records(mended), as_of=day_of("2020-06-13"), care_window_months=18.0)
    assert here.age.tolist() == [(1826 + 164) / 365.25, 10 / 365.25]  # 13 June is day 164 of 2020


def test_the_file_of_spells_has_the_columns_of_the_contract():
    file = io.StringIO()
    spells_of(firm(), AS_OF).write_csv(file)
    header, row = csv.reader(io.StringIO(file.getvalue()))
    assert header == ["component", "appliance", "position", "model", "entry", "exit", "failed", "clock", "opened_by",
                      "closed_by", "weight"]  # fmt: skip
    assert row == ["pump", "A", "1", "M", "4.999315537", "6.001368925", "0", "perhaps", "care", "as-of", "1"]
