"""Memory does not grow with the number of chunks, neither here nor in the workers."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import cheap
import pytest

PROGRAM = """
import sys
from pathlib import Path

import cheap
from mdo.results.work import Task, Work

def peak(process):
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))

if __name__ == "__main__":
    import psutil
    with Work(None, "0" * 16, scheduler="local", workers=2) as work:
        for count in (20, 300):
            tasks = [Task(f"part-{n}", {"number": n}) for n in range(count)]
            chunks = work.do(f"of-{count}", "cheap:large", "{}", tasks, lambda _: None)
            assert sum(len(table) for table in chunks) == count * cheap.LARGE
            found = [peak(p.pid) for p in psutil.Process().children()] + [peak("self")]
            print(*sorted(found))
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_memory_is_flat_over_many_chunks(tmp_path: Path) -> None:
    """300 chunks of 2 MB after 20 of them: a gigabyte of results, a few megabytes more."""
    script = tmp_path / "many.py"
    script.write_text(PROGRAM, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(script)],
        env={"PYTHONPATH": str(Path(cheap.__file__).parent), "PATH": "", "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    few, many = ([float(x) for x in line.split()] for line in done.stdout.splitlines())
    assert len(few) == len(many) >= 3
    assert max(many) < max(few) + 60.0
    assert max(many) < 600.0
