"""`manage.py bench spells`: from a database to two million spells and the life of every group, as usually reckoned."""

import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter, process_time

FIRMS = ((14_000, 50), (28_000, 50), (56_000, 50), (200_000, 100))  # appliances, per cent on a yearly service
ROOT = Path(__file__).resolve().parents[2]


def run(say):
    say(f"{platform.platform()}, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    for size, share in FIRMS:
        with tempfile.TemporaryDirectory() as folder:
            wrote = json.loads(_apart(folder, "write", size, share))
            say(f"{', '.join(f'{many:,} {what}' for what, many in wrote.items())}, {share} % on a yearly service")
            told = json.loads(_apart(folder, "measure"))
        seconds = told.pop("seconds")
        stages = ", ".join(f"{stage} {wall:.2f} s" for stage, (wall, _) in seconds.items())
        wall, processor = (sum(column) for column in zip(*seconds.values(), strict=True))
        say(f"  {told['spells']:,} spells: {stages}; in all {wall:.2f} s, of the processor {processor:.2f} s")
        memory = f"{told['megabytes']:,.0f} MB, of which {told['before']:,.0f} MB before the first row was read"
        say(f"  {told['fitted']} of {told['groups']} groups fitted; most memory {memory}")


def _apart(folder, *what):
    """Each step in a process of its own, on a database of its own, so that memory is told apart."""
    address = f"sqlite:///{Path(folder) / 'firm.sqlite3'}"
    own = {"DATABASE_URL": address, "DJANGO_SETTINGS_MODULE": "firm.settings", "SECRET_KEY": "of a bench"}
    env = os.environ | own
    command = [sys.executable, "-m", "tests.bench.spells", *map(str, what)]
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stderr)
    return done.stdout


def write(size, share):
    import numpy as np
    from django.core.management import call_command

    from tests.bench.written_history import write as write_firm

    call_command("migrate", verbosity=0)
    return write_firm(size, np.random.default_rng(1), share / 100)


def measure():
    """Seconds of each stage (on the clock, of the processor), sizes and the most memory ever held."""
    from jobs import history, lives
    from jobs.reliability.grouping import group_spells
    from jobs.reliability.report import life_report
    from tests.bench.written_history import AS_OF

    seconds, before = {}, _megabytes()

    def timed(stage, work):
        wall, processor = perf_counter(), process_time()
        found = work()
        seconds[stage] = perf_counter() - wall, process_time() - processor
        return found

    records = timed("read", history.read_records)
    spells = timed("built", lambda: lives.firm_spells(as_of=AS_OF, records=records))
    grouped = timed("grouped", lambda: group_spells(spells, "component", before_care=lives.BEFORE_CARE))
    told = timed("fitted", lambda: life_report(grouped, as_of=AS_OF.isoformat(), before_care=lives.BEFORE_CARE))
    return {
        "spells": len(spells),
        "groups": len(told.groups),
        "fitted": sum(group.status == "fitted" for group in told.groups),
        "seconds": seconds,
        "before": before,
        "megabytes": _megabytes(),
    }


def _megabytes():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    import django

    django.setup()
    step, *sizes = sys.argv[1:]
    print(json.dumps({"write": write, "measure": measure}[step](*map(int, sizes))))
