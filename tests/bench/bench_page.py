"""The page: how large it is, and how long it takes beside parsing the JSON of its log."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path

from coach.debrief.from_log import debrief_of
from coach.debrief.html_form import as_html
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from tests.bench.figures import Figure, Work, ratio, side_by_side

PHONE_KB = 200.0
"""A page opens at once on a phone below this (a goal of ours)."""
LEAST = 1_300
"""Lines of a ten-minute drill."""
ROUNDS = 5


def _script() -> str:
    """Ten minutes of cycles with an analysis and a shock every two minutes."""
    keys = ["0.00 go", "6.00 u", "9.00 e", "14.00 n"]
    t = 20.0
    for cycle in range(33):
        for _ in range(30):
            keys.append(f"{t:.2f} space")
            t += 0.5
        keys += [f"{t + 0.9:.2f} b", f"{t + 2.4:.2f} b"]
        if cycle % 6 == 5:
            keys += [f"{t + 3:.2f} a", f"{t + 10:.2f} v", f"{t + 11:.2f} c", f"{t + 14:.2f} enter"]
            t += 13
        elif cycle == 1:
            keys += [f"{t + 3:.2f} o", f"{t + 8:.2f} r", f"{t + 10:.2f} l"]
            t += 8
        t += 4.5
    keys += [f"{t:.2f} z", f"{t + 0.4:.2f} z"]
    return "# protocol: erc-2025/adult-one-rescuer\n# counting: each\n" + "\n".join(keys) + "\n"


def _work(once: Callable[[], object]) -> Callable[[], Work]:
    def work() -> int:
        once()
        return 1

    return lambda: work


def run() -> list[Figure]:
    """Size of the page of a ten-minute drill, and time from its log to the page over parsing its JSON."""
    with tempfile.TemporaryDirectory() as folder:
        script = read_script(_script(), "ten-minutes.txt")
        path = play(script, setup_of(script, setup_for), Path(folder))
        text = path.read_text(encoding="utf-8").splitlines()
        assert len(text) >= LEAST, len(text)
        page = debrief_of(read_log(path))
        html = as_html(page)
        speeds = side_by_side(
            {
                "parse": _work(lambda: [json.loads(line) for line in text]),
                "lay out": _work(lambda: as_html(page)),
                "whole": _work(lambda: as_html(debrief_of(read_log(path)))),
            },
            ROUNDS,
        )
    parse = speeds["parse"]
    return [
        Figure("page: size", len(html.encode()) / 1000, "kB", PHONE_KB, "less", f"{len(text)} lines of log"),
        Figure("page: laid out, over parsing its log's JSON", ratio(parse, speeds["lay out"])),
        Figure("page: from the log, over parsing its JSON", ratio(parse, speeds["whole"])),
    ]
