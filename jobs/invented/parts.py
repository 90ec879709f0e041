"""An invented part, and the ways in which parts renew a component."""

from dataclasses import dataclass, field

BULKY = 60.0  # pounds: from here on the job sheet names the supplier, for the guarantee


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
