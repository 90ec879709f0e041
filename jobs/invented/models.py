"""The invented appliance models, by range: models of one platform share parts."""

from dataclasses import dataclass, field

from jobs.invented import trade
from jobs.invented.lives import WEAK_SPOTS


@dataclass(frozen=True)
class Model:
    key: str
    maker: str
    range: str
    name: str
    kind: str
    platform: str
    first_year: int
    last_year: int
    weight: float
    components: dict = field(hash=False)
    uk_number: str = ""


# maker, range, kind, sizes, platform, first and last year of making, weight, extra components
RANGES = [
    ("Calderby", "Beck", "gas-combi", [24, 30], "Calderby Beck", 2002, 2014, 1.3, {"air-pressure-switch": 1}),
    ("Calderby", "Scar", "gas-combi", [25, 32], "Calderby Scar", 2012, 2099, 1.6, {}),
    ("Norwick", "Fen", "gas-combi", [24, 28], "Norwick Fen", 2001, 2013, 1.0, {"air-pressure-switch": 1}),
    ("Norwick", "Marsh", "gas-combi", [26, 35], "Norwick Marsh", 2011, 2099, 1.2, {}),
    ("Hearthmoor", "Settle", "gas-combi", [24, 30], "Hearthmoor gas", 2006, 2099, 0.8, {}),
    ("Tarnside", "Mere", "gas-combi", [28, 34], "Tarnside Mere", 2009, 2099, 0.8, {"condensate-pump": 1}),
    ("Calderby", "Scar S", "gas-system", [18], "Calderby Scar", 2012, 2099, 1.0, {}),
    ("Norwick", "Marsh S", "gas-system", [19, 24], "Norwick Marsh", 2003, 2099, 1.0, {}),
    ("Tarnside", "Mere S", "gas-system", [24], "Tarnside Mere", 2009, 2099, 0.8, {}),
    ("Norwick", "Fen R", "gas-regular", [15], "Norwick Fen", 2001, 2015, 1.0, {}),
    ("Hearthmoor", "Heath", "gas-regular", [16, 21], "Hearthmoor gas", 2006, 2099, 1.0, {}),
    ("Tarnside", "Pike", "gas-regular", [12, 18], "Tarnside Pike", 1992, 2012, 1.0, {"thermocouple": 1}),
    ("Hearthmoor", "Ling", "oil", [20, 26], "Hearthmoor Ling", 1998, 2099, 1.2, {"circulating-pump": 1}),
    ("Rookwell", "Rook", "oil", [23], "Rookwell Rook", 2003, 2099, 0.8, {"circulating-pump": 1}),
    ("Lowther", "Drift", "heat-pump", [6, 9], "Lowther Drift", 2013, 2099, 1.0, {"expansion-vessel": 1}),
    ("Fellgarth", "Gale", "heat-pump", [8], "Fellgarth Gale", 2015, 2099, 0.8, {"expansion-vessel": 1}),
    ("Skelbeck", "Urn", "unvented-cylinder", [150, 210], "Skelbeck Urn", 1998, 2099, 1.0, {}),
    ("Harrowmere", "Cask", "unvented-cylinder", [180], "Harrowmere Cask", 2006, 2099, 0.8, {}),
]
TARNSIDE_PIKE_LACKS = {"main-control-board", "display-board", "combustion-fan", "condensate-trap"}
PLAIN_MODELS = [
    ("wet-sealed", "Wet system, sealed", "wet-system", {"expansion-vessel": 1, "pressure-relief-valve": 1}),
    ("wet-vented", "Wet system, open vented", "wet-system", {"float-valve": 1, "circulating-pump": 1}),
    ("Ulverby Latch", "Latch", "controls", {}),
    ("Ulverby Latch 2", "Latch 2, two zones", "controls", {"motorised-zone-valve": 2, "zone-valve-actuator": 2}),
    ("Ulverby Wick", "Wick, with cylinder", "controls", {"motorised-zone-valve": 1, "cylinder-thermostat": 1}),
]


def _usual(kind):
    return {key: row["usual_count"][kind] for key, row in trade.components().items() if row["usual_count"].get(kind)}


def _of_range(line, first_number):
    maker, name, kind, sizes, platform, first_year, last_year, weight, extra = line
    held = _usual(kind) | extra
    if platform == "Tarnside Pike":
        held = {key: count for key, count in held.items() if key not in TARNSIDE_PIKE_LACKS}
    for offset, size in enumerate(sizes):
        yield Model(
            key=f"{maker} {name} {size}", maker=maker, range=f"{maker} {name}", name=f"{name} {size}", kind=kind,
            platform=platform, first_year=first_year, last_year=last_year, weight=weight, components=held,
            uk_number=f"00-{900 + first_number}-{10 + offset}" if kind.startswith("gas") else "",
        )  # fmt: skip


def all_models():
    """Every model, in a fixed order."""
    made = [model for number, line in enumerate(RANGES) for model in _of_range(line, number)]
    for key, name, kind, extra in PLAIN_MODELS:
        maker = "Ulverby" if kind == "controls" else ""
        made.append(Model(key, maker, key, name, kind, kind.replace("-", " "), 1960, 2099, 1.0, _usual(kind) | extra))
    return made


def draw_rate_factors(rng, models):
    """How many times as often each (model, component) fails as the component at large, at every age."""
    factors = {}
    for model in models:
        whole = round(0.6 + 0.5 * rng.random(), 3)
        for component in model.components:
            weak = WEAK_SPOTS.get((model.range, component), 1.0)
            factors[model.key, component] = round(whole * weak * (0.85 + 0.3 * rng.random()), 3)
    return factors


def rows(models):
    """The table appliance_models."""
    return [
        {
            "model": m.key, "maker": m.maker or "various", "name": m.name, "kind": m.kind,
            "components": ";".join(f"{key}*{count}" if count > 1 else key for key, count in m.components.items()),
            "uk_number": m.uk_number,
        }
        for m in models
    ]  # fmt: skip
