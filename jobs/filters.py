"""Filters of the API's lists of work and of the catalogue."""

import django_filters
from django.db.models import Exists, OuterRef, Q
from rest_framework.exceptions import ValidationError

from firm.bounded import DayFilter, TextFilter, YesFilter
from inventory.models import ApplianceModel, ComponentType, Part
from jobs.models import Appliance, BackTest, Job, LoadProposal, MoveLine, Visit, VisitEngineer

APPROVED = [Part.Grade.MAKER_NEW, Part.Grade.APPROVED_EQUIVALENT]


class VisitFilter(django_filters.FilterSet):
    day = DayFilter(field_name="on")
    to = DayFilter(field_name="on", lookup_expr="lte")
    engineer = TextFilter(method="of_engineer", help_text="me, or a name.")
    booked = YesFilter(method="still_booked", help_text="yes: nothing came of it yet.")
    job = TextFilter(field_name="job__number")
    place = TextFilter(field_name="place__key")

    class Meta:
        model = Visit
        fields = ["day", "to", "engineer", "booked", "job", "place"]

    @classmethod
    def get_filters(cls):
        return super().get_filters() | {"from": DayFilter(field_name="on", lookup_expr="gte")}

    def of_engineer(self, visits, name, value):
        went = VisitEngineer.objects.filter(visit=OuterRef("pk"))
        if value == "me":
            return visits.filter(Exists(went.filter(engineer=self.request.user)))
        return visits.filter(Exists(went.filter(Q(engineer__name=value) | Q(engineer__username=value))))

    def still_booked(self, visits, name, value):
        return visits.booked() if value else visits.exclude(outcome="")


class JobFilter(django_filters.FilterSet):
    kind = django_filters.ChoiceFilter(choices=Job.Kind.choices)
    to = DayFilter(field_name="reported_on", lookup_expr="lte")
    appliance = TextFilter(field_name="appliance__number")
    customer = TextFilter(field_name="appliance__customer__number")
    open = YesFilter(field_name="closed_on", lookup_expr="isnull")

    class Meta:
        model = Job
        fields = ["kind", "to", "appliance", "customer", "open"]

    @classmethod
    def get_filters(cls):
        return super().get_filters() | {"from": DayFilter(field_name="reported_on", lookup_expr="gte")}


class ApplianceFilter(django_filters.FilterSet):
    model = TextFilter(field_name="model__key")
    customer = TextFilter(field_name="customer__number")
    post_area = TextFilter(field_name="address__post_area")
    search = TextFilter(method="look_up", help_text="Number, serial number, name or address.")

    class Meta:
        model = Appliance
        fields = ["model", "customer", "post_area", "search"]

    def look_up(self, appliances, name, value):
        for word in value.split()[:6]:
            appliances = appliances.filter(
                Q(number__istartswith=word)
                | Q(serial__istartswith=word)
                | Q(customer__name__icontains=word)
                | Q(address__text__icontains=word)
            )
        return appliances


class PartFilter(django_filters.FilterSet):
    search = TextFilter(method="look_up", help_text="Words of the description, or the beginning of a number.")
    fits = TextFilter(method="fitting", help_text="The key of an appliance model.")
    component = TextFilter(method="covering", help_text="The key of a component type.")

    class Meta:
        model = Part
        fields = ["search", "fits", "component"]

    def look_up(self, parts, name, value):
        return parts.search(value)

    def fitting(self, parts, name, value):
        return parts.fitting(known_model(value))

    def covering(self, parts, name, value):
        """Parts that renew the component; where it demands approved new parts, only those."""
        component = ComponentType.objects.filter(key=value).first()
        if component is None:
            raise ValidationError({"component": f"There is no component {value}."})
        parts = parts.filter(covers=component)
        return parts.filter(grade__in=APPROVED) if component.approved_new_only else parts


def known_model(key):
    model = ApplianceModel.objects.filter(key=key).first()
    if model is None:
        raise ValidationError({"fits": f"There is no appliance model {key}."})
    return model


class LoadFilter(django_filters.FilterSet):
    van = TextFilter(field_name="van__key")
    accepted = YesFilter(method="was_accepted")

    class Meta:
        model = LoadProposal
        fields = ["van", "accepted"]

    def was_accepted(self, proposals, name, value):
        return proposals.filter(accepted_at__isnull=not value)


class MoveFilter(django_filters.FilterSet):
    kind = django_filters.ChoiceFilter(choices=MoveLine.Kind.choices)
    giver = TextFilter(field_name="giver__key")
    taker = TextFilter(field_name="taker__key")
    part = TextFilter(field_name="part__number")
    done = YesFilter(method="was_done")

    class Meta:
        model = MoveLine
        fields = ["kind", "giver", "taker", "part", "done"]

    def was_done(self, lines, name, value):
        return lines.filter(done_at__isnull=not value)


class BackTestFilter(django_filters.FilterSet):
    finished = YesFilter(method="is_finished")
    to = DayFilter(field_name="last", lookup_expr="lte")

    class Meta:
        model = BackTest
        fields = ["finished", "to"]

    @classmethod
    def get_filters(cls):
        return super().get_filters() | {"from": DayFilter(field_name="first", lookup_expr="gte")}

    def is_finished(self, tests, name, value):
        return tests.filter(finished_at__isnull=not value)
