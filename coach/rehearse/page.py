"""The progress page as one HTML file: no script, nothing loaded from anywhere, every text escaped."""

from __future__ import annotations

from coach.rehearse.progress import Progress

_PAGE = """<!doctype html>
<html lang="{{ language }}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Rehearsal: {{ p.title }}</title>
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
<h1>Rehearsal: {{ p.title }}</h1>
<p class="q">After {{ p.guidance }}, not endorsed. {{ p.day }}. {{ p.drills }}
 sitting{{ '' if p.drills == 1 else 's' }}, {{ p.items|length }}
 decisions met, {{ p.new|length }} not yet, {{ p.due_today }} due.</p>
<p><strong>Training only, and decisions only: this
 says nothing of what the hands can do. It is no certificate.</strong></p>
{% if p.weakest %}<h2>Weakest</h2>
<ul>{% for r in p.weakest %}<li>{{ r.name }}: {% if r.sure_and_wrong %}sure and wrong{% else %}wrong {{ r.lapses }} of
 {{ r.reviews }}{% endif %}</li>{% endfor %}</ul>{% endif %}
<h2>Chance to know it in a week</h2>
<table><thead><tr><th>Decision</th><th>Kind</th><th>Chance</th><th class="n">%</th><th>Word</th><th>Comes back</th>
<th class="n">Asked</th><th class="n">Wrong</th></tr></thead><tbody>
{% for r in p.items %}<tr><td>{{ r.name }}{% if r.critical %} (critical){% endif %}</td><td>{{ r.family }}</td>
<td><span class="bar" role="img" aria-label="{{ r.percent }} percent">
<i style="width: {{ r.percent }}%"></i></span></td>
<td class="n">{{ r.percent }}</td><td>{{ r.word }}</td><td>{{ r.due }}</td><td class="n">{{ r.reviews }}</td>
<td class="n">{{ r.lapses }}</td></tr>
{% endfor %}</tbody></table>
{% if p.weeks %}<h2>Right at the first try, by week</h2>
<table><thead><tr><th>Week</th><th>Share</th><th class="n">%</th><th class="n">Asked</th></tr></thead><tbody>
{% for w in p.weeks %}<tr><td>{{ w.week }}</td><td><span class="bar" role="img" aria-label="{{ w.percent }} percent">
<i style="width: {{ w.percent }}%"></i></span></td><td class="n">{{ w.percent }}</td>
<td class="n">{{ w.asked }}</td></tr>
{% endfor %}</tbody></table>{% endif %}
{% if p.tempos %}<h2>Own tempo</h2><ul>{% for t in p.tempos %}<li>{{ t }}</li>{% endfor %}</ul>{% endif %}
{% if p.new %}<h2>Not met yet</h2><p>{{ p.new|join("; ") }}.</p>{% endif %}
</body>
</html>
"""


def page(progress: Progress, language: str = "en") -> str:
    """The page as HTML text."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined)
    return environment.from_string(_PAGE).render(p=progress, language=language)
