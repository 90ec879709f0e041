"""The invented parts: what each covers and fits, kits and assemblies beside single parts, and recipes of several."""

from datetime import date

from jobs.invented import trade
from jobs.invented.parts import BULKY, Catalogue, Part, Recipe

GENERIC = {
    "wiring-harness", "gas-pipework-joint", "filling-loop", "automatic-air-vent", "condensate-pump", "room-thermostat",
    "programmer", "motorised-zone-valve", "zone-valve-actuator", "cylinder-thermostat", "thermostatic-radiator-valve",
    "radiator", "pipework-joint", "magnetic-filter", "float-valve", "thermocouple",
}  # fmt: skip
MAKER_WIDE = {  # on gas boilers: one part for all the ranges of a maker
    "ignition-electrode", "flame-sensing-electrode", "ignition-generator", "combustion-chamber-seal", "flue-seal",
    "condensate-trap", "pressure-relief-valve", "water-pressure-sensor", "primary-temperature-sensor",
    "hot-water-temperature-sensor", "hot-water-flow-sensor", "overheat-thermostat", "hydraulic-seal-set",
    "diverter-valve-actuator", "expansion-vessel", "air-pressure-switch", "display-board",
}  # fmt: skip
GENERIC_MAKER = "Brindlow"
GAS = [
    "Calderby Beck", "Calderby Scar", "Norwick Fen", "Norwick Marsh", "Hearthmoor gas", "Tarnside Pike",
    "Tarnside Mere",
]  # fmt: skip
MAKERS = ["Calderby gas", "Norwick gas", "Hearthmoor gas", "Tarnside gas"]
CYLINDERS = ["Skelbeck Urn", "Harrowmere Cask"]
ELECTRODES = ["ignition-electrode", "flame-sensing-electrode", "combustion-chamber-seal"]
DIVERTER = ["diverter-valve-body", "diverter-valve-actuator", "hydraulic-seal-set"]
HEADED = ["Norwick Fen", "Tarnside Mere"]  # their diverter body is renewed by a head and a seal set together
SECTIONAL = ["Tarnside Pike"]  # their exchanger comes in two sections

# words, components covered, platforms, price as so many times what single parts would cost, grade
KITS = [
    ("Pump with seals", ["circulating-pump", "hydraulic-seal-set"], GAS, 0.95, "maker-new"),
    ("Pump, reconditioned", ["circulating-pump"], GAS[:2], 0.6, "reconditioned"),
    ("Electrode and seal kit", ELECTRODES, MAKERS, 0.8, "maker-new"),
    ("Diverter assembly, whole", DIVERTER, GAS[:5], 0.85, "maker-new"),
    ("Diverter actuator, copy", ["diverter-valve-actuator"], ["Calderby gas", "Norwick gas"], 0.55, "unapproved-copy"),
    ("Plate exchanger, approved equivalent", ["plate-heat-exchanger"], [GAS[0], GAS[2]], 0.75, "approved-equivalent"),
    ("Display board, reconditioned", ["display-board"], ["Calderby gas", "Norwick gas"], 0.5, "reconditioned"),
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
    ("Tarnside gas", "ignition-electrode"): 2024,
    ("Hearthmoor Ling", "oil-pump"): 2021,
    ("Skelbeck Urn", "expansion-relief-valve"): 2023,
}


def gas_of(model):
    """The name under which all gas boilers of the model's maker share parts; empty for other kinds."""
    return f"{model.maker} gas" if model.kind.startswith("gas") else ""


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
        wide = component in MAKER_WIDE and platform in GAS
        key = "*" if component in GENERIC else f"{platform.split()[0]} gas" if wide else platform, component
        if key not in self.base_prices:
            low, high = trade.components()[component]["price_band_gbp"]
            self.base_prices[key] = 0.8 * (low + (0.1 + 0.55 * self.rng.random()) * (high - low))
        return self.base_prices[key]

    def fitting(self, platform, component):
        if platform == "*":
            return ["*"]
        held = [model for model in self.models if component in model.components]
        return [model.key for model in held if platform in (model.platform, gas_of(model))]

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
                wide = component in MAKER_WIDE and gas_of(model)
                platform = "*" if component in GENERIC else gas_of(model) if wide else model.platform
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
