"""The wheel holds what the demo needs, and runs where the source is not."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_wheel_runs_the_demo(tmp_path: Path) -> None:
    build = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation"]
    subprocess.run([*build, "-w", str(tmp_path), str(ROOT)], check=True, capture_output=True)
    (wheel,) = tmp_path.glob("wickstats-*.whl")
    target = tmp_path / "site"
    install = [
        sys.executable,
        "-m",
        "pip",
        "install",
        "-q",
        "--no-deps",
        "--target",
        str(target),
    ]
    subprocess.run([*install, str(wheel)], check=True, capture_output=True)
    code = (
        f"import sys; sys.path.insert(0, {str(target)!r});"
        "import wickstats; print(wickstats.__file__);"
        "from wickstats.cli.app import run; sys.exit(run(['demo', '--out', 'demo']))"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", code],
        cwd=tmp_path,
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith(str(target))
    assert lines[-1].strip().startswith("file://")
    for name in ("quarry-oaks", "garden-peppers"):
        assert (tmp_path / "demo" / f"report-{name}" / "report.html").is_file()
