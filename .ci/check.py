"""All checks in order: format, lint, types, contracts, module length, tests.

Stops at the first step that fails; the tests' closing line is the last line. The tests run on
all cores, one file on one core (its fixtures are made once), one thread each.
Run from anywhere: ``python .ci/check.py``.
"""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
MAX_LINES = 400
ON_ALL_CORES = ("-n", "auto", "--dist", "loadfile")

STEPS = [
    ("format", [str(BIN / "ruff"), "format", "--check", "--quiet", "."]),
    ("lint", [str(BIN / "ruff"), "check", "--quiet", "."]),
    ("types", [str(BIN / "mypy"), "--no-error-summary"]),
    ("contracts", [str(BIN / "lint-imports"), "--no-cache"]),
]


def long_modules() -> list[str]:
    """Name the modules that are longer than allowed."""
    out = []
    for path in sorted((ROOT / "wickstats").rglob("*.py")):
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > MAX_LINES:
            out.append(f"{path.relative_to(ROOT)}: {lines} lines, at most {MAX_LINES}")
    return out


def main() -> int:
    """Run every step."""
    for name, command in STEPS:
        print(f"-- {name}", flush=True)
        done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
        if done.returncode:
            print(done.stdout + done.stderr, flush=True)
            return done.returncode
    print("-- module length", flush=True)
    if too_long := long_modules():
        print("\n".join(too_long), flush=True)
        return 1
    print("-- tests", flush=True)
    return subprocess.run(
        [sys.executable, "-m", "pytest", *ON_ALL_CORES, *sys.argv[1:]],
        cwd=ROOT,
        check=False,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    ).returncode


if __name__ == "__main__":
    raise SystemExit(main())
