"""The approval sheet: everything that an approver signs for, to be printed and read with a pen in the hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from coach.check.approval.numbers import Number, numbers_of
from coach.check.compare.parts import SECTIONS, differences_of
from coach.check.proof.verdicts import RuleVerdict
from coach.protocol.approval import approval_digest, approval_state
from coach.protocol.model import Protocol
from coach.protocol.reading import digest
from coach.protocol.relaxing import members, relaxed_rules, relaxed_words, tightened_rules
from coach.protocol.wordings import languages, wordings
from coach.text import one_line


@dataclass(frozen=True, slots=True)
class Sheet:
    """The sheet's contents, each text on one line and cleaned."""

    title: str
    ident: tuple[tuple[str, str], ...]
    relaxed: tuple[tuple[str, str, str, str], ...]
    """Rule, from what to what, reason, what the base's rule says; tightened ones stand apart."""
    tightened: tuple[tuple[str, str, str, str], ...]
    waived: tuple[tuple[str, str, str], ...]
    changed: tuple[tuple[str, str, str], ...] | None
    """What differs from the base; None where there is no base, or it was not handed in."""
    numbers: tuple[Number, ...]
    conditions: tuple[tuple[str, str], ...]
    languages: tuple[str, ...]
    texts: tuple[tuple[str, tuple[str, ...]], ...]
    rules: tuple[tuple[str, str, str], ...]
    sources: tuple[tuple[str, str, str, str], ...]
    history: tuple[tuple[str, str, str, str, str], ...]
    """What was done to its approval, oldest first: state, role, day, version, why."""
    signatures: tuple[str, ...] = ("Author", "Approver (role)", "In force from", "Review due", "Date and signature")


def sheet(
    protocol: Protocol,
    text: str,
    verdicts: Mapping[str, RuleVerdict],
    today: date,
    pads_text: str = "",
    base: Protocol | None = None,
) -> Sheet:
    """The sheet of a protocol; ``text`` is the whole protocol in force, ``pads_text`` the file of the pads rules that
    it names, ``base`` what a local file stands over. A rule without a verdict is "not checked"."""
    state = approval_state(protocol, text, today)
    spoken = tuple(languages(protocol))
    ident = [
        ("id", protocol.id),
        ("version", protocol.version),
        ("after", f"{protocol.guidance}, not endorsed"),
        ("for", protocol.audience),
        ("author", protocol.approval.author or "not named"),
        ("approval", state.why),
        ("content (sha256)", digest(text).canonical),
    ]
    if protocol.approval.digest:
        fits = protocol.approval.digest == approval_digest(text, protocol.approval)
        ident.append(("signed digest", f"{protocol.approval.digest} ({'fits' if fits else 'does NOT fit'})"))
    if protocol.pads:
        known = f"content {digest(pads_text).canonical}" if pads_text else "not at hand"
        ident.append(("pads rules", f"{protocol.pads}, a file of its own that this signature does not cover ({known})"))
    ident += [("made from", f"{pin.id} {pin.version} ({pin.digest})") for pin in protocol.made_from]
    return Sheet(
        one_line(_words(protocol.title)),
        tuple((name, one_line(value)) for name, value in ident),
        tuple(_turned(protocol, relaxed_rules(protocol))),
        tuple(_turned(protocol, tightened_rules(protocol))),
        tuple((one_line(one.code), one_line(one.where) or "all", one_line(one.reason)) for one in protocol.waive),
        None if base is None else tuple(_changed(base, protocol)),
        tuple(numbers_of(protocol)),
        tuple((name, one_line(guard)) for name, guard in protocol.terms.items()),
        spoken,
        tuple(
            (worded.where, tuple(one_line(worded.texts.get(language, "– missing –")) for language in spoken))
            for worded in wordings(protocol)
        ),
        tuple(
            (str(rule.get("id", "")), _rule_words(rule), _verdict(verdicts.get(str(rule.get("id", "")))))
            for rule in protocol.rule
        ),
        tuple(
            (name, one_line(source.title), source.grade, source.checked) for name, source in protocol.sources.items()
        ),
        tuple(
            (act.status, one_line(act.by), act.on, one_line(act.version), one_line(act.reason))
            for act in protocol.approval.history
        ),
    )


def _turned(protocol: Protocol, idents: Iterable[str]) -> Iterator[tuple[str, str, str, str]]:
    for ident in idents:
        relax = protocol.relaxed[ident]
        yield ident, one_line(relaxed_words(relax)), one_line(relax.reason), _rule_words(relax.was)


def _changed(base: Protocol, protocol: Protocol) -> Iterator[tuple[str, str, str]]:
    """What a local file changes; its rules relaxed and its waivers stand on the sheet already."""
    for one in differences_of(base, protocol).changes:
        if one.section != "waived" and not (one.section == "relaxed" and one.where in protocol.relaxed):
            yield SECTIONS[one.section], one_line(one.where), one_line(one.what)


def _words(wording: Mapping[str, str]) -> str:
    return wording.get("en") or next(iter(wording.values()), "")


def _rule_words(rule: Mapping[str, Any]) -> str:
    say, assumed = rule.get("say", ""), rule.get("assume")
    words = say if isinstance(say, str) else _words(say)
    return one_line(f"{words} It assumes: {members(assumed)}." if isinstance(assumed, Mapping) else words)


def _verdict(verdict: RuleVerdict | None) -> str:
    if verdict is None:
        return "not checked"
    said = f"{verdict.taught.kind} as taught, {verdict.noticed.kind} as noticed"
    return said if verdict.without is None else f"{said}; without what it assumes: {verdict.without.kind}"


VERDICTS = (
    "As taught: on every run that goes over no fault. As noticed: on every run, where what breaks the rule may go over "
    "a fault, which the debrief then names. What a rule assumes is how people are taken to act; without that it is "
    "proved once more."
)
"""What the words of a verdict mean."""

ACTS = ("state", "role", "day", "version", "why")
TURNED = ("rule", "from what to what", "reason", "the base's rule says")


def _first(page: Sheet) -> list[tuple[str, tuple[str, ...], Sequence[tuple[str, ...]]]]:
    """What whoever signs must see first, each with its heading; in capitals where it takes something away."""
    found: list[tuple[str, tuple[str, ...], Sequence[tuple[str, ...]]]] = [
        ("RELAXED RULES OF THE BASE", TURNED, page.relaxed),
        ("WAIVED FINDINGS OF THE CHECKER", ("finding", "where", "reason"), page.waived),
        ("Rules of the base made tighter", TURNED, page.tightened),
        ("What else differs from the base", ("kind", "where", "what"), page.changed or ()),
    ]
    return [part for part in found if part[2]]


# --- as Markdown ------------------------------------------------------------------------------------------------------


def as_markdown(page: Sheet) -> str:
    """The sheet as Markdown with tables."""
    out = [
        f"# Approval sheet: {_md(page.title)}",
        "",
        "Training only. What is signed is the content of this digest.",
        "",
    ]
    out += _table(("", ""), page.ident)
    for title, head, rows in _first(page):
        out += ["", f"## {title}", "", *_table(head, rows)]
    out += ["", "## Rules and what the checker says", "", VERDICTS, ""]
    out += _table(("rule", "in words", "verdict"), page.rules)
    out += ["", "## Every number and its source", ""]
    out += _table(("number", "value", "source (how it was seen)"), [(n.what, n.value, _cited(n)) for n in page.numbers])
    out += ["", "## Named conditions", ""]
    out += _table(("name", "holds when"), page.conditions)
    out += ["", "## Every text in every language", ""]
    out += _table(("where", *page.languages), [(where, *texts) for where, texts in page.texts])
    out += ["", "## Sources", ""]
    out += _table(("name", "title", "seen", "checked"), page.sources)
    if page.history:
        out += ["", "## What was signed and taken back before", "", *_table(ACTS, page.history)]
    out += ["", "## Signatures", ""]
    out += [f"{name}: {'_' * 40}\n" for name in page.signatures]
    return "\n".join(out)


def _cited(number: Number) -> str:
    return ", ".join(f"{name} ({grade})" for name, grade in number.sources) or "NO SOURCE"


def _md(text: str) -> str:
    """Text in a Markdown cell: no markup, no HTML, no new column."""
    return "".join(f"\\{sign}" if sign in "\\`*_{}[]<>#|!~&" else sign for sign in one_line(text))


def _table(head: tuple[str, ...], rows: Any) -> list[str]:
    lines = [f"| {' | '.join(head)} |", f"|{'---|' * len(head)}"]
    return lines + [f"| {' | '.join(_md(cell) for cell in row)} |" for row in rows]


# --- as HTML ----------------------------------------------------------------------------------------------------------

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Approval sheet: {{ page.title }}</title>
<style>
body { font: 10pt/1.35 sans-serif; margin: 1.5cm; color: #000; background: #fff }
table { border-collapse: collapse; width: 100%; margin-bottom: 1em }
td, th { border: 1px solid #999; padding: 2pt 5pt; text-align: left; vertical-align: top; overflow-wrap: anywhere }
tr { break-inside: avoid } h2 { break-after: avoid } .loud { font-weight: bold; border: 2px solid #000; padding: 4pt }
.line { border-bottom: 1px solid #000; height: 2.2em; margin-bottom: .6em }
</style></head><body>
<h1>Approval sheet: {{ page.title }}</h1>
<p>Training only. What is signed is the content of this digest.</p>
{% macro rows(head, body) %}<table><tr>{% for cell in head %}<th>{{ cell }}</th>{% endfor %}</tr>
{% for row in body %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>
{% endfor %}</table>{% endmacro %}
{{ rows(("", ""), page.ident) }}
{% for title, head, body in first %}<div{% if title.isupper() %} class="loud"{% endif %}><h2>{{ title }}</h2>
{{ rows(head, body) }}</div>
{% endfor %}<h2>Rules and what the checker says</h2><p>{{ verdicts }}</p>
{{ rows(("rule", "in words", "verdict"), page.rules) }}
<h2>Every number and its source</h2>{{ rows(("number", "value", "source (how it was seen)"), numbers) }}
<h2>Named conditions</h2>{{ rows(("name", "holds when"), page.conditions) }}
<h2>Every text in every language</h2>{{ rows(("where",) + page.languages, texts) }}
<h2>Sources</h2>{{ rows(("name", "title", "seen", "checked"), page.sources) }}
{% if page.history %}<h2>What was signed and taken back before</h2>{{ rows(acts, page.history) }}
{% endif %}<h2>Signatures</h2>{% for name in page.signatures %}<div class="line">{{ name }}</div>
{% endfor %}</body></html>
"""


def as_html(page: Sheet) -> str:
    """The sheet as one HTML file to be printed; every text is escaped, nothing is loaded from elsewhere."""
    from jinja2 import Environment, StrictUndefined

    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(_PAGE)
    return template.render(
        page=page,
        first=_first(page),
        verdicts=VERDICTS,
        acts=ACTS,
        numbers=[(number.what, number.value, _cited(number)) for number in page.numbers],
        texts=[(where, *texts) for where, texts in page.texts],
    )
