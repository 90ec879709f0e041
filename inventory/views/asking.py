"""Words and numbers from an address or a bare button, made safe for a query: anybody can type anything there."""

LONGEST = 200
BIGGEST = 2**31 - 1


def words(request, name, default=""):
    """A word from the address, without what no database can hold."""
    return plain(request.GET.get(name, default))


def plain(text, longest=LONGEST):
    return text.replace("\0", "").strip()[:longest]


def whole(text, *, least=0, most=BIGGEST):
    """A whole number of plain digits between the limits, or None."""
    text = (text or "").strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 10):
        return None
    number = int(text)
    return number if least <= number <= most else None
