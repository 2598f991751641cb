"""Starting the workers."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def start(task: str, *arguments: object) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-m", "tests.catalogue.workers", task, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
