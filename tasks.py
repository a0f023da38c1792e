"""What there is to do in a checkout, on any system: ``python -m tasks run``.

It needs Python 3.11 or later and git, neither make nor a shell; ``make`` calls it, name for name.
What stands behind a name goes on to the program that it calls: ``python -m tasks test -k torque``.
"""

from __future__ import annotations

import os
import random
import shlex
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
LOCKS = [f"requirements/{name}.lock" for name in ("base", "build", "postgres", "test")]
BENCH_LOCK = "requirements/bench.lock"
OLDEST = (3, 11)
# A browser test and the rest side by side; more than four only get in each other's way.
MOST_CORES = 4
COVERED = "tests/trade tests/published tests/properties tests/paper tests/tables src/rehang/calc src/rehang/trade"
MADE = "build dist htmlcov .coverage .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache"

Words = Sequence[str]
_TASKS: dict[str, Callable[[list[str]], None]] = {}


def task(work: Callable[[list[str]], None]) -> Callable[[list[str]], None]:
    """A function that can be asked for by its name; its docstring is its line of help."""
    _TASKS[work.__name__] = work
    return work


def said(name: str, otherwise: str = "") -> str:
    """A setting of this one run, as ``make run PORT=8080`` gives it."""
    return os.environ.get(name) or otherwise


def call(*words: str | Path, env: Mapping[str, str] | None = None) -> None:
    """Run a program of the environment, and end with its number where it is not 0."""
    # Not for the tests: they choose their own data folder before Django reads its settings.
    program = [str(PYTHON), *map(str, words)]
    # What is stopped by hand ends in its own time, and this waits for it.
    before = signal.signal(signal.SIGINT, lambda *_: None)
    done = subprocess.run(program, cwd=ROOT, env={**os.environ, **(env or {})}, check=False)
    signal.signal(signal.SIGINT, before)
    if done.returncode:
        sys.exit(done.returncode)


def django(*words: str) -> None:
    call("-m", "django", *words, env={"DJANGO_SETTINGS_MODULE": "rehang.site.settings"})


def tests(*words: str) -> None:
    cores = said("CORES", str(min(os.cpu_count() or 2, MOST_CORES)))
    call("-m", "pytest", "-n", cores, *words)


def install(*words: str, name: str, of: Words) -> None:
    """Install into the environment, unless it holds what these files ask for already."""
    stamp = VENV / name
    newest = max((ROOT / one).stat().st_mtime for one in of)
    if stamp.exists() and stamp.stat().st_mtime >= newest:
        return
    print(f"Installing from {' '.join(words)} ...", flush=True)
    quiet = ("-m", "pip", "install", "-qq", "--no-input", "--disable-pip-version-check")
    given = [part for one in words for part in ("-r", one)]
    call(*quiet, "--require-hashes", "--only-binary", ":all:", *given)
    # The build backend came from the lock, so nothing else is downloaded.
    call(*quiet, "--no-deps", "--no-build-isolation", "--no-index", "-e", ".")
    stamp.touch()


@task
def setup(rest: list[str]) -> None:
    """.venv with everything, from the hash-locked requirements"""
    if sys.version_info < OLDEST:
        sys.exit("Rehang needs Python 3.11 or later. Install it and do this again with it.")
    # A half-made environment, or one of another Python, is made anew.
    ask = [str(PYTHON), "-m", "pip", "--version"]
    if not PYTHON.exists() or subprocess.run(ask, capture_output=True, check=False).returncode:
        shutil.rmtree(VENV, ignore_errors=True)
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)
    install(*LOCKS, name=".stamp", of=[*LOCKS, "pyproject.toml"])


@task
def run(rest: list[str]) -> None:
    """judge the demo tray on the terminal, then serve it on this machine"""
    setup([])
    call("-m", "rehang", "demo")
    call("-m", "rehang", "serve", "--port", said("PORT", "8000"), *rest)


@task
def quick(rest: list[str]) -> None:
    """the tests without a browser and without the slow ones: the one to code by"""
    setup([])
    tests("-q", "-m", "not browser and not postgres and not slow", *rest)


@task
def test(rest: list[str]) -> None:
    """all tests"""
    setup([])
    if sys.platform == "linux":
        # A browser and a database, where they are missing and may be installed.
        subprocess.run(["bash", "scripts/system_packages.sh"], cwd=ROOT, check=True)
    tests("--dist", "loadfile", "--no-loadscope-reorder", "--durations=10", *rest)


@task
def coverage(rest: list[str]) -> None:
    """the lines of trade and calc that no test reaches"""
    setup([])
    call("-m", "coverage", "erase")
    call("-m", "coverage", "run", "-m", "pytest", "-q", "-m", "not browser and not postgres",
         *(rest or COVERED.split()))  # fmt: skip
    # A line that cannot be reached says so beside it.
    call("-m", "coverage", "report", "--include=src/rehang/trade/*,src/rehang/calc/*",
         "--show-missing", "--skip-covered")  # fmt: skip


@task
def properties(rest: list[str]) -> None:
    """the property tests with new examples, for SEEDS=20 seeds in a row"""
    setup([])
    seeds = int(said("SEEDS", "20"))
    for number in range(1, seeds + 1):
        seed = random.SystemRandom().randrange(2**15)
        print(f"Seed {seed}, {number} of {seeds}", flush=True)
        tests("-q", "--dist", "loadfile", "-m", "hypothesis",
              "--hypothesis-profile=drawn", f"--hypothesis-seed={seed}", *rest)  # fmt: skip


@task
def doors(rest: list[str]) -> None:
    """odd things at every door, TRIES=20000 of them"""
    setup([])
    call("-m", "bench.doors", "--tries", said("TRIES", "20000"), *rest)


@task
def lint(rest: list[str]) -> None:
    """format, lint, types, layers, templates, Django, generated pages"""
    setup([])
    call("-m", "ruff", "format", "--check", ".")
    call("-m", "ruff", "check", ".")
    call("-m", "mypy")
    call(
        "-c",
        "import sys; from importlinter.cli import lint_imports_command; sys.exit(lint_imports_command())",
    )
    _templates("--check")
    django("check", "--fail-level", "WARNING")
    django("makemigrations", "--check", "--dry-run")
    call("scripts/make_docs.py", "--check")


@task
def check(rest: list[str]) -> None:
    """lint, and all tests"""
    lint([])
    test(rest)


@task
def fix(rest: list[str]) -> None:
    """format and mend what can be mended by a program"""
    setup([])
    call("-m", "ruff", "format", ".")
    call("-m", "ruff", "check", "--fix", ".")
    _templates()


def _templates(*words: str) -> None:
    call("-m", "djhtml", *words, "--tabwidth", "2", *sorted((ROOT / "src").rglob("*.html")))


@task
def docs(rest: list[str]) -> None:
    """write the generated pages again"""
    setup([])
    call("scripts/make_docs.py", *rest)


@task
def bench(rest: list[str]) -> None:
    """measure against other programs"""
    setup([])
    install(BENCH_LOCK, name=".stamp-bench", of=[BENCH_LOCK])
    call("-m", "bench", *rest)


@task
def clean(rest: list[str]) -> None:
    """take away what can be made again"""
    caches = [one for one in ROOT.rglob("__pycache__") if ".git" not in one.parts]
    for made in [
        VENV,
        *(ROOT / one for one in MADE.split()),
        *caches,
        *ROOT.glob("src/*.egg-info"),
    ]:
        if made.is_dir() and not made.is_symlink():
            shutil.rmtree(made, ignore_errors=True)
        else:
            made.unlink(missing_ok=True)


def main(words: Words) -> None:
    """Do one task; with none, or one that there is not, say which there are."""
    name, *rest = words or ["help"]
    if name not in _TASKS:
        width = max(map(len, _TASKS))
        print("python -m tasks NAME, with one of these:")
        for known, work in _TASKS.items():
            print(f"  {known:{width}}  {work.__doc__}")
        sys.exit(0 if name in ("help", "-h", "--help") else f"There is no {name} to do.")
    _TASKS[name]([*rest, *shlex.split(said("ARGS"))])


if __name__ == "__main__":
    main(sys.argv[1:])
