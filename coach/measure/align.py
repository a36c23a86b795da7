"""The order of steps: the cheapest way to read what was seen as what was expected.

Every expected step left out costs one, every thing seen beyond them costs one. Of readings that cost the same, the
one is taken that, from the left, prefers done, then omitted, then extra. Iterative, quadratic: a drill has some forty
things to align.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence


def align(expected: Sequence[Collection[str]], seen: Sequence[str]) -> tuple[list[int | None], int]:
    """For each expected step the index of what was seen as it, or ``None``; and the cost.

    ``expected`` holds for each step, in order, the observations that do it.
    """
    rows, columns = len(expected), len(seen)
    cost = [[0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows, -1, -1):
        for j in range(columns, -1, -1):
            if i == rows or j == columns:
                cost[i][j] = (rows - i) + (columns - j)
                continue
            best = 1 + min(cost[i + 1][j], cost[i][j + 1])
            cost[i][j] = min(best, cost[i + 1][j + 1]) if seen[j] in expected[i] else best
    matched: list[int | None] = []
    i = j = 0
    while i < rows:
        if j < columns and seen[j] in expected[i] and cost[i][j] == cost[i + 1][j + 1]:
            matched.append(j)
            i, j = i + 1, j + 1
        elif cost[i][j] == 1 + cost[i + 1][j]:
            matched.append(None)
            i += 1
        else:
            j += 1
    return matched, cost[0][0]
