"""Make manage.py run on a fresh clone with nothing but Python: standard library only, no Django here.

`ensure("run" | "dev")` returns when the active environment holds every pin of .ci/lock-<set>.txt. Otherwise it
makes .venv beside manage.py, installs the hashed lock there and starts manage.py again with that Python.
FIRM_BOOTSTRAP=0 switches it off (for packagers); FIRM_WHEELS=DIR installs from a folder of wheels, offline.
"""

import hashlib
import os
import re
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCK = ROOT / ".venv.lock"  # held while .venv is made; its presence also says that .venv is ours
PIN = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^\]]*\])?==([^\s;\\]+)([^\\]*)", re.MULTILINE)
NO_INDEX = re.compile(
    "NewConnection|Temporary failure|getaddrinfo|unreachable|timed out|refused|ProxyError|No matching"
)
NOT_FOR_PIP = {"PYTHONPATH", "PYTHONHOME", "PIP_TARGET", "PIP_PREFIX", "PIP_USER", "PIP_REQUIRE_VIRTUALENV"}


def ensure(which="run"):
    """Return under a Python that has the pinned set, or start manage.py again with one, or say why not."""
    lock = ROOT / ".ci" / ("lock-%s.txt" % which)
    text = lock.read_text(encoding="utf-8")
    if os.environ.get("FIRM_BOOTSTRAP") == "0":
        return
    inside = Path(sys.prefix).resolve() == VENV.resolve()
    stamp, key = VENV / (".pins-" + which), _key(text)
    if inside and _fresh(stamp, key):
        return
    if not inside and sys.prefix != sys.base_prefix and _satisfied(text):
        return
    if not _fresh(stamp, key):
        _prepare(lock, stamp, key)
    _start_again()


def _key(text):
    return hashlib.sha256(("%s %s.%s" % ((text,) + sys.version_info[:2])).encode()).hexdigest()


def _fresh(stamp, key):
    return PYTHON.exists() and stamp.exists() and stamp.read_text() == key


def _satisfied(text):
    """Whether the active environment has every pin that bears no marker (markers are pip's business)."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return all(";" in marker or version(name) == wanted for name, wanted, marker in PIN.findall(text))
    except PackageNotFoundError:
        return False


def _prepare(lock, stamp, key):
    if VENV.exists() and not LOCK.exists():
        _stop(
            ".venv exists but was not made by manage.py. Run '%s -m pip install -r %s' and start manage.py with that"
            " Python, or remove .venv." % (PYTHON, lock.relative_to(ROOT))
        )
    try:
        handle = open(LOCK, "a+")  # noqa: SIM115  closed by `with` below
    except OSError as why:
        _stop(
            "cannot write in %s (%s). Copy the project to a folder of yours, or install %s into a virtual environment"
            " elsewhere and use its Python." % (ROOT, why.strerror, lock.relative_to(ROOT))
        )
    with handle:
        _wait_for(handle)
        os.set_inheritable(handle.fileno(), True)  # pip keeps the lock should this process be killed
        if not _fresh(stamp, key):
            _say("preparing .venv from %s; this takes about a minute, once" % lock.relative_to(ROOT))
            _make_venv()
            _install(lock)
            stamp.write_text(key)
            _say("ready")


def _wait_for(handle):
    """Wait for the lock; the operating system lets go of it when its holder dies."""
    told = False
    for _ in range(6000):
        try:
            if os.name == "nt":
                import msvcrt

                msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except OSError:
            if not told:
                _say("another process is preparing .venv; waiting for it")
            told = True
            time.sleep(0.3)
    _stop("another process has held .venv.lock for half an hour; end it and try again.")


def _make_venv():
    if PYTHON.exists() and not subprocess.run([str(PYTHON), "-m", "pip", "--version"], capture_output=True).returncode:
        return
    try:
        import ensurepip  # noqa: F401  Debian and Ubuntu cut it out of python3
        import venv
    except ImportError:
        _stop("this Python has no venv module. Debian, Ubuntu: apt install python%d.%d-venv" % sys.version_info[:2])
    try:
        venv.EnvBuilder(with_pip=True, symlinks=os.name != "nt", clear=True).create(VENV)
    except (OSError, subprocess.CalledProcessError) as why:
        _stop("could not make .venv: %s" % why)


def _install(lock):
    environment = {name: value for name, value in os.environ.items() if name not in NOT_FOR_PIP}
    command = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--retries", "2"]
    command += ["--require-hashes", "--no-deps", "--only-binary", ":all:", "-r", str(lock)]
    if os.environ.get("FIRM_WHEELS"):
        command += ["--no-index", "--find-links", os.environ["FIRM_WHEELS"]]
    lines = []
    with subprocess.Popen(
        command,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        close_fds=False,
        encoding="utf-8",
        errors="replace",
    ) as run:
        for line in run.stdout:
            lines.append(line.rstrip())
            if line.startswith(("Collecting", "Installing")):
                print("  " + line.strip()[:72], file=sys.stderr)
    if run.returncode:
        _explain(lines, lock)


def _explain(lines, lock):
    hint = "pip could not install the pinned packages."
    if NO_INDEX.search("\n".join(lines)):
        hint = (
            "no package index could be reached. Go online once, set a proxy or mirror for pip, or fill a folder"
            " elsewhere with 'pip download -r %s' and set FIRM_WHEELS to it." % lock.relative_to(ROOT)
        )
    tail = [line for line in lines if "ERROR" in line][-6:] or lines[-6:]
    _stop("%s\npip said:\n  %s" % (hint, "\n  ".join(tail)))


def _start_again():
    arguments = [str(PYTHON), str(ROOT / "manage.py")] + sys.argv[1:]
    if os.name == "nt":  # os.exec* on Windows hands the prompt back too early
        sys.exit(subprocess.call(arguments))
    os.execv(arguments[0], arguments)


def _say(text):
    print("manage.py: " + text, file=sys.stderr, flush=True)


def _stop(text):
    _say(text)
    sys.exit(3)
