"""Fields of what is sent to the API: strict, bounded, and plain about what is wrong."""

import re
import uuid
from decimal import Decimal

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

PLAIN_NUMBER = re.compile(r"[0-9]{1,12}(\.[0-9]{1,6})?")
BIGGEST = 2**63 - 1
REFERENCE = {"oneOf": [{"type": "string", "minLength": 1, "maxLength": 80}, {"type": "integer", "minimum": 0}]}
DIGITS = {"type": "string", "pattern": "^[0-9]+([.][0-9]+)?$"}


def shown(value, longest=60):
    """What was sent, short enough to stand in a sentence."""
    text = str(value) if isinstance(value, str | int | Decimal) and not _endless(value) else type(value).__name__
    return text if len(text) <= longest else text[:longest] + "…"


def _endless(value):
    """Whether writing this number out could take long."""
    if isinstance(value, int):
        return abs(value) > BIGGEST
    return isinstance(value, Decimal) and not (value.is_finite() and abs(value.adjusted()) < 40)


@extend_schema_field({"type": "string", "format": "uuid"})
class EventId(serializers.Field):
    """The sender's UUID, as text."""

    default_error_messages = {"wrong": "Give a UUID, such as 0b7c3c52-7d5e-4f0e-9d0c-2f6f3f1f8a11."}

    def to_internal_value(self, data):
        if not isinstance(data, str) or len(data) > 45:
            self.fail("wrong")
        try:
            return uuid.UUID(data)
        except ValueError:
            self.fail("wrong")

    def to_representation(self, value):
        return str(value)


@extend_schema_field(REFERENCE)
class Reference(serializers.Field):
    """A number or key as it stands in the firm's files. A JSON integer counts as its digits."""

    default_error_messages = {"wrong": "Give its number as text.", "long": "No number is longer than 80 characters."}

    def __init__(self, **kwargs):
        super().__init__(**({"help_text": "Its number or key, as in the firm's files."} | kwargs))

    def to_internal_value(self, data):
        if isinstance(data, int) and not isinstance(data, bool) and 0 <= data <= BIGGEST:
            return str(data)
        if not isinstance(data, str) or not data.strip() or not data.isprintable():
            self.fail("wrong")
        if len(data.strip()) > 80:
            self.fail("long")
        return data.strip()

    def to_representation(self, value):
        return str(value)


@extend_schema_field({"type": "string"})
class Words(serializers.Field):
    """Free text of one line."""

    default_error_messages = {"wrong": "Give plain text on one line.", "long": "At most {longest} characters."}

    def __init__(self, *, longest, **kwargs):
        self.longest = longest
        super().__init__(**kwargs)

    def to_internal_value(self, data):
        if not isinstance(data, str) or not data.isprintable():
            self.fail("wrong")
        if len(data.strip()) > self.longest:
            self.fail("long", longest=self.longest)
        return data.strip()

    def to_representation(self, value):
        return str(value)


class Word(serializers.ChoiceField):
    """One of a closed list of words; case, outer blanks, and blank, hyphen or underscore are the same."""

    default_error_messages = {"invalid_choice": "Give one of {allowed}."}

    def to_internal_value(self, data):
        word = re.sub(r"[ _-]+", "-", data.strip().lower()) if isinstance(data, str) else None
        if word not in self.choices:
            self.fail("invalid_choice", allowed=", ".join(self.choices))
        return word


class Amount(serializers.Field):
    """A plain decimal number, as a JSON number or as text: never 1_0, 1e400, true or other digits than 0 to 9."""

    default_error_messages = {
        "wrong": "Give a plain number such as 2 or 0.5.",
        "places": "At most {places} decimal places.",
        "small": "Give a number above 0.",
        "negative": "Give a number of 0 or more.",
        "big": "That is more than anybody has.",
    }

    def __init__(self, *, places=3, zero=False, **kwargs):
        self.places, self.zero = places, zero
        super().__init__(**kwargs)

    def to_internal_value(self, data):
        amount = self._plain(data)
        if amount < 0 or (amount == 0 and not self.zero):
            self.fail("negative" if self.zero else "small")
        if amount and amount.adjusted() > 7:
            self.fail("big")
        if amount.as_tuple().exponent < -self.places:
            self.fail("places", places=self.places)
        return amount.quantize(Decimal(1).scaleb(-self.places))

    def _plain(self, data):
        if isinstance(data, bool) or not isinstance(data, int | float | Decimal | str):
            self.fail("wrong")
        if isinstance(data, str):
            if not PLAIN_NUMBER.fullmatch(data.strip(" ")):
                self.fail("wrong")
            return Decimal(data.strip(" "))
        if isinstance(data, int) and abs(data) > BIGGEST:
            self.fail("big")
        amount = Decimal(str(data))
        if not amount.is_finite():
            self.fail("wrong")
        return amount

    def to_representation(self, value):
        return value


@extend_schema_field({"oneOf": [{"type": "number", "minimum": 0, "exclusiveMinimum": True}, DIGITS]})
class Quantity(Amount):
    """More than nothing, in the part's unit, at most three decimal places."""


@extend_schema_field({"oneOf": [{"type": "number", "minimum": 0}, DIGITS]})
class QuantityOrNone(Amount):
    """What a count found: nothing, or more."""

    def __init__(self, **kwargs):
        super().__init__(zero=True, **kwargs)


@extend_schema_field({"oneOf": [{"type": "number", "minimum": 0}, DIGITS]})
class Money(Amount):
    """Money per piece, ex VAT, in the firm's currency, at most four decimal places."""

    def __init__(self, **kwargs):
        super().__init__(zero=True, places=4, **kwargs)


class Whole(serializers.IntegerField):
    """A whole number: a JSON integer or its plain digits; 1.0 counts as 1."""

    def __init__(self, *, least=0, most=BIGGEST, **kwargs):
        super().__init__(min_value=least, max_value=most, **kwargs)

    def to_internal_value(self, data):
        if isinstance(data, Decimal) and not _endless(data) and data == int(data):
            data = int(data)
        if isinstance(data, str) and re.fullmatch(r"[0-9]{1,19}", data):
            data = int(data)
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        return data


class Moment(serializers.DateTimeField):
    """When the sender says that it happened: for showing, never for deciding."""

    default_error_messages = {"range": "Give a moment after the year 2000."}

    def to_internal_value(self, value):
        if not isinstance(value, str) or not value.startswith("2"):
            self.fail("range")
        return super().to_internal_value(value)
