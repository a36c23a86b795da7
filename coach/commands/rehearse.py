"""``kneeside rehearse``: the whole rehearsal in lines of text, for screen readers and terminals that cannot draw."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from coach.commands.words import FINE, Refused, as_json, complain, remark, say, write_text

if TYPE_CHECKING:
    from coach.clock import Clock
    from coach.rehearse.history import History
    from coach.rehearse.matter import Matter
    from coach.rehearse.sitting import Sitting
    from coach.settings import Settings

Part = Literal["decisions", "pads", "tempo", "progress"]

HANDS = "This does not train your hands: depth, release and breaths need a manikin and a person who looks."
CAUTION = "Training only. In a real collapse: put it away, call, push, fetch the unit."
KEPT = "Private: what you answer stays in {path}, readable by you alone."
SURE = {"s": "sure", "t": "think", "g": "guess"}
ASK_SURE = "How sure will you be? s sure, t think so, g guess, ? I don't know, q leave: "

Ask = Callable[[str], "str | None"]


def ask_line(prompt: str) -> str | None:
    """One typed line without its blanks; None at the end of the input."""
    sys.stdout.write(prompt)
    sys.stdout.flush()
    line = sys.stdin.readline()
    if not line:
        sys.stdout.write("\n")
        return None
    return line.strip()


def load(protocol: str, settings: Settings) -> tuple[Matter, History]:
    """What is rehearsed and what was. Refuses where the history can be neither read nor set aside."""
    from coach.rehearse.history import Unkept, history_path, read_history
    from coach.rehearse.matter import load_matter
    from coach.settings import home_folder

    try:
        history = read_history(history_path(home_folder(settings)))
    except Unkept as error:
        raise Refused(str(error), todo="Move it away or make it readable.") from error
    return load_matter(protocol, settings.guidance), history


def load_for_screen(protocol: str) -> None:
    """Read what the screen will need once, for what is wrong with it to be told in lines."""
    from coach.settings import read_settings

    load(protocol, read_settings())


def rehearse(
    *,
    protocol: str,
    part: Part,
    plain: bool,
    typed: bool,
    limits: bool,
    seed: int | None,
    language: str,
    slip: Path | None,
    page: Path | None,
    most: int | None,
) -> int:
    """The rehearsal, on the screen where one can be drawn, else in lines."""
    from coach.clock import SystemClock
    from coach.rehearse.days import today_of
    from coach.settings import read_settings

    settings, clock = read_settings(), SystemClock()
    language = language or settings.language
    if slip is not None or page is not None or part == "progress":
        matter, history = load(protocol, settings)
        return write_out(matter, history, today_of(clock), language, slip, page)
    if not plain:
        from coach.commands import doors

        if not doors.screenless():
            return doors.rehearse(protocol, part)
        remark("There is no terminal here to draw in, so the rehearsal is told in lines.")
    matter, history = load(protocol, settings)
    entry(matter, history)
    if part == "tempo":
        return tempo(matter, history, clock, settings.sigma_ms, ask_line)
    from coach.rehearse.sitting import Sitting

    sitting = Sitting(
        matter,
        history,
        day=today_of(clock),
        seed=seed,
        language=language,
        typed=typed,
        limits=limits,
        only_pads=part == "pads",
        most=most,
    )
    return sit(sitting, clock, ask_line)


def entry(matter: Matter, history: History) -> None:
    """What is said on entry, every time."""
    from coach.drill.setup import words_of

    protocol = matter.protocol
    say("Rehearsing alone: decisions, no manikin.")
    say(HANDS)
    say(CAUTION)
    say(f"{words_of(protocol.title, 'en')}, after {protocol.guidance}, not endorsed; {protocol.approval.status}.")
    say(KEPT.format(path=history.path))


def sit(sitting: Sitting, clock: Clock, ask: Ask) -> int:
    """Play one sitting with somebody who types lines."""
    sitting.begin(clock.mono_ms())
    if sitting.planned:
        limits = "with limits" if sitting.limits else "no time limits"
        say(f"{sitting.planned} decisions, {limits}. Seed {sitting.seed}.")
        say("h gives a hint, ? is “I don't know”, q leaves.")
    shown = None
    while sitting.phase != "over":
        if sitting.told is not None and sitting.told is not shown:
            shown = sitting.told
            say()
            for line in shown.lines:
                say(line)
        if sitting.phase == "told":
            sitting.go_on(clock.mono_ms())
            continue
        if not _one_question(sitting, clock, ask):
            say("Left early: what was answered is kept.")
            break
    _closing(sitting)
    return FINE


def _one_question(sitting: Sitting, clock: Clock, ask: Ask) -> bool:
    """Ask, and pass the answer on; False where the person leaves."""
    question = sitting.question
    assert question is not None, "a phase that asks has a question"
    say()
    head = "Once more" if question.again else f"{question.number} of {question.of}"
    say(f"{head}. {question.story}".rstrip() if question.story else f"{head}.")
    if question.now:
        say(question.now)
    if question.ask:
        say(question.ask)
    if sitting.phase == "handover":
        return _handover(sitting, clock, ask)
    if sitting.phase == "sure":
        while sitting.phase == "sure":
            said = ask(ASK_SURE)
            if said is None or said.casefold() == "q":
                return False
            word = said.casefold()[:1]
            if word == "?":
                sitting.dont_know(clock.mono_ms())
                return True
            if word in SURE:
                sitting.sure(SURE[word])  # type: ignore[arg-type]
            else:
                say("Type s, t, g, ? or q.")
    return _answer(sitting, clock, ask)


def _answer(sitting: Sitting, clock: Clock, ask: Ask) -> bool:
    while sitting.phase == "answer":
        question = sitting.question
        assert question is not None, "there is a question to answer"
        if not question.typed:
            for number, (_, words) in enumerate(question.options, 1):
                say(f"  {number} {words}")
        limit = f" ({question.limit_ms // 1_000} s with reading)" if question.limit_ms is not None else ""
        said = ask(f"Type what you do{limit}: " if question.typed else f"Number{limit}: ")
        at = clock.mono_ms()
        if said is None or said.casefold() == "q":
            return False
        if said == "?":
            sitting.dont_know(at)
        elif said.casefold() == "h":
            sitting.hint()
            if sitting.question is question:
                say("There is no hint now.")
        elif not question.typed:
            if said.isascii() and said.isdigit() and 1 <= int(said) <= len(question.options):
                sitting.choose(int(said) - 1, at)
            else:
                say(f"Type a number from 1 to {len(question.options)}.")
        else:
            _typed(sitting, said, at, ask)
    return True


def _typed(sitting: Sitting, said: str, at: int, ask: Ask) -> None:
    """A verb: understood, asked back where it could be several, or not understood at no cost."""
    from coach.rehearse.verbs import label

    meant = sitting.understood(said).actions
    if not meant:
        say("That was not understood; it costs nothing. A verb such as push, phone, switch on, send back.")
        return
    if len(meant) > 1:
        for number, action in enumerate(meant, 1):
            say(f"  {number} {label(action, sitting.matter.protocol, sitting.language)}")
        which = ask("Which of them? ")
        if which is None or not (which.isascii() and which.isdigit() and 1 <= int(which) <= len(meant)):
            return
        meant = (meant[int(which) - 1],)
    sitting.answer(meant[0], at)


def _handover(sitting: Sitting, clock: Clock, ask: Ask) -> bool:
    """Free speech, typed, or the numbers of what was spoken aloud."""
    from coach.drill.setup import words_of
    from coach.measure.handover import ITEMS
    from coach.rehearse.handover import PARTS, heard, ticked

    say("Say it to the crew. Type it, or say it aloud and type the numbers of what you said:")
    for number, item in enumerate(ITEMS, 1):
        say(f"  {number} {words_of(PARTS[item], sitting.language)}")
    said = ask("Handover: ")
    if said is None or said.casefold() == "q":
        return False
    marks = ticked(said) if said else ()
    if marks is None:
        marks = heard(said)
        say(f"Heard: {', '.join(words_of(PARTS[item], sitting.language) for item in marks) or 'nothing of the eight'}.")
        more = ask("Numbers of what was said and not heard (Enter for none): ")
        extra = ticked(more) if more else ()
        marks = (*marks, *(extra or ()))
    sitting.handed_over(marks, clock.mono_ms())
    return True


def _closing(sitting: Sitting) -> None:
    """What waited until the end, and when things come back."""
    from coach.rehearse.asking import with_source
    from coach.rehearse.progress import due_words

    if sitting.told is not None and sitting.told.verdict == "over":
        for line in sitting.told.lines:
            say(line)
    if not sitting.given:
        return
    right = sum(one.right for one in sitting.given)
    say()
    say(f"{right} of {len(sitting.given)} right at the first try.")
    for one in sitting.given:
        mark = "right" if one.right else "dangerous" if one.worth == "danger" else "wrong"
        sure = ", and you were sure: it comes first next time" if not one.right and one.sure == "sure" else ""
        say(f"  {mark}: {one.title}{sure}")
        if not one.first or not one.right:
            say(f"    {with_source(one.why, one.source)}")
    if sitting.recorded:
        dues = sorted(sitting.history.standings[one.item].due for one in sitting.given)
        say(f"When: {due_words(dues[0], dues[-1])}.")
    if sitting.trouble:
        complain(sitting.trouble)
    say("No certificate: kneeside rehearse --part progress shows how you stand, --slip FILE writes it down.")


def tempo(matter: Matter, history: History, clock: Clock, sigma_ms: float, ask: Ask) -> int:
    """Thirty taps with no beat, what was counted, then a beat to see; in a terminal that gives single keys."""
    from coach.commands.taps import take_taps, why_not
    from coach.rehearse.days import today_of
    from coach.rehearse.history import TempoTaken, Unkept
    from coach.rehearse.tempo import PACES, TAPS, band_of, count_words, tempo_of, words_of_tempo

    why = why_not()
    if why:
        say(why)
        return FINE
    day = today_of(clock)
    for pace in (0, -1):
        if pace == 0:
            said = ask("Tap any key as you would push, about thirty times, then stop. No beat is given. Enter begins: ")
        else:
            said = ask(f"Now with a beat to see. Pace {', '.join(map(str, PACES))} (q leaves): ")
            paces = {str(one): one for one in PACES} | {"": 110}
            pace = paces.get(said or "", -1) if said is not None else -1
        if said is None or said.casefold() == "q" or pace < 0:
            return FINE
        stamps = take_taps(TAPS + 20, clock.mono_ms, pace)
        found = tempo_of(stamps, sigma_ms, band_of(matter.protocol))
        if found is None:
            say("Under six taps make no rate.")
            return FINE
        counted = ask("How many did you make? ")
        count = int(counted) if counted and counted.isascii() and counted.isdigit() and len(counted) < 4 else 0
        say(words_of_tempo(found))
        say(count_words(count, found.taps))
        try:
            history.add_tempo(TempoTaken(day, found.rate, found.plus_minus, found.taps, count, pace, history.drills))
        except Unkept as error:
            complain(str(error))
    say("A keyboard shows the pace of your mind, not the depth of your hands.")
    return FINE


def write_out(matter: Matter, history: History, day: date, language: str, slip: Path | None, page: Path | None) -> int:
    """The chart on the terminal; the slip and the page where they are asked for."""
    from coach.rehearse.page import page as as_page
    from coach.rehearse.progress import chart, progress_of
    from coach.rehearse.slip import slip_json, slip_text

    if history.words:
        remark(history.words)
    if page is not None:
        write_text(page, as_page(progress_of(matter, history, day, language), language))
        say(str(page))
    if slip is not None:
        json = slip.suffix.casefold() == ".json"
        text = as_json(slip_json(matter, history, day, language)) + "\n" if json else ""
        write_text(slip, text or slip_text(matter, history, day, language))
        say(str(slip))
    if slip is None and page is None:
        for line in chart(progress_of(matter, history, day, language)):
            say(line)
    return FINE
