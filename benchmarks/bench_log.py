"""What reading, segmenting and binning a long flight log costs, in time and memory.

    python benchmarks/bench_log.py [--rows 1000000]

The log is invented: the legs of ``docs/make_invented_log.py`` at fifty rows a second, repeated
until there are enough rows. Time is given against a plain read of the same file by pandas, which
does nothing but parse. Memory is the growth of the peak over what the modules take, in a process
of its own. Run it on a machine that does nothing else.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from timing import row, seconds

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "docs"))
sys.path.insert(0, str(ROOT / "tests"))

MEBI = 2**20


def invented_rows(count: int, path: Path) -> None:
    """A log of so many rows at 50 a second: one flight written again and again, later each time."""
    import make_invented_log as invent
    from craft_for_logs import EFFICIENCY, MASS, SETTINGS, SPEEDS, power_W

    random = np.random.default_rng(0)
    flight = invent.invented_log(
        lambda airspeed, name, density: power_W(airspeed, SETTINGS[name], {}, density),
        invent.flight_plan(SPEEDS, 30.0, 2, random),
        invent.Craft(MASS, EFFICIENCY),
        invent.Weather(),
        invent.Instruments(rate_Hz=50.0),
        random,
    )
    with path.open("w", encoding="utf-8") as stream:
        written, later = 0, 0.0
        while written < count:
            piece = flight.iloc[: count - written].copy()
            piece["t_s"] = (piece["t_s"] + later).round(2)
            piece.round(3).to_csv(stream, index=False, header=written == 0)
            written += len(piece)
            later += float(flight["t_s"].iloc[-1]) + 0.02


def whole_study(path: Path) -> None:
    """Read, segment, bin and compare."""
    from craft_for_logs import MASS, SETTINGS, log_format

    from vlm.log.analysis import Craft, LogPlan, measured
    from vlm.log.reading import read_log

    how = log_format()
    result = measured(Craft("invented", "invented.toml", how, SETTINGS, MASS),
                      read_log(path, how), LogPlan())  # fmt: skip
    assert len(result.steady.segments) > 10
    assert result.log.tally.balances


def peak_growth(path: Path) -> float:
    """Peak memory of a study over that of its modules alone, in a process of its own [MiB]."""
    script = (
        "import sys; sys.path[:0] = ['benchmarks', 'docs', 'tests']; import bench_log\n"
        "from pathlib import Path; import craft_for_logs\n"
        "import vlm.log.analysis, vlm.log.reading\n"
        "before = bench_log.peak()\n"
        f"bench_log.whole_study(Path({str(path)!r}))\n"
        "print(bench_log.peak() - before)"
    )
    run = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return float(run.stdout)


def peak() -> float:
    """Peak memory of this process since it began its program [MiB]."""
    status = Path("/proc/self/status")
    if status.exists():
        # Not getrusage: there a child begins with the peak of its parent.
        line = next(text for text in status.read_text().splitlines() if text.startswith("VmHWM"))
        return float(line.split()[1]) / 1024.0
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / MEBI


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--quick", action="store_true", help="80 000 rows, to see that it runs")
    chosen = parser.parse_args()
    count = 80_000 if chosen.quick else chosen.rows
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        invented_rows(count, path)
        quarter = Path(folder) / "quarter.csv"
        invented_rows(count // 4, quarter)
        size = path.stat().st_size / MEBI
        whole_study(quarter)
        plain = min(seconds(lambda: pd.read_csv(path)) for _ in range(3))
        study = min(seconds(lambda: whole_study(path)) for _ in range(3))
        name = f"log of {count} rows ({size:.0f} MiB)"
        print(row(f"{name}: read, segments, bins", f"{study:.2f} s", "target: seconds"))
        print(row(f"{name}: the same over pandas' plain read", f"{study / plain:.2f}", ""))
        big, small = peak_growth(path), peak_growth(quarter)
        print(row(f"{name}: growth of peak memory", f"{big:.0f} MiB", "bounded"))
        print(row("growth of peak memory over that of a quarter of the rows",
                  f"{big / max(small, 1e-9):.2f}", "1 if bounded"))  # fmt: skip


if __name__ == "__main__":
    main()
