"""What may be asked of every figure about lives: the day, the level of the limits, the assumptions."""

from django.utils import timezone
from rest_framework import serializers

from firm.fields import Word
from firm.filtering import refuse_unread
from inventory.models import ApplianceModel, ComponentType
from jobs import history, lives

LONGEST_WINDOW = 12_000  # months, as the command has it
ASSUMPTIONS = {
    "perhaps": "It may have been changed",
    "first": "It was the original",
    "unknown": "Nobody knows",
    "model": "Weighed by the chance of being still in care",
    "window": "Left after the care window",
}


class DayAsked(serializers.Serializer):
    as_of = serializers.DateField(required=False, help_text="Day of analysis; empty: today.")

    def validate_as_of(self, day):
        if not 1990 <= day.year <= timezone.localdate().year + 1:
            raise serializers.ValidationError("Give a day from 1990 to next year.")
        return day

    def validate(self, asked):
        return {"as_of": timezone.localdate()} | asked


class LevelAsked(DayAsked):
    level = serializers.FloatField(default=0.90, help_text="Of the limits, between 0 and 1.")

    def validate_level(self, level):
        if not 0 < level < 1:
            raise serializers.ValidationError("Give a number between 0 and 1, such as 0.9.")
        return level


class CareWindowAsked(serializers.Serializer):
    care_window = serializers.FloatField(
        required=False, allow_null=True, help_text="Months without contact after which care has ended; empty: as set."
    )

    def validate_care_window(self, months):
        if months is not None and not 0 < months < LONGEST_WINDOW:
            raise serializers.ValidationError(f"Give a number of months above 0 and below {LONGEST_WINDOW}.")
        return months


class WatchAsked(CareWindowAsked):
    """How long appliances are taken to be in care."""

    silence = Word(
        choices=[(word, ASSUMPTIONS[word]) for word in history.SILENCE],
        default=lives.SILENCE,
        help_text="How customers without a yearly service count who do not call.",
    )


class BeforeCareAsked(serializers.Serializer):
    before_care = Word(
        choices=[(word, ASSUMPTIONS[word]) for word in history.BEFORE_CARE],
        default=lives.BEFORE_CARE,
        help_text="What is assumed of components that were there before care began.",
    )


class GroupsAsked(serializers.Serializer):
    """Which groups to show. The figures of a group are the same, whichever others are shown."""

    component = serializers.CharField(required=False, max_length=80, help_text="The key of a component type.")
    model = serializers.CharField(
        required=False, max_length=80, help_text="The key of an appliance model, with by=component,model."
    )

    def validate_component(self, key):
        return known("component", key)

    def validate_model(self, key):
        return known("model", key)

    def validate(self, asked):
        asked = super().validate(asked)
        if asked.get("model") and asked.get("by") != "component,model":
            raise serializers.ValidationError({"model": "Only with by=component,model."})
        return asked


def asked_of(serializer, request, *, alone=True):
    """What the address asks for, checked. alone: nothing else reads it, so that other names are refused."""
    if alone:
        refuse_unread(request, [*serializer().fields])
    asked = serializer(data=request.query_params)
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)


def known(field, key):
    """The key, or a ValidationError where there is none such."""
    model, words = {
        "component": (ComponentType, "component"),
        "model": (ApplianceModel, "appliance model"),
    }[field]
    if not model.objects.filter(key=key).exists():
        raise serializers.ValidationError(f"There is no {words} {key}.")
    return key


def shown(groups, component=None, model=None):
    """Those of the groups that were asked for."""
    wanted = [
        group
        for group in groups
        if (component is None or group.group.split(" / ", 1)[0] == component)
        and (model is None or group.group.split(" / ", 1)[-1] == model)
    ]
    return tuple(wanted)
