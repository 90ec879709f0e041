"""The invented parts: what each covers and fits, kits and assemblies beside single parts, and recipes of several."""

from dataclasses import dataclass, field
from datetime import date

from jobs.invented import trade

GENERIC = {
    "wiring-harness", "gas-pipework-joint", "filling-loop", "automatic-air-vent", "condensate-pump", "room-thermostat",
    "programmer", "motorised-zone-valve", "zone-valve-actuator", "cylinder-thermostat", "thermostatic-radiator-valve",
    "radiator", "pipework-joint", "magnetic-filter", "float-valve", "thermocouple",
}  # fmt: skip
GENERIC_MAKER = "Brindlow"
GAS = [
    "Calderby Beck", "Calderby Scar", "Norwick Fen", "Norwick Marsh", "Hearthmoor gas", "Tarnside Pike",
    "Tarnside Mere",
]  # fmt: skip
CYLINDERS = ["Skelbeck Urn", "Harrowmere Cask"]
ELECTRODES = ["ignition-electrode", "flame-sensing-electrode", "combustion-chamber-seal"]
DIVERTER = ["diverter-valve-body", "diverter-valve-actuator", "hydraulic-seal-set"]
HEADED = ["Norwick Fen", "Tarnside Mere"]  # their diverter body is renewed by a head and a seal set together
SECTIONAL = ["Tarnside Pike"]  # their exchanger comes in two sections
BULKY = 60.0  # pounds: from here on the job sheet names the supplier, for the guarantee

# words, components covered, platforms, price as so many times what single parts would cost, grade
KITS = [
    ("Pump with seals", ["circulating-pump", "hydraulic-seal-set"], GAS, 0.95, "maker-new"),
    ("Pump, reconditioned", ["circulating-pump"], GAS[:2], 0.6, "reconditioned"),
    ("Electrode and seal kit", ELECTRODES, GAS, 0.8, "maker-new"),
    ("Diverter assembly, whole", DIVERTER, GAS[:5], 0.85, "maker-new"),
    ("Diverter actuator, copy", ["diverter-valve-actuator"], [GAS[0], GAS[3]], 0.55, "unapproved-copy"),
    ("Plate exchanger, approved equivalent", ["plate-heat-exchanger"], [GAS[0], GAS[2]], 0.75, "approved-equivalent"),
    ("Display board, reconditioned", ["display-board"], [GAS[0], GAS[2]], 0.5, "reconditioned"),
    ("Fan with flue seal", ["combustion-fan", "flue-seal"], [GAS[1], GAS[4], GAS[6]], 0.95, "maker-new"),
    ("Inlet group, whole", ["pressure-reducing-valve", "expansion-relief-valve"], CYLINDERS, 0.85, "maker-new"),
    ("Immersion heater with thermostat", ["immersion-heater", "immersion-thermostat"], CYLINDERS, 0.85, "maker-new"),
    ("Zone valve, whole", ["motorised-zone-valve", "zone-valve-actuator"], ["*"], 0.85, "maker-new"),
]  # fmt: skip
SUPERSEDED = {  # (platform, component): the year in which a new number came
    ("Calderby Beck", "circulating-pump"): 2021,
    ("Calderby Scar", "main-control-board"): 2022,
    ("Norwick Marsh", "combustion-fan"): 2023,
    ("Norwick Fen", "gas-valve"): 2020,
    ("Hearthmoor gas", "hot-water-flow-sensor"): 2022,
    ("Tarnside Mere", "ignition-electrode"): 2024,
    ("Hearthmoor Ling", "oil-pump"): 2021,
    ("Skelbeck Urn", "expansion-relief-valve"): 2023,
}


@dataclass
class Part:
    number: str
    description: str
    covers: list
    fits: list  # model keys, or ["*"]
    price: float  # what it costs at the start of the history, before suppliers' differences
    litres: float
    kilograms: float
    maker: str = ""
    maker_part: str = ""
    gtin: str = ""
    grade: str = "maker-new"
    guarantee_months: int = 12
    superseded_by: str = ""
    begins: int = 0  # day numbers between which it is sold
    ends: int = 10**7


@dataclass
class Recipe:
    component: str
    parts: list
    fits: list


@dataclass
class Catalogue:
    models: dict
    parts: dict = field(default_factory=dict)
    recipes: list = field(default_factory=list)

    def ways(self, component, model, day):
        """Lists of parts, each of which renews the component on that day; the usual way first."""
        key = model.key
        single = [
            [part]
            for part in self.parts.values()
            if component in part.covers and part.begins <= day < part.ends and (part.fits == ["*"] or key in part.fits)
        ]
        together = [
            [self.parts[number] for number in recipe.parts]
            for recipe in self.recipes
            if recipe.component == component and key in recipe.fits
        ]
        return sorted(single + together, key=_unusual)

    def sensible_ways(self, component, model, day):
        """Those ways that cost at most three times the usual one."""
        ways = self.ways(component, model, day)
        return [way for way in ways if price_of(way) <= 3 * price_of(ways[0])]


def price_of(way):
    return sum(part.price for part in way)


def _unusual(way):
    new = way[0].grade in {"maker-new", "approved-equivalent"}
    return not new, len(way[0].covers) ** 0.5 * price_of(way), way[0].number


def gtin_of(number):
    """A number of 13 digits in the range that is kept for use inside one firm, with its check digit."""
    body = "20" + str(number).zfill(10)
    weighted = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(body)))
    return body + str(-weighted % 10)


class _Maker:
    """Gives the parts their numbers, prices and sizes, in one fixed order of draws."""

    def __init__(self, rng, models):
        self.rng, self.models = rng, models
        self.catalogue = Catalogue({model.key: model for model in models})
        self.next_number = 101903
        self.base_prices = {}

    def base_price(self, platform, component):
        """What a single part for the component costs on this platform."""
        key = "*" if component in GENERIC else platform, component
        if key not in self.base_prices:
            low, high = trade.components()[component]["price_band_gbp"]
            self.base_prices[key] = 0.8 * (low + (0.1 + 0.55 * self.rng.random()) * (high - low))
        return self.base_prices[key]

    def fitting(self, platform, component):
        if platform == "*":
            return ["*"]
        return [model.key for model in self.models if model.platform == platform and component in model.components]

    def part(self, description, covers, platform, *, times=1.0, grade="maker-new", fits=None):
        shelves = [trade.components()[component]["shelf"] for component in covers]
        price = times * sum(self.base_price(platform, component) for component in covers)
        generic = platform in ("*", "wet system") or grade == "unapproved-copy"
        maker = GENERIC_MAKER if generic else platform.split()[0]
        number = str(self.next_number)
        self.next_number += 3 + int(self.rng.random() * 12)
        made = Part(
            number=number, description=description, covers=covers, fits=fits or self.fitting(platform, covers[0]),
            price=round(price, 2), litres=round(max(1, times) * sum(shelf["litres"] for shelf in shelves), 2),
            kilograms=round(max(1, times) * sum(shelf["kilograms"] for shelf in shelves), 2), maker=maker,
            maker_part=f"{maker[:2].upper()}{int(self.rng.random() * 90000) + 10000}",
            gtin=gtin_of(number) if self.rng.random() < 0.5 else "", grade=grade,
            guarantee_months=24 if price > BULKY and grade == "maker-new" else 6 if grade == "reconditioned" else 12,
        )  # fmt: skip
        self.catalogue.parts[number] = made
        return made

    def single(self, component, platform):
        name = trade.components()[component]["name"]
        words = name if platform == "*" else f"{name}, {platform}"
        first = self.part(words, [component], platform)
        year = SUPERSEDED.get((platform, component))
        if year:
            first.ends = date(year, 3, 1).toordinal()
            newer = self.part(f"{words}, new pattern", [component], platform, times=1.1)
            newer.begins = first.ends
            first.superseded_by = newer.number
        return first

    def singles(self):
        held = {}
        for model in self.models:
            for component in model.components:
                platform = "*" if component in GENERIC else model.platform
                held.setdefault((platform, component), None)
        for platform, component in held:
            headed = component == "diverter-valve-body" and platform in HEADED
            sectional = component == "main-heat-exchanger" and platform in SECTIONAL
            if not (headed or sectional):
                self.single(component, platform)

    def kits(self):
        for words, covers, platforms, times, grade in KITS:
            fitting = [platform for platform in platforms if self.fitting(platform, covers[0])]
            for platform in fitting:
                name = words if platform == "*" else f"{words}, {platform}"
                if covers is not DIVERTER or platform not in HEADED:
                    self.part(name, covers, platform, times=times, grade=grade)

    def recipes(self):
        for platform in HEADED:
            fits = self.fitting(platform, "diverter-valve-body")
            words = f"Diverter head and spring, {platform}"
            head = self.part(words, ["diverter-valve-actuator"], platform, times=1.3, fits=fits)
            seals = next(p for p in self.parts if p.covers == ["hydraulic-seal-set"] and fits[0] in p.fits)
            self.recipe("diverter-valve-body", [head, seals], fits)
        for platform in SECTIONAL:
            fits = self.fitting(platform, "main-heat-exchanger")
            words = f"Exchanger section, {{}}, {platform}"
            halves = [("front with door seal", "combustion-chamber-seal"), ("rear with flue seal", "flue-seal")]
            made = [self.part(words.format(half), [seal], platform, times=6, fits=fits) for half, seal in halves]
            self.recipe("main-heat-exchanger", made, fits)

    def recipe(self, component, parts, fits):
        self.catalogue.recipes.append(Recipe(component, [part.number for part in parts], fits))

    @property
    def parts(self):
        return self.catalogue.parts.values()


def draw_catalogue(rng, models):
    """Parts and recipes for these models."""
    maker = _Maker(rng, models)
    maker.singles()
    maker.kits()
    maker.recipes()
    return maker.catalogue


def part_rows(catalogue):
    """The table parts."""
    return [
        {
            "part": p.number, "description": p.description, "covers": ";".join(p.covers), "fits": ";".join(p.fits),
            "grade": p.grade, "maker": p.maker, "maker_part": p.maker_part, "gtin": p.gtin, "unit": "piece",
            "superseded_by": p.superseded_by, "litres": p.litres, "kilograms": p.kilograms,
            "guarantee_months": p.guarantee_months,
        }
        for p in catalogue.parts.values()
    ]  # fmt: skip


def recipe_rows(catalogue):
    """The table recipes."""
    return [{"component": r.component, "parts": ";".join(r.parts), "fits": ";".join(r.fits)} for r in catalogue.recipes]
