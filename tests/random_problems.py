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
