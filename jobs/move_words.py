"""What to do with stock that lies in the wrong place, in words and chips."""

ADVICE = {
    "pass-on": "Pass to another van",
    "return-to-store": "Return to the store",
    "return-to-supplier": "Ask the supplier to take it back",
    "use-up": "Use it up",
    "write-off": "Write it off",
    "keep": "Keep it where it is",
}
SIGNS = {
    "pass-on": ("note", "van"),
    "return-to-store": ("note", "box"),
    "return-to-supplier": ("note", "send"),
    "use-up": ("", "tool"),
    "write-off": ("bad", "cross"),
    "keep": ("", "same"),
}


def advice_chip(row):
    """What to do, and with whom: (kind, sign, words)."""
    words = ADVICE.get(row["advice"], row["advice"])
    if row["advice"] == "pass-on" and row["to"]:
        words = f"Pass to {row['to']}"
    if row["advice"] == "return-to-supplier" and row["supplier"]:
        words = f"Ask {row['supplier']}"
    return (*SIGNS.get(row["advice"], ("", "same")), words)


def place_chip(row):
    """The one place that should hold a slow part."""
    if row["place"] is None:
        return ("", "noway", "None")
    return (
        "good" if row["worth_per_year"] > 0 else "note",
        "van" if row["worth_per_year"] > 0 else "box",
        row["place_name"],
    )
