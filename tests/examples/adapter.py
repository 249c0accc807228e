"""Starts the HTTP adapter on a free port of loopback with the demo circuits, for the tests."""

import contextlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

SOURCE = Path(os.environ["FAULTODDS_SOURCE"])
EXAMPLES = SOURCE / "examples"


@contextlib.contextmanager
def running_adapter():
    """Yields the adapter's URL; stops it afterwards and checks that it stopped cleanly."""
    with tempfile.TemporaryDirectory() as circuits:
        for name in ("refuse_truck", "veneer_press"):
            shutil.copy(EXAMPLES / name / "circuit.json", Path(circuits) / f"{name}.json")
        adapter = subprocess.Popen(
            [os.environ["FAULTODDS_HTTP"], "--port", "0", "--circuits", circuits],
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            yield adapter.stdout.readline().split()[-1]
        finally:
            adapter.terminate()
            status = adapter.wait(timeout=20)
            adapter.stdout.close()
        assert status == 0, f"the adapter ended with {status}"
