"""Eight invented years: what happens to the appliances in care, in the order in which it happens."""

import heapq

from jobs.invented import lives
from jobs.invented.breakdowns import Workshop
from jobs.invented.diary import rate
from jobs.invented.people import FOREVER

SERVICED_KINDS = {"gas-combi", "gas-system", "gas-regular", "oil", "heat-pump", "unvented-cylinder"}
PLANNED = {  # component: years of age from which it may be renewed at a service, and how often that is done
    "ignition-electrode": (5, 0.10), "flame-sensing-electrode": (5, 0.08), "combustion-chamber-seal": (5, 0.10),
    "oil-nozzle": (0.8, 0.75), "expansion-vessel": (9, 0.05), "automatic-air-vent": (9, 0.03),
    "circulating-pump": (11, 0.06), "immersion-heater": (8, 0.05), "pressure-relief-valve": (10, 0.03),
    "condensate-trap": (8, 0.03),
}  # fmt: skip
UNNOTICED = {"expansion-vessel", "automatic-air-vent", "magnetic-filter", "condensate-trap", "combustion-chamber-seal",
             "flue-seal", "expansion-relief-valve"}  # fmt: skip
UNNOTICED_DAYS = 90  # so long before a service such a failure may wait to be found there
UPGRADES = [("controls", "room-thermostat", 0.03), ("heat-pump", "circulating-pump", 0.01)]  # a year
RECALL = ("Rookwell Rook", "oil-fire-valve", 1000)  # range, component, so many days before the last


class History:
    """Runs the firm from its first day to `end`; the order of events does not depend on what comes after `end`."""

    def __init__(self, town, diary, catalogue, prices, day, end):
        self.town, self.diary, self.end = town, diary, end
        self.workshop = Workshop(diary, catalogue, prices, lives.batch_window(day))
        self.recall_day = day - RECALL[2]
        self.queue = []

    def run(self):
        for appliance in self.town.appliances:
            self.begin(appliance)
        while self.queue:
            day, _, kind, appliance, thing = heapq.heappop(self.queue)
            getattr(self, f"do_{kind}")(appliance, day, thing)
            self.plan_next(appliance, day)

    def begin(self, appliance):
        rng = appliance.rng
        if appliance.home.serviced and appliance.model.kind in SERVICED_KINDS:
            soonest = 300 if appliance.opened_by_breakdown or appliance.fitted_by_us else 20
            appliance.next_service = appliance.care + soonest + int(rng.random() * (365 - soonest))
        yearly = next((share for kind, _, share in UPGRADES if kind == appliance.model.kind), 0)
        if yearly:
            appliance.upgrade_on = appliance.care + 30 + int(lives.YEAR * lives.draw_life(rng, 1.0, 1 / yearly))
        if appliance.fitted_by_us:
            self.install(appliance)
        if appliance.model.range == RECALL[0] and appliance.care < self.recall_day:
            appliance.recall_on = self.recall_day + int(rng.random() * 50)
        self.plan_next(appliance, appliance.care - 1)

    def plan_next(self, appliance, now):
        """Put the appliance's next event into the queue, unless it comes after its time with us or after `end`."""
        if appliance.waits or appliance.given_up:
            return
        failed, position = appliance.next_failure()
        call = lives.day_at("heating", appliance.next_call)
        events = [(failed, "failure", position), (call, "call", None), (appliance.next_service, "service", None)]
        events += [(appliance.upgrade_on, "upgrade", None), (appliance.recall_on, "recall", None)]
        day, kind, thing = min(events, key=lambda event: event[0])
        day = max(day, now + 1)
        if day < min(appliance.until, self.end):
            heapq.heappush(self.queue, (day, appliance.key, kind, appliance, thing))

    def do_failure(self, appliance, day, position):
        soon = day < appliance.next_service < day + UNNOTICED_DAYS
        if position.component in UNNOTICED and soon and appliance.care < day and appliance.rng.random() < 0.8:
            position.for_service = True
            return
        self.workshop.breakdown(appliance, day, position)
        if appliance.end_reason == "replaced by us" and appliance.until < self.end:
            self.replace(appliance)

    def do_call(self, appliance, day, _):
        self.workshop.call_without_part(appliance, day)
        appliance.next_call = self.town.call_after(appliance, day)

    def do_recall(self, appliance, day, _):
        appliance.recall_on = FOREVER
        self.planned_job(appliance, day, RECALL[1], "recall")

    def do_upgrade(self, appliance, day, _):
        component = next(component for kind, component, _ in UPGRADES if kind == appliance.model.kind)
        appliance.upgrade_on = FOREVER
        self.planned_job(appliance, day, component, "upgrade")

    def planned_job(self, appliance, day, component, why):
        """A job of its own to renew a component that has not failed."""
        job = self.diary.job(appliance, "planned", max(appliance.care, day - 7))
        visit = self.diary.visit(job, appliance, day)
        appliance.waits = visit.booked
        if visit.booked:
            return
        position = appliance.of(component)[0]
        way = self.workshop.catalogue.ways(component, appliance.model, visit.day)[0]
        self.workshop.put_in(visit, position, way, bought="ordered", why=why)
        if why == "upgrade":
            self.diary.charge(job, "labour", rate(52, day), quantity=1)

    def do_service(self, appliance, day, _):
        rng = appliance.rng
        landlord = appliance.home.customer <= 5 and appliance.model.kind.startswith("gas") and rng.random() < 0.1
        asked = max(appliance.care, day - 5 - int(rng.random() * 20))
        job = self.diary.job(appliance, "other" if landlord else "service", asked)
        visit = self.diary.visit(job, appliance, day)
        appliance.next_service = day + 345 + int(rng.random() * 60)
        if lives.month_of(appliance.next_service) in (12, 1, 2) and rng.random() < 0.5:
            appliance.next_service += 75
        if not visit.booked and rng.random() < 0.03:
            visit.close("no-access")
            visit = self.diary.visit(job, appliance, visit.day + 5 + int(rng.random() * 15))
        appliance.waits = visit.booked
        if visit.booked:
            return
        renewed = [position for position in appliance.positions if self.renew_at_service(visit, position)]
        found = [position for position in appliance.positions if position.for_service]
        if found:
            appliance.waits = self.workshop.treat(visit, found[0]).booked
        else:
            visit.close("fixed" if renewed else "no-part-needed", hours=0.7)
        self.diary.charge(job, "labour", rate(70, day), description="yearly check" if landlord else "yearly service")

    def renew_at_service(self, visit, position):
        """Renew an old part ahead of time where it is on the van or was brought from the store."""
        from_age, share = PLANNED.get(position.component, (0, 0))
        age = lives.clock_at(position.pattern, visit.day) - position.born
        if not share or age < from_age or visit.rng.random() > share:
            return False
        way = self.workshop.way(visit, position)
        if visit.van.has(way, visit.day):
            visit.van.take(way, visit.day)
        self.workshop.put_in(visit, position, way, why="planned", close=False)
        return True

    def replace(self, old):
        """The firm fits a new appliance in place of one that was not worth mending."""
        home, care = old.home, old.until
        new = self.town.successor(old, care)
        new.until = max(home.until, care + 30)
        new.told, new.end_reason = home.told, home.end_reason
        self.begin(new)

    def install(self, appliance):
        job = self.diary.job(appliance, "installation", appliance.care - int(appliance.rng.random() * 10))
        visit = self.diary.visit(job, appliance, appliance.care, weekends=True)
        if not visit.booked:
            visit.close("fixed", hours=6)
            self.diary.charge(job, "other", rate(1900, visit.day), description="new appliance, fitted")
