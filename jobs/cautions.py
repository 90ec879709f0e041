"""Which cautions stand where a component is shown to be worked on: those of its hazards and of the appliance's kind."""

from dataclasses import dataclass, field

from firm.models import Setting
from inventory.models import HAZARDS, Caution

OPENING = {  # opening such an appliance brings its fuel and combustion, whatever the component
    "gas-combi": {"gas", "combustion", "mains"},
    "gas-system": {"gas", "combustion", "mains"},
    "gas-regular": {"gas", "combustion", "mains"},
    "oil": {"oil", "combustion", "mains"},
    "heat-pump": {"refrigerant", "mains"},
    "unvented-cylinder": {"pressurised-hot-water"},
    "controls": {"mains"},
}
BURNING = {"gas-combi", "gas-system", "gas-regular", "oil"}  # of these the fuel is known: the other one is left out
LICENSED = "Work on this belongs to a person licensed for it under the local code."


@dataclass(frozen=True)
class Warnings:
    """What the panel shows. Each caution has title, cautions, licence and emergency of its hazard class."""

    cautions: list = field(default_factory=list)
    approved: list = field(default_factory=list)
    after: list = field(default_factory=list)
    british: bool = False
    licensed: str = LICENSED

    def __bool__(self):
        return bool(self.cautions or self.approved)


def warnings_for(components, kind=""):
    """Warnings for working on these component types in an appliance of this kind (empty: not known)."""
    components = list(components)
    hazards = set(OPENING.get(kind, ())).union(*[set(c.hazards) for c in components]) & set(HAZARDS)
    hazards -= {"gas", "oil"} - OPENING[kind] if kind in BURNING else set()
    after = dict.fromkeys(check for c in components for check in c.after_fitting)
    return Warnings(
        cautions=list(Caution.objects.filter(hazard__in=hazards)) if hazards else [],
        approved=[c for c in components if c.approved_new_only],
        after=list(after),
        british=Setting.current().country == "GB",
    )
