"""The pictures show the file: every step and every arrow once, whatever the form, and nothing acts on its reader."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from coach.check.draw.forms import as_dot, as_mermaid
from coach.check.draw.picture import ANY, Diagram, as_text, diagrams
from coach.check.draw.svg import BOX_HEIGHT, BOX_WIDTH, as_svg, layers
from coach.protocol.library import list_protocols
from coach.protocol.model import Protocol
from coach.protocol.names import arrows
from coach.protocol.reading import read_protocol

SHIPPED = [entry.in_force().protocol for entry in list_protocols()]

Triple = tuple[str, str, str]


def of_model(protocol: Protocol) -> tuple[Counter[str], Counter[Triple]]:
    """Steps, and arrows as (track, from, to), read off the file's own model."""
    steps = Counter(f"{name}.{step}" for name, track in protocol.track.items() for step in track.step)
    found: Counter[Triple] = Counter()
    for place in arrows(protocol):
        source = place.step or ANY
        found[place.track, source, place.arrow.to or source] += 1
    return steps, found


def of_dot(text: str) -> tuple[Counter[str], Counter[Triple]]:
    """Steps and arrows of a DOT text, by a small parser of its own: quoted words, brackets, arrows."""
    token = r'"(?:[^"\\]|\\.)*"|->|[\w.#]+|[{}\[\];=,]'
    tokens = re.findall(token, text)
    assert not re.sub(token, "", text).split()
    nodes: Counter[str] = Counter()
    edges: Counter[Triple] = Counter()
    place = 0
    while place < len(tokens):
        if tokens[place].startswith('"') and tokens[place + 1] == "->":
            source, target = tokens[place][1:-1], tokens[place + 2][1:-1]
            track = source.partition(".")[0]
            edges[track, source.partition(".")[2], target.partition(".")[2]] += 1
            place = tokens.index(";", place)
        elif tokens[place].startswith('"') and tokens[place + 1] == "[":
            nodes[tokens[place][1:-1]] += 1
            place = tokens.index(";", place)
        place += 1
    return nodes, edges


def of_mermaid(text: str, found: tuple[Diagram, ...]) -> tuple[Counter[str], Counter[Triple]]:
    """Steps and arrows of the Mermaid text, every line of which must be one of a few forms."""
    nodes: Counter[str] = Counter()
    edges: Counter[Triple] = Counter()
    blocks = re.findall(r"```mermaid\nflowchart TD\n(.*?)\n```", text, re.DOTALL)
    assert len(blocks) == len(found)
    for block, diagram in zip(blocks, found, strict=True):
        names = {f"n{place}": node.id for place, node in enumerate(diagram.nodes)} | {"any": ANY}
        for line in block.split("\n"):
            node = re.fullmatch(r'  (n\d+|any)(?:\(\(\(|\(\[|\[|\{\{)"([^"]*)"(?:\)\)\)|\]\)|\]|\}\})', line)
            edge = re.fullmatch(r'  (n\d+|any) (?:-->|-\.->|==>)\|"([^"]*)"\| (n\d+|any)', line)
            if node is not None:
                nodes[f"{diagram.track}.{names[node[1]]}"] += 1
            elif edge is not None:
                edges[diagram.track, names[edge[1]], names[edge[3]]] += 1
            else:
                assert re.fullmatch(r"  (linkStyle [\d,]+ |classDef found |class [n\d,]+ found).*", line), line
    return nodes, edges


SVG = "{http://www.w3.org/2000/svg}"


def of_svg(text: str, found: tuple[Diagram, ...]) -> tuple[Counter[str], Counter[Triple]]:
    nodes: Counter[str] = Counter()
    edges: Counter[Triple] = Counter()
    tracks = ElementTree.fromstring(text).findall(f"{SVG}g[@class='track']")
    for group, diagram in zip(tracks, found, strict=True):
        for step in group.findall(f"{SVG}g[@class='node']"):
            nodes[f"{diagram.track}.{step.get('data-step')}"] += 1
        for path in group.findall(f"{SVG}path[@class='edge']"):
            edges[diagram.track, str(path.get("data-from")), str(path.get("data-to"))] += 1
    return nodes, edges


@pytest.mark.parametrize("protocol", SHIPPED, ids=lambda protocol: protocol.id)
def test_every_form_shows_every_step_and_arrow_once(protocol: Protocol) -> None:
    found = diagrams(protocol)
    steps, edges = of_model(protocol)
    assert sum(edges.values()) > 50
    anywhere = Counter(f"{diagram.track}.{ANY}" for diagram in found if any(e.source == ANY for e in diagram.edges))
    assert of_dot(as_dot(found, protocol.id)) == (steps + anywhere, edges)
    assert of_mermaid(as_mermaid(found), found) == (steps + anywhere, edges)
    assert of_svg(as_svg(found, protocol.id), found) == (steps, edges)
    assert [diagram.track for diagram in found] == list(protocol.track)


@pytest.mark.parametrize("protocol", SHIPPED, ids=lambda protocol: protocol.id)
def test_the_text_fits_eighty_columns_and_shows_every_arrow(protocol: Protocol) -> None:
    text = as_text(diagrams(protocol))
    assert max(map(len, text.split("\n"))) <= 80
    assert len(re.findall(r"^[├└][─╌═] ", text, re.MULTILINE)) == sum(of_model(protocol)[1].values())
    assert len(re.findall(r"^[●○◎] ", text, re.MULTILINE)) == sum(of_model(protocol)[0].values()) + text.count(
        "● start"
    )


@pytest.mark.parametrize("protocol", SHIPPED, ids=lambda protocol: protocol.id)
def test_no_two_steps_of_the_svg_touch_and_rows_follow_the_arrows(protocol: Protocol) -> None:
    found = diagrams(protocol)
    boxes = [
        (int(str(rect.get("x"))), int(str(rect.get("y"))))
        for rect in ElementTree.fromstring(as_svg(found, "x")).iter(f"{SVG}rect")
        if rect.get("class") is None
    ]
    for place, (x, y) in enumerate(boxes):
        for other_x, other_y in boxes[place + 1 :]:
            assert abs(x - other_x) >= BOX_WIDTH or abs(y - other_y) >= BOX_HEIGHT
    for diagram in found:
        rows = layers(diagram)
        assert sorted(step for row in rows for step in row) == sorted(node.id for node in diagram.nodes)
        assert rows[0] == [node.id for node in diagram.nodes if node.start]


SMALL = """
format = 1
id = "made-up/base"
version = "1"
guidance = "Made up"
title = "Base"
timers = { bell = { after = "10 s", every = "5 s", most = 3 } }
[track.one]
title = "TITLE"
start = "a"
spine = ["a", "b"]
go = [{ on = "recovery", fault = { id = "turned", severity = "critical", say = "T." } }]
[track.one.step.a]
title = "TITLE"
start = "bell"
within = "12 s"
go = [{ on = "scene_checked", to = "b" }, { on = "timer:bell" }]
[track.one.step.b]
done = "compression"
armed = true
go = [{ id = "back", on = "breath", when = "unit == floor", to = "c" }]
[track.one.step.c]
"""


def small(title: str = "T", findings: list[dict[str, Any]] | None = None) -> tuple[Diagram, ...]:
    return diagrams(read_protocol(SMALL.replace("TITLE", title)), findings or [])


def test_the_small_one_in_a_terminal() -> None:
    assert as_text(small(), 60).split("\n") == [
        "══ one · T ═══════════════════════════════════════ 1 of 1 ══",
        "",
        "● a · T                                      late after 12 s",
        "├─ scene checked ─▶ b",
        "└╌ ◷ bell 10 s, every 5 s, 3× ↺",
        "",
        "○ b                                                        ↯",
        "└─ breath [unit == floor] ─▶ c",
        "",
        "◎ c                                                      end",
        "",
        "∗ from any step",
        "└═ turned on the side !! turned (critical) ↺",
        "",
        "● start  ○ step  ◎ end  ─ arrow  ╌ timer ◷  ═ fault  ↺ stays",
        "↯ a shock can be given  <…> finding",
    ]


def test_marks_in_every_form() -> None:
    found = small()
    dot, mermaid, svg = as_dot(found, "x"), as_mermaid(found), as_svg(found, "x")
    assert dot.count("peripheries=2") == mermaid.count('((("') == svg.count('class="end"') == 1
    assert dot.count("style=dashed") == mermaid.count("-.->") == svg.count("stroke-dasharray") == 1
    assert "◷ bell 10 s, every 5 s, 3×" in dot and "◷ bell 10 s, every 5 s, 3×" in mermaid
    assert mermaid.count("==>") == 1 and svg.count('data-kind="fault"') == 1 and dot.count('color="#b00020", font') == 1


def test_findings_are_marked_where_they_are() -> None:
    findings = [
        {"code": "no-source", "about": "track.one.step.b"},
        {"code": "guard-always", "about": "track.one.step.b.go.back.when"},
        {"code": "cue-too-long", "about": "track.one.step.a.cue"},
        {"code": "by-eye", "about": "track.one.go.one.recovery"},
        {"code": "elsewhere", "about": "timers.bell"},
        {"code": 7, "about": ["no", "text"]},
    ]
    (diagram,) = small(findings=findings)
    assert {node.id: node.found for node in diagram.nodes} == {"a": ("cue-too-long",), "b": ("no-source",), "c": ()}
    assert {edge.id: edge.found for edge in diagram.edges if edge.found} == {
        "back": ("guard-always",),
        "one.recovery": ("by-eye",),
    }
    assert "<guard-always>" in as_text((diagram,)) and "class n0,n1 found" in as_mermaid((diagram,))
    assert "linkStyle 2,3 stroke" in as_mermaid((diagram,))


NASTY = '\\"]; x -> y; \\\\\\" </text><script>alert(1)</script>\\u001b[2J|```\\n%% & \\u202e #quot;'


def test_hostile_titles_stay_titles() -> None:
    found = small(NASTY)
    calm = small()
    for form in (lambda each: as_dot(each, NASTY), as_mermaid, lambda each: as_svg(each, NASTY), as_text):
        text = form(found)
        assert "\x1b" not in text and "\u202e" not in text
    assert "<script" not in as_svg(found, NASTY) and "<script" not in as_mermaid(found).replace("\\<", "")
    assert of_dot(as_dot(found, "x")) == of_dot(as_dot(calm, "x"))
    assert of_mermaid(as_mermaid(found), found) == of_mermaid(as_mermaid(calm), calm)
    assert of_svg(as_svg(found, "x"), found) == of_svg(as_svg(calm, "x"), calm)
    assert as_mermaid(found).count("```") == 2 or "\\`" in as_mermaid(found)
    tags = {element.tag for element in ElementTree.fromstring(as_svg(found, NASTY)).iter()}
    assert tags == {f"{SVG}{tag}" for tag in ("svg", "title", "defs", "marker", "path", "g", "text", "rect")}
    assert max(map(len, as_text(small("x" * 300)).split("\n"))) <= 80


def test_the_command_draws_in_every_form_and_marks_findings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coach.commands import main

    path, found = tmp_path / "one.toml", tmp_path / "found.json"
    path.write_text(SMALL, encoding="utf-8")
    finding = {"code": "no-source", "about": "track.one.step.b"}
    found.write_text(json.dumps({"files": [{"findings": [finding]}]}), encoding="utf-8")
    for form, mark in (
        ("text", "<no-source>"),
        ("mermaid", "class n1 found"),
        ("dot", "#b00020"),
        ("svg", "no-source"),
    ):
        assert main(["map", str(path), "--as", form, "--findings", str(found)]) == 0
        assert mark in capsys.readouterr().out
    assert main(["map", str(path), "--as", "svg", "--out", str(tmp_path / "one.svg")]) == 0
    assert ElementTree.parse(tmp_path / "one.svg").getroot().tag == f"{SVG}svg"


@pytest.mark.parametrize("text", ["", "{", '{"files": 1}', '{"files": [1]}', "[1]", '"x"', "[" * 100_000])
def test_findings_of_another_shape_are_no_crash(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coach.commands import main

    path, found = tmp_path / "one.toml", tmp_path / "found.json"
    path.write_text(SMALL, encoding="utf-8")
    found.write_text(text, encoding="utf-8")
    assert main(["map", str(path), "--findings", str(found)]) in (0, 2)
    assert "mistake of ours" not in capsys.readouterr().err
