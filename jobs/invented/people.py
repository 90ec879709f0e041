"""Invented customers, their homes and appliances, and what happened to an appliance before it came into care."""

from dataclasses import dataclass, field
from datetime import date

from jobs.invented import lives
from jobs.invented.names import ACCESS_NOTES

FOREVER = 10**7


@dataclass
class Position:
    component: str
    number: int
    shape: float
    scale: float
    born: float = 0.0  # on the season clock
    due: float = 0.0
    ever_renewed: int = 0  # day number of the last renewal, 0 = the original
    for_service: bool = False  # has failed without being noticed; the next service will find it

    @property
    def pattern(self):
        return lives.pattern_of(self.component)

    def renew(self, rng, day, law=None):
        """A new piece from `day` on; `law` where it is not the usual (shape, scale)."""
        self.born = lives.clock_at(self.pattern, day)
        self.due = self.born + lives.draw_life(rng, *(law or (self.shape, self.scale)))
        self.ever_renewed = day
        self.for_service = False

    def mend(self, rng, day):
        """Repaired in place: as bad as old, the same clock goes on."""
        age = lives.clock_at(self.pattern, day) - self.born
        self.due = self.born + lives.draw_life(rng, self.shape, self.scale, age)
        self.for_service = False

    def fails_on(self):
        return lives.day_at(self.pattern, self.due)


@dataclass
class Home:
    customer: int
    address: str
    area: int
    care: int
    until: int
    told: bool
    serviced: bool
    end_reason: str


@dataclass
class Appliance:
    key: str
    home: Home
    model: object
    installed: int
    care: int
    rng: object
    positions: list = field(default_factory=list)
    until: int = FOREVER
    told: bool = False
    end_reason: str = ""
    opened_by_breakdown: bool = False
    fitted_by_us: bool = False
    unseen_renewals: list = field(default_factory=list)  # (position, day number)
    installed_known: str = ""
    earlier: list = field(default_factory=list)  # (position, date as text)
    serial: str = ""
    next_call: float = 0.0  # on the season clock
    next_service: int = FOREVER
    waits: bool = False  # for a visit that is only booked
    given_up: bool = False  # declined, or to be replaced
    upgrade_on: int = FOREVER
    recall_on: int = FOREVER

    def next_failure(self):
        """(day number, position) of what fails next."""
        calling = [position for position in self.positions if not position.for_service]
        first = min(calling, key=lambda position: position.fails_on())
        return first.fails_on(), first

    def of(self, component):
        return [position for position in self.positions if position.component == component]


def known_to(rng, day, shares):
    """A day number as the customer knows it: to the day, the month, the year, or not at all."""
    whole = date.fromordinal(day).isoformat()
    return lives.pick(rng, [(whole, shares[0]), (whole[:7], shares[1]), (whole[:4], shares[2]), ("", shares[3])])


def live_unseen(appliance, until):
    """Let the positions fail and be renewed unseen, from installation until the day number `until`."""
    rng = appliance.rng
    for position in appliance.positions:
        position.renew(rng, appliance.installed)
        position.ever_renewed = 0
        waits = lives.draw_life(rng, 1.0, 1 / lives.UNSEEN_RENEWALS_WITHOUT_FAILURE)
        planned = appliance.installed + lives.YEAR * waits
        while min(position.fails_on(), planned) < until:
            day = max(int(min(position.fails_on(), planned)), appliance.installed)
            share = lives.REPAIRED_IN_PLACE.get(position.component, lives.REPAIRED_IN_PLACE_ELSE)
            mended = day < planned and rng.random() < share
            planned = lives.LAST_DAY if day >= int(planned) else planned
            if mended:
                position.mend(rng, day)
            else:
                position.renew(rng, day)
                appliance.unseen_renewals.append((position, day))


def _contact(number):
    first = f"01632 960{number * 7 % 1000:03d}"
    return first if number % 3 == 0 else f"07700 900{number * 11 % 1000:03d}"


def customer_rows(customers):
    """The table customers."""
    rows = []
    for number, (name, billing) in enumerate(customers, 1):
        mail = f"{name.lower().replace(' ', '.')}.{number}@mail.example" if number % 5 < 3 else ""
        rows.append({
            "customer": f"C{number:04d}", "name": name, "phone": _contact(number), "email": mail,
            "billing_address": billing,
        })  # fmt: skip
    return rows


def appliance_rows(appliances, last):
    """The table appliances, as the firm knows them on the day number `last`."""
    rows = []
    for a in appliances:
        ended = a.told and a.until <= last
        note = ACCESS_NOTES[a.home.customer % len(ACCESS_NOTES)] if a.home.customer % 9 == 0 else ""
        rows.append({
            "appliance": a.key, "customer": f"C{a.home.customer:04d}", "address": a.home.address,
            "post_area": f"MB{a.home.area}", "model": a.model.key, "kind": a.model.kind,
            "in_care_from": date.fromordinal(a.care).isoformat(), "installed_on": a.installed_known, "serial": a.serial,
            "in_care_until": date.fromordinal(a.until).isoformat() if ended else "",
            "end_reason": a.end_reason if ended else "", "service": "yes" if a.home.serviced else "no",
            "phone": "", "access_note": note,
        })  # fmt: skip
    return rows


def earlier_rows(appliances):
    """The table earlier: what is known of positions before care."""
    return [
        {
            "appliance": a.key, "component": position.component,
            "position": position.number if a.model.components[position.component] > 1 else "", "renewed_on": renewed,
        }
        for a in appliances
        for position, renewed in a.earlier
    ]  # fmt: skip
