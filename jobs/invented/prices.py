"""Five invented suppliers, what they ask for each part, and how that rose over the years."""

from bisect import bisect_right
from dataclasses import dataclass, field
from datetime import date

from jobs.invented.lives import BATCH
from jobs.invented.names import SUPPLIERS

SMALL_PACKS = {
    "thermostatic-radiator-valve": 10, "pipework-joint": 10, "gas-pipework-joint": 5, "hydraulic-seal-set": 5,
    "oil-nozzle": 5, "flue-seal": 5,
}  # fmt: skip
SURCHARGED = {"main-control-board": 25, "circulating-pump": 12, "inverter-board": 40}
SHARE_AT_COUNTER = 0.45
RISES = {2021: 0.05, 2022: 0.11, 2023: 0.08}  # usual yearly rise where the years were dear; else 3 per cent


@dataclass
class Offer:
    supplier: str
    number: str
    part: object
    pack: int
    minimum: int
    surcharge: float
    prices: list = field(default_factory=list)  # (day number, price of a pack), by day

    def per_piece(self, day):
        """Price of a piece on that day, or None before the first price."""
        known = bisect_right(self.prices, (day, float("inf")))
        return round(self.prices[known - 1][1] / self.pack, 4) if known else None


@dataclass
class PriceBook:
    offers: list
    by_part: dict

    def cheapest(self, part, day):
        """(price per piece, offer) of the cheapest on that day; (None, None) where nobody sells it."""
        asked = [(offer.per_piece(day), place, offer) for place, offer in enumerate(self.by_part[part.number])]
        known = [row for row in asked if row[0] is not None]
        price, _, offer = min(known) if known else (None, None, None)
        return price, offer

    def usual(self, part):
        """The offer from which the firm usually buys."""
        return self.by_part[part.number][0]

    def at_counter(self, part):
        """The offer of the counter where parts are collected the same day, or None."""
        counters = {name for name, _, same_day, *_ in SUPPLIERS if same_day}
        return next((offer for offer in self.by_part[part.number] if offer.supplier in counters), None)


def _price_days(month, first, last):
    years = range(date.fromordinal(first).year - 1, date.fromordinal(last).year + 1)
    days = [date(year, month, 1).toordinal() for year in years]
    return [day for day in days if day <= last]


def _sellers(rng, part):
    names = [row[0] for row in SUPPLIERS]
    counter = "Marrowby Trade Counter"
    others = [name for name in names if name != counter]
    usual = others.pop(int(rng.random() * len(others)))
    if part.covers[0] == BATCH["component"]:
        others = [name for name in names if name not in (counter, BATCH["supplier"])]
        usual = BATCH["supplier"]
    sellers = [usual, others[int(rng.random() * len(others))]]
    at_counter = rng.random() < SHARE_AT_COUNTER
    return [*sellers, counter] if at_counter else sellers


def _history(rng, offer, price, days):
    begins = offer.part.begins - 60
    if begins > days[0]:  # a new number gets its first price with its first day
        days = [begins] + [day for day in days if day > begins]
    for day in days:
        usual = RISES.get(date.fromordinal(day).year, 0.03)
        price *= 1 + usual * (0.4 + 1.2 * rng.random())
        unchanged = rng.random() < 0.15 and offer.prices
        if not unchanged and day < offer.part.ends:
            offer.prices.append((day, round(price * offer.pack, 2)))


def draw_prices(rng, catalogue, first, last):
    """Offers of every part with their price files from the year before `first` up to `last` (day numbers)."""
    months = {row[0]: row[5] for row in SUPPLIERS}
    offers, by_part = [], {}
    for part in catalogue.parts.values():
        by_part[part.number] = []
        for place, supplier in enumerate(_sellers(rng, part)):
            pack = SMALL_PACKS.get(part.covers[0], 1) if part.price < 40 and place != 2 else 1
            offer = Offer(
                supplier, f"{supplier[:1]}{int(rng.random() * 900) + 100}-{part.number[-4:]}", part, pack,
                2 if pack == 1 and part.price < 12 else 1, SURCHARGED.get(part.covers[0], 0) if place == 0 else 0,
            )  # fmt: skip
            dearer = [0.95, 1.0, 1.12][place] + 0.08 * rng.random()
            _history(rng, offer, part.price * dearer, _price_days(months[supplier], first, last))
            offers.append(offer)
            by_part[part.number].append(offer)
    return PriceBook(offers, by_part)


def supplier_rows():
    """The table suppliers."""
    return [
        {
            "supplier": name, "lead_time_days": lead, "same_day": "yes" if same_day else "no", "carriage": carriage,
            "carriage_free_over": free_over, "email": f"orders@{name.split()[0].lower()}.example",
        }
        for name, lead, same_day, carriage, free_over, _ in SUPPLIERS
    ]  # fmt: skip


def price_rows(book):
    """The table prices, file by file."""
    rows = [
        {
            "supplier": offer.supplier, "supplier_part": offer.number, "part": offer.part.number, "pack": offer.pack,
            "price_ex_vat": f"{price:.2f}", "valid_from": date.fromordinal(day).isoformat(), "minimum": offer.minimum,
            "vat_rate": 20, "surcharge": offer.surcharge or "",
        }
        for offer in book.offers
        for day, price in offer.prices
    ]  # fmt: skip
    return sorted(rows, key=lambda row: (row["valid_from"], row["supplier"], row["supplier_part"]))
