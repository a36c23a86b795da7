"""The progress page as one HTML file: no script, nothing loaded from anywhere, every text escaped."""

from __future__ import annotations

from functools import partial

from coach.rehearse.progress import Progress
from coach.rehearse.wording import count, words
from coach.wording import DRAFTS, spoken

_PAGE = """<!doctype html>
<html lang="{{ language }}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{{ w("page:title", title=p.title) }}</title>
<style>
body { font: 1.05rem/1.6 system-ui, sans-serif; letter-spacing: .01em; max-width: 62rem; margin: 2rem auto;
 padding: 0 1rem; color: #14181c; background: #f8f6f0; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.15rem; margin-top: 2rem; }
table { border-collapse: collapse; width: 100%; } th, td { text-align: left; padding: .3rem .6rem .3rem 0;
 border-bottom: 1px solid #c9c6bc; vertical-align: baseline; } td.n, th.n { text-align: right; white-space: nowrap; }
.bar { display: block; min-width: 6rem; height: .8rem; border: 1px solid #14181c; background: #fff; }
.bar i { display: block; height: 100%; background: #1b4876; }
.q { color: #3f4a54; } @media print { body { background: #fff; } }
</style>
</head>
<body>
<h1>{{ w("page:title", title=p.title) }}</h1>
<p class="q">{{ w("chart:head", title=p.title, guidance=p.guidance, day=p.day) }}
 {{ w("chart:counts", sittings=n("chart:sittings", p.drills), met=p.items|length, new=p.new|length, due=p.due_today) }}
{% if draft %} {{ draft }}{% endif %}</p>
<p><strong>{{ w("page:only") }}</strong></p>
{% if p.weakest %}<h2>{{ w("chart:weakest") }}</h2>
<ul>{% for r in p.weakest %}<li>{{ r.name }}: {% if r.sure_and_wrong %}{{ w("chart:sure and wrong") }}{% else %}
{{ w("chart:wrong", lapses=r.lapses, reviews=r.reviews) }}{% endif %}</li>{% endfor %}</ul>{% endif %}
<h2>{{ w("page:chance") }}</h2>
<table><thead><tr><th>{{ w("page:decision") }}</th><th>{{ w("page:kind") }}</th><th>{{ w("page:odds") }}</th>
<th class="n">%</th><th>{{ w("page:word") }}</th><th>{{ w("page:back") }}</th>
<th class="n">{{ w("page:asked") }}</th><th class="n">{{ w("page:wrong") }}</th></tr></thead><tbody>
{% for r in p.items %}<tr><td>{{ r.name }}{% if r.critical %} ({{ w("page:critical") }}){% endif %}</td>
<td>{{ r.family }}</td>
<td><span class="bar" role="img" aria-label="{{ r.percent }} {{ w("page:percent") }}">
<i style="width: {{ r.percent }}%"></i></span></td>
<td class="n">{{ r.percent }}</td><td>{{ w("word:" ~ r.word) }}</td><td>{{ r.due }}</td>
<td class="n">{{ r.reviews }}</td>
<td class="n">{{ r.lapses }}</td></tr>
{% endfor %}</tbody></table>
{% if p.weeks %}<h2>{{ w("chart:weeks") }}</h2>
<table><thead><tr><th>{{ w("page:week") }}</th><th>{{ w("page:share") }}</th><th class="n">%</th>
<th class="n">{{ w("page:asked") }}</th></tr></thead><tbody>
{% for k in p.weeks %}<tr><td>{{ k.week }}</td>
<td><span class="bar" role="img" aria-label="{{ k.percent }} {{ w("page:percent") }}">
<i style="width: {{ k.percent }}%"></i></span></td><td class="n">{{ k.percent }}</td>
<td class="n">{{ k.asked }}</td></tr>
{% endfor %}</tbody></table>{% endif %}
{% if p.tempos %}<h2>{{ w("chart:tempo") }}</h2><ul>{% for t in p.tempos %}<li>{{ t }}</li>{% endfor %}</ul>{% endif %}
{% if p.new %}<h2>{{ w("page:new") }}</h2><p>{{ p.new|join("; ") }}.</p>{% endif %}
</body>
</html>
"""


def page(progress: Progress, language: str = "en") -> str:
    """The page as HTML text."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined)
    spoken_as = spoken(language)
    return environment.from_string(_PAGE).render(
        p=progress,
        language=spoken_as,
        w=partial(words, spoken_as),
        n=partial(count, spoken_as),
        draft=words(spoken_as, "draft") if spoken_as in DRAFTS else "",
    )
