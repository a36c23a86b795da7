"""The approval sheet: everything that an approver signs for, to be printed and read with a pen in the hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from coach.check.approval.numbers import Number, numbers_of
from coach.check.proof.verdicts import RuleVerdict
from coach.protocol.approval import approval_digest, approval_state
from coach.protocol.model import Protocol
from coach.protocol.reading import digest
from coach.protocol.wordings import languages, wordings
from coach.text import one_line


@dataclass(frozen=True, slots=True)
class Sheet:
    """The sheet's contents, each text on one line and cleaned."""

    title: str
    ident: tuple[tuple[str, str], ...]
    relaxed: tuple[tuple[str, str, str], ...]
    numbers: tuple[Number, ...]
    conditions: tuple[tuple[str, str], ...]
    languages: tuple[str, ...]
    texts: tuple[tuple[str, tuple[str, ...]], ...]
    rules: tuple[tuple[str, str, str], ...]
    sources: tuple[tuple[str, str, str, str], ...]
    signatures: tuple[str, ...] = ("Author", "Approver (role)", "In force from", "Review due", "Date and signature")


def sheet(
    protocol: Protocol, text: str, verdicts: Mapping[str, RuleVerdict], today: date, pads_text: str = ""
) -> Sheet:
    """The sheet of a protocol; ``text`` is the whole protocol in force, ``pads_text`` the file of the pads rules that
    it names. A rule without a verdict is "not checked"."""
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
        tuple((name, one_line(relax.reason), _rule_words(relax.was)) for name, relax in protocol.relaxed.items()),
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
    )


def _words(wording: Mapping[str, str]) -> str:
    return wording.get("en") or next(iter(wording.values()), "")


def _rule_words(rule: Mapping[str, Any]) -> str:
    say = rule.get("say", "")
    return one_line(say if isinstance(say, str) else _words(say))


def _verdict(verdict: RuleVerdict | None) -> str:
    if verdict is None:
        return "not checked"
    return f"{verdict.taught.kind} as taught, {verdict.noticed.kind} as noticed"


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
    if page.relaxed:
        out += ["", "## RELAXED RULES of the base", ""]
        out += _table(("rule", "reason", "the rule says"), page.relaxed)
    out += ["", "## Rules and what the checker says", ""]
    out += _table(("rule", "in words", "verdict"), page.rules)
    out += ["", "## Every number and its source", ""]
    out += _table(("number", "value", "source (how it was seen)"), [(n.what, n.value, _cited(n)) for n in page.numbers])
    out += ["", "## Named conditions", ""]
    out += _table(("name", "holds when"), page.conditions)
    out += ["", "## Every text in every language", ""]
    out += _table(("where", *page.languages), [(where, *texts) for where, texts in page.texts])
    out += ["", "## Sources", ""]
    out += _table(("name", "title", "seen", "checked"), page.sources)
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
{% if page.relaxed %}<div class="loud"><h2>RELAXED RULES of the base</h2>
{{ rows(("rule", "reason", "the rule says"), page.relaxed) }}</div>{% endif %}
<h2>Rules and what the checker says</h2>{{ rows(("rule", "in words", "verdict"), page.rules) }}
<h2>Every number and its source</h2>{{ rows(("number", "value", "source (how it was seen)"), numbers) }}
<h2>Named conditions</h2>{{ rows(("name", "holds when"), page.conditions) }}
<h2>Every text in every language</h2>{{ rows(("where",) + page.languages, texts) }}
<h2>Sources</h2>{{ rows(("name", "title", "seen", "checked"), page.sources) }}
<h2>Signatures</h2>{% for name in page.signatures %}<div class="line">{{ name }}</div>
{% endfor %}</body></html>
"""


def as_html(page: Sheet) -> str:
    """The sheet as one HTML file to be printed; every text is escaped, nothing is loaded from elsewhere."""
    from jinja2 import Environment, StrictUndefined

    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(_PAGE)
    return template.render(
        page=page,
        numbers=[(number.what, number.value, _cited(number)) for number in page.numbers],
        texts=[(where, *texts) for where, texts in page.texts],
    )
