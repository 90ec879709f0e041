"""What a load is planned from: money, parts, needs with their recipes, vans. Plain values, checked references."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from .demand import Demand


class ProblemError(ValueError):
    """Says, one line each, where the problem does not hold together: `problems`, each `path: reason`."""

    def __init__(self, problems):
        self.problems = list(problems)
        super().__init__("\n".join(self.problems))


@dataclass(frozen=True)
class Money:
    second_visit: float
    merchant_run: float
    holding_per_year: float
    budget: float | None = None


@dataclass(frozen=True)
class Part:
    part: str
    price: float
    litres: float = 0.0
    kilograms: float = 0.0
    same_day: float = 0.0


@dataclass(frozen=True)
class Need:
    """One kind of job's demand; each recipe alone finishes the job, the first listed on board is taken.

    demand: van to Demand over one interval; a van that is absent has none of it.
    in_area: van to the number of such components in its area, where it is known (for the words only).
    """

    need: str
    recipes: tuple[Mapping[str, int], ...]
    demand: Mapping[str, Demand]
    in_area: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Van:
    van: str
    litres: float | None = None
    kilograms: float | None = None
    budget: float | None = None
    now: Mapping[str, int] = field(default_factory=dict)
    pins: Mapping[str, tuple[int, int]] = field(default_factory=dict)


@dataclass(frozen=True)
class Problem:
    money: Money
    intervals_per_year: float
    max_per_part: int
    parts: tuple[Part, ...]
    needs: tuple[Need, ...]
    vans: tuple[Van, ...]
    warnings: tuple[str, ...] = ()

    @cached_property
    def same_day(self) -> dict[str, float]:
        return {p.part: p.same_day for p in self.parts}

    def cost_of_missing(self, need: Need) -> float:
        """c₂: what one job of this need costs when its part is not on board."""
        best = max((min(self.same_day[p] for p in recipe) for recipe in need.recipes), default=0.0)
        return best * self.money.merchant_run + (1 - best) * self.money.second_visit


def from_plain(data) -> Problem:
    """The Problem of a plan file that fits the schema; raises ProblemError for what a schema cannot see."""
    problems = list(_reference_problems(data))
    if problems:
        raise ProblemError(problems)
    exposures = {v["van"]: v.get("exposure_per_interval", {}) for v in data["vans"]}
    return Problem(
        money=Money(**data["money"]),
        intervals_per_year=data["intervals_per_year"],
        max_per_part=int(data["max_per_part"]),
        parts=tuple(Part(**p) for p in data["parts"]),
        needs=tuple(_need(n, exposures) for n in data["needs"]),
        vans=tuple(_van(v) for v in data["vans"]),
        warnings=tuple(_weight_warnings(data)),
    )


def _need(row, exposures):
    recipes = tuple({p: int(n) for p, n in recipe.items()} for recipe in row["recipes"])
    if "mixture" in row:
        demand = {van: _mixture(row["mixture"], van) for van in exposures}
    else:
        demand = {
            van: Demand.single(row["failures"], row["exposure_years"], needs.get(row["need"], 0.0))
            for van, needs in exposures.items()
        }
    return Need(row["need"], recipes, {van: d for van, d in demand.items() if d.mean > 0})


def _mixture(rows, van):
    weights, failures, exposure = (
        np.array([row[k] for row in rows], float) for k in ("weight", "failures", "exposure")
    )
    per_interval = np.array([row["per_interval"].get(van, 0.0) for row in rows], float)
    return Demand(weights / weights.sum(), failures, exposure, per_interval)


def _van(row):
    return Van(
        van=row["van"],
        litres=row.get("litres"),
        kilograms=row.get("kilograms"),
        budget=row.get("budget"),
        now={p: int(n) for p, n in row.get("now", {}).items()},
        pins={p: (int(least), int(most)) for p, (least, most) in row.get("pins", {}).items()},
    )


def _weight_warnings(data):
    for need in data["needs"]:
        total = sum(row["weight"] for row in need.get("mixture", []))
        if "mixture" in need and abs(total - 1) > 1e-6:
            yield f"{need['need']}: the weights of its mixture add up to {total:g} and were scaled to 1"


def _reference_problems(data):
    for table, key in (("parts", "part"), ("needs", "need"), ("vans", "van")):
        counts = Counter(row[key] for row in data[table])
        for i, row in enumerate(data[table]):
            if counts[row[key]] > 1:
                yield f"$.{table}[{i}].{key}: '{row[key]}' stands here more than once"
    parts, needs, vans = ({r[k] for r in data[t]} for t, k in (("parts", "part"), ("needs", "need"), ("vans", "van")))
    for i, need in enumerate(data["needs"]):
        yield from _need_problems(f"$.needs[{i}]", need, parts, vans)
    for i, van in enumerate(data["vans"]):
        yield from _van_problems(f"$.vans[{i}]", van, parts, needs)


def _need_problems(path, need, parts, vans):
    for j, recipe in enumerate(need["recipes"]):
        for part in recipe.keys() - parts:
            yield f"{path}.recipes[{j}]: '{part}' is not among the parts"
    rows = need.get("mixture", [])
    for j, row in enumerate(rows):
        for van in row["per_interval"].keys() - vans:
            yield f"{path}.mixture[{j}].per_interval: '{van}' is not among the vans"
    if rows and sum(row["weight"] for row in rows) <= 0:
        yield f"{path}.mixture: all weights are 0"


def _van_problems(path, van, parts, needs):
    for name, known, what in (
        ("exposure_per_interval", needs, "needs"),
        ("now", parts, "parts"),
        ("pins", parts, "parts"),
    ):
        for key in van.get(name, {}).keys() - known:
            yield f"{path}.{name}: '{key}' is not among the {what}"
    for part, (least, most) in van.get("pins", {}).items():
        if least > most:
            yield f"{path}.pins.{part}: least {least} is more than most {most}"
