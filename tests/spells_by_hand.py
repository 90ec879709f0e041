"""Spells derived one appliance, one visit and one row at a time, from the words of contracts.md section 2.

Slow and plain on purpose: the check of jobs/reliability/history, with which it shares nothing. A firm is a dict of
lists of rows as they stand in its files, dates as ISO text.
"""

from calendar import monthrange
from datetime import date, timedelta


def spells_by_hand(firm, as_of, months=18.0):
    """Rows (component, appliance, position, model, entry, exit, failed, clock, opened_by, closed_by) in order."""
    as_of = date.fromisoformat(as_of)
    rows = []
    for appliance in firm["appliances"]:
        rows += OneAppliance(firm, appliance, as_of, months).spells()
    rows.sort(key=lambda row: (row[0], row[1], row[2], round(row[4] * 365.25), row[-2], row[-1]))
    return [row[:-2] for row in rows]


def period(text):
    """First day, middle and last day of what an imprecise date means."""
    if len(text) == 4:
        return date(int(text), 1, 1), date(int(text), 7, 1), date(int(text), 12, 31)
    if len(text) == 7:
        year, month = int(text[:4]), int(text[5:])
        return date(year, month, 1), date(year, month, 15), date(year, month, monthrange(year, month)[1])
    return (date.fromisoformat(text),) * 3


def nearest(text, not_before, not_after):
    """The allowed day nearest to the middle, or None; by trying every day of the period."""
    first, middle, last = period(text)
    days = [first + timedelta(n) for n in range((last - first).days + 1)]
    allowed = [d for d in days if (not_before is None or d >= not_before) and (not_after is None or d <= not_after)]
    return min(allowed, key=lambda d: abs((d - middle).days), default=None)


def placed(appliance, earlier):
    """Days of the installation and of each row of `earlier` that has a date; raises ValueError where there is none."""
    care = date.fromisoformat(appliance["in_care_from"])
    installed_text = appliance.get("installed_on", "")
    dated = [row for row in earlier if row.get("renewed_on")]
    installed, renewed = None, {}
    for length in (10, 7, 4):
        if len(installed_text) == length:
            bounds = [renewed.get(id(row), min(period(row["renewed_on"])[2], care)) for row in dated]
            bounds += [care] if length < 10 else []
            installed = nearest(installed_text, None, min(bounds, default=None))
            if installed is None:
                raise ValueError("installed_on")
        for row in dated:
            if len(row["renewed_on"]) == length:
                floor = installed or (period(installed_text)[0] if installed_text else None)
                renewed[id(row)] = nearest(row["renewed_on"], floor, care)
                if renewed[id(row)] is None:
                    raise ValueError("renewed_on")
    return installed, renewed


class OneAppliance:
    def __init__(self, firm, appliance, as_of, months):
        self.firm, self.appliance, self.as_of, self.number = firm, appliance, as_of, appliance["appliance"]
        self.jobs = {job["job"]: job for job in firm["jobs"] if date.fromisoformat(job["reported_on"]) <= as_of}
        known = [v for v in firm["visits"] if v["job"] in self.jobs and date.fromisoformat(v["on"]) <= as_of]
        self.visits = {v["visit"]: v for v in sorted(known, key=lambda v: v["on"])}
        self.findings = [r for r in firm["findings"] if self.mine(r) and r.get("component")]
        self.findings = [r for r in self.findings if not r.get("no_part_cause")]
        self.fitted = [r for r in firm["fitted"] if self.mine(r) and not self.out_again(r)]
        self.watch(months)
        self.rows, self.told, self.plan, self.told_at = [], {}, {}, {}

    def mine(self, row):
        return row["visit"] in self.visits and row["appliance"] == self.number

    def out_again(self, row):
        return bool(row.get("taken_out")) and date.fromisoformat(row["taken_out"]) <= self.as_of

    def day(self, row):
        return date.fromisoformat(self.visits[row["visit"]]["on"])

    def job(self, row):
        return self.jobs[self.visits[row["visit"]]["job"]]

    def watch(self, months):
        """Rule 1."""
        care = date.fromisoformat(self.appliance["in_care_from"])
        self.earlier = [row for row in self.firm["earlier"] if row["appliance"] == self.number]
        self.installed, self.renewed = placed(self.appliance, self.earlier)
        exact = len(self.appliance.get("installed_on", "")) == 10
        self.start = max(care, self.installed) if exact else care
        every = [r for r in self.firm["findings"] + self.firm["fitted"] if self.mine(r)]
        ours = {self.job(row)["job"] for row in every}
        ours |= {k for k, job in self.jobs.items() if self.number in [job["appliance"], *job.get("also", [])]}
        contacts = [care] + [date.fromisoformat(self.jobs[key]["reported_on"]) for key in ours]
        contacts += [date.fromisoformat(v["on"]) for v in self.visits.values() if v["job"] in ours]
        until = self.appliance.get("in_care_until", "")
        if until and date.fromisoformat(until) <= self.as_of:
            self.end, self.ending = date.fromisoformat(until), "left"
        elif not until and (self.as_of - max(contacts)).days > months * 30.4375:
            self.end, self.ending = max(contacts), "lost"
        else:
            self.end, self.ending = self.as_of, "as-of"

    def spells(self):
        if self.start > self.end:
            return []
        self.findings = [row for row in self.findings if self.failure_matters(row)]
        self.fitted = [row for row in self.fitted if self.in_time(row) or self.tells_in_time(row)]
        self.open_positions()
        for visit in self.visits.values():
            self.one_visit(visit)
        for (component, number), position in sorted(self.positions.items()):
            if not position["broken"]:
                self.close(component, number, self.end, 0, self.ending)
        return self.rows

    def in_time(self, row):
        return self.day(row) <= self.end

    def failure_matters(self, row):
        job = self.job(row)
        reported = date.fromisoformat(job["reported_on"])
        return self.in_time(row) or (job["kind"] == "breakdown" and reported <= self.end)

    def tells_in_time(self, row):
        return row["why"] == "failed" and self.failure_matters(row)

    def open_positions(self):
        """Rule 3, for what the model holds and what the records name beside it."""
        holds = self.firm["models"][self.appliance["model"]]["holds"]
        keys = {(component, n) for component, count in holds.items() for n in range(1, count + 1)}
        for row in self.earlier + self.findings + self.fitted:
            if row["component"] not in holds or row.get("position"):
                keys.add((row["component"], int(row.get("position") or 1)))
        self.positions = {key: self.first_opening() for key in keys}
        for row in self.earlier:
            position = self.positions[row["component"], int(row.get("position") or 1)]
            if not row.get("renewed_on"):
                if self.installed and position["clock"] == "perhaps":
                    position["clock"] = "known"
            elif position["renewed"] is None or self.renewed[id(row)] > position["renewed"]:
                day = self.renewed[id(row)]
                position.update(renewed=day, origin=day, clock="known")

    def first_opening(self):
        opening = {"open": self.start, "renewed": None, "broken": None, "by": "care"}
        if self.installed == self.start:
            return {**opening, "origin": self.start, "clock": "known", "by": "installed"}
        if self.installed:
            return {**opening, "origin": self.installed, "clock": "perhaps"}
        return {**opening, "origin": self.start, "clock": "unknown"}

    def covers(self, row):
        parts = self.firm["covers"].get(row["part"], [])
        here = {component for component, _ in self.positions}
        return [c for c in parts if c != row["component"] and c in here]

    def one_visit(self, visit):
        job = visit["job"]
        found = [row for row in self.findings if row["visit"] == visit["visit"]]
        fitted = [row for row in self.fitted if row["visit"] == visit["visit"]]
        touched = {row["component"] for row in found + fitted}
        touched |= {c for row in fitted if self.in_time(row) for c in self.covers(row)}
        for component in touched:
            if (job, component) not in self.told:
                self.tell(job, component)
            for number in sorted(self.told.get((job, component), ())):
                if self.told_at[job, component, number] == visit["visit"]:
                    self.fail(job, component, number, date.fromisoformat(visit["on"]))
        for row in fitted:
            if self.in_time(row):
                for number in self.plan[id(row)]:
                    self.renew(row["component"], number, row, row["why"])
                for component in self.covers(row):
                    for number in self.numbers(component):
                        self.renew(component, number, row, "covered")
        if visit["visit"] == [v["visit"] for v in self.visits.values() if v["job"] == job][-1]:
            self.repairs(job, date.fromisoformat(visit["on"]))

    def numbers(self, component):
        return sorted(number for key, number in self.positions if key == component)

    def tell(self, job, component):
        """Rules 4 and 7 for all that one job says about one component."""
        order_of_visits = list(self.visits)
        found = [r for r in self.findings if r["component"] == component and self.job(r)["job"] == job]
        fitted = [r for r in self.fitted if r["component"] == component and self.job(r)["job"] == job]
        fitted.sort(key=lambda row: order_of_visits.index(row["visit"]))
        if not found and not fitted:
            return
        found_at = {int(row["position"]) for row in found if row.get("position")}
        fitted_at = {int(row["position"]) for row in fitted if row.get("position")}
        numbers = self.numbers(component)
        queue = sorted(
            numbers,
            key=lambda n: (n in fitted_at, n not in found_at, self.positions[component, n]["open"], n),
        )
        failed, taken = set(), 0
        for row in fitted:
            self.plan[id(row)] = []
            for piece in range(min(int(row["quantity"]), len(numbers))):
                if piece == 0 and row.get("position"):
                    number = int(row["position"])
                else:
                    number = queue[taken % len(queue)]
                    taken += 1
                self.plan[id(row)].append(number)
                if row["why"] == "failed":
                    failed.add(number)
        if all(row["why"] == "failed" for row in fitted):
            failed |= found_at
            if not failed and any(not row.get("position") for row in found):
                failed.add(queue[0])
        self.told[job, component] = failed
        for number in failed:
            self.told_at[job, component, number] = self.tells(job, component, number, found, fitted)

    def tells(self, job, component, number, found, fitted):
        """The visit that tells of a failure: of a breakdown the job's first one, else the first about that position."""
        rows = [row for row in found if int(row.get("position") or number) == number]
        rows = rows if all(row["why"] == "failed" for row in fitted) else []
        rows += [row for row in fitted if number in self.plan[id(row)]]
        if self.jobs[job]["kind"] == "breakdown":
            rows = found + fitted
        covering = [row for row in self.fitted if self.in_time(row) and component in self.covers(row)]
        rows += [row for row in covering if self.job(row)["job"] == job]
        return min((row["visit"] for row in rows), key=list(self.visits).index)

    def fail(self, job, component, number, day):
        position, row = self.positions[component, number], self.jobs[job]
        reported = date.fromisoformat(row["reported_on"])
        if row["kind"] == "breakdown":
            day = min(reported, day)
        if position["broken"] or number in self.told.get((row.get("return_of"), component), set()):
            return
        if (position["renewed"] and reported < position["renewed"]) or day > self.end:
            return
        if day <= self.start:
            if position["open"] == self.start:
                position["broken"] = job
        elif day >= position["open"]:
            self.close(component, number, day, 1, "failed")
            position["broken"] = job

    def renew(self, component, number, row, why):
        """Rule 5."""
        position, day = self.positions[component, number], self.day(row)
        if day < self.start:
            if (self.installed and day < self.installed) or (position["renewed"] and day < position["renewed"]):
                return
            position.update(origin=day, renewed=day, clock="known", broken=None, open=self.start)
            return
        if not position["broken"]:
            self.close(component, number, day, 0, why)
        position.update(open=day, origin=day, renewed=day, clock="known", broken=None, by="renewal")

    def repairs(self, job, day):
        """Rule 6."""
        for position in self.positions.values():
            if position["broken"] == job and day <= self.end:
                position.update(broken=None, open=max(day, self.start))
                if day >= self.start:
                    position["by"] = "repair"

    def close(self, component, number, day, failed, why):
        position = self.positions[component, number]
        if day > position["open"] or failed:
            entry = (position["open"] - position["origin"]).days / 365.25
            exit_ = (day - position["origin"]).days / 365.25
            self.rows.append(
                (component, self.number, number, self.appliance["model"], entry, exit_, failed, position["clock"],
                 position["by"], why, position["open"], day)
            )  # fmt: skip
