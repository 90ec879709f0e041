"""Visits, jobs, appliances and loads for phones and other programs."""

from django.db.models import Prefetch
from rest_framework import generics

from firm.roles import ForStaff, sees_costs
from inventory.api.reads import found_or_404
from inventory.models import ModelComponent
from jobs.api.cautions import Cautions
from jobs.api.serializers import (
    ApplianceSerializer,
    JobDetailSerializer,
    JobSerializer,
    VisitDetailSerializer,
    VisitSerializer,
)
from jobs.filters import ApplianceFilter, JobFilter, VisitFilter
from jobs.models import Appliance, Fitted, Job, Needed, Visit
from jobs.services.money import job_money

OF_FITTED = ["part", "component", "appliance", "movement", "taken_out"]


class WithCautions:
    """The table of cautions once for the whole answer."""

    def get_serializer_context(self):
        context = super().get_serializer_context()
        if not getattr(self, "swagger_fake_view", False):
            context |= {"cautions": Cautions(), "sees_costs": sees_costs(self.request.user)}
        return context


class VisitList(generics.ListAPIView):
    """Visits, newest day first."""

    permission_classes = [ForStaff]
    serializer_class = VisitSerializer
    filterset_class = VisitFilter
    ordering = ("-on", "time", "pk")
    queryset = Visit.objects.for_lists()


class VisitDetail(WithCautions, generics.RetrieveAPIView):
    """One visit: what was fitted, needed and found, the components of the appliance, and the cautions of its work."""

    permission_classes = [ForStaff]
    serializer_class = VisitDetailSerializer
    queryset = Visit.objects.for_lists().prefetch_related(
        Prefetch("fitted", Fitted.objects.standing().select_related(*OF_FITTED)),
        Prefetch("needed", Needed.objects.select_related("component", "part")),
        "findings__component",
        Prefetch("job__appliance__model__holds", ModelComponent.objects.select_related("component")),
    )

    def get_object(self):
        return found_or_404(self.get_queryset(), number=self.kwargs["visit"])


class JobList(generics.ListAPIView):
    """Jobs, newest report first."""

    permission_classes = [ForStaff]
    serializer_class = JobSerializer
    filterset_class = JobFilter
    ordering = ("-reported_on", "-pk")
    queryset = (
        Job.objects.for_lists().select_related("appliance__address", "return_of").prefetch_related("symptoms", "visits")
    )


class JobDetail(generics.RetrieveAPIView):
    """One job with its charges, and what it earned for those who see cost prices."""

    permission_classes = [ForStaff]
    serializer_class = JobDetailSerializer
    queryset = JobList.queryset.prefetch_related("charges")

    def get_object(self):
        self.job = found_or_404(self.get_queryset(), number=self.kwargs["job"])
        return self.job

    def get_serializer_context(self):
        money = job_money(self.job) if hasattr(self, "job") and sees_costs(self.request.user) else None
        return super().get_serializer_context() | {"money": money}


class ApplianceList(generics.ListAPIView):
    """Appliances in care, with whose they are and where they stand."""

    permission_classes = [ForStaff]
    serializer_class = ApplianceSerializer
    filterset_class = ApplianceFilter
    ordering = ("number",)
    queryset = Appliance.objects.for_lists()


class ApplianceDetail(generics.RetrieveAPIView):
    """One appliance."""

    permission_classes = [ForStaff]
    serializer_class = ApplianceSerializer
    queryset = Appliance.objects.for_lists()

    def get_object(self):
        return found_or_404(self.get_queryset(), number=self.kwargs["appliance"])
