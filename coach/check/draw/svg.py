"""The picture as SVG, by a small layered layout of our own: steps in rows by their distance from the start.

Arrows to the next row run straight through the gap between the rows, arrows that stay are loops at a step's right, and
all others run in lanes of their own beside the steps, so that no line crosses a step. Nothing in the file is more than
text: it is escaped, and no script or link is ever written.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from coach.check.draw.picture import ANY, Diagram, Edge, Node
from coach.text import one_line

BOX_WIDTH, BOX_HEIGHT = 190, 46
GAP_X, GAP_Y = 64, 34
LANE, LOOP = 14, 12
TEXT_ROW = 15
MARGIN = 24
INK, RED = "#1a1a1a", "#b00020"
LONGEST = 110
"""Characters of an arrow's label in the list beside the drawing."""


@dataclass(frozen=True, slots=True)
class Box:
    """Where a step is drawn, in pixels: its left upper corner."""

    x: int
    y: int

    @property
    def middle(self) -> int:
        """The x of its middle."""
        return self.x + BOX_WIDTH // 2


def layers(diagram: Diagram) -> list[list[str]]:
    """The steps in rows: each as many arrows from the start as its row says; steps that no arrow reaches come last.

    Within a row steps stand near the steps above them that lead to them, file order deciding between equals.
    """
    ways: dict[str, list[str]] = {}
    for edge in diagram.edges:
        if edge.source != ANY and not edge.stays:
            ways.setdefault(edge.source, []).append(edge.target)
    row = [node.id for node in diagram.nodes if node.start]
    placed, rows = set(row), []
    reached = [edge.target for edge in diagram.edges if edge.source == ANY and not edge.stays]
    while row:
        rows.append(row)
        wanted = [target for source in row for target in ways.get(source, ())]
        following = [step for step in dict.fromkeys(wanted) if step not in placed]
        if not following:  # only an arrow from any step leads on
            following = [step for step in dict.fromkeys(reached) if step not in placed]
        placed.update(following)
        row = _near(following, rows[-1], ways, [node.id for node in diagram.nodes])
    left = [node.id for node in diagram.nodes if node.id not in placed]
    return [*rows, left] if left else rows


def _near(steps: list[str], above: list[str], ways: dict[str, list[str]], order: list[str]) -> list[str]:
    def weight(step: str) -> tuple[float, int]:
        places = [place for place, source in enumerate(above) if step in ways.get(source, ())]
        return (sum(places) / len(places) if places else len(above), order.index(step))

    return sorted(steps, key=weight)


def as_svg(found: Iterable[Diagram], name: str) -> str:
    """One SVG document with all tracks under one another."""
    parts: list[str] = []
    top, widest = MARGIN, 0
    for diagram in found:
        drawn, width, height = _track(diagram, top)
        parts += drawn
        top += height + MARGIN
        widest = max(widest, width)
    width = widest + 2 * MARGIN
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{top}" viewBox="0 0 {width} {top}" '
        f'font-family="sans-serif" font-size="12" fill="{INK}">'
    )
    arrow = '<path d="M0 0 L8 4 L0 8 z" fill="context-stroke"/>'
    sizes = 'viewBox="0 0 8 8" refX="8" refY="4" markerWidth="8" markerHeight="8" markerUnits="userSpaceOnUse"'
    marker = f'<marker id="head" orient="auto" {sizes}>{arrow}</marker>'
    return "\n".join([head, f"<title>{_text(name)}</title>", f"<defs>{marker}</defs>", *parts, "</svg>"]) + "\n"


def _text(text: str) -> str:
    return escape(one_line(text), quote=True)


def _track(diagram: Diagram, top: int) -> tuple[list[str], int, int]:
    rows = layers(diagram)
    nodes = {node.id: node for node in diagram.nodes}
    depth = {step: number for number, row in enumerate(rows) for step in row}
    wide = max(len(row) for row in rows)
    numbered = list(enumerate(diagram.edges, start=1))
    lanes = [number for number, edge in numbered if not edge.stays and not _short(edge, depth)]
    left = MARGIN + LANE * (len(lanes) + 1)
    anywhere = any(edge.source == ANY for edge in diagram.edges)
    first = top + 30 + (BOX_HEIGHT + GAP_Y if anywhere else 0)
    boxes: dict[str, Box] = {}
    for number, row in enumerate(rows):
        indent = (wide - len(row)) * (BOX_WIDTH + GAP_X) // 2
        for place, step in enumerate(row):
            boxes[step] = Box(left + indent + place * (BOX_WIDTH + GAP_X), first + number * (BOX_HEIGHT + GAP_Y))
    out = [f'<g class="track" id="track-{diagram.number}">']
    title = f"{diagram.number}. {diagram.track}{f': {diagram.title}' if diagram.title else ''}"
    out.append(f'<text x="{MARGIN}" y="{top + 14}" font-size="15" font-weight="bold">{_text(title)}</text>')
    if anywhere:
        boxes[ANY] = Box(left, top + 30)
        out += _box(Node(ANY, "any step"), boxes[ANY], "any")
    for step, box in boxes.items():
        if step != ANY:
            out += _box(nodes[step], box, "node")
    loops: dict[str, int] = {}
    for number, edge in numbered:
        lane = MARGIN + LANE * (lanes.index(number) + 1) if number in lanes else 0
        loops[edge.source] = loops.get(edge.source, 0) + edge.stays
        out += _line(number, edge, boxes, lane, loops[edge.source])
    side = left + wide * (BOX_WIDTH + GAP_X)
    for number, edge in numbered:
        colour = f' fill="{RED}"' if edge.kind == "fault" or edge.found else ""
        said = one_line(edge.label)
        said = said if len(said) <= LONGEST else said[: LONGEST - 1] + "…"
        where = "stays" if edge.stays else f"→ {edge.target}"
        source = "any step" if edge.source == ANY else edge.source
        y = top + 30 + number * TEXT_ROW
        out.append(
            f'<text class="label" x="{side}" y="{y}"{colour}>{_text(f"{number}  {source}: {said} {where}")}</text>'
        )
    out.append("</g>")
    height = max(first - top + len(rows) * (BOX_HEIGHT + GAP_Y), 30 + (len(numbered) + 1) * TEXT_ROW)
    return out, side + 7 * (LONGEST + 40), height


def _short(edge: Edge, depth: dict[str, int]) -> bool:
    """Whether an arrow leads from one row to the very next, and so needs no lane."""
    return edge.source in depth and depth[edge.target] == depth[edge.source] + 1


def _box(node: Node, box: Box, kind: str) -> list[str]:
    colour = RED if node.found else INK
    thick = 3 if node.start else 1
    shape = (
        f'<rect x="{box.x}" y="{box.y}" width="{BOX_WIDTH}" height="{BOX_HEIGHT}" rx="8" fill="none" '
        f'stroke="{colour}" stroke-width="{thick}"/>'
    )
    out = [f'<g class="{kind}" data-step="{_text(node.id)}">', shape]
    if node.end:
        out.append(
            f'<rect class="end" x="{box.x + 4}" y="{box.y + 4}" width="{BOX_WIDTH - 8}" height="{BOX_HEIGHT - 8}" '
            f'rx="5" fill="none" stroke="{colour}"/>'
        )
    shown = "" if kind == "any" else f"{node.id}{' ↯' if node.armed else ''}"
    below = " ".join(part for part in (node.title, f"◷ {node.limit}" if node.limit else "", *node.found) if part)
    for text, y, weight in ((shown, 19, "bold"), (below, 35, "normal")):
        short = text if len(text) <= 30 else text[:29] + "…"
        out.append(
            f'<text x="{box.middle}" y="{box.y + y}" text-anchor="middle" font-weight="{weight}" '
            f'font-size="11" fill="{colour}">{_text(short)}</text>'
        )
    return [*out, "</g>"]


def _line(number: int, edge: Edge, boxes: dict[str, Box], lane: int, loop: int) -> list[str]:
    one, two = boxes[edge.source], boxes[edge.target]
    if edge.stays:
        side, reach = one.x + BOX_WIDTH, min(LOOP * loop, GAP_X - LOOP)
        above, below = one.y + BOX_HEIGHT // 2 - 3 * min(loop, 7), one.y + BOX_HEIGHT // 2 + 3 * min(loop, 7)
        path = f"M{side} {above} H{side + reach} V{below} H{side}"
        at = (side + reach - 4, above - 1)
    elif lane:
        # out at the left side, along a lane of its own, and in at the left side again
        away, back = one.y + BOX_HEIGHT - 12, two.y + 12
        out_y, in_y = one.y + BOX_HEIGHT + 8, two.y - 8
        path = f"M{one.x} {away} H{one.x - 8} V{out_y} H{lane} V{in_y} H{two.x - 8} V{back} H{two.x}"
        at = (lane + 2, (out_y + in_y) // 2)
    else:
        begin, end = one.y + BOX_HEIGHT, two.y
        middle = begin + GAP_Y // 2
        spread = (number % 5 - 2) * 16
        path = f"M{one.middle + spread} {begin} V{middle} H{two.middle + spread} V{end}"
        at = (two.middle + spread + 3, end - 6)
    colour = RED if edge.kind == "fault" or edge.found else INK
    dashes = ' stroke-dasharray="5 4"' if edge.kind == "timer" else ""
    thick = 2 if edge.kind == "fault" else 1
    data = f'data-from="{_text(edge.source)}" data-to="{_text(edge.target)}" data-kind="{edge.kind}"'
    return [
        f'<path class="edge" {data} d="{path}" fill="none" stroke="{colour}" stroke-width="{thick}"{dashes} '
        'marker-end="url(#head)"/>',
        f'<text x="{at[0]}" y="{at[1]}" font-size="9" fill="{colour}">{number}</text>',
    ]
