"""The whole drill screen as lines, from one view and the size of the window. Pure: no terminal, no clock, no state.

Places stay where they are while a drill runs, so that an eye finds them without looking for them.
"""

from __future__ import annotations

from dataclasses import dataclass

from coach.drill.view import InjectView, View
from coach.settings import Room
from screens.card import card_rows
from screens.help import help_rows
from screens.keyboard import Caps
from screens.widgets.band import Band, band_of, paint, seconds
from screens.widgets.digits import big_width
from screens.widgets.foot import caps_rows, drill_foot, rest_keys, stop_keys, void_words
from screens.widgets.ink import Glyphs, Line, clock, countdown, cut, ends, fill, plain, width_of, wrap
from screens.widgets.tape import tape_rows

LABEL = 8
"""Cells of the words at the left edge."""

MARGIN = 1
"""Cells left free at either side of everything but the band."""

BAR_CELL_MS = 3_000
"""Milliseconds that one cell of the period's bar stands for."""

COUNTED = {
    "each": "each push tapped",
    "probe": "pushes probed",
    "marks": "on and off marked, no rate",
    "counter": "a second person taps",
}

PLACES = {
    "right-and-left": "below right collarbone, left ribs",
    "front-and-back": "middle of chest, middle of back",
}

CALL_TAKER = (
    "Where are you, exactly? What can you see?",
    "Do they answer? Is the breathing ordinary?",
    "Put me on loudspeaker and begin; I stay on.",
    "Is anybody with you who can fetch a unit?",
)
"""Four lines for the instructor who plays the call-taker: our own, asked in any order."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What stands beside the view: the keys in force, the room card, the story, the characters to draw with."""

    caps: Caps
    marks: Glyphs
    room: Room
    story: str = ""
    help: bool = False
    audience: bool = False


def screen_rows(view: View, scene: Scene, width: int, height: int) -> list[Line]:
    """``height`` lines, each exactly ``width`` cells wide."""
    if width <= 0 or height <= 0:
        return []
    if view.phase == "card":
        made = card_rows(scene.room, width, height, scene.caps, scene.marks)
    elif width < 34 or height < 12:
        made = _tiny(view, width, height)
    elif scene.audience:
        made = _audience(view, scene, width, height)
    elif width < 72 or height < 20:
        made = _small(view, scene, width, height)
    else:
        made = _usual(view, scene, width, height)
    lines = [fill(_ours(line, scene), width, more=scene.marks.more) for line in made[:height]]
    return lines + [[(" " * width, "")] for _ in range(height - len(lines))]


def _ours(line: Line, scene: Scene) -> Line:
    """In an ASCII terminal nothing else may be sent, whatever a text says."""
    if scene.marks.full != "#":
        return line
    return [(plain(text, True), role) for text, role in line]


# ------------------------------------------------------------------------------------------------------- the parts


TITLE = 12
"""Columns that the title keeps before the approval goes to the line below it."""


def _head(view: View, width: int) -> list[Line]:
    """What this is, how it is counted, who approved it; the time since go and the shocks."""
    approved = view.approval in ("approved", "in force", "")
    approval: Line = [] if approved else [("  ", ""), (f" {plain(view.approval)} ", "flag")]
    # Whose guidance it follows and whether anybody approved it are never what is cut off.
    rest: Line = [(f" · {plain(view.guidance)}", ""), *approval]
    lower: Line = []
    if approval and width_of(rest) + min(width_of([(plain(view.title), "")]), TITLE) > width - 18:
        rest, lower = rest[:1], approval
    title = [*cut([(plain(view.title), "strong")], width - 18 - width_of(rest)), *rest]
    who = f"learner {plain(view.learner)} · " if view.learner and view.learner != "none" else ""
    what = f"{who}{view.mode} · {COUNTED.get(view.counting, view.counting)}"
    if view.unit == "laptop":
        what += " · unit played here"
    shocks = "1 shock" if view.shocks == 1 else f"{view.shocks} shocks"
    right: Line = [] if view.mode == "test" else [(shocks, "quiet")]
    second = cut([(what, "quiet")], width - width_of(lower) - width_of(right) - 3)
    return [
        ends(title, [(clock(view.t), "strong"), (" since go", "strong")], width),
        ends([*second, *lower], right, width),
    ]


def _notice(view: View, width: int) -> Line:
    """The one line that must be read, in a box across the screen; empty where there is nothing to say."""
    word = plain(view.notice)
    if not view.saved and not word:
        word = "NOT SAVED"
    if not view.focus and not word:
        word = "The keyboard is elsewhere: keys are not seen here."
    return fill([(f" {word}", "notice")], width, "notice") if word else []


def _row(name: str, line: Line) -> Line:
    return [(name.ljust(LABEL), "quiet"), *line]


def _next(view: View, scene: Scene) -> Line:
    cap = scene.caps.cap("next")
    if not cap or view.phase != "running":
        return []
    return [(f" {cap} ", "cap"), (f" {plain(view.next_label) or 'nothing now'}", "")]


def _now(view: View, scene: Scene, width: int) -> Line:
    """The step, and what the next key means there."""
    means = _next(view, scene)
    step: Line = [] if view.mode == "test" else [(plain(view.now), "strong")]
    if view.armed and view.mode != "test":
        step += [("  ", ""), (" armed ", "flag")]
    return ends(_row("now", step), means, width) if step else _row("next", means)


def _period(view: View, scene: Scene, width: int) -> Line:
    if view.period_ms is None:
        line: Line = [("not running", "quiet")]
    else:
        text = f"{countdown(view.period_ms)} to the check"
        room = width - LABEL - len(text) - 12
        cells = max(0, min(-(-view.period_ms // BAR_CELL_MS), room))
        line = [
            (scene.marks.bar * cells, "slate"),
            (scene.marks.rest * (min(120_000 // BAR_CELL_MS, room) - cells), "faint"),
            (f" {text}", ""),
        ]
        if view.period_warning:
            line = [*line[:2], (" ", ""), (f" {text}, soon ", "flag")]
    if view.swap_due:
        line += [("  ", ""), (" swap due ", "flag")]
    return _row("period", line)


def _pads(view: View) -> Line:
    if view.pads is None:
        return _row("pads", [("not known yet", "quiet")])
    place = PLACES.get(view.pads.placement, view.pads.placement)
    rest = " · ".join(plain(text) for text in (place, view.pads.why) if text)
    return _row("pads", [(plain(view.pads.size), "strong"), (f"   {rest}", "quiet")])


def _look(view: View) -> Line:
    line: Line = [(plain(view.look), "")]
    if view.concern_open:
        line += [("  ", ""), (" concern open ", "flag")]
    return _row("look", line)


def _said(view: View, width: int) -> tuple[list[Line], list[Line]]:
    """The cue and what a unit played here says, each on one line."""
    room = width - LABEL
    cue = wrap(plain(view.cue), room, 1) if view.mode != "test" else []
    voice = wrap(plain(view.voice), room, 1)
    return (
        [_row("" if row else "cue", [(text, "cue")]) for row, text in enumerate(cue)],
        [_row("" if row else "unit", [(text, "voice")]) for row, text in enumerate(voice)],
    )


def _last(view: View) -> Line:
    return _row("last", [(plain(view.last_key), "")]) if view.last_key else []


# ------------------------------------------------------------------------------------------------------- the sizes


def _usual(view: View, scene: Scene, width: int, height: int) -> list[Line]:
    """72 columns and 20 rows or more: everything that a drill needs; the rest of a tall window holds the instructor's
    own page."""
    inner = width - 2 * MARGIN
    head = _inset(_head(view, inner), inner)
    foot = _inset(drill_foot(view, scene.caps, inner), inner)
    if scene.help:
        return [*head, *_inset(help_rows(scene.caps, inner, height - 3, scene.marks), inner), foot[0]]
    tall = height >= 30
    band = paint(
        band_of(view, scene.caps), width, 14 if height >= 36 and width >= 100 else 9, scene.marks, roomy=height >= 24
    )
    notice = _notice(view, width)
    if notice:
        band[-1] = notice
    room = height - len(head) - len(band) - len(foot)
    body = _test_body(view, scene, inner) if view.mode == "test" else _body(view, scene, inner, room)
    if tall and view.mode != "test":
        body += [[], *_desk(view, scene, inner, room - len(body) - 1)]
    body = body[:room] + [[] for _ in range(room - len(body))]
    return [*head, *band, *_inset(body, inner), *foot]


def _inset(lines: list[Line], inner: int) -> list[Line]:
    return [[(" " * MARGIN, ""), *cut(line, inner)] for line in lines]


def _body(view: View, scene: Scene, width: int, room: int) -> list[Line]:
    """What stands below the band. Where rows are few, the legend of the tape goes first, then its minutes."""
    cue, voice = _said(view, width)
    plan = _plan(view, width)
    tape = tape_rows(view.tape, view.e // 1000 + 1, width - LABEL, scene.marks)
    lines = [_now(view, scene, width), (cue or [[]])[0], (voice or [[]])[0]]
    lines += plan or [_period(view, scene, width), _pads(view), _look(view)]
    lines += [_row("tape" if row == 0 else "", line) for row, line in enumerate(tape[: max(1, room - 7)])]
    return [*lines, _last(view)]


def _test_body(view: View, scene: Scene, width: int) -> list[Line]:
    """In a test: what J means, the last key, what a unit played here says; no more unless the plan is asked for."""
    _, voice = _said(view, width)
    lines = [_now(view, scene, width), [], (voice or [[]])[0], [], _last(view)]
    if view.plan:
        lines += [[], *_plan(view, width)[:1]]
        lines += [_row("" if row else "injects", _inject(inject)) for row, inject in enumerate(view.injects)]
    return lines


def _plan(view: View, width: int) -> list[Line]:
    """Three lines with the rhythm plan, for the three seconds after it was asked for; else none."""
    if not view.plan:
        return []
    words = wrap(plain(view.plan), width - LABEL, 3)
    return [_row("" if row else "plan", [(text, "strong")]) for row, text in enumerate([*words, "", ""][:3])]


def _inject(inject: InjectView) -> Line:
    """One inject at hand: its digit, what it is, how it stands."""
    line: Line = [
        (f" {inject.digit} ", "cap"),
        (f" {plain(inject.title)}", "quiet" if inject.status in ("used up", "not here") else ""),
    ]
    status = inject.status
    if status in ("open", "late"):
        line += [("  ", ""), (f" {status}: {inject.digit} = answered ", "flag")]
    elif status != "at hand":
        line.append((f"  {status}", "quiet"))
    elif inject.due_ms is not None:
        line.append((f"  by itself in {countdown(inject.due_ms)}", "quiet"))
    return line


def _desk(view: View, scene: Scene, width: int, room: int) -> list[Line]:
    """The instructor's own page below the drill: the story, the injects at hand, lines to play."""
    if room < 3:
        return []
    two = width >= 110
    size = (width - 4) // 2 if two else width
    left: list[Line] = []
    story = plain(scene.story)
    if story:
        left += [
            _row("story" if row == 0 else "", [(text, "")]) for row, text in enumerate(wrap(story, size - LABEL, 6))
        ]
        left.append([])
    calls: list[Line] = [
        _row("call" if row == 0 else "", [(f"“{text}”", "quiet")]) for row, text in enumerate(CALL_TAKER)
    ]
    injects = _injects(view.injects, size, room, two)
    if not two:
        # Injects before lines to play: a digit must never be hunted for.
        stacked = [*left, *injects] if len(left) + len(injects) <= room else [*injects, [], *left]
        if len(stacked) + 5 <= room:
            stacked += [[], *calls]
        return stacked[:room]
    left += calls
    return [
        [*fill(left[row] if row < len(left) else [], size), ("    ", ""), *(injects[row] if row < len(injects) else [])]
        for row in range(min(room, max(len(left), len(injects))))
    ]


def _injects(injects: tuple[InjectView, ...], width: int, room: int, plays: bool) -> list[Line]:
    """The injects at hand. What to act out stands below the open ones, below all where there is room; where there is
    too little, those that are over go first."""
    if len(injects) > room:
        injects = tuple(inject for inject in injects if inject.status not in ("answered", "used up", "not here"))
    lines: list[Line] = []
    left = room - len(injects)
    for inject in injects:
        lines.append(_row("" if lines else "injects", _inject(inject)))
        begun = inject.status in ("open", "late")
        if inject.play and left > 0 and (begun or plays):
            role = "strong" if begun else "quiet"
            texts = wrap(plain(inject.play), width - LABEL - 4, min(2, left))
            lines += [_row("", [("    ", ""), (text, role)]) for text in texts]
            left -= len(texts)
    return lines


def _small(view: View, scene: Scene, width: int, height: int) -> list[Line]:
    """A small window: clock, step, hands off, what would be voided, and how to stop."""
    band = band_of(view, scene.caps)
    shocks = "" if view.mode == "test" or width < 40 else f"  {view.shocks} sh"
    head = ends([(plain(view.title), "strong")], [(shocks, "quiet"), (f"  {clock(view.t)}", "strong")], width)
    foot = [void_words(view, scene.caps, True), stop_keys(scene.caps, width)]
    if view.phase != "running":
        foot = caps_rows(rest_keys(view, scene.caps), width, 2)
    if scene.help:
        return [head, *help_rows(scene.caps, width, height - 2, scene.marks), foot[1]]
    beside = big_width(band.big) + 24 <= width
    figure = Band(band.kind, band.big, band.words if beside else (), band.done, band.of, band.chip if beside else -1)
    painted = paint(figure, width, 9, scene.marks)[1:-1]
    if not beside:
        painted = painted[1:6] if height < 15 else painted[:6]
        word = f"  {band.words[0]}" + (f" · {band.words[1]}" if len(band.words) > 1 else "")
        painted.append(fill([(word, f"{band.kind}-strong")], width, band.kind))
    lines = [head, *painted]
    lines.append(_notice(view, width))
    body: list[Line] = [[(plain(view.now), "strong")]] if view.mode != "test" else []
    body.append(_next(view, scene))
    if view.voice:
        body.append([(plain(view.voice), "voice")])
    elif view.plan:
        body.append([(plain(view.plan), "strong")])
    elif view.mode != "test":
        body.append([(plain(view.cue), "cue")] if view.cue else [(plain(view.last_key), "")])
    else:
        body.append([(plain(view.last_key), "")])
    room = height - len(lines) - len(foot)
    body = body[:room] + [[] for _ in range(room - len(body))]
    return [*lines, *body, *foot]


def _tiny(view: View, width: int, height: int) -> list[Line]:
    """Too small for a drill: the clock first, hands off, and that the keys still work."""
    state = {"paused": "PAUSED", "stopped": "STOPPED", "ready": "ready"}.get(view.phase, "")
    first: Line = [(clock(view.t), "strong")]
    if state:
        first += [(" ", ""), (state, "halt-strong")]
    elif view.off_ms is not None and view.mode != "test":
        first += [(" off ", ""), (f"{seconds(view.off_ms)} s", "loud" if view.loud else "off")]
    elif view.hands == "on" and view.mode != "test":
        first += [(f" on {view.pushes}" if view.pushes else " on", "slate")]
    words = wrap("Enlarge the window; keys still work.", width, max(1, height - 1))
    return [cut(first, width), *[[(text, "quiet")] for text in words]]


def _audience(view: View, scene: Scene, width: int, height: int) -> list[Line]:
    """For a class that looks on: the clock, and nothing that helps or judges."""
    band = Band("clock", clock(view.t), ())
    if view.phase in ("paused", "stopped", "ready"):
        band = Band("clock", {"paused": "PAUSE", "stopped": "STOP", "ready": "READY"}[view.phase], ())
    size = 14 if width >= 100 and height >= 16 else 9
    painted = paint(band, width, size, scene.marks)
    top = max(0, (height - size) // 2)
    return [*([[] for _ in range(top)]), *painted]
