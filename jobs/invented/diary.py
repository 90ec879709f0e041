"""The invented firm's paper: jobs, visits and what was written on them, until the last day; later visits are booked."""

from jobs.invented import lives
from jobs.invented.vans import iso

SLOTS = ["08:30", "10:30", "13:00", "15:00"]
SUNDAY = 0  # day number modulo 7


class Diary:
    """Collects rows. A visit on or after `end` is only booked: it finds, fits and charges nothing."""

    def __init__(self, vans, end):
        self.vans, self.end = vans, end
        self.jobs, self.visits, self.findings, self.fitted, self.needed, self.charges = [], [], [], [], [], []
        self.by_area = {}
        for van in vans:
            for area in van.areas:
                self.by_area.setdefault(area, []).append(van)
        self.slots_used = {}

    def job(self, appliance, kind, day, *, symptom="", code="", return_of=None):
        row = {
            "job": len(self.jobs) + 1, "appliance": appliance.key, "kind": kind, "reported_on": iso(day),
            "symptoms": symptom, "fault_code": code, "return_of": return_of["job"] if return_of else "",
        }  # fmt: skip
        self.jobs.append(row)
        return row

    def van_for(self, appliance):
        """Mostly the van of the area; now and then another stands in."""
        rng, own = appliance.rng, self.by_area[appliance.home.area]
        if rng.random() < 0.06:
            return self.vans[int(rng.random() * len(self.vans))]
        return own[int(rng.random() * len(own))]

    def visit(self, job, appliance, day, *, weekends=False, van=None):
        """A visit on the first working day from `day` on."""
        while day % 7 == SUNDAY or (day % 7 == 6 and not weekends):
            day += 1
        return self.visit_on(job, appliance, day, van or self.van_for(appliance))

    def visit_on(self, job, appliance, day, van):
        """A visit on that very day."""
        slot = self.slots_used[van.number, day] = self.slots_used.get((van.number, day), -1) + 1
        row = {
            "visit": len(self.visits) + 1, "job": job["job"], "engineer": van.engineer, "place": van.key,
            "on": iso(day), "outcome": "", "time": SLOTS[slot % len(SLOTS)], "minutes": "",
        }  # fmt: skip
        self.visits.append(row)
        return Visit(self, job, appliance, van, day, row)

    def charge(self, job, kind, amount, *, quantity=1, description=""):
        self.charges.append({
            "job": job["job"], "kind": kind, "amount_ex_vat": f"{amount:.2f}", "quantity": quantity, "vat_rate": 20,
            "description": description,
        })  # fmt: skip


class Visit:
    """One visit while it is being written down."""

    def __init__(self, diary, job, appliance, van, day, row):
        self.diary, self.job, self.appliance, self.van, self.day, self.row = diary, job, appliance, van, day, row
        self.booked = day >= diary.end
        self.hours = 0.25

    @property
    def rng(self):
        return self.appliance.rng

    def close(self, outcome, *, hours=0.0):
        self.hours += hours
        self.row["outcome"] = outcome
        self.row["minutes"] = 5 * max(2, round(60 * self.hours * (0.8 + 0.5 * self.rng.random()) / 5))

    def find(self, position=None, *, no_part="", mode=""):
        several = position and self.appliance.model.components.get(position.component, 1) > 1
        seen = several and self.rng.random() < 0.6
        self.diary.findings.append({
            "visit": self.row["visit"], "appliance": self.appliance.key,
            "component": position.component if position else "", "position": position.number if seen else "",
            "no_part_cause": no_part, "failure_mode": mode,
        })  # fmt: skip
        return seen

    def fit(self, part, component, why, *, quantity=1, position="", cost=None, charge="", source=""):
        self.diary.fitted.append({
            "visit": self.row["visit"], "part": part.number, "component": component, "quantity": quantity, "why": why,
            "appliance": self.appliance.key if self.rng.random() < 0.5 else "", "position": position,
            "unit_cost": f"{cost:.4f}" if cost is not None else "", "charge_ex_vat": charge, "from": source,
        })  # fmt: skip

    def need(self, component, part=None):
        self.diary.needed.append({
            "visit": self.row["visit"], "component": component, "quantity": 1, "appliance": self.appliance.key,
            "part": part.number if part else "",
        })  # fmt: skip


def rate(base, day):
    """What an hour or a call costs the customer on that day, rising about 4 per cent a year from 2018."""
    years = (day - lives.FIRST_DAY) / lives.YEAR - 48
    return round(base * 1.04 ** max(0, int(years)))


def in_order(diary):
    """Number jobs and visits by date, and let every other table say the new numbers."""
    jobs = sorted(diary.jobs, key=lambda row: (row["reported_on"], row["job"]))
    visits = sorted(diary.visits, key=lambda row: (row["on"], row["time"], row["visit"]))
    job_key = {row["job"]: f"J{number:05d}" for number, row in enumerate(jobs, 1)}
    visit_key = {row["visit"]: f"V{number:05d}" for number, row in enumerate(visits, 1)}
    for row in jobs:
        row["job"], row["return_of"] = job_key[row["job"]], job_key.get(row["return_of"], "")
    for row in visits:
        row["visit"], row["job"] = visit_key[row["visit"]], job_key[row["job"]]
    for row in diary.charges:
        row["job"] = job_key[row["job"]]
    for table in (diary.findings, diary.fitted, diary.needed):
        for row in table:
            row["visit"] = visit_key[row["visit"]]
        table.sort(key=lambda row: row["visit"])
    diary.charges.sort(key=lambda row: row["job"])
    return {
        "jobs": jobs, "visits": visits, "findings": diary.findings, "fitted": diary.fitted, "needed": diary.needed,
        "charges": diary.charges,
    }  # fmt: skip
