"""The invented firm is what its description says, obeys the file contract, and is the same on every run."""

import re
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from scipy import stats

from jobs.invented import firm, lives, trade
from jobs.invented.town import Town
from tests.firm_files import KINDS, faults

FIXTURE_DAY = date(2026, 11, 20)
DEMO = Path(__file__).resolve().parents[1] / "fixtures" / "demo"
BOILERS = {"gas-combi", "gas-system", "gas-regular", "oil"}


class Read:
    """The tables of a drawn firm, joined once."""

    def __init__(self, drawn):
        self.tables, self.truth = drawn.tables, drawn.truth
        self.appliance = {row["appliance"]: row for row in self.tables["appliances"]}
        self.job = {row["job"]: row for row in self.tables["jobs"]}
        self.visit = {row["visit"]: row for row in self.tables["visits"]}
        self.part = {row["part"]: row for row in self.tables["parts"]}
        self.breakdowns = [row for row in self.tables["jobs"] if row["kind"] == "breakdown"]

    def job_of(self, row):
        return self.job[self.visit[row["visit"]]["job"]]

    def opens_care(self, job):
        return job["reported_on"] <= self.appliance[job["appliance"]]["in_care_from"]

    def failures(self):
        """(job, component) of every failure after the start of care."""
        rows = [row for row in self.tables["fitted"] if row["why"] == "failed"]
        rows += [row for row in self.tables["findings"] if row["component"]]
        return {(self.job_of(r)["job"], r["component"]) for r in rows if not self.opens_care(self.job_of(r))}


@pytest.fixture(scope="module")
def drawn():
    return firm.draw(FIXTURE_DAY)


@pytest.fixture(scope="module")
def read(drawn):
    return Read(drawn)


def breaches(tables):
    no_part = {cause for kind in KINDS for cause, _ in trade.no_part_causes(kind)}
    return faults(tables, trade.components(), no_part)


def share(rows, true):
    rows = list(rows)
    return sum(map(true, rows)) / len(rows)


def test_the_files_obey_the_contract(read):
    assert breaches(read.tables) == []


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("visits", "outcome", "mended"),
        ("fitted", "part", "999999"),
        ("fitted", "component", "oil-pump"),
        ("appliances", "in_care_from", "1970-01-01"),
        ("jobs", "kind", "repair"),
        ("jobs", "appliance", "A99999"),
        ("parts", "covers", ""),
    ],
)
def test_the_reader_of_the_files_sees_a_planted_fault(table, column, value):
    tables = firm.make(FIXTURE_DAY, scale=0.02)
    tables[table][0][column] = value
    assert breaches(tables)


@pytest.mark.parametrize(("day", "seed"), [("2026-07-05", 1), ("2024-02-29", 2), ("2030-01-01", 3), ("2026-12-25", 4)])
def test_a_small_firm_of_any_day_and_seed_obeys_the_contract_and_nobody_is_idle(day, seed):
    day = date.fromisoformat(day)
    tables = firm.make(day, seed, scale=0.1)
    assert breaches(tables) == []
    booked = Counter((row["engineer"], row["on"]) for row in tables["visits"] if not row["outcome"])
    drivers = [row["engineer"] for row in tables["places"] if row["kind"] == "van"]
    assert all(booked[driver, day.isoformat()] >= 2 for driver in drivers)
    assert max(row["reported_on"] for row in tables["jobs"]) <= day.isoformat()


def test_the_same_seed_and_day_give_the_same_bytes(tmp_path):
    first = firm.write(tmp_path / "a", firm.make(FIXTURE_DAY, 2, scale=0.05))
    second = firm.write(tmp_path / "b", firm.make(FIXTURE_DAY, 2, scale=0.05))
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]
    assert firm.make(FIXTURE_DAY, 3, scale=0.05) != firm.make(FIXTURE_DAY, 2, scale=0.05)


def test_the_committed_files_are_what_the_generator_makes(tmp_path, drawn):
    firm.write(tmp_path, drawn.tables)
    firm.write_truth(tmp_path, drawn.truth)
    made = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    kept = {path.name: path.read_bytes() for path in DEMO.iterdir() if path.name != "README.md"}
    assert sorted(made) == sorted(kept)
    assert [name for name in made if made[name] != kept[name]] == []
    assert sum(map(len, made.values())) < 6_000_000


def test_the_command_writes_the_firm_of_a_day(tmp_path, capsys):
    call_command("make_demo", str(tmp_path), day="2026-11-20", seed=2, scale=0.02)
    assert "17 files" in capsys.readouterr().out
    assert (tmp_path / "truth.json").exists()
    assert (tmp_path / "visits.csv").read_text(encoding="utf-8").startswith("visit,job,engineer,place,on,outcome")


def test_a_day_that_is_none_is_refused(tmp_path):
    with pytest.raises(CommandError, match="32 May"):
        call_command("make_demo", str(tmp_path), day="32 May")


def test_the_firm_has_the_size_that_was_asked_for(read):
    assert 2900 <= len(read.appliance) <= 3200
    assert Counter(row["kind"] for row in read.tables["places"]) == {"store": 1, "van": 10}
    assert len(read.tables["suppliers"]) == 5
    assert 25 <= len(read.tables["appliance_models"]) <= 40
    assert 150 <= len(read.tables["parts"]) <= 300
    assert 8000 <= len(read.tables["visits"]) <= 14000
    assert {row["kind"] for row in read.tables["appliance_models"]} == KINDS - {"other"}


def test_boilers_fail_about_as_often_as_surveys_say(read):
    kind_of = {key: row["kind"] for key, row in read.appliance.items()}
    years = 0.0
    for key, row in read.appliance.items():
        left = read.truth["appliances"][key].get("left_on", FIXTURE_DAY.isoformat())
        watched = date.fromisoformat(left) - date.fromisoformat(row["in_care_from"])
        years += watched.days / lives.YEAR if kind_of[key] in BOILERS else 0
    failures = sum(kind_of[read.job[job]["appliance"]] in BOILERS for job, _ in read.failures())
    assert 17 <= 100 * failures / years <= 21  # the trade table's combi total is 20


def test_two_breakdowns_in_ten_need_a_second_visit_for_want_of_a_part(read):
    lacking = {row["job"] for row in read.tables["visits"] if row["outcome"] == "part-needed"}
    assert 0.17 <= share(read.breakdowns, lambda job: job["job"] in lacking) <= 0.23
    needed = {row["visit"] for row in read.tables["needed"]}
    without = [v for v, row in read.visit.items() if row["outcome"] == "part-needed" and v not in needed]
    assert without == []


def test_most_appliances_came_in_mid_life_with_renewals_that_nobody_recorded(read):
    true = read.truth["appliances"]

    def age(row):
        return date.fromisoformat(row["in_care_from"]) - date.fromisoformat(true[row["appliance"]]["installed_on"])

    assert share(read.appliance.values(), lambda row: age(row) > timedelta(days=3 * 365)) > 0.7
    assert share(read.appliance, lambda key: "unseen" in true[key]) > 0.35
    told = {row["appliance"] for row in read.tables["earlier"]}
    assert 0.03 < share(read.appliance, lambda key: key in told) < 0.15
    assert {len(row["renewed_on"]) for row in read.tables["earlier"]} == {0, 4, 7, 10}


def test_installation_dates_are_known_to_the_day_the_month_the_year_or_not_at_all(read):
    known = Counter(len(row["installed_on"]) for row in read.appliance.values())
    assert set(known) == {0, 4, 7, 10}
    assert min(known.values()) > 0.08 * len(read.appliance)


def test_calls_peak_in_winter(read):
    months = Counter(int(job["reported_on"][5:7]) for job in read.breakdowns if not read.opens_care(job))
    assert months[12] + months[1] + months[2] > 1.8 * (months[6] + months[7] + months[8])


def test_the_bad_batch_fails_early(read):
    batch = read.truth["bad_batch"]
    pieces = [row for row in read.tables["fitted"] if row["component"] == batch["component"]]
    when = [(read.job_of(row)["appliance"], read.visit[row["visit"]]["on"], row) for row in pieces]

    def again(appliance, day):
        until = (date.fromisoformat(day) + timedelta(days=365)).isoformat()
        return any(other == appliance and day < on <= until and r["why"] == "failed" for other, on, r in when)

    def bad(day, row):
        return batch["fitted_from"] <= day <= batch["fitted_to"] and row["from"] == batch["supplier"]

    failed_bad = [again(appliance, day) for appliance, day, row in when if bad(day, row)]
    failed_good = [again(appliance, day) for appliance, day, row in when if not bad(day, row)]
    assert len(failed_bad) >= 15
    assert np.mean(failed_bad) > 0.3
    assert np.mean(failed_good) < 0.1


def test_appliances_leave_told_and_silently(read):
    told = {key for key, row in read.appliance.items() if row["in_care_until"]}
    left = {key for key, true in read.truth["appliances"].items() if "left_on" in true}
    assert len(told) > 150
    assert len(left - told) > 150
    assert all(read.appliance[key]["end_reason"] for key in told)
    assert 0.4 < share(read.appliance.values(), lambda row: row["service"] == "yes") < 0.65


def test_first_breakdowns_brought_customers(read):
    assert sum(read.opens_care(job) for job in read.breakdowns) > 250


def test_work_of_every_kind_is_there(read):
    assert all(Counter(row["why"] for row in read.tables["fitted"])[why] > 10 for why in
               ["failed", "planned", "recall", "upgrade", "had-to-come-off"])  # fmt: skip
    outcomes = Counter(row["outcome"] for row in read.tables["visits"])
    assert len(outcomes) == 10  # the nine of the contract and the booked ones
    assert min(outcomes.values()) >= 8
    assert {"breakdown", "service", "planned", "installation", "other"} == {row["kind"] for row in read.job.values()}
    assert sum(bool(row["return_of"]) for row in read.job.values()) > 60
    assert sum(bool(row["no_part_cause"]) for row in read.tables["findings"]) > 400
    mended = {(r["visit"], r["component"]) for r in read.tables["findings"] if r["component"]}
    fitted_jobs = {read.job_of(row)["job"] for row in read.tables["fitted"]}
    assert sum(read.job_of({"visit": visit})["job"] not in fitted_jobs for visit, _ in mended) > 150
    found_at_service = [job for job, _ in read.failures() if read.job[job]["kind"] == "service"]
    assert len(found_at_service) > 10


def test_kits_assemblies_and_pairs_stand_beside_single_parts_and_are_used(read):
    used = Counter(len(read.part[row["part"]]["covers"].split(";")) for row in read.tables["fitted"])
    assert used[2] > 20
    assert used[3] > 5
    pairs = {row["parts"].split(";")[0]: row["component"] for row in read.tables["recipes"]}
    assert sum(pairs.get(row["part"]) == row["component"] for row in read.tables["fitted"]) > 15
    grades = {row["grade"] for row in read.part.values()}
    assert grades == {"maker-new", "approved-equivalent", "unapproved-copy", "reconditioned"}
    assert sum(bool(row["superseded_by"]) for row in read.part.values()) >= 6


def test_suppliers_raise_their_prices_and_sell_in_packs_with_minimums_and_surcharges(read):
    prices = read.tables["prices"]
    files = {(row["supplier"], row["valid_from"]) for row in prices}
    assert len(files) >= 5 * 8
    first, last = {}, {}
    for row in prices:
        first.setdefault((row["supplier"], row["supplier_part"]), float(row["price_ex_vat"]))
        last[row["supplier"], row["supplier_part"]] = float(row["price_ex_vat"])
    assert 1.25 < np.mean([last[key] / first[key] for key in first]) < 1.9
    assert {row["pack"] for row in prices} == {1, 5, 10}
    assert {row["minimum"] for row in prices} == {1, 2}
    assert {row["surcharge"] for row in prices} > {"", 12, 25}
    assert {row["same_day"] for row in read.tables["suppliers"]} == {"yes", "no"}


def test_some_parts_were_never_charged(read):
    assert 0.03 < share(read.tables["fitted"], lambda row: row["charge_ex_vat"] == "") < 0.1


def test_nobody_can_be_rung_or_written_to(read):
    phone = re.compile(r"01632 960\d{3}|07700 900\d{3}")
    assert all(phone.fullmatch(row["phone"]) for row in read.tables["customers"])
    mails = [row["email"] for name in ("customers", "suppliers") for row in read.tables[name] if row["email"]]
    assert all(mail.endswith(".example") for mail in mails)
    assert all(re.fullmatch(r"2\d{12}", row["gtin"]) for row in read.part.values() if row["gtin"])


def test_a_year_that_is_not_lived_yet_leaves_what_was_before_as_it_was():
    def known(drawn):
        read = Read(drawn)
        rows = [(read.visit[r["visit"]]["on"], read.job_of(r)["appliance"], r["part"], r["component"], r["from"])
                for r in read.tables["fitted"]]  # fmt: skip
        return [row for row in sorted(rows) if row[0] < FIXTURE_DAY.isoformat()], len(rows)

    now, _ = known(firm.draw(FIXTURE_DAY, scale=0.2))
    then, with_the_year = known(firm.draw(FIXTURE_DAY, scale=0.2, unlived_days=365))
    assert now == then
    assert with_the_year > len(now) + 50


def test_a_large_town_never_runs_out_of_addresses():
    town = Town(np.random.default_rng(1), 1, [], {}, [(1, 1.0)], 0, 1)
    homes = [town.household() for _ in range(6000)]
    assert len({address for _, address, _ in homes}) == 6000


def test_lives_are_drawn_from_the_weibull_law():
    rng = np.random.default_rng(5)
    drawn = [lives.draw_life(rng, 2.5, 13.0) for _ in range(4000)]
    assert stats.kstest(drawn, stats.weibull_min(2.5, scale=13).cdf).pvalue > 0.01
    survivors = [lives.draw_life(rng, 2.5, 13.0, 8.0) for _ in range(4000)]
    law = stats.weibull_min(2.5, scale=13)
    assert stats.kstest(survivors, lambda x: 1 - law.sf(x) / law.sf(8.0)).pvalue > 0.01
    assert min(survivors) >= 8.0


@pytest.mark.parametrize("pattern", lives.MONTH_FACTORS)
def test_the_season_clock_keeps_pace_with_the_calendar(pattern):
    start, end = date(1990, 5, 17).toordinal(), date(2030, 5, 17).toordinal()
    assert lives.clock_at(pattern, end) - lives.clock_at(pattern, start) == pytest.approx(
        (end - start) / 365.25, abs=0.01
    )
    assert lives.day_at(pattern, lives.clock_at(pattern, end)) == end
