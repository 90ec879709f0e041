"""One appliance and its jobs, written in a line or two, for the examples of each rule of the spells."""

from tests.spell_firms import spells_of

AS_OF = "2021-01-01"


def firm(*, holds=None, installed_on="2015-01-01", in_care_from="2020-01-01", **tables):
    """One appliance A with the given components, in care since new year 2020, and the given rows."""
    appliance = {"appliance": "A", "model": "M", "installed_on": installed_on, "in_care_from": in_care_from}
    appliance |= tables.pop("appliance", {})
    empty = {name: [] for name in ("earlier", "jobs", "visits", "findings", "fitted")}
    models = {"M": {"holds": holds or {"pump": 1}}}
    covers = {"P": ["pump"], "ASSEMBLY": ["pump", "block", "sensor"], "SEAL": []}
    return {"models": models, "covers": covers, "appliances": [appliance], **empty, **tables}


def job(reported_on, *visits, number="J1", kind="breakdown", return_of=""):
    """Rows of one job with visits (day, findings, fitted); a finding is a component or a dict, so is a fitted row."""
    tables = {
        "jobs": [{"job": number, "appliance": "A", "kind": kind, "reported_on": reported_on, "return_of": return_of}],
        "visits": [],
        "findings": [],
        "fitted": [],
    }
    for count, (day, findings, fitted) in enumerate(visits):
        visit = f"{number}/{count}"
        tables["visits"].append({"visit": visit, "job": number, "on": day})
        for row in findings:
            row = row if isinstance(row, dict) else {"component": row}
            tables["findings"].append({"visit": visit, "appliance": "A", **row})
        for row in fitted:
            row = row if isinstance(row, dict) else {"component": row}
            filled = {"visit": visit, "appliance": "A", "part": "SEAL", "quantity": "1", "why": "failed", **row}
            tables["fitted"].append(filled)
    return tables


def together(*jobs):
    return {name: [row for one in jobs for row in one[name]] for name in jobs[0]}


def lives(a_firm, as_of=AS_OF, months=18.0):
    """Spells by component and position as (opened, closed, failed, clock, opened_by, closed_by), by opening."""
    spells = spells_of(a_firm, as_of, months)
    days = [
        spells.opened_day.astype("datetime64[D]").astype(str),
        spells.closed_day.astype("datetime64[D]").astype(str),
    ]
    words = [spells.words(name) for name in ("clock", "opened_by", "closed_by")]
    found = {}
    rows = zip(spells.words("component"), spells.position, *days, spells.failed.astype(int), *words, strict=True)
    for component, position, *row in rows:
        found.setdefault(f"{component} {position}", []).append(tuple(row))
    return {key: sorted(rows) for key, rows in found.items()}


def pump(a_firm, **when):
    return lives(a_firm, **when)["pump 1"]
