"""Small invented firms for the tests of spells: from rows as they stand in files to arrays, and at random."""

from datetime import date, timedelta

import numpy as np

from jobs.reliability import history
from jobs.reliability.history.spells import COLUMNS
from tests.spells_by_hand import placed

EPOCH = date(1970, 1, 1)


def day_of(text):
    """Days since the epoch of an ISO date of any precision, NO_DAY for none."""
    if not text:
        return history.NO_DAY
    return (date.fromisoformat(text + "0000-01-01"[len(text) :]) - EPOCH).days


def precision_of(text):
    return {0: 0, 10: 1, 7: 2, 4: 3}[len(text or "")]


def column(rows, read, kind=np.int64):
    return np.array([read(row) for row in rows], dtype=kind)


def as_records(firm):
    """The arrays of jobs.reliability.history for a firm given as in tests/spells_by_hand.py."""
    named = [row["component"] for rows in ("earlier", "findings", "fitted") for row in firm[rows] if row["component"]]
    held = [c for model in firm["models"].values() for c in model["holds"]]
    components = sorted({*named, *held, *(c for part in firm["covers"].values() for c in part)})
    keys = {
        "component": components,
        "appliance": sorted(row["appliance"] for row in firm["appliances"]),
        "model": sorted(firm["models"]),
        "part": sorted({row["part"] for row in firm["fitted"]} | set(firm["covers"])),
        "job": [row["job"] for row in firm["jobs"]],
        "visit": [row["visit"] for row in firm["visits"]],
        "supplier": ["S1", "S2"],
    }
    index = {name: {key: at for at, key in enumerate(values)} for name, values in keys.items()}

    def code(name):
        return lambda row: index[name].get(row.get(name) or "", -1)

    appliances = sorted(firm["appliances"], key=lambda row: row["appliance"])
    pairs = [(model, c, n) for model, held in firm["models"].items() for c, n in held["holds"].items()]
    covers = [(part, component) for part, covered in firm["covers"].items() for component in covered]
    about = [(job, appliance) for job in firm["jobs"] for appliance in [job["appliance"], *job.get("also", [])]]
    jobs, fitted, findings, earlier = firm["jobs"], firm["fitted"], firm["findings"], firm["earlier"]
    return history.Records(
        names=history.Names(
            components=np.array(components, dtype=object),
            appliances=np.array(keys["appliance"], dtype=object),
            models=np.array(keys["model"], dtype=object),
            makers=np.array(["Ottermill"], dtype=object),
            suppliers=np.array(keys["supplier"], dtype=object),
            post_areas=np.array(["QX1"], dtype=object),
        ),
        catalogue=history.Catalogue(
            maker=np.zeros(len(keys["model"]), dtype=np.int64),
            held_model=column(pairs, lambda pair: index["model"][pair[0]]),
            held_component=column(pairs, lambda pair: index["component"][pair[1]]),
            held_count=column(pairs, lambda pair: pair[2]),
            covers_part=column(covers, lambda pair: index["part"][pair[0]]),
            covers_component=column(covers, lambda pair: index["component"][pair[1]]),
        ),
        appliances=history.Appliances(
            model=column(appliances, code("model")),
            post_area=np.zeros(len(appliances), dtype=np.int64),
            installed=column(appliances, lambda row: day_of(row.get("installed_on"))),
            precision=column(appliances, lambda row: precision_of(row.get("installed_on"))),
            in_care_from=column(appliances, lambda row: day_of(row["in_care_from"])),
            in_care_until=column(appliances, lambda row: day_of(row.get("in_care_until"))),
            on_service=np.zeros(len(appliances), dtype=bool),
        ),
        earlier=history.Earlier(
            appliance=column(earlier, code("appliance")),
            component=column(earlier, code("component")),
            position=column(earlier, lambda row: int(row.get("position") or 1)),
            renewed=column(earlier, lambda row: day_of(row.get("renewed_on"))),
            precision=column(earlier, lambda row: precision_of(row.get("renewed_on"))),
        ),
        jobs=history.Jobs(
            kind=column(jobs, lambda row: history.KINDS.index(row["kind"])),
            reported=column(jobs, lambda row: day_of(row["reported_on"])),
            return_of=column(jobs, lambda row: index["job"].get(row.get("return_of") or "", -1)),
            of_job=column(about, lambda pair: index["job"][pair[0]["job"]]),
            of_appliance=column(about, lambda pair: index["appliance"][pair[1]]),
        ),
        visits=history.Visits(
            job=column(firm["visits"], code("job")), day=column(firm["visits"], lambda row: day_of(row["on"]))
        ),
        findings=history.Findings(
            visit=column(findings, code("visit")),
            appliance=column(findings, code("appliance")),
            component=column(findings, code("component")),
            position=column(findings, lambda row: int(row.get("position") or 0)),
            no_part=column(findings, lambda row: bool(row.get("no_part_cause")), bool),
        ),
        fitted=history.Fitted(
            visit=column(fitted, code("visit")),
            appliance=column(fitted, code("appliance")),
            part=column(fitted, code("part")),
            component=column(fitted, code("component")),
            position=column(fitted, lambda row: int(row.get("position") or 0)),
            pieces=column(fitted, lambda row: int(row["quantity"])),
            why=column(fitted, lambda row: history.WHYS.index(row["why"])),
            taken_out=column(fitted, lambda row: day_of(row.get("taken_out"))),
            supplier=column(fitted, code("supplier")),
        ),
    )


def spells_of(firm, as_of, months=18.0):
    return history.build_spells(as_records(firm), as_of=day_of(as_of), care_window_months=months)


def as_rows(spells):
    """Rows in the form of spells_by_hand."""
    columns = [spells.words(name).tolist() for name in COLUMNS if name != "weight"]
    return [tuple(row) for row in zip(*columns, strict=True)]


HOLDS = [{"pump": 1, "sensor": 2, "block": 1}, {"pump": 1, "fan": 1}, {"sensor": 3}]
COVERS = {"P": ["pump"], "S": ["sensor"], "B": ["block", "pump", "sensor"], "K": ["fan", "pump"], "N": []}


def random_firm(rng, *, appliances=3, busy=4):
    """A small firm with every feature that the rules speak of, days close together so that they meet."""
    firm = {
        "models": {f"M{n}": {"holds": held} for n, held in enumerate(HOLDS)},
        "covers": COVERS,
        "appliances": [_appliance(rng, n) for n in range(appliances)],
        "earlier": [], "jobs": [], "visits": [], "findings": [], "fitted": [],
    }  # fmt: skip
    for appliance in firm["appliances"]:
        told = [_earlier(rng, appliance, component) for component in ("pump", "sensor", "valve")]
        firm["earlier"] += [row for row in told if rng.random() < 0.4 and _possible(appliance, row)]
        for _ in range(rng.integers(0, busy + 1)):
            _job(rng, firm, appliance)
    return firm


def _day(rng, first, last):
    return date.fromisoformat(first) + timedelta(int(rng.integers(0, (last - date.fromisoformat(first)).days + 1)))


def _appliance(rng, number):
    care = _day(rng, "2020-01-01", date(2020, 3, 31))
    row = {"appliance": f"A{number}", "model": f"M{rng.integers(0, 3)}", "in_care_from": care.isoformat()}
    installed = rng.choice(["", "2019", "2018-06", "2020", "2020-01", "2019-11-20", "2020-03-10", "care"])
    row["installed_on"] = care.isoformat() if installed == "care" else str(installed)
    if rng.random() < 0.2:
        row["in_care_until"] = _day(rng, "2020-04-01", date(2021, 3, 1)).isoformat()
    return row


def _earlier(rng, appliance, component):
    renewed = str(rng.choice(["", "2019", "2019-12", "2020-01", "2020", "2019-12-24"]))
    position = str(rng.choice(["", "1", "2"])) if component == "sensor" else ""
    return {"appliance": appliance["appliance"], "component": component, "position": position, "renewed_on": renewed}


def _possible(appliance, row):
    try:
        placed(appliance, [row])
    except ValueError:
        return False
    return True


def _job(rng, firm, appliance):
    number = f"J{len(firm['jobs'])}"
    reported = _day(rng, "2019-12-20", date(2020, 12, 31))
    older = [job["job"] for job in firm["jobs"] if job["appliance"] == appliance["appliance"]]
    others = [other["appliance"] for other in firm["appliances"] if other is not appliance]
    job = {
        "job": number,
        "appliance": appliance["appliance"],
        "kind": str(rng.choice(["breakdown", "breakdown", "service", "planned"])),
        "reported_on": reported.isoformat(),
        "return_of": str(rng.choice(older)) if older and rng.random() < 0.3 else "",
        "also": [str(rng.choice(others))] if others and rng.random() < 0.2 else [],
    }
    firm["jobs"].append(job)
    day = reported - timedelta(2 * int(rng.random() < 0.1))  # now and then a report is entered late
    for _ in range(rng.integers(0, 4)):
        day += timedelta(int(rng.choice([0, 0, 1, 3, 20, 60])))
        visit = f"V{len(firm['visits'])}"
        firm["visits"].append({"visit": visit, "job": number, "on": day.isoformat()})
        for target in [job["appliance"], *job["also"]]:
            _rows(rng, firm, visit, target, day)


def _rows(rng, firm, visit, appliance, day):
    for _ in range(rng.integers(0, 3)):
        component = str(rng.choice(["pump", "sensor", "block", "fan", "valve", ""]))
        position = str(rng.choice(["", "", "1", "2"])) if component in {"sensor", "valve"} else ""
        cause = "closed-valve" if not component or rng.random() < 0.1 else ""
        firm["findings"].append(
            {"visit": visit, "appliance": appliance, "component": component, "position": position,
             "no_part_cause": cause}
        )  # fmt: skip
    for _ in range(rng.integers(0, 3)):
        component = str(rng.choice(["pump", "sensor", "block", "fan", "valve"]))
        position = str(rng.choice(["", "", "", "1", "2"])) if component in {"sensor", "valve"} else ""
        firm["fitted"].append(
            {"visit": visit, "appliance": appliance, "part": str(rng.choice(list(COVERS))), "component": component,
             "position": position, "quantity": str(rng.choice([1, 1, 1, 2, 5])),
             "why": str(rng.choice(["failed", "failed", "failed", "planned", "recall", "had-to-come-off"])),
             "taken_out": (day + timedelta(9)).isoformat() if rng.random() < 0.15 else "",
             "supplier": str(rng.choice(["", "S1", "S2"]))}
        )  # fmt: skip
