"""`manage.py bench NAME`: ours beside the anchor in one run, with ratios, sizes and machine."""

from importlib import import_module
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError


class Command(BaseCommand):
    help = "Measures one thing: tests/bench/NAME.py, whose run(say) tells the figures line by line."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser):
        parser.add_argument("name")

    def handle(self, *, name, **options):
        folder = Path(settings.BASE_DIR) / "tests" / "bench"
        known = sorted(p.stem for p in folder.glob("[a-z]*.py") if "def run(say)" in p.read_text())
        if name not in known:
            raise CommandError(f"no bench {name}; there are {', '.join(known)}")
        import_module(f"tests.bench.{name}").run(self.stdout.write)
