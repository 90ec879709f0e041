"""Rules 1 to 4 of contracts.md section 2, watching, dates, clocks and failures: each by an example worked by hand."""

import pytest

from jobs.reliability import history
from tests.spell_examples import AS_OF, firm, job, lives, pump, together
from tests.spell_firms import as_records, day_of, spells_of

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


def test_leaving_after_the_day_of_analysis_means_watched_until_that_day_however_silent():
    assert pump(firm(appliance={"in_care_until": "2021-02-01"}))[-1][-1] == "as-of"
    silent = firm(appliance={"in_care_until": "2024-02-01"})
    assert pump(silent, as_of="2023-01-01") == [("2020-01-01", "2023-01-01", 0, "perhaps", "care", "as-of")]


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


def test_each_position_that_a_service_finds_failed_is_dated_by_the_visit_that_named_it():
    first, second = {"component": "pump", "position": "1"}, {"component": "pump", "position": "2"}
    service = job("2020-03-01", ("2020-03-10", [first], []), ("2020-04-20", [second], []), kind="service")
    spells = lives(firm(holds={"pump": 2}, **service))
    assert spells["pump 1"][0] == ("2020-01-01", "2020-03-10", 1, "perhaps", "care", "failed")
    assert spells["pump 2"][0] == ("2020-01-01", "2020-04-20", 1, "perhaps", "care", "failed")


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
