"""Every benchmark in one run: a table, or JSON on request. Nothing here is a test.

Run: python -m tests.benchmarks [--json] [--only NAME]
Each `bench_*.py` beside this file gives rows of {name, ours_s, peer, peer_s, note}; the ratio is the
peer's time over ours, so more than 1 is faster than the peer.
"""

from __future__ import annotations

import argparse
import importlib
import json
from pathlib import Path
from typing import Any


def rows(only: str) -> list[dict[str, Any]]:
    """The rows of every benchmark whose name holds `only`."""
    found: list[dict[str, Any]] = []
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        if only in path.stem:
            module = importlib.import_module(f"tests.benchmarks.{path.stem}")
            for row in module.run():
                ratio = row["peer_s"] / row["ours_s"] if row.get("peer_s") else None
                found.append({"benchmark": path.stem.removeprefix("bench_"), **row, "ratio": ratio})
    return found


def seconds(value: float | None) -> str:
    """A time with a unit that fits it."""
    if value is None:
        return "-"
    for scale, unit in ((1.0, "s"), (1e-3, "ms"), (1e-6, "us")):
        if value >= scale:
            return f"{value / scale:.3g} {unit}"
    return f"{value / 1e-9:.3g} ns"


def table(found: list[dict[str, Any]]) -> str:
    """The rows as text."""
    lines = [f"{'benchmark':<11}{'what':<46}{'ours':>10}{'peer':>10}{'peer/ours':>10}  peer; note"]
    for row in found:
        ratio = row["ratio"]
        lines.append(
            f"{row['benchmark']:<11}{row['name'][:45]:<46}{seconds(row['ours_s']):>10}"
            f"{seconds(row.get('peer_s')):>10}{'-' if ratio is None else f'{ratio:.3g}':>10}  "
            f"{row.get('peer', '')}; {row.get('note', '')}"
        )
    return "\n".join(lines)


def main() -> None:
    """Run them and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--only", default="", metavar="NAME")
    options = parser.parse_args()
    found = rows(options.only)
    print(json.dumps(found, indent=2, default=float) if options.json else table(found))


if __name__ == "__main__":
    main()
