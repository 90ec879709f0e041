"""Spells that say little or are odd: each gives a life or a named status, and never a number that is none."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.life_file import read_life_file
from jobs.reliability.grouping import one_family
from jobs.reliability.report import life_report

pytestmark = pytest.mark.filterwarnings("error")
STATUSES = {
    "fitted", "no-failures", "one-failure", "all-ages-equal", "shape-at-edge", "no-known-ages", "not-converged",
}  # fmt: skip
SIZES = ("mtbf", "shape", "scale", "mean", "b10")
WAYS = ("file", "perhaps", "first", "unknown")
N = 40
START = np.sort(np.random.default_rng(0).exponential(3, N))
END = START + np.random.default_rng(1).exponential(2, N)
NUMBER = np.arange(N)
TINY_AND_HUGE = np.where(NUMBER < N // 2, 1e-9, 1e9)


def grouped(entry, exit, failed, *, way="file", group=None, weight=None, lost_rate=0.0):
    """Spells whose ages all are known, or none, or that all were taken over in mid-life, each a position."""
    entry, exit, failed = np.broadcast_arrays(np.asarray(entry, float), exit, failed)
    group = np.zeros(exit.size, int) if group is None else np.asarray(group)
    names = [f"group {number}" for number in range(group.max() + 1)]
    spells = one_family(names, group, entry, exit, failed, np.ones(exit.size) if weight is None else weight)
    if way in ("file", "first"):
        return spells
    unit = np.where(spells.exit > 0, np.arange(exit.size), -1) if way == "perhaps" else None
    return replace(spells, aged=np.zeros(exit.size, bool), unit=unit, lost_rate=np.full(len(names), lost_rate))


def told(spells, **options):
    """The report's groups as plain dicts, checked: statuses by name, every size above 0 and within its limits."""
    found = life_report(spells, curve=True, **options).to_dict()
    json.dumps(found, allow_nan=False)
    for one in found["groups"]:
        assert one["status"] in STATUSES
        assert (one["shape"] is not None) == (one["status"] == "fitted")
        for name in SIZES:
            low, value, high = one[f"{name}_low"], one[name], one[f"{name}_high"]
            assert all(size > 0 for size in (low, value, high) if size is not None)
            assert low is None or value is None or low <= value * (1 + 1e-9)
            assert high is None or high >= value * (1 - 1e-9)
        for point in one["curve"]:
            assert 0 <= point["survival"] <= 1
            if point["survival_low"] is not None:
                assert point["survival_low"] <= point["survival"] <= point["survival_high"]
    return found["groups"]


def statuses(entry, exit, failed, **options):
    return [told(grouped(entry, exit, failed, way=way, **options))[0]["status"] for way in WAYS]


FITTED = ["fitted", "fitted", "fitted", "no-known-ages"]
CASES = {
    "nothing failed": (START, END, False, ["no-failures"] * 4),
    "one failed": (START, END, NUMBER == 5, ["one-failure"] * 4),
    "two failed": (START, END, (NUMBER == 5) | (NUMBER == 20), FITTED),
    "all failed": (START, END, True, FITTED),
    "all failed at one age": (0.0, np.full(N, 4.0), True, [*["all-ages-equal"] * 3, "no-known-ages"]),
    "all entered and failed together": (2.0, np.full(N, 4.0), True, [*["all-ages-equal"] * 3, "no-known-ages"]),
    "entry equal to exit": (END, END, True, [*["shape-at-edge"] * 3, "no-known-ages"]),
    "entry equal to exit, nothing failed": (END, END, False, ["no-failures"] * 4),
    "all failed at age 0": (0.0, np.zeros(N), True, ["all-ages-equal", "no-known-ages"] * 2),
    "nobody watched": (0.0, np.zeros(N), False, ["no-failures"] * 4),
    "some failed at age 0": (0.0, np.where(NUMBER < 5, 0.0, END), True, FITTED),
    "ages of 1e-9": (START * 1e-9, END * 1e-9, NUMBER % 2 == 0, FITTED),
    "ages of 1e9": (START * 1e9, END * 1e9, NUMBER % 2 == 0, FITTED),
    "ages of 1e-9 beside 1e9": (
        START * TINY_AND_HUGE, END * TINY_AND_HUGE, NUMBER % 2 == 0,
        ["fitted", "not-converged", "fitted", "no-known-ages"],
    ),
    "late entries at the largest exit": (
        np.where(NUMBER < 5, 20.0, 0.0), np.where(NUMBER < 5, 20.0, END), True, FITTED
    ),
    "shape without upper end": (0.0, np.full(N, 5.0), NUMBER > 5, [*["all-ages-equal"] * 3, "no-known-ages"]),
    "shape without lower end": (
        3.0, 3 + np.where(NUMBER < 20, 0.01 * (NUMBER + 1), 40), NUMBER < 20, [*["shape-at-edge"] * 3, "no-known-ages"]
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_odd_spells_have_a_life_or_a_named_status_whatever_is_assumed_before_care(case):
    entry, exit, failed, expected = CASES[case]
    assert statuses(entry, exit, failed) == expected


def test_one_failure_beside_positions_of_unseen_past_is_one_failure():
    spells = grouped(START, END, NUMBER == N - 1, way="perhaps", lost_rate=0.05)
    known = replace(spells, aged=NUMBER == N - 1, unit=np.where(NUMBER == N - 1, -1, NUMBER))
    assert told(known)[0]["status"] == "one-failure"


@pytest.mark.parametrize("way", WAYS)
def test_weights_below_1_and_of_0_count_as_they_say(way):
    weight = np.where(NUMBER % 4 == 0, 0.0, np.where(NUMBER % 4 == 1, 0.25, 1.0))
    one = told(grouped(START, END, NUMBER % 2 == 0, way=way, weight=weight))[0]
    assert one["exposure"] == pytest.approx(np.sum(weight * (END - START)))
    kept = weight > 0
    without = told(grouped(START[kept], END[kept], NUMBER[kept] % 2 == 0, way=way, weight=weight[kept]))[0]
    for name in ("mtbf", "shape", "scale_low"):
        assert one[name] == (pytest.approx(without[name], rel=1e-6) if one[name] else None)


def test_failures_of_weight_below_1_in_all_have_a_fit_if_their_ages_differ():
    one = told(grouped(0.0, [3.0, 5.0, 6.0], [True, True, False], weight=np.array([0.4, 0.4, 1.0])))[0]
    assert one["status"] == "fitted"
    assert one["failures"] == pytest.approx(0.8)


def test_groups_of_exactly_one_rate_share_it():
    groups = told(grouped(0.0, np.tile(END[:10], 4), True, group=np.repeat(np.arange(4), 10)))
    assert len({one["shrunk"] for one in groups}) == 1
    assert all("Groups not told apart" in " ".join(one["warnings"]) for one in groups)


def test_groups_of_1e_minus_9_and_1e9_in_one_file_do_not_disturb_each_other():
    unit = np.array([1e-9, 1.0, 1e9])
    group = np.repeat(np.arange(3), N)
    for way in ("file", "perhaps"):
        groups = told(grouped(*(np.outer(unit, ages).ravel() for ages in (START, END)), np.tile(NUMBER % 2 == 0, 3),
                              way=way, group=group))  # fmt: skip
        assert [one["shape"] for one in groups] == pytest.approx([groups[1]["shape"]] * 3, rel=1e-9)
        assert [one["scale"] for one in groups] == pytest.approx(unit * groups[1]["scale"], rel=1e-9)


@pytest.mark.parametrize("way", ["file", "perhaps"])
def test_a_million_times_the_age_is_a_million_times_the_life(way):
    one, large = (told(grouped(START * k, END * k, NUMBER % 2 == 0, way=way))[0] for k in (1.0, 1e6))
    for name in ("mtbf", "shape", "scale", "mean", "b10"):
        for end in ("", "_low", "_high"):
            unit = 1.0 if name == "shape" else 1e6
            assert large[name + end] == pytest.approx(one[name + end] * unit, rel=1e-7 if end else 1e-9)


@pytest.mark.parametrize("way", ["file", "perhaps"])
def test_rows_written_twice_are_rows_that_count_two(way):
    twice = told(grouped(*(np.repeat(column, 2) for column in (START, END, NUMBER % 2 == 0)), way=way))[0]
    counted = told(grouped(START, END, NUMBER % 2 == 0, way=way, weight=np.full(N, 2.0)))[0]
    for name in ("shape", "scale", "b10", "mtbf_low", *(["shape_low", "scale_high"] if way == "file" else [])):
        assert counted[name] == pytest.approx(twice[name], rel=1e-9 if way == "file" else 1e-4)


@pytest.mark.parametrize("way", ["file", "perhaps"])
def test_each_group_has_the_life_that_it_has_alone_whatever_the_order(way):
    rng = np.random.default_rng(5)
    group = rng.integers(0, 6, 6 * N)
    entry = rng.uniform(0.2, 9, group.size)
    exit = entry + rng.exponential(2, group.size)
    failed = rng.random(group.size) < 0.5
    together = told(grouped(entry, exit, failed, way=way, group=group))
    turned = told(grouped(entry[::-1], exit[::-1], failed[::-1], way=way, group=(5 - group)[::-1]))[::-1]
    for number, one in enumerate(together):
        own = group == number
        alone = told(grouped(entry[own], exit[own], failed[own], way=way))[0]
        for name in ("shape", "scale", "mean", "b10", "shape_low", "scale_high", "b10_low", "mean_high", "mtbf_low"):
            close = 1e-9 if way == "file" else 1e-5
            assert alone[name] == pytest.approx(one[name], rel=close)
            assert turned[number][name] == pytest.approx(one[name], rel=close)


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ("exit,failed\n5,0\n", "no-failures"),
        ("exit,failed,count\n5,1,0\n7,1,0\n", "no-failures"),
        ("exit,failed,count\n5,1,1\n7,1,0\n9,0,3\n", "one-failure"),
        ("exit,failed\n5,1\n5,1\n5,1\n", "all-ages-equal"),
        ("exit,failed\n0,1\n0,1\n", "all-ages-equal"),
        ("exit,failed\n0,0\n", "no-failures"),
        ("exit,failed,entry\n3,1,3\n4,1,4\n", "shape-at-edge"),
        ("exit,failed\n0,1\n4,1\n5,0\n", "shape-at-edge"),
        ("exit,failed,count\n1e-9,1,1\n1e9,1,9007199254740992\n", "fitted"),
        ("exit,failed\n1e-100,1\n1e100,1\n", "fitted"),
    ],
)
def test_odd_files_have_a_life_or_a_named_status(rows, expected, tmp_path):
    path = tmp_path / "ages.csv"
    path.write_text(rows, encoding="utf-8")
    assert [one["status"] for one in told(read_life_file(path))] == [expected]


AGES = st.one_of(st.sampled_from([0.0, 1.0, 2.0, 1e-9, 1e9]), st.floats(1e-6, 1e6))
ROWS = st.lists(st.tuples(AGES, AGES, st.booleans(), st.sampled_from([0.0, 0.3, 1.0, 4.0])), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(rows=ROWS, way=st.sampled_from(WAYS), groups=st.integers(1, 3), lost=st.sampled_from([0.0, 0.05]))
def test_any_few_spells_have_a_life_or_a_named_status(rows, way, groups, lost):
    one, other, failed, weight = (np.array(column) for column in zip(*rows, strict=True))
    group = np.minimum(np.arange(one.size) % groups, one.size - 1)
    told(grouped(np.minimum(one, other), np.maximum(one, other), failed, way=way, group=group, weight=weight,
                 lost_rate=lost))  # fmt: skip
