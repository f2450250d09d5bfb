"""How long a person waits: ``python tests/benchmarks/demo_plan.py``.

Cold start to written map of the demo, and ``travel --help``, each as a process of its own; the best of several.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TIMES = 5


def best(arguments: list[str], allowed: tuple[int, ...]) -> float:
    """Give the least seconds of several runs of the program, from start to exit."""
    took = []
    for _ in range(TIMES):
        start = time.perf_counter()
        done = subprocess.run([sys.executable, "-m", "travel", *arguments], cwd=ROOT, capture_output=True, check=False)
        took.append(time.perf_counter() - start)
        if done.returncode not in allowed:
            raise SystemExit(done.stderr.decode())
    return min(took)


def main() -> None:
    """Print both."""
    with tempfile.TemporaryDirectory() as folder:
        plan = ["plan", "demo_site/site", "--machine", "demo_site/machines/middle.toml", "--from", "G1", "--to", "P1"]
        plan += ["--weather", "ground=damp,temperature_c=8,wind_mps=4", "--out", folder]
        print(f"{best(plan, (0, 3)):6.2f} s  cold start to written map of the demo")
        size = (Path(folder) / "map.html").stat().st_size
        print(f"{size / 1e6:6.2f} MB map.html")
    print(f"{best(['--help'], (0,)):6.2f} s  travel --help")


if __name__ == "__main__":
    main()
