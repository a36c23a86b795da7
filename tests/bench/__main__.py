"""``python -m tests.bench [--json] [--keep] [NAME ...]``: run the benchmarks and say which goals are met.

Each module ``bench_NAME.py`` beside this one has a function ``run()`` that returns figures, and may have ``table()``
and ``picture()`` that set them as a table of its own and draw them as SVG. Speed is judged here, by ratios taken within
one run, and never in a test. ``--keep`` writes what came out to ``results/NAME.txt`` and ``.svg``, with the day. Exit
code 0 when every goal is met, 1 when one is missed.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import platform
import sys
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

from tests.bench.figures import Figure

RESULTS = Path(__file__).parent / "results"


def _names() -> list[str]:
    return sorted(path.stem.removeprefix("bench_") for path in Path(__file__).parent.glob("bench_*.py"))


def _verdict(figure: Figure) -> str:
    return {True: "met", False: "MISSED", None: "-"}[figure.met]


def _number(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"


def _goal(figure: Figure) -> str:
    if figure.goal is None:
        return "-"
    return f"{'>=' if figure.better == 'more' else '<='} {_number(figure.goal)} {figure.unit}"


def _table(figures: list[tuple[str, Figure]]) -> str:
    rows = [("benchmark", "what", "goal", "measured", "verdict")]
    for name, figure in figures:
        rows.append((name, figure.name, _goal(figure), f"{_number(figure.value)} {figure.unit}", _verdict(figure)))
    widths = [max(len(row[column]) for row in rows) for column in range(5)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    lines.insert(1, "  ".join("-" * width for width in widths))
    notes = [f"* {figure.name}: {figure.note}" for _, figure in figures if figure.note]
    return "\n".join([*lines, "", *notes] if notes else lines)


def _keep(name: str, figures: list[Figure]) -> None:
    """Write what came out, to be read and committed."""
    RESULTS.mkdir(exist_ok=True)
    day = datetime.now().date().isoformat()
    head = f"{name}, {day}: Python {platform.python_version()}, {platform.system()}, {os.cpu_count()} processors"
    module = importlib.import_module(f"tests.bench.bench_{name}")
    table = getattr(module, "table", lambda rows: _table([(name, figure) for figure in rows]))
    (RESULTS / f"{name}.txt").write_text(f"{head}\n\n{table(figures)}\n", encoding="utf-8")
    picture = getattr(module, "picture", None)
    if picture is not None:
        (RESULTS / f"{name}.svg").write_text(picture(figures), encoding="utf-8")


def main() -> int:
    """Run the benchmarks named on the command line, or all."""
    known = _names()
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description="Run the benchmarks of kneeside.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"which to run: {', '.join(known)} (all)")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead of the table")
    parser.add_argument("--keep", action="store_true", help="write what came out to tests/bench/results")
    options = parser.parse_args()
    unknown = [name for name in options.names if name not in known]
    if unknown:
        parser.error(f"no benchmark is called {', '.join(unknown)}; there are {', '.join(known)}")
    figures: list[tuple[str, Figure]] = []
    for name in options.names or known:
        print(f"{name} ...", file=sys.stderr, flush=True)
        measured = importlib.import_module(f"tests.bench.bench_{name}").run()
        figures.extend((name, figure) for figure in measured)
        if options.keep:
            _keep(name, measured)
    if options.json:
        document = {
            "python": platform.python_version(),
            "system": platform.system(),
            "figures": [{"benchmark": name, **asdict(figure), "met": figure.met} for name, figure in figures],
        }
        print(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        print(_table(figures))
    return 1 if any(figure.met is False for _, figure in figures) else 0


if __name__ == "__main__":
    sys.exit(main())
