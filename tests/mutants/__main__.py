"""Every mutant of every shipped protocol: ``python -m tests.mutants [PROTOCOL ...]``; ``--help`` tells the options.

Prints what catches them and the survivors; ``--keep`` writes that to ``tests/mutants/results/PROTOCOL.txt``, to be read
and committed.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from datetime import datetime
from pathlib import Path

from coach.protocol.library import list_protocols
from tests.mutants.catching import Result, catcher
from tests.mutants.making import mutants

RESULTS = Path(__file__).parent / "results"
SEED = 2026


def _look(place: tuple[str, int, bool]) -> tuple[int, str, str]:
    ident, number, short = place
    result = catcher(ident).look(mutants(catcher(ident).text)[number], hasty=short)
    return number, result.caught, result.differs


def looked_at(ident: str, numbers: list[int], jobs: int, short: bool = False) -> list[Result]:
    """The results on some of a protocol's mutants, in order, with progress on standard error."""
    every = mutants(catcher(ident).text)
    out: list[Result] = []
    with ProcessPoolExecutor(jobs) as pool:
        for number, caught, differs in pool.map(_look, [(ident, number, short) for number in numbers]):
            out.append(Result(every[number], caught, differs))
            print(f"\r{ident}: {len(out)} of {len(numbers)}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return out


def told(ident: str, results: Iterable[Result], day: str) -> str:
    """The results as text: rates, what caught them, and every survivor."""
    structural = [one for one in results if not one.mutant.number]
    numbers = [one for one in results if one.mutant.number]
    lines = [f"Mutants of {ident}, {day}.", ""]
    for title, some in (("structural", structural), ("shifts of numbers", numbers)):
        if not some:
            continue
        differing = [one for one in some if one.differs not in ("same", "not decided")]
        caught = [one for one in differing if one.caught]
        rate = 100 * len(caught) / len(differing) if differing else 100.0
        unlike = [one for one in some if one not in differing]
        lines += [
            f"{title}: {len(some)}; {len(differing)} run otherwise, of which {len(caught)} are caught: {rate:.1f} %.",
            f"   of the {len(unlike)} others no run was found that shows them"
            f" ({sum(one.differs == 'same' for one in unlike)} proved to run alike);"
            f" {sum(bool(one.caught) for one in unlike)} of them the lint names all the same.",
        ]
        kinds = Counter(one.caught.split()[0] for one in some if one.caught)
        lines += [f"   first caught by: {', '.join(f'{name} {count}' for name, count in kinds.most_common())}"]
        for heading, survivors in (
            ("they run otherwise, and nothing notices", [one for one in differing if not one.caught]),
            ("nothing notices, and no run was found that shows them", [one for one in unlike if not one.caught]),
        ):
            if survivors:
                lines += ["", f"{heading}:", *(f"   {one.mutant}  [{one.differs}]" for one in survivors)]
        lines.append("")
    return "\n".join(lines)


def _day(given: argparse.Namespace) -> str:
    """The day, and how the run was cut short."""
    words = [datetime.now().date().isoformat()]
    if given.take is not None:
        words.append(f"a seeded {given.take}")
    if given.short:
        words.append("short comparisons, none of what the lint names")
    return "; ".join(words)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    parser.add_argument("--take", type=int, help="so many by seed instead of all")
    parser.add_argument("--keep", action="store_true", help="write what came out to tests/mutants/results")
    parser.add_argument("--numbers", action="store_true", help="shifts of numbers too")
    parser.add_argument("--short", action="store_true", help="short comparisons, none where the lint names a mutant")
    parser.add_argument("protocols", nargs="*", metavar="PROTOCOL")
    given = parser.parse_args()
    shipped = [entry.id for entry in list_protocols() if entry.where == "shipped"]
    for ident in given.protocols or shipped:
        every = mutants(catcher(ident).text)
        numbers = [place for place, one in enumerate(every) if given.numbers or not one.number]
        if given.take is not None:
            numbers = sorted(random.Random(SEED).sample(numbers, min(given.take, len(numbers))))
        text = told(ident, looked_at(ident, numbers, given.jobs, given.short), _day(given))
        print(text)
        if given.keep:
            RESULTS.mkdir(exist_ok=True)
            (RESULTS / f"{ident.replace('/', '-')}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
