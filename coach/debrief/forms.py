"""The forms of a debrief by name."""

from __future__ import annotations

from collections.abc import Callable

from coach.debrief.csv_form import as_csv
from coach.debrief.html_form import as_html
from coach.debrief.json_form import as_json
from coach.debrief.markdown import as_markdown
from coach.debrief.page import Debrief
from coach.debrief.text import as_text
from coach.debrief.xapi_form import as_xapi

FORMS: dict[str, Callable[[Debrief], str]] = {
    "text": as_text,
    "markdown": as_markdown,
    "json": as_json,
    "csv": as_csv,
    "html": as_html,
    "xapi": as_xapi,
}
"""What ``kneeside debrief --as`` offers; each gives a whole document with its last newline."""
