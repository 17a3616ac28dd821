"""How fast it is, side by side with others in one run.

    python scripts/bench                 all benchmarks, as a table
    python scripts/bench --quick         small sizes, within a minute
    python scripts/bench solid edit      some of them
    python scripts/bench --json FILE     the same as JSON
    python scripts/bench --plot FILE     time and memory against size, as a picture

Times are processor time, medians of runs in turn, ours and theirs. The ratio
says how many times as long the other takes.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
from collections.abc import Callable, Iterator
from dataclasses import asdict
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from bench import commands, cuts, findings, growth, moving, solids, walls
from bench.timing import HEAD, Row, line

LIBRARIES = ("numpy", "shapely", "manifold3d", "trimesh", "vtk", "cadquery-ocp-novtk")
SAMPLES = ("tugboat", "crane", "lighthouse")
COMMANDS = ("weigh", "check", "stages", "picture", "sheets")


def benches(*, quick: bool) -> dict[str, Callable[[], Iterator[Row]]]:
    """By name, in the order in which they run."""
    few = SAMPLES[:1] if quick else SAMPLES
    sizes = solids.QUICK if quick else solids.SIZES
    budget = 0.5 if quick else 20.0
    return {
        "solid": lambda: solids.rows(
            sizes,
            budget=budget,
            patience=10.0 if quick else 60.0,
            most_for_others=100 if quick else solids.LARGEST_FOR_OTHERS,
        ),
        "thickness": lambda: walls.rows(
            (2_000,) if quick else (2_000, 20_000), samples=200 if quick else walls.SLOW
        ),
        "stages": lambda: cuts.rows(few, budget=budget),
        "findings": lambda: findings.rows(
            findings.QUICK if quick else findings.SIZES, rough=not quick
        ),
        "edit": lambda: moving.rows(few, sizes[:3], budget=budget),
        "command": lambda: commands.rows(
            few, COMMANDS[:2] if quick else COMMANDS, 1 + 2 * (not quick)
        ),
    }


def machine() -> dict[str, str]:
    """What ran."""
    found = {"python": platform.python_version(), "cores": str(os.cpu_count())}
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "missing"
    return found


def main() -> None:
    """The front door."""
    parser = argparse.ArgumentParser(
        prog="scripts/bench", description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("names", nargs="*", choices=[*benches(quick=True), []], help="which")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--json", type=Path, metavar="FILE")
    parser.add_argument("--plot", type=Path, metavar="FILE")
    options = parser.parse_args()
    about = machine()
    print(", ".join(f"{name} {value}" for name, value in about.items()), flush=True)
    if options.plot is not None:
        few = 3 if options.quick else None
        found = growth.lines(growth.SIZES[:few], growth.PROFILES[:few])
        growth.picture(found, options.plot)
        for one in found:
            print(
                f"{one.title}: time grows with the power {one.slope:.2f}, "
                f"memory with {one.memory_slope:.2f}"
            )
        return
    every = benches(quick=options.quick)
    rows: list[Row] = []
    print(HEAD, flush=True)
    for name in options.names or every:
        for row in every[name]():
            rows.append(row)
            print(line(row), flush=True)
    if options.json is not None:
        listed = [{**asdict(row), "ratio": row.ratio} for row in rows]
        options.json.write_text(json.dumps({"machine": about, "rows": listed}, indent=1), "utf-8")
