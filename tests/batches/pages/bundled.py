"""The bundle of a month in tests: how it is asked for, and its folder checked as an outsider would."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

MONTH = "2027-03"
ASKED = ("--from", MONTH, "--to", MONTH)
WITHOUT_NETWORK = """
import runpy, sys
def refuse(event, _):
    if event.startswith("socket."):
        raise SystemExit("asked for the network")
sys.addaudithook(refuse)
sys.argv = sys.argv[1:]
runpy.run_path(sys.argv[0], run_name="__main__")
"""


def verified(folder: Path) -> subprocess.CompletedProcess[str]:
    """Runs the verifier as an outsider would: alone, isolated from this program's folder and packages, and without a
    network: whatever would open a socket ends it.
    """
    return subprocess.run(
        [sys.executable, "-I", "-S", "-c", WITHOUT_NETWORK, str(folder / "verify_export.py"), str(folder)],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
