"""Back-tests that are kept: what the proposals would have done on the firm's own past."""

from rest_framework import generics, serializers

from firm.roles import ForOffice
from jobs.filters import BackTestFilter
from jobs.models import BackTest


class ComparisonSerializer(serializers.Serializer):
    """What the proposal adds to another load. low, high: of the points, nine times in ten."""

    points = serializers.FloatField(help_text="Of first-visit fix rate.")
    low = serializers.FloatField()
    high = serializers.FloatField()
    visits = serializers.FloatField(help_text="More jobs finished with what was on board.")
    money = serializers.FloatField()
    money_low = serializers.FloatField(required=False)
    money_high = serializers.FloatField(required=False)
    jobs = serializers.IntegerField()


class PeriodSerializer(serializers.Serializer):
    """One period: jobs that needed parts, and how many of them each load finishes."""

    first = serializers.DateField()
    last = serializers.DateField()
    jobs = serializers.IntegerField()
    proposal = serializers.IntegerField()
    rule = serializers.IntegerField()
    fact = serializers.IntegerField()
    cash = serializers.FloatField()


class ResultSerializer(serializers.Serializer):
    """Shares of jobs finished at the first visit by the proposal, the simple rule, and the vans as they were."""

    jobs = serializers.IntegerField()
    proposal = serializers.FloatField()
    rule = serializers.FloatField()
    fact = serializers.FloatField()
    cash = serializers.FloatField(help_text="Mean of a van, of proposal and rule alike.")
    cash_today = serializers.FloatField(required=False, help_text="Mean of what a van held when it was made.")
    against_rule = ComparisonSerializer()
    against_fact = ComparisonSerializer()
    periods = PeriodSerializer(many=True, required=False)


class BackTestSerializer(serializers.ModelSerializer):
    state = serializers.CharField(help_text="running, done, stopped (run it again) or failed.")
    inputs = serializers.DictField(help_text="Money, limits and assumptions as they were set.")
    result = serializers.SerializerMethodField(help_text="Null until it is done.")

    class Meta:
        model = BackTest
        fields = ["id", "first", "last", "made_at", "state", "steps", "done", "problem", "inputs", "result"]

    def get_result(self, test) -> ResultSerializer(allow_null=True):
        return ResultSerializer(test.result).data if test.state == "done" else None


class BackTestList(generics.ListAPIView):
    """All that are kept, newest first, those that went against the proposal too."""

    permission_classes = [ForOffice]
    serializer_class = BackTestSerializer
    filterset_class = BackTestFilter
    ordering = ("-made_at", "-pk")
    queryset = BackTest.objects.all()


class BackTestDetail(generics.RetrieveAPIView):
    """One of them."""

    permission_classes = [ForOffice]
    serializer_class = BackTestSerializer
    queryset = BackTest.objects.all()
