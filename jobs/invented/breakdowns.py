"""How an invented engineer deals with what failed: found, mended, renewed, or back again with the part."""

from jobs.invented import lives, trade
from jobs.invented.diary import rate
from jobs.invented.parts import BULKY, price_of

NO_ACCESS, MISTAKEN, COMES_BACK, QUOTED_FROM = 0.03, 0.035, 0.02, 260.0
OLD, WORTH_ASKING = 14 * 365, 90.0
SEVERAL_VALVES = 0.3
GOES_TO_COUNTER, COUNTER_UP_TO = 0.5, 160.0
BESIDES = {"combustion-fan": ("flue-seal", 0.3), "plate-heat-exchanger": ("hydraulic-seal-set", 0.3),
           "main-heat-exchanger": ("combustion-chamber-seal", 0.6)}  # fmt: skip
FOR_OTHERS = {"no-fuel": 0.6, "tripped-supply": 0.25, "sludge": 0.2}


class Workshop:
    """Deals with breakdowns, given the diary, the parts and their prices."""

    def __init__(self, diary, catalogue, prices, batch_days):
        self.diary, self.catalogue, self.prices, self.batch_days = diary, catalogue, prices, batch_days

    def breakdown(self, appliance, day, position, *, symptom=None, return_of=None, may_err=True):
        """A call for a failed position, from the report to the last visit, or until a visit is only booked."""
        rng, kind = appliance.rng, appliance.model.kind
        symptom = symptom or lives.pick(rng, trade.symptoms_of(kind, position.component)) or "water-leak"
        shown = kind.startswith("gas") and rng.random() < 0.4
        code = f"F{sum(map(ord, position.component)) % 60:02d}" if shown else ""
        job = self.diary.job(appliance, "breakdown", day, symptom=symptom, code=code, return_of=return_of)
        visit = self.first_visit(job, appliance, day)
        if visit.booked:
            appliance.waits = True
            return
        wrong = self.wrong_guess(appliance, position, symptom) if may_err else None
        visit = self.treat(visit, wrong or position)
        appliance.waits = visit.booked
        self.bill(job, visit, free=return_of is not None)
        later = visit.day + 2 + int(rng.random() * 12)
        if wrong and later < min(self.diary.end, appliance.until):
            self.breakdown(appliance, later, position, symptom=symptom, return_of=job, may_err=False)
        elif not wrong:
            self.perhaps_back(visit, position, symptom)

    def call_without_part(self, appliance, day):
        """A call that turns out to need no part."""
        rng, kind = appliance.rng, appliance.model.kind
        frost = 4 if lives.month_of(day) in (12, 1, 2) else 0
        causes = [(key, w * (frost if key == "frozen-condensate" else 1)) for key, w in trade.no_part_causes(kind)]
        cause = lives.pick(rng, causes) or "wrong-setting"
        symptom = lives.pick(rng, trade.symptoms_of(kind, None, cause)) or "controls-do-not-call"
        job = self.diary.job(appliance, "breakdown", day, symptom=symptom)
        visit = self.first_visit(job, appliance, day)
        appliance.waits = visit.booked
        if visit.booked:
            return
        visit.find(no_part=cause)
        if cause == "blocked-flue-terminal" and rng.random() < 0.6:
            visit.close("made-safe", hours=0.5)
            visit = self.diary.visit(job, appliance, visit.day + 1 + int(rng.random() * 3))
        if not visit.booked:
            others = rng.random() < FOR_OTHERS.get(cause, 0)
            visit.close("for-others" if others else "no-part-needed", hours=0.4 + (1.5 if cause == "sludge" else 0))
        self.bill(job, visit)

    def first_visit(self, job, appliance, day):
        rng = appliance.rng
        visit = self.diary.visit(job, appliance, day + int(rng.random() ** 2 * 4), weekends=True)
        if not visit.booked and rng.random() < NO_ACCESS:
            visit.close("no-access")
            visit = self.diary.visit(job, appliance, visit.day + 1 + int(rng.random() * 4))
        return visit

    def wrong_guess(self, appliance, position, symptom):
        """Now and then another component that the symptom points at is taken for the culprit."""
        if appliance.rng.random() > MISTAKEN:
            return None
        likely = trade.components_behind(appliance.model.kind, symptom)
        others = [p for p in appliance.positions if p.component in likely and p.component != position.component]
        return others[int(appliance.rng.random() * len(others))] if others else None

    def treat(self, visit, position):
        """Mend or renew a position that is held to have failed, now or on a second visit. Returns the last visit."""
        rng, modes = visit.rng, trade.components()[position.component]["failure_modes"]
        share = lives.REPAIRED_IN_PLACE.get(position.component, lives.REPAIRED_IN_PLACE_ELSE)
        mended = rng.random() < share
        seen = False
        if mended or rng.random() < 0.85:
            seen = visit.find(position, mode=modes[int(rng.random() * len(modes))] if rng.random() < 0.8 else "")
        if mended:
            position.mend(rng, visit.day)
            visit.close("fixed", hours=0.5)
            return visit
        return self.renew(visit, position, seen=seen)

    def renew(self, visit, position, *, seen=False):
        way = self.way(visit, position)
        price = price_of(way)
        old = visit.day - visit.appliance.installed > OLD and price > WORTH_ASKING
        if (price > QUOTED_FROM and visit.rng.random() < 0.7) or (old and visit.rng.random() < 0.25):
            again, bought = self.quote(visit, old), "ordered"
        elif visit.van.has(way, visit.day):
            visit.van.take(way, visit.day)
            again, bought = visit, ""
        elif self.sold_today(way, price) and visit.rng.random() < GOES_TO_COUNTER:
            visit.hours += 0.6
            again, bought = visit, "counter"
        else:
            again, bought = self.come_again(visit, position, way), "ordered"
        if again and not again.booked:
            self.put_in(again, position, way, bought=bought, seen=seen)
        return again or visit

    def sold_today(self, way, price):
        return price < COUNTER_UP_TO and all(self.prices.at_counter(part) for part in way)

    def way(self, visit, position):
        """The parts to use: what is on board, else the usual way, now and then another."""
        ways = self.catalogue.sensible_ways(position.component, visit.appliance.model, visit.day)
        ways = [way for way in ways if visit.van.has(way, visit.day)] or ways
        chance = visit.rng.random()
        return ways[1] if len(ways) > 1 and chance < 0.25 else ways[-1] if chance > 0.93 else ways[0]

    def quote(self, visit, old):
        """A dear part is quoted first; some customers decline. Returns the next visit, or None."""
        rng, appliance = visit.rng, visit.appliance
        if rng.random() < 0.15:
            visit.close("declined", hours=0.3)
            self.end(appliance, visit.day, "given up by the customer")
            return None
        visit.close("quote-to-agree", hours=0.4)
        later = visit.day + 4 + int(rng.random() * 9)
        if rng.random() < (0.7 if old else 0.2):
            self.end(appliance, later, "replaced by us")
            return None
        return self.diary.visit(visit.job, appliance, later)

    def end(self, appliance, day, reason):
        appliance.given_up = True
        appliance.until, appliance.told, appliance.end_reason = day, True, reason

    def come_again(self, visit, position, way):
        """The part is not on board: order it and book a second visit."""
        rng = visit.rng
        for part in way:
            visit.need(position.component, part if rng.random() < 0.9 else None)
        visit.close("temporary-repair" if rng.random() < 0.07 else "part-needed", hours=0.3)
        later = visit.day + 1 + int(rng.random() ** 1.5 * 8)
        return self.diary.visit(visit.job, visit.appliance, later, van=visit.van if rng.random() < 0.7 else None)

    def put_in(self, visit, position, way, *, bought="", seen=False, why="failed", close=True):
        """Fit the parts of a way, renew what they cover, and close the visit."""
        rng, appliance, component = visit.rng, visit.appliance, position.component
        where = position.number if seen else ""
        offers = [self.buy(part, visit.day, bought, rng) for part in way]
        for place, (part, (cost, offer)) in enumerate(zip(way, offers, strict=True)):
            extra = place > 0
            named = part.covers[0] if extra else component
            source = offer.supplier if bought or part.price > BULKY else ""
            charge = self.charge_for(visit, part, cost, position)
            paid = cost if bought else None
            if extra:
                visit.fit(part, named, "had-to-come-off", cost=paid, charge=charge, source=source)
            else:
                visit.fit(part, named, why, position=where, cost=paid, charge=charge, source=source)
        position.renew(rng, visit.day, self.bad_law(position, offers[0][1], visit.day))
        for covered in dict.fromkeys(key for part in way for key in part.covers if key != component):
            for other in appliance.of(covered):
                other.renew(rng, visit.day)
        if why == "failed":
            self.besides(visit, component)
        if close:
            visit.close("fixed", hours=float(trade.components()[component]["fitting_hours"][1]))

    def besides(self, visit, component):
        """What had to come off to get there is renewed as well, where the van has it."""
        if component == "thermostatic-radiator-valve" and visit.rng.random() < SEVERAL_VALVES:
            self.more_valves(visit)
        seal, share = BESIDES.get(component, (None, 0))
        if not seal or visit.rng.random() > share:
            return
        for position in visit.appliance.of(seal):
            way = self.catalogue.ways(seal, visit.appliance.model, visit.day)[0]
            if len(way[0].covers) == 1 and visit.van.has(way, visit.day):
                visit.van.take(way, visit.day)
                self.put_in(visit, position, way, why="had-to-come-off", close=False)

    def more_valves(self, visit):
        """While there, two or three more of the oldest radiator valves are renewed, on one line."""
        valves = sorted(visit.appliance.of("thermostatic-radiator-valve"), key=lambda p: (p.born, p.number))
        several = valves[: 2 + int(visit.rng.random() * 2)]
        (part,) = self.catalogue.ways(several[0].component, visit.appliance.model, visit.day)[0]
        visit.fit(part, several[0].component, "planned", quantity=len(several), charge=f"{22 * len(several)}.00")
        for position in several:
            position.renew(visit.rng, visit.day)

    def buy(self, part, day, bought, rng):
        """(cost per piece, offer) of where this piece came from."""
        offer = self.prices.at_counter(part) if bought == "counter" else None
        if not offer:
            offers = [o for o in self.prices.by_part[part.number] if o.per_piece(day) is not None]
            offer = offers[0] if rng.random() < 0.8 or len(offers) == 1 else offers[1]
        return offer.per_piece(day), offer

    def bad_law(self, position, offer, day):
        """The law of a piece from the bad batch, else None."""
        bad = position.component == lives.BATCH["component"] and offer.supplier == lives.BATCH["supplier"]
        first, last = self.batch_days
        return (lives.BATCH["shape"], lives.BATCH["scale_years"]) if bad and first <= day <= last else None

    def charge_for(self, visit, part, cost, position):
        """What the customer pays for the piece: nil on a return and within the guarantee; now and then forgotten."""
        ours = position.ever_renewed > visit.appliance.care
        in_guarantee = ours and visit.day - position.ever_renewed < 30 * part.guarantee_months
        if visit.job["return_of"] or in_guarantee:
            return "0.00"
        if visit.rng.random() < 0.06:
            return ""
        return f"{round(cost * (1.35 if cost > 80 else 1.7) + 2, 2):.2f}"

    def perhaps_back(self, visit, position, symptom):
        """Now and then our own work does not hold, and the same component is treated again."""
        rng = visit.rng
        day = visit.day + 1 + int(rng.random() * 18)
        if visit.row["outcome"] != "fixed" or rng.random() > COMES_BACK or day >= self.diary.end:
            return
        job = self.diary.job(visit.appliance, "breakdown", day, symptom=symptom, return_of=visit.job)
        again = self.first_visit(job, visit.appliance, day)
        if again.booked:
            return
        again.find(position)
        if rng.random() < 0.5:
            way = self.way(again, position)
            self.put_in(again, position, way, bought="" if again.van.has(way, again.day) else "counter")
        else:
            again.close("fixed", hours=0.5)

    def bill(self, job, visit, *, free=False):
        """Call-out and labour of a job whose work is done."""
        if free or visit.booked:
            return
        day, rng = visit.day, visit.rng
        self.diary.charge(job, "call-out", rate(42, day))
        hours = f"{max(0.5, round(visit.hours * 2) / 2):g}"
        self.diary.charge(job, "labour", rate(52, day), quantity=hours)
        if rng.random() < 0.04:
            self.diary.charge(job, "travel", rate(12, day), description="parking or ferry")
        if rng.random() < 0.08:
            self.diary.charge(job, "part", rate(4, day), description="sundry fittings")
