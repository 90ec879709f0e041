"""manage.py on a machine with nothing but Python: one clear line each, whatever is wrong."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from firm import bootstrap

ROOT = Path(bootstrap.__file__).resolve().parent.parent
PINS = "nothing-at-all==1.0 \\\n    --hash=sha256:" + "0" * 64 + "\n"


@pytest.fixture
def clone(tmp_path):
    """A clone with a manage.py that only prepares, and a lock file of one package that no folder holds."""
    (tmp_path / ".ci").mkdir()
    (tmp_path / "firm").mkdir()
    shutil.copy(ROOT / "manage.py", tmp_path)
    shutil.copy(ROOT / "firm" / "bootstrap.py", tmp_path / "firm")
    (tmp_path / "firm" / "__init__.py").touch()
    (tmp_path / ".ci" / "lock-run.txt").write_text(PINS)
    (tmp_path / "wheels").mkdir()
    return tmp_path


def manage(clone, **environment):
    keep = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    keep |= {"FIRM_WHEELS": str(clone / "wheels")} | environment
    python = Path(sys.base_prefix) / "bin" / "python3"
    return subprocess.run([str(python), "manage.py", "life"], cwd=clone, env=keep, capture_output=True, text=True)


def test_a_package_that_cannot_be_had_is_said_and_leaves_with_three(clone):
    run = manage(clone)
    assert run.returncode == 3
    assert "no package index could be reached" in run.stderr
    assert "Traceback" not in run.stderr


def test_a_venv_that_is_not_ours_is_refused_and_untouched(clone):
    (clone / ".venv").mkdir()
    (clone / ".venv" / "mine").touch()
    run = manage(clone)
    assert run.returncode == 3
    assert "was not made by manage.py" in run.stderr
    assert (clone / ".venv" / "mine").exists()


def test_a_python_without_the_venv_module_is_told_what_to_install(clone):
    (clone / "ensurepip.py").write_text("raise ImportError('cut out')")
    run = manage(clone)
    assert run.returncode == 3
    assert "apt install python3.11-venv" in run.stderr or "-venv" in run.stderr


def test_the_second_of_two_waits_for_the_first(clone):
    import fcntl

    with open(clone / ".venv.lock", "a+") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        keep = {"PATH": os.environ["PATH"], "FIRM_WHEELS": str(clone / "wheels")}
        python = str(Path(sys.base_prefix) / "bin" / "python3")
        run = subprocess.Popen([python, "manage.py", "life"], cwd=clone, env=keep, stderr=subprocess.PIPE, text=True)
        assert "another process is preparing .venv; waiting for it" in run.stderr.readline()
        time.sleep(0.1)
        assert run.poll() is None
    _, rest = run.communicate(timeout=60)
    assert run.returncode == 3
    assert "no package index" in rest


@pytest.mark.parametrize("version", [(2, 7), (3, 10), (3, 14)])
def test_another_python_is_named(version):
    script = (ROOT / "manage.py").read_text().replace("sys.version_info[:2]", str(version))
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert run.returncode == 1
    assert "Python 3.11, 3.12 or 3.13 is needed" in run.stderr


def test_an_environment_with_every_pin_is_used_as_it_is():
    assert bootstrap._satisfied((ROOT / ".ci" / "lock-run.txt").read_text())
    assert not bootstrap._satisfied(PINS)
