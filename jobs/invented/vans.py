"""The invented vans: who drives them where, and what a sensible person would have them carry."""

from dataclasses import dataclass, field
from datetime import date

from jobs.invented import lives
from jobs.invented.names import ENGINEERS

STORE, LITRES, HANDY = "store", 120, 13  # nobody carries what takes more litres than that
# price of a piece up to …, expected uses of a van and year that earn the first and the second piece
CARRY_RULE = [(15, 0.05, 0.9), (40, 0.08, 1.3), (90, 0.13, 1.8), (180, 0.21, 2.6), (10**6, 0.7, 6.0)]


@dataclass
class Van:
    number: int
    engineer: str
    areas: list
    carries: dict = field(default_factory=dict)  # part number: pieces
    used: dict = field(default_factory=dict)  # (week, part number): day numbers, one for each piece

    @property
    def key(self):
        return f"van {self.number}"

    def has(self, way, day):
        """Whether every part of this way is on board; each Monday the van is topped up."""
        return all(self.carries.get(part.number, 0) > self.used_before(part, day) for part in way)

    def used_before(self, part, day):
        return sum(on <= day for on in self.used.get((day // 7, part.number), []))

    def take(self, way, day):
        for part in way:
            self.used.setdefault((day // 7, part.number), []).append(day)


def make_vans(wanted):
    """Vans with their post areas; the first area of all but the smallest firms belongs to two vans."""
    vans = [Van(number, ENGINEERS[number - 1], [number]) for number in range(1, wanted + 1)]
    for extra in range(round(0.4 * wanted)):
        vans[extra * 3 % wanted].areas.append(wanted + extra + 1)
    if wanted >= 5:
        vans[1].areas.append(1)
    return vans


def area_weights(vans):
    """[(area, weight), …]: each van has about as much to do as the next."""
    shares = {}
    for van in vans:
        for area in van.areas:
            shares.setdefault(area, 1 / len(van.areas))
    return sorted(shares.items())


def expected_uses(appliances, catalogue, day, areas):
    """Expected uses of each part number in a year in these post areas, by the trade tables alone."""
    uses = {}
    for appliance in appliances:
        if appliance.home.area not in areas:
            continue
        for component, count in appliance.model.components.items():
            shape, scale = lives.component_law(component)
            rate = count * (lives.WATCHED_AGE / scale) ** shape / lives.WATCHED_AGE
            ways = catalogue.sensible_ways(component, appliance.model, day)
            for share, way in zip((0.75, 0.25), ways[:2], strict=False):
                for part in way:
                    uses[part.number] = uses.get(part.number, 0.0) + rate * share
    return uses


def draw_carried(rng, vans, appliances, catalogue, day):
    """Give each van its carry levels: common and cheap parts first, with each driver's own taste."""
    for van in vans:
        uses, room = expected_uses(appliances, catalogue, day, van.areas), LITRES - 10
        for number, per_year in sorted(uses.items(), key=lambda use: (-use[1], use[0])):
            part = catalogue.parts[number]
            _, first, second = next(rule for rule in CARRY_RULE if part.price <= rule[0])
            felt = per_year * 0.6 * (0.4 + 1.4 * rng.random())  # not all were in care at once
            pieces = 2 if felt >= second else 1
            if felt >= first and part.litres < HANDY and pieces * part.litres < room:
                van.carries[number] = pieces
                room -= pieces * part.litres


def place_rows(vans):
    """The table places."""
    rows = [dict.fromkeys(["place", "kind", "engineer", "litres", "kilograms", "budget", "post_areas"], "")]
    rows[0] |= {"place": STORE, "kind": "store"}
    for van in vans:
        rows.append({
            "place": van.key, "kind": "van", "engineer": van.engineer, "litres": LITRES, "kilograms": 300,
            "budget": 4500, "post_areas": ";".join(f"MB{area}" for area in van.areas),
        })  # fmt: skip
    return rows


def stock_rows(rng, vans, appliances, catalogue, prices, day):
    """The table stock: vans mostly at their carry level, the store with more of everything that is used."""
    rows = []
    uses = expected_uses(appliances, catalogue, day, set(range(1, 100)))
    for number, per_year in sorted(uses.items()):
        part = catalogue.parts[number]
        if part.superseded_by and part.ends <= day:
            continue
        level = round(per_year * 0.6 / 20 + (1.2 if part.price < 40 else 0.4 if part.price < 150 else 0.0))
        held = max(0, level + int(rng.random() * 4) - 1) if level else 0
        if level:
            rows.append(_stock_row(STORE, part, held, level, prices, day))
    for van in vans:
        for number, level in van.carries.items():
            short = rng.random() < 0.15
            rows.append(_stock_row(van.key, catalogue.parts[number], level - short, level, prices, day))
    return rows


def _stock_row(place, part, held, level, prices, day):
    cost, _ = prices.cheapest(part, day)
    return {
        "place": place, "part": part.number, "quantity": int(held), "unit_cost": f"{cost:.4f}", "carry_level": level,
    }  # fmt: skip


def iso(day):
    """A day number as an ISO date."""
    return date.fromordinal(day).isoformat()
