"""The picture as Mermaid and as DOT: written by hand, flat, each track a diagram of its own."""

from __future__ import annotations

from collections.abc import Iterable

from coach.check.draw.picture import ANY, Diagram, Edge, Node
from coach.text import one_line

RED = "#b00020"


def as_mermaid(found: Iterable[Diagram]) -> str:
    """Markdown with one Mermaid flowchart for each track. Timers are dotted, faults thick, findings red."""
    return "\n\n".join(_flowchart(diagram) for diagram in found)


def _flowchart(diagram: Diagram) -> str:
    numbers = {node.id: f"n{place}" for place, node in enumerate(diagram.nodes)} | {ANY: "any"}
    lines = [f"## {diagram.number}. {_plain(diagram.track)}: {_plain(diagram.title)}", "", "```mermaid", "flowchart TD"]
    for node in diagram.nodes:
        text = _mermaid(_node_label(node))
        left, right = ("(((", ")))") if node.end else ("([", "])") if node.start else ("[", "]")
        lines.append(f'  {numbers[node.id]}{left}"{text}"{right}')
    if any(edge.source == ANY for edge in diagram.edges):
        lines.append('  any{{"any step"}}')
    arrows = {"plain": "-->", "timer": "-.->", "fault": "==>"}
    red: list[int] = []
    for place, edge in enumerate(diagram.edges):
        lines.append(f'  {numbers[edge.source]} {arrows[edge.kind]}|"{_mermaid(edge.label)}"| {numbers[edge.target]}')
        if edge.kind == "fault" or edge.found:
            red.append(place)
    if red:
        lines.append(f"  linkStyle {','.join(map(str, red))} stroke:{RED},color:{RED}")
    marked = [numbers[node.id] for node in diagram.nodes if node.found]
    if marked:
        lines += [f"  classDef found stroke:{RED},color:{RED}", f"  class {','.join(marked)} found"]
    return "\n".join([*lines, "```"])


def _node_label(node: Node) -> str:
    parts = [
        node.id,
        node.title,
        f"late after {node.limit}" if node.limit else "",
        *(f"<{code}>" for code in node.found),
    ]
    return " · ".join(part for part in parts if part)


def _mermaid(text: str) -> str:
    """Text inside Mermaid's quotes: everything that its grammar or its HTML could take for more is a number code."""
    return "".join(
        sign if sign.isalnum() or sign in " .,:;/()+-_·×◷!?=" else f"#{ord(sign)};" for sign in one_line(text)
    )


def _plain(text: str) -> str:
    """Text in a Markdown heading."""
    return "".join(f"\\{sign}" if sign in "\\`*_{}[]<>#|!" else sign for sign in one_line(text))


def as_dot(found: Iterable[Diagram], name: str) -> str:
    """One digraph with a numbered cluster for each track. Ends are double, timers dashed, faults and findings red."""
    lines = [f"digraph {_dot(name)} {{", "  rankdir=TB;", '  node [shape=box, fontname="sans-serif"];']
    for diagram in found:
        lines.append(f"  subgraph {_dot(f'cluster_{diagram.number}')} {{")
        lines.append(f"    label={_dot(f'{diagram.number}. {diagram.track}: {diagram.title}')};")
        for node in diagram.nodes:
            wants = [f"label={_dot(_node_label(node))}"]
            wants += ["peripheries=2"] if node.end else []
            wants += ["style=bold"] if node.start else []
            wants += [f'color="{RED}"', f'fontcolor="{RED}"'] if node.found else []
            lines.append(f"    {_dot(_full(diagram, node.id))} [{', '.join(wants)}];")
        if any(edge.source == ANY for edge in diagram.edges):
            lines.append(f'    {_dot(_full(diagram, ANY))} [label="any step", shape=hexagon];')
        lines += [f"    {_dot_edge(diagram, edge)}" for edge in diagram.edges]
        lines.append("  }")
    return "\n".join([*lines, "}"])


def _dot_edge(diagram: Diagram, edge: Edge) -> str:
    wants = [f"label={_dot(edge.label)}"]
    wants += ["style=dashed"] if edge.kind == "timer" else ["style=bold"] if edge.kind == "fault" else []
    wants += [f'color="{RED}"', f'fontcolor="{RED}"'] if edge.kind == "fault" or edge.found else []
    ends = f"{_dot(_full(diagram, edge.source))} -> {_dot(_full(diagram, edge.target))}"
    return f"{ends} [{', '.join(wants)}];"


def _full(diagram: Diagram, step: str) -> str:
    return f"{diagram.track}.{step}"


def _dot(text: str) -> str:
    """A quoted word of DOT; a backslash would begin an escape of its own."""
    return '"' + one_line(text).replace("\\", "\\\\").replace('"', '\\"') + '"'
