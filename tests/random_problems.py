"""Seeded small plan files of every awkward kind: shared parts, alternatives, pairs, pins, no demand, no price."""


def small_problem(rng, *, vans=1):
    parts = [
        {
            "part": name,
            "price": float(rng.choice([0, 5, 10, 10, 25, 48.5])),
            "litres": float(rng.integers(0, 4)),
            "kilograms": float(rng.choice([0, 0.5, 2])),
            "same_day": float(rng.choice([0, 0, 0.5, 1])),
        }
        for name in "ABCD"[: rng.integers(1, 5)]
    ]
    needs = [
        {
            "need": f"n{i}",
            "failures": float(rng.choice([0, 0.5, 2, 9.8])),
            "exposure_years": float(rng.choice([5, 40])),
            "recipes": [recipe(rng, parts) for _ in range(rng.integers(1, 4))],
        }
        for i in range(rng.integers(1, 4))
    ]
    return {
        "money": {
            "second_visit": 90,
            "merchant_run": 25,
            "holding_per_year": float(rng.choice([0, 0.25, 30])),
            "budget": float(rng.choice([20, 60])) if vans > 1 and rng.random() < 0.8 else None,
        },
        "intervals_per_year": 52,
        "max_per_part": int(rng.choice([1, 2])),
        "parts": parts,
        "needs": needs,
        "vans": [van(rng, str(v), parts, needs) for v in range(vans)],
    }


def recipe(rng, parts):
    chosen = rng.choice(len(parts), size=min(len(parts), int(rng.integers(1, 3))), replace=False)
    return {parts[p]["part"]: int(rng.choice([1, 1, 1, 2])) for p in chosen}


def van(rng, name, parts, needs):
    return {
        "van": name,
        "litres": None if rng.random() < 0.4 else float(rng.integers(0, 9)),
        "kilograms": None if rng.random() < 0.4 else float(rng.integers(0, 9)) / 2,
        "budget": None if rng.random() < 0.4 else float(rng.choice([0, 15, 40, 97])),
        "exposure_per_interval": {n["need"]: float(rng.choice([0, 0.5, 1, 4])) for n in needs if rng.random() < 0.9},
        "pins": {
            p["part"]: [int(low := rng.integers(0, 3)), int(low + rng.integers(0, 2))]
            for p in parts
            if rng.random() < 0.15
        },
    }


def wide_problem(rng, parts=300, vans=1, **limits):
    """Many parts, one need each, every van with its own demand for all of them."""
    names = [f"P{i}" for i in range(parts)]
    return {
        "money": {"second_visit": 90, "merchant_run": 25, "holding_per_year": 0.25},
        "intervals_per_year": 52,
        "max_per_part": 4,
        "parts": [
            {
                "part": p,
                "price": round(rng.lognormal(3.5, 1), 2),
                "litres": round(rng.lognormal(), 1),
                "kilograms": round(rng.lognormal(0, 0.8), 1),
                "same_day": float(rng.choice([0, 0.3, 1])),
            }
            for p in names
        ],
        "needs": [
            {
                "need": p,
                "failures": float(rng.gamma(2, 4) + 0.5),
                "exposure_years": float(rng.lognormal(5, 0.8)),
                "recipes": [{p: 1}],
            }
            for p in names
        ],
        "vans": [
            {"van": str(v), **limits, "exposure_per_interval": {p: float(rng.lognormal(-0.5, 0.7)) for p in names}}
            for v in range(vans)
        ],
    }


def several_parts_a_job(rng, parts=120, vans=3, **limits):
    """As `wide_problem`, but most jobs take a pair, and some of the parts are shared among two needs."""
    data = wide_problem(rng, parts, vans, **limits)
    names = [p["part"] for p in data["parts"]]
    for i in range(0, parts - 3, 3):
        pair = {names[i]: 1, names[i + 1]: int(rng.integers(1, 3))}
        data["needs"][i]["recipes"] = [pair]
        data["needs"][i + 1]["recipes"] = [{names[i + 1]: 1}, {names[i + 2]: 1}]
        data["needs"][i + 2]["recipes"] = [pair, {names[i + 2]: 1}] if rng.random() < 0.5 else [{names[i + 2]: 1}]
    return data


def mixed(rng, data):
    """The same with a mixture of two rates in place of every other need's single one."""
    for need in data["needs"][::2]:
        failures, exposure = need.pop("failures"), need.pop("exposure_years")
        need["mixture"] = [
            {
                "weight": weight,
                "failures": failures * factor,
                "exposure": exposure,
                "per_interval": {v["van"]: v["exposure_per_interval"][need["need"]] * factor for v in data["vans"]},
            }
            for weight, factor in ((0.3, 0.6), (0.7, float(rng.uniform(1, 2))))
        ]
    return data
