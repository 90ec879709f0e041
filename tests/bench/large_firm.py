"""Write the files of a large invented firm, to measure the import: python tests/bench/large_firm.py FOLDER [VISITS]."""

import csv
import random
import sys
from datetime import date, timedelta
from pathlib import Path

FIRST = date(2016, 1, 1)
DAYS = 3650
KINDS = ["breakdown", "breakdown", "service", "planned"]
COMPONENTS = ["circulating-pump", "gas-valve", "combustion-fan", "main-control-board", "expansion-vessel"]


def write(folder, visits, rng):
    """Jobs as many as visits, three fitted parts for five visits, a charge for each job."""
    appliances, parts = visits // 5, 300
    tables = {
        "parts": ("part description covers fits", _parts(parts)),
        "suppliers": ("supplier lead_time_days same_day", [["Brook Supplies", 1, "yes"], ["Depot", 3, "no"]]),
        "prices": ("supplier supplier_part part pack price_ex_vat valid_from", _prices(parts, rng)),
        "places": ("place kind engineer", [[f"van {n}", "van", f"Person {n}"] for n in range(20)]),
        "stock": ("place part quantity unit_cost", _stock(parts)),
        "appliances": (
            "appliance customer address post_area model in_care_from installed_on",
            _appliances(appliances),
        ),
        "jobs": ("job appliance kind reported_on symptoms", _jobs(visits, appliances, rng)),
        "visits": ("visit job engineer place on outcome time minutes", _visits(visits)),
        "findings": ("visit component failure_mode", _findings(visits)),
        "fitted": ("visit part component quantity why charge_ex_vat", _fitted(visits, parts)),
        "charges": ("job kind amount_ex_vat vat_rate", _charges(visits)),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, (header, rows) in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(header.split())
            writer.writerows(rows)


def _parts(parts):
    return [[f"P{n}", f"Part {n}", COMPONENTS[n % 5], "*"] for n in range(parts)]


def _prices(parts, rng):
    for n in range(parts):
        for year in range(10):
            yield ["Brook Supplies", f"B{n}", f"P{n}", 1, f"{rng.uniform(5, 200):.2f}", FIRST.replace(2016 + year)]


def _stock(parts):
    return ([f"van {n}", f"P{part}", 1 + part % 3, 10 + part / 4] for n in range(20) for part in range(0, parts, 2))


def _appliances(appliances):
    for n in range(appliances):
        where = [f"K{n // 2}", f"{n} Weir Street", f"HV{n % 30}"]
        yield [f"A{n}", *where, f"Model {n % 40}", FIRST, 1995 + n % 20]


def _findings(visits):
    return ([f"V{n}", COMPONENTS[n % 5], "noise"] for n in range(0, visits, 2))


def _fitted(visits, parts):
    for n in range(visits):
        if n % 5 < 3:
            yield [f"V{n}", f"P{n % parts}", COMPONENTS[n % parts % 5], 1, "failed", "99.50"]


def _charges(visits):
    return ([f"J{n}", "labour", 60 + n % 50, 20] for n in range(visits))


def _jobs(visits, appliances, rng):
    for n in range(visits):
        on = FIRST + timedelta(days=n * DAYS // visits)
        yield [f"J{n}", f"A{rng.randrange(appliances)}", KINDS[n % 4], on, "no heat"]


def _visits(visits):
    for n in range(visits):
        on = FIRST + timedelta(days=n * DAYS // visits + n % 3)
        yield [f"V{n}", f"J{n}", f"Person {n % 20}", f"van {n % 20}", on, "fixed", "08:30", 45]


if __name__ == "__main__":
    write(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 100_000, random.Random(1))
