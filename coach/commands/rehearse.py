"""``kneeside rehearse``: the whole rehearsal in lines of text, for screen readers and terminals that cannot draw."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from coach.commands.words import FINE, Refused, as_json, complain, remark, say, write_text

if TYPE_CHECKING:
    from coach.clock import Clock
    from coach.rehearse.history import History
    from coach.rehearse.matter import Matter
    from coach.rehearse.sitting import Sitting
    from coach.rehearse.wishes import Wishes
    from coach.settings import Settings

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


def load(wishes: Wishes, settings: Settings) -> tuple[Matter, History]:
    """What is rehearsed and what was. Refuses where the history can be neither read nor set aside."""
    from coach.rehearse.history import Unkept, history_path, read_history
    from coach.rehearse.matter import load_matter
    from coach.settings import home_folder

    try:
        history = read_history(history_path(home_folder(settings)))
    except Unkept as error:
        raise Refused(str(error), todo="Move it away or make it readable.") from error
    return load_matter(wishes.protocol, settings.guidance, sensitive=wishes.sensitive), history


def load_for_screen(wishes: Wishes) -> None:
    """Read what the screen will need once, for what is wrong with it to be told in lines."""
    from coach.settings import read_settings

    load(wishes, read_settings())


def rehearse(wishes: Wishes, *, plain: bool, slip: Path | None, page: Path | None) -> int:
    """The rehearsal, on the screen where one can be drawn, else in lines."""
    from coach.clock import SystemClock
    from coach.rehearse.days import today_of
    from coach.rehearse.wording import words
    from coach.settings import read_settings
    from coach.wording import spoken

    settings, clock = read_settings(), SystemClock()
    language = spoken(wishes.language or settings.language)
    if slip is not None or page is not None or wishes.part == "progress":
        matter, history = load(wishes, settings)
        return write_out(matter, history, today_of(clock), language, slip, page)
    if not plain:
        from coach.commands import doors

        if not doors.screenless():
            return doors.rehearse(wishes)
        remark(words(language, "lines"))
    matter, history = load(wishes, settings)
    entry(matter, history, today_of(clock), language)
    if wishes.part == "tempo":
        return tempo(matter, history, clock, settings.sigma_ms, ask_line, language)
    from coach.rehearse.sitting import Sitting

    sitting = Sitting(
        matter,
        history,
        day=today_of(clock),
        seed=wishes.seed,
        language=language,
        typed=wishes.typed,
        limits=wishes.limits,
        only_pads=wishes.part == "pads",
        most=wishes.most,
    )
    return sit(sitting, clock, ask_line)


def entry(matter: Matter, history: History, day: date, language: str) -> None:
    """What is said on entry, every time."""
    from coach.debrief.wording import approval
    from coach.drill.setup import words_of
    from coach.rehearse.wording import words

    protocol = matter.protocol
    title, status = words_of(protocol.title, language), approval(language, matter.approval(day))
    say(words(language, "alone"))
    say(words(language, "hands"))
    say(words(language, "caution"))
    say(words(language, "after", title=title, guidance=protocol.guidance, state=status) + ".")
    say(words(language, "kept", path=history.path))


def sit(sitting: Sitting, clock: Clock, ask: Ask) -> int:
    """Play one sitting with somebody who types lines."""
    from coach.rehearse.wording import count

    sitting.begin(clock.mono_ms())
    if sitting.planned:
        limits = sitting.say("planned:limits" if sitting.limits else "planned:none")
        say(count(sitting.language, "planned", sitting.planned, limits=limits, seed=sitting.seed))
        say(sitting.say("keys"))
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
            say(sitting.say("left"))
            break
    _closing(sitting)
    return FINE


def _one_question(sitting: Sitting, clock: Clock, ask: Ask) -> bool:
    """Ask, and pass the answer on; False where the person leaves."""
    question = sitting.question
    assert question is not None, "a phase that asks has a question"
    say()
    again = sitting.say("once more")
    head = again if question.again else sitting.say("number", number=question.number, of=question.of)
    say(f"{head}. {question.story}".rstrip() if question.story else f"{head}.")
    if question.now:
        say(question.now)
    if question.ask:
        say(question.ask)
    if sitting.phase == "handover":
        return _handover(sitting, clock, ask)
    from coach.rehearse.schedule import SURENESS

    keys = {sitting.say(f"key:{level}"): level for level in SURENESS}
    while sitting.phase == "sure":
        said = ask(sitting.say("sure?"))
        if said is None or said.casefold() == "q":
            return False
        word = said.casefold()[:1]
        if word == "?":
            sitting.dont_know(clock.mono_ms())
            return True
        if word in keys:
            sitting.sure(keys[word])
        else:
            say(sitting.say("sure:keys"))
    return _answer(sitting, clock, ask)


def _answer(sitting: Sitting, clock: Clock, ask: Ask) -> bool:
    while sitting.phase == "answer":
        question = sitting.question
        assert question is not None, "there is a question to answer"
        if not question.typed:
            for number, (_, words) in enumerate(question.options, 1):
                say(f"  {number} {words}")
        limit = sitting.say("limit", limit=question.limit_ms // 1_000) if question.limit_ms is not None else ""
        said = ask(sitting.say("type" if question.typed else "choose", limit=limit))
        at = clock.mono_ms()
        if said is None or said.casefold() == "q":
            return False
        if said == "?":
            sitting.dont_know(at)
        elif said.casefold() == "h":
            sitting.hint()
            if sitting.question is question:
                say(sitting.say("no hint"))
        elif not question.typed:
            if said.isascii() and said.isdigit() and 1 <= int(said) <= len(question.options):
                sitting.choose(int(said) - 1, at)
            else:
                say(sitting.say("choose:keys", most=len(question.options)))
        else:
            _typed(sitting, said, at, ask)
    return True


def _typed(sitting: Sitting, said: str, at: int, ask: Ask) -> None:
    """A verb: understood, asked back where it could be several, or not understood at no cost."""
    meant = sitting.understood(said).actions
    if not meant:
        say(sitting.say("not understood"))
        return
    if len(meant) > 1:
        for number, action in enumerate(meant, 1):
            say(f"  {number} {sitting.named(action)}")
        which = ask(sitting.say("which"))
        if which is None or not (which.isascii() and which.isdigit() and 1 <= int(which) <= len(meant)):
            return
        meant = (meant[int(which) - 1],)
    sitting.answer(meant[0], at)


def _handover(sitting: Sitting, clock: Clock, ask: Ask) -> bool:
    """Free speech, typed, or the numbers of what was spoken aloud."""
    from coach.drill.setup import words_of
    from coach.measure.handover import ITEMS
    from coach.rehearse.handover import PARTS, heard, ticked

    say(sitting.say("handover:say"))
    for number, item in enumerate(ITEMS, 1):
        say(f"  {number} {words_of(PARTS[item], sitting.language)}")
    said = ask(sitting.say("handover:ask"))
    if said is None or said.casefold() == "q":
        return False
    marks = ticked(said) if said else ()
    if marks is None:
        marks = heard(said)
        parts = ", ".join(words_of(PARTS[item], sitting.language) for item in marks)
        say(sitting.say("handover:heard", words=parts or sitting.say("handover:nothing")))
        more = ask(sitting.say("handover:more"))
        extra = ticked(more) if more else ()
        marks = (*marks, *(extra or ()))
    sitting.handed_over(marks, clock.mono_ms())
    return True


def _closing(sitting: Sitting) -> None:
    """What waited until the end, and when things come back."""
    from coach.rehearse.progress import due_words
    from coach.rehearse.wording import count

    if sitting.told is not None and sitting.told.verdict == "over":
        for line in sitting.told.lines:
            say(line)
    if not sitting.given:
        return
    say()
    say(count(sitting.language, "score", len(sitting.given), right=sum(one.right for one in sitting.given)))
    for one in sitting.given:
        mark = sitting.say("mark:right" if one.right else "mark:danger" if one.worth == "danger" else "mark:wrong")
        sure = sitting.say("was sure") if not one.right and one.sure == "sure" else ""
        say(f"  {mark}: {one.title}{sure}")
        if not one.first or not one.right:
            say(f"    {one.line}")
    if sitting.recorded:
        dues = sorted(sitting.history.standings[one.item].due for one in sitting.given)
        say(sitting.say("when", words=due_words(dues[0], dues[-1], sitting.language)))
    if sitting.trouble:
        complain(sitting.trouble)
    say(sitting.say("no certificate"))


def tempo(matter: Matter, history: History, clock: Clock, sigma_ms: float, ask: Ask, language: str = "en") -> int:
    """Thirty taps with no beat, what was counted, then a beat to see; in a terminal that gives single keys."""
    from coach.commands.taps import take_taps, why_not
    from coach.rehearse.days import today_of
    from coach.rehearse.history import TempoTaken, Unkept
    from coach.rehearse.tempo import PACES, TAPS, band_of, count_words, tempo_of, words_of_tempo
    from coach.rehearse.wording import words

    why = why_not()
    if why:
        say(why)
        return FINE
    day = today_of(clock)
    for pace in (0, -1):
        if pace == 0:
            said = ask(words(language, "tempo:begin"))
        else:
            said = ask(words(language, "tempo:pace", paces=", ".join(map(str, PACES))))
            paces = {str(one): one for one in PACES} | {"": 110}
            pace = paces.get(said or "", -1) if said is not None else -1
        if said is None or said.casefold() == "q" or pace < 0:
            return FINE
        stamps = take_taps(TAPS + 20, clock.mono_ms, pace)
        found = tempo_of(stamps, sigma_ms, band_of(matter.protocol))
        if found is None:
            say(words(language, "tempo:few"))
            return FINE
        counted = ask(words(language, "tempo:how many") + " ")
        count = int(counted) if counted and counted.isascii() and counted.isdigit() and len(counted) < 4 else 0
        say(words_of_tempo(found, language))
        say(count_words(count, found.taps, language))
        try:
            history.add_tempo(TempoTaken(day, found.rate, found.plus_minus, found.taps, count, pace, history.drills))
        except Unkept as error:
            complain(str(error))
    say(words(language, "tempo:mind"))
    return FINE


def write_out(matter: Matter, history: History, day: date, language: str, slip: Path | None, page: Path | None) -> int:
    """The chart on the terminal; the slip and the page where they are asked for."""
    from coach.rehearse.page import page as as_page
    from coach.rehearse.progress import chart, progress_of
    from coach.rehearse.slip import slip_json, slip_text

    if history.said is not None:
        remark(history.words(language))
    if page is not None:
        write_text(page, as_page(progress_of(matter, history, day, language), language))
        say(str(page))
    if slip is not None:
        json = slip.suffix.casefold() == ".json"
        text = as_json(slip_json(matter, history, day, language)) + "\n" if json else ""
        write_text(slip, text or slip_text(matter, history, day, language))
        say(str(slip))
    if slip is None and page is None:
        for line in chart(progress_of(matter, history, day, language), language=language):
            say(line)
    return FINE
