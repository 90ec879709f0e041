"""The truth: how long components of the invented firm live, and when in the year they fail.

Every position fails by a Weibull law on a clock that runs faster in winter. All numbers are invented, the yearly
totals follow the trade tables (about 17 to 20 part failures per 100 gas combis in a year).
"""

import math
from bisect import bisect_left
from datetime import date
from functools import cache

from jobs.invented import trade

FIRST_DAY = date(1970, 1, 1).toordinal()
LAST_DAY = date(2080, 1, 1).toordinal()
YEAR = 365.25

MONTH_FACTORS = {
    "heating": [1.55, 1.40, 1.10, 0.85, 0.70, 0.60, 0.55, 0.55, 0.80, 1.15, 1.30, 1.45],
    "all-year": [1.05, 1.05, 1.00, 1.00, 0.95, 0.95, 0.95, 0.95, 1.00, 1.00, 1.05, 1.05],
}
ALL_YEAR = {
    "immersion-heater", "immersion-thermostat", "temperature-and-pressure-relief-valve", "expansion-relief-valve",
    "pressure-reducing-valve", "potable-expansion-vessel", "cylinder-thermostat", "gas-pipework-joint",
    "hot-water-temperature-sensor", "hot-water-flow-sensor", "float-valve",
}  # fmt: skip

SHAPE_BY_WEAR = {"early-life": 0.7, "random": 1.0, "wear-out": 2.4}
SHAPES = {
    "circulating-pump": 2.6, "combustion-fan": 2.8, "main-heat-exchanger": 2.7, "gas-valve": 2.0,
    "ignition-electrode": 2.2, "flame-sensing-electrode": 2.2, "diverter-valve-actuator": 2.2,
    "diverter-valve-body": 2.5, "plate-heat-exchanger": 2.7, "expansion-vessel": 3.0, "pressure-relief-valve": 1.8,
    "hot-water-flow-sensor": 1.9, "automatic-air-vent": 1.7, "radiator": 3.0, "oil-nozzle": 1.6, "thermocouple": 2.0,
    "immersion-heater": 2.0, "oil-flame-detector": 1.8, "main-control-board": 1.0, "inverter-board": 0.8,
    "programmer": 0.9, "display-board": 1.1,
}  # fmt: skip
WATCHED_AGE = 18.0  # years over which the mean failure rate of a position is the trade table's

REPAIRED_IN_PLACE = {
    "condensate-trap": 0.55, "plate-heat-exchanger": 0.20, "expansion-vessel": 0.30, "pipework-joint": 0.50,
    "gas-pipework-joint": 0.35, "filling-loop": 0.15, "wiring-harness": 0.40, "circulating-pump": 0.06,
    "ignition-electrode": 0.15, "flame-sensing-electrode": 0.18, "hot-water-flow-sensor": 0.22, "radiator": 0.10,
    "thermostatic-radiator-valve": 0.15, "magnetic-filter": 0.20, "condensate-pump": 0.15, "float-valve": 0.15,
    "heat-pump-flow-switch": 0.20, "electronic-expansion-valve": 0.10,
}  # fmt: skip
REPAIRED_IN_PLACE_ELSE = 0.03

WEAK_SPOTS = {  # (range, component): so many times the usual failures at each age
    ("Norwick Fen", "circulating-pump"): 1.7,
    ("Norwick Marsh", "diverter-valve-body"): 2.0,
    ("Calderby Beck", "main-control-board"): 1.8,
    ("Hearthmoor Settle", "plate-heat-exchanger"): 1.9,
    ("Tarnside Mere", "combustion-fan"): 1.6,
    ("Rookwell Rook", "oil-pump"): 1.8,
}
UNSEEN_RENEWALS_WITHOUT_FAILURE = 0.004  # a position and year, before care
NO_PART_CALLS = {"controls": 0.05, "wet-system": 0.04, "unvented-cylinder": 0.02}  # an appliance and year
NO_PART_CALLS_ELSE = 0.055
LEAVING = {True: 0.030, False: 0.075}  # a customer and year, by service or not

BATCH = {
    "component": "main-control-board",
    "supplier": "Dunmere Supplies",
    "first_day_before": 450,
    "last_day_before": 240,
    "shape": 1.3,
    "scale_years": 0.9,
}


@cache
def season_clock(pattern):
    """Season-weighted years since 1970 at the start of each day, as a list; a plain year lasts 1 on average."""
    factors = MONTH_FACTORS[pattern]
    days = [31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    mean = sum(f * d for f, d in zip(factors, days, strict=True)) / YEAR
    clock, now = [], 0.0
    for day in range(FIRST_DAY, LAST_DAY):
        clock.append(now)
        now += factors[date.fromordinal(day).month - 1] / mean / YEAR
    return clock


def pattern_of(component):
    return "all-year" if component in ALL_YEAR else "heating"


def clock_at(pattern, day):
    """Season-weighted years at a day number (proleptic ordinal)."""
    return season_clock(pattern)[day - FIRST_DAY]


def day_at(pattern, years):
    """The first day number on which the season clock has passed `years`."""
    return FIRST_DAY + min(bisect_left(season_clock(pattern), years), LAST_DAY - FIRST_DAY - 1)


def month_of(day):
    """Month of a day number, 1 to 12."""
    return date.fromordinal(day).month


@cache
def component_law(component):
    """(shape, scale in years) of a component type at large, from the trade table's yearly rate and our shape."""
    row = trade.components()[component]
    shape = SHAPES.get(component, SHAPE_BY_WEAR[row["wears"]])
    expected = WATCHED_AGE * row["prior_failures_per_100_years"] / 100
    return shape, round(WATCHED_AGE / expected ** (1 / shape), 2)


def law(component, times):
    """(shape, scale) where failures are `times` as frequent at every age."""
    shape, scale = component_law(component)
    return shape, scale * times ** (-1 / shape)


def batch_window(day):
    """First and last day number on which the bad batch was fitted, for a firm drawn up to `day`."""
    return day - BATCH["first_day_before"], day - BATCH["last_day_before"]


def draw_life(rng, shape, scale, age=0.0):
    """Age at failure of a piece that works at `age`, in season-weighted years."""
    return scale * ((age / scale) ** shape - math.log1p(-rng.random())) ** (1 / shape)


def pick(rng, weighted):
    """One of [(thing, weight), …]; None of an empty list."""
    target = rng.random() * sum(weight for _, weight in weighted)
    for thing, weight in weighted:
        target -= weight
        if target < 0:
            return thing
    return weighted[-1][0] if weighted else None
