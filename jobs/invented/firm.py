"""Draw the invented firm up to a day, and write it into the files that any firm would import."""

import csv
import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from jobs.invented import catalogue, lives, models, parts, people, prices, vans
from jobs.invented.bookings import book_ahead
from jobs.invented.diary import Diary, in_order
from jobs.invented.history import History
from jobs.invented.names import FIRM
from jobs.invented.town import Town

SEED = 20261120
YEARS = 8
APPLIANCES, VANS = 3000, 10
SETTINGS = {
    "firm_name": FIRM, "currency": "GBP", "country": "GB", "time_zone": "Europe/London", "labour_cost": 34,
    "labour_charge": 71, "call_out": 57, "travel_cost": 12, "second_visit": 90, "merchant_run": 25,
    "holding_per_year": 0.25, "restock_days": 7, "max_per_part": 4, "care_window_months": 18,
    "service_interval_months": 12, "target_first_visit_fix_rate": 0.9,
}  # fmt: skip


@dataclass
class Drawn:
    """The tables in import order, and what they were drawn from."""

    tables: dict
    truth: dict


@dataclass
class _World:
    """All that was drawn, before it is written down as rows."""

    last: int
    end: int
    stock_rng: np.random.Generator
    fleet: list
    kinds: list
    factors: dict
    shelf: parts.Catalogue
    price_book: prices.PriceBook
    town: Town
    diary: Diary


def _live(day, seed, scale, unlived_days):
    """Draw everything and let the years pass. Each thing has its own stream of random numbers."""
    last = day.toordinal()
    first, end = last - round(YEARS * lives.YEAR), last + unlived_days
    rngs = [np.random.default_rng([seed, number]) for number in range(1, 7)]
    fleet = vans.make_vans(max(2, round(VANS * min(scale, 1))))
    kinds = models.all_models()
    factors = models.draw_rate_factors(rngs[0], kinds)
    shelf = catalogue.draw_catalogue(rngs[1], kinds)
    price_book = prices.draw_prices(rngs[2], shelf, first, last)
    town = Town(rngs[3], seed, kinds, factors, vans.area_weights(fleet), first, last)
    town.fill(round(APPLIANCES * scale))
    vans.draw_carried(rngs[4], fleet, town.appliances, shelf, last)
    diary = Diary(fleet, end)
    History(town, diary, shelf, price_book, last, end).run()
    if not unlived_days:
        book_ahead(diary, town.appliances, last)
    return _World(last, end, rngs[5], fleet, kinds, factors, shelf, price_book, town, diary)


def _tables(world):
    appliances = world.town.appliances
    return {
        "settings": [{"setting": key, "value": value} for key, value in SETTINGS.items()],
        "appliance_models": models.rows(world.kinds),
        "parts": parts.part_rows(world.shelf),
        "recipes": parts.recipe_rows(world.shelf),
        "suppliers": prices.supplier_rows(),
        "prices": prices.price_rows(world.price_book),
        "places": vans.place_rows(world.fleet),
        "stock": vans.stock_rows(world.stock_rng, world.fleet, appliances, world.shelf, world.price_book, world.last),
        "customers": people.customer_rows(world.town.customers),
        "appliances": people.appliance_rows(appliances, world.end),
        "earlier": people.earlier_rows(appliances),
        **in_order(world.diary),
    }


def draw(day: date, seed: int = SEED, *, scale: float = 1.0, unlived_days: int = 0) -> Drawn:
    """Draw the firm: `scale` times 3,000 appliances, eight years of work up to `day`.

    With unlived_days the same firm lives on for so many days after `day`: what was before stays as it was, booked
    visits take place, and no visits are booked beyond. The same arguments always give the same firm.
    """
    world = _live(day, seed, scale, unlived_days)
    return Drawn(_tables(world), _truth(day, seed, scale, world))


def make(day: date, seed: int = SEED, *, scale: float = 1.0) -> dict[str, list[dict]]:
    """Tables by name, in import order; rows as contracts.md section 1 has them."""
    return draw(day, seed, scale=scale).tables


def write(folder, tables):
    """Write each table into folder/name.csv (UTF-8, commas, newline endings) and return the paths."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, rows in tables.items():
        path = folder / f"{name}.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
        paths.append(path)
    return paths


def write_truth(folder, truth):
    """Write what the tables were drawn from into folder/truth.json."""
    text = json.dumps(truth, indent=1, ensure_ascii=False) + "\n"
    (Path(folder) / "truth.json").write_text(text, encoding="utf-8", newline="\n")


def _truth(day, seed, scale, world):
    town, factors = world.town, world.factors
    held = sorted({component for model in town.models for component in model.components})
    bad_first, bad_last = lives.batch_window(day.toordinal())
    return {
        "note": "Everything here is invented: the true laws from which the demo firm was drawn.",
        "day": day.isoformat(), "seed": seed, "scale": scale,
        "clock": "Ages in years on a season clock: a day counts as its month factor over the year's mean.",
        "components": {
            key: {
                "shape": lives.component_law(key)[0], "scale_years": lives.component_law(key)[1],
                "season": lives.pattern_of(key),
                "repaired_in_place": lives.REPAIRED_IN_PLACE.get(key, lives.REPAIRED_IN_PLACE_ELSE),
            }
            for key in held
        },
        "rate_factors": _by_model(factors),
        "month_factors": lives.MONTH_FACTORS,
        "bad_batch": {
            "fitted_from": vans.iso(bad_first), "fitted_to": vans.iso(bad_last),
            **{key: lives.BATCH[key] for key in ("component", "supplier", "shape", "scale_years")},
        },
        "unseen_renewals_without_failure_per_year": lives.UNSEEN_RENEWALS_WITHOUT_FAILURE,
        "leaving_per_year": {"service": lives.LEAVING[True], "no service": lives.LEAVING[False]},
        "calls_without_part_per_year": lives.NO_PART_CALLS | {"other kinds": lives.NO_PART_CALLS_ELSE},
        "appliances": {a.key: _true_appliance(a, day.toordinal()) for a in town.appliances},
    }  # fmt: skip


def _by_model(factors):
    nested = {}
    for (model, component), times in factors.items():
        nested.setdefault(model, {})[component] = times
    return nested


def _true_appliance(appliance, last):
    """Installation, leaving and unseen renewals, as nobody in the firm knows them."""
    true = {"installed_on": vans.iso(appliance.installed)}
    if appliance.until <= last:
        true["left_on"] = vans.iso(appliance.until)
    if appliance.unseen_renewals:
        true["unseen"] = [f"{p.component}/{p.number} {vans.iso(day)}" for p, day in appliance.unseen_renewals]
    return true
