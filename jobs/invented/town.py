"""The invented town: draws homes and their appliances until there are enough, each with its past."""

from datetime import date

import numpy as np

from jobs.invented import lives
from jobs.invented.names import END_REASONS, FIRST_NAMES, LANDLORDS, LAST_NAMES, STREETS, TOWN
from jobs.invented.people import FOREVER, Appliance, Home, Position, known_to, live_unseen

HEAT_SOURCES = [("gas-combi", 0.62), ("gas-system", 0.14), ("gas-regular", 0.10), ("oil", 0.07), ("heat-pump", 0.07)]
COMPANIONS = [
    ("unvented-cylinder", 0.45),
    ("wet-system", 0.20),
    ("controls", 0.20),
]
SHARE_AT_START, SHARE_NEW, SHARE_SERVICED, SHARE_REMEMBERED = 0.35, 0.10, 0.52, 0.08
SHARE_OPENED_BY_BREAKDOWN, OPENING_TRIES = 0.5, 16


class Town:
    """Draws homes and appliances until there are enough of them."""

    def __init__(self, rng, seed, models, factors, areas, first, last):
        self.rng, self.seed, self.models, self.factors = rng, seed, models, factors
        self.areas, self.first, self.last = areas, first, last  # areas: [(number, weight), …]
        self.appliances, self.customers = [], []
        self.taken = set()

    def fill(self, wanted):
        while len(self.appliances) < wanted:
            self.one_home()

    def one_home(self):
        rng = self.rng
        kind = lives.pick(rng, HEAT_SOURCES)
        at_start = rng.random() < SHARE_AT_START
        span = self.last - 45 - self.first
        care = self.first + (int(rng.random() * 60) if at_start else int(rng.random() * span))
        serviced = rng.random() < SHARE_SERVICED
        home = Home(*self.household(), care, FOREVER, False, serviced, "")
        main = self.appliance(home, kind, self.taken_over(care, at_start))
        home.care = main.care
        stays = lives.YEAR * lives.draw_life(rng, 1.0, 1 / lives.LEAVING[serviced])
        home.until = home.care + 30 + int(stays)
        home.told = rng.random() < (0.7 if serviced else 0.4)
        home.end_reason = END_REASONS[int(rng.random() * len(END_REASONS))]
        found = [main]
        for companion, share in COMPANIONS:
            if rng.random() < share and not (companion == "unvented-cylinder" and kind == "gas-combi"):
                found.append(self.appliance(home, companion, home.care - int(lives.YEAR * (0.5 + 14 * rng.random()))))
        for appliance in found:
            appliance.until, appliance.told, appliance.end_reason = home.until, home.told, home.end_reason

    def taken_over(self, care, at_start):
        new = self.rng.random() < SHARE_NEW and not at_start
        return care if new else care - int(lives.YEAR * (1 + 14 * self.rng.random() ** 0.8))

    def household(self):
        """(customer number, address, area number): a new customer, or a landlord's next flat."""
        rng = self.rng
        area = lives.pick(rng, self.areas)
        while True:
            longest = 120 + len(self.taken) // 12  # so that a larger town has longer streets
            address = f"{1 + int(rng.random() * longest)} {STREETS[int(rng.random() * len(STREETS))]}, {TOWN}"
            if address not in self.taken:
                break
        self.taken.add(address)
        if not self.customers:
            self.customers = [(name, billing) for name, billing in LANDLORDS]
        if rng.random() < 0.06:
            return 1 + int(rng.random() * len(LANDLORDS)), address, area
        first, last = FIRST_NAMES[int(rng.random() * len(FIRST_NAMES))], LAST_NAMES[int(rng.random() * len(LAST_NAMES))]
        self.customers.append((f"{first} {last}", ""))
        return len(self.customers), address, area

    def model_for(self, kind, installed):
        year = date.fromordinal(installed).year
        made = [m for m in self.models if m.kind == kind and m.first_year <= year <= m.last_year]
        made = made or [min((m for m in self.models if m.kind == kind), key=lambda m: m.first_year)]
        return lives.pick(self.rng, [(m, m.weight) for m in made])

    def appliance(self, home, kind, installed):
        """Add an appliance that comes into care on home.care, or with its first failure after it."""
        model = self.model_for(kind, installed)
        installed = max(installed, date(model.first_year, 1, 1).toordinal())
        installed = min(installed, home.care)
        opens = kind in dict(HEAT_SOURCES) and installed < home.care and home.care > self.first + 60
        opens = opens and self.rng.random() < SHARE_OPENED_BY_BREAKDOWN
        for attempt in range(OPENING_TRIES if opens else 1):
            number = len(self.appliances) + 1
            made = self.lived(f"A{number:05d}", home, model, installed, [number, attempt])
            failed, _ = made.next_failure()
            if opens and failed < min(home.care + 365, self.last - 10):
                made.care, made.opened_by_breakdown = failed, True
                break
        return self.add(made)

    def add(self, made):
        made.next_call = self.call_after(made, made.care)
        self.remember(made)
        self.appliances.append(made)
        return made

    def lived(self, key, home, model, installed, numbers):
        """An appliance with its unseen past. Who calls is chosen by having a breakdown, hence several attempts."""
        rng = np.random.default_rng([self.seed, 1000, *numbers])
        made = Appliance(key, home, model, installed, home.care, rng)
        made.positions = [
            Position(component, number, *lives.law(component, self.factors[model.key, component]))
            for component, count in model.components.items()
            for number in range(1, count + 1)
        ]
        made.fitted_by_us = installed == home.care
        live_unseen(made, home.care)
        return made

    def successor(self, old, care):
        """A new appliance of the same kind in the same home, fitted by the firm on the day number `care`."""
        home = Home(old.home.customer, old.home.address, old.home.area, care, old.home.until, old.home.told,
                    old.home.serviced, old.home.end_reason)  # fmt: skip
        models = [m for m in self.models if m.kind == old.model.kind and m.last_year > date.fromordinal(care).year]
        model = models[int(old.rng.random() * len(models))]
        made = self.lived(f"{old.key}n", home, model, care, [int(old.rng.random() * 2**32)])
        return self.add(made)

    def call_after(self, appliance, day):
        """When, on the season clock, the next call comes that needs no part."""
        per_year = lives.NO_PART_CALLS.get(appliance.model.kind, lives.NO_PART_CALLS_ELSE)
        return lives.clock_at("heating", day) + lives.draw_life(appliance.rng, 1.0, 1 / per_year)

    def remember(self, appliance):
        """What the customer or the label tells about the time before care."""
        rng = appliance.rng
        shares = (0.45, 0.15, 0.25, 0.15) if appliance.model.kind != "wet-system" else (0.05, 0.05, 0.4, 0.5)
        shares = (1, 0, 0, 0) if appliance.fitted_by_us else shares
        appliance.installed_known = known_to(rng, appliance.installed, shares)
        appliance.serial = f"{int(rng.random() * 10**8):08d}" if rng.random() < 0.7 else ""
        if appliance.fitted_by_us or rng.random() > SHARE_REMEMBERED:
            return
        last = {(p.component, p.number): (p, day) for p, day in appliance.unseen_renewals}
        told = [(p, known_to(rng, day, (0.2, 0.3, 0.5, 0))) for p, day in list(last.values())[:2]]
        originals = [p for p in appliance.positions if not p.ever_renewed]
        for _ in range(1 + int(rng.random() * 2)):
            if originals:
                told.append((originals.pop(int(rng.random() * len(originals))), ""))
        appliance.earlier = told
