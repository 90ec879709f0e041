"""Rules 5 to 9 of contracts.md section 2 by examples worked by hand, and all rules against a slow derivation."""

import csv
import io

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.reliability import history
from tests.spell_examples import AS_OF, firm, job, lives, pump, together
from tests.spell_firms import as_records, as_rows, day_of, random_firm, spells_of
from tests.spells_by_hand import spells_by_hand

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
    assert spells_of(odd, AS_OF).warnings == ["fan: added to A, whose model lacks it."]


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
    ages = [str(days / 365.25) for days in (1826, 2192)]
    assert row == ["pump", "A", "1", "M", *ages, "0", "perhaps", "care", "as-of", "1"]
