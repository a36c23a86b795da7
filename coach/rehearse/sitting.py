"""One sitting: a state machine over the drill's engine that asks, judges, lets the world go on, and keeps nothing back.

No screen and no keyboard: a front end shows :attr:`Sitting.question` or :attr:`Sitting.told` and calls the methods
named in :attr:`Sitting.phase`. Time comes in as stamps of a clock, so a stepped clock plays the same sitting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from coach.drill.setup import words_of
from coach.rehearse.asking import (
    Given,
    Phase,
    Question,
    Told,
    allowance,
    cues_since,
    fire_question,
    labelled,
    seconds,
    with_source,
)
from coach.rehearse.draws import Drawn, draw_story
from coach.rehearse.history import History, Review, SittingHeld, Unkept
from coach.rehearse.items import Item
from coach.rehearse.matter import Matter, opening_words
from coach.rehearse.moments import Judged, Moment
from coach.rehearse.options import choices
from coach.rehearse.quick import ACTIONS, CASES, Fire, fire_of, front_and_back, source_of, why_of
from coach.rehearse.schedule import Sure, rating, review
from coach.rehearse.telling import ASK, event_words, situation_now
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.today import LEAST, Picked, left_today, pick, pick_pads
from coach.rehearse.verbs import Understood, label, understand
from coach.rehearse.wording import words as words_in
from coach.rehearse.world import Walk

MOST_STORIES = 6
MOST_TRIES = 2
"""Wrong turns at one decision before the world does it and goes on."""
LONGEST_THOUGHT_MS = 60_000
"""As much of a long thought passes in the story: whoever was called to the door comes back to it."""
NOTHING = "dont_know"


class Sitting:
    """A sitting of one learner. ``day`` is the learner's own day; ``seed`` fixes everything that is drawn."""

    def __init__(
        self,
        matter: Matter,
        history: History,
        *,
        day: date,
        seed: int | None = None,
        language: str = "en",
        typed: bool = False,
        limits: bool = True,
        only_pads: bool = False,
        most: int | None = None,
    ) -> None:
        self.matter = matter
        self.history = history
        self.day = day
        self.drill = history.drills + 1
        self.seed = seed if seed is not None else day.toordinal() * 100 + self.drill % 100
        self.language = language
        self.typed = typed
        self.limits = limits
        self.recorded = left_today(history, day) >= LEAST
        self.phase: Phase = "told"
        self.question: Question | None = None
        self.told: Told | None = None
        self.given: list[Given] = []
        self.trouble = ""
        """What went wrong with the keeping of the history, in words."""
        chooser = pick_pads if only_pads else pick
        self._picked = chooser(matter.items, history, matter.protocol.id, day, self.seed, most)
        self.planned = len(self._picked)
        self._first_met = {one.item for one in self._picked if one.item not in history.standings}
        kinds = {one.item: matter.items[one.item].kind for one in self._picked}
        wrong = [one.item for one in self._picked if one.reason == "sure and wrong"]
        self._first_pads = [item for item in wrong if kinds[item] == "pads"]
        self._first_world = [item for item in wrong if kinds[item] != "pads"]
        rest = [one.item for one in self._picked if one.item not in wrong]
        self._pads = [item for item in rest if kinds[item] == "pads"]
        self._world = [item for item in rest if kinds[item] != "pads"]
        self._since_pads = 0
        self._walk: Walk | None = None
        self._drawn: Drawn | None = None
        self._able: frozenset[str] = frozenset()
        self._stories = 0
        self._story_new = False
        self._told_upto = 0
        self._moment: Moment | None = None
        self._fire: Fire | None = None
        self._sure: Sure = "think"
        self._hinted = False
        self._shown_at = 0
        self._tries = 0
        self._tried: frozenset[str] = frozenset()
        self._again = False
        self._rated = False
        self._lost = 0

    @property
    def picked(self) -> tuple[Picked, ...]:
        """What this sitting is to ask, and why."""
        return self._picked

    def begin(self, at: int) -> None:
        """Open the sitting: what has to be said first, then the first question."""
        said = opening_words(self.matter, self.history, self.language)
        if not self._picked:
            said.append(self.say("told:enough"))
            self._end(said)
            return
        if self.recorded:
            self._keep_sitting()
        else:
            said.append(self.say("told:practice"))
        self._next(at)
        if said and self.question is not None:
            self.told = Told("opening", tuple(said))

    def _keep_sitting(self) -> None:
        held = SittingHeld(self.day, self.drill, self.matter.protocol.id, self.matter.digest, self.seed)
        try:
            self.history.add_sitting(held)
        except Unkept as error:
            self.trouble = str(error)

    def _next(self, at: int) -> None:
        """Find the next question; at the end of them the sitting is over."""
        self._tries, self._tried, self._again, self._rated = 0, frozenset(), False, False
        if self._first_pads:
            self._ask_pads(self._first_pads.pop(0), at)
            return
        if self._pads and (self._since_pads >= 2 or not (self._first_world or self._world)):
            self._since_pads = 0
            self._ask_pads(self._pads.pop(0), at)
            return
        while self._first_world or self._world:
            group = self._first_world or self._world
            wanted = self._able & set(group)
            moment = self._walk.to_next(wanted) if self._walk is not None and wanted else None
            if moment is not None:
                group.remove(moment.item)
                self._ask_world(moment, at)
                return
            if self._walk is not None and self._fresh and wanted:
                for item in wanted:  # a story that cannot ask what it was drawn for is not drawn again for it
                    group.remove(item)
                    self._lost += 1
            if self._stories >= MOST_STORIES:
                self._lost += len(self._first_world) + len(self._world)
                self._first_world, self._world = [], []
                break
            if self._first_world or self._world:
                self._new_story()
        if self._pads:
            self._ask_pads(self._pads.pop(0), at)
        else:
            self._end([])

    @property
    def _fresh(self) -> bool:
        return self._walk is not None and not self._walk.asked

    def _new_story(self) -> None:
        wanted = [*self._first_world, *self._world]
        self._drawn, able = draw_story(self.matter.listing, self.matter.stories, wanted, self.seed, self._stories)
        self._able = frozenset(able)
        self._stories += 1
        self._story_new = True
        self._told_upto = 0
        self._walk = Walk(self.matter.listing, self._drawn.plan, self._drawn.unit_at_ms, self.matter.machine)
        self._walk.front_and_back = front_and_back(self.matter.pads, self.matter.protocol, self._drawn.facts)

    def _ask_world(self, moment: Moment, at: int) -> None:
        walk = self._walk
        assert walk is not None and self._drawn is not None, "a moment comes from a walk"
        walk.asked.add(moment.item)
        self._since_pads += 0 if self._again else 1
        self._moment, self._fire = moment, None
        item = self.matter.items[moment.item]
        now = situation_now(walk, walk.told[self._told_upto :], self.language)
        self._told_upto = len(walk.told)
        if not now and self._again and self.question is not None:
            now = self.question.now  # nothing new is to be seen
        story = words_of(self._drawn.words, self.language) if self._story_new else ""
        self._story_new = False
        if item.kind == "handover":
            now = event_words(self.matter.protocol, "handover", self.language)
            self._put(item, story, now, "handover", (), at)
            return
        purpose = f"{moment.item}:{self._tries}"
        shown = choices(walk, moment, self.seed, purpose, self._tried)
        options = labelled(shown, walk, self.language)
        self._put(item, story, now, "decision", options, at)

    def _ask_pads(self, item_id: str, at: int) -> None:
        assert self.matter.pads is not None, "pads items come from a pads file"
        item = self.matter.items[item_id]
        case = next(one for one in CASES if one.name == item.name)
        fire = fire_of(self.matter.pads, case, self.seed)
        if fire is None:  # a local file that knows no such casualty
            self._lost += 1
            self._next(at)
            return
        self._fire, self._moment = fire, None
        words, options = fire_question(fire, self.language)
        self._put(item, "", words, "pads", options, at)

    def _put(self, item: Item, story: str, now: str, kind: str, options: Sequence[tuple[str, str]], at: int) -> None:
        typed = self.typed and kind == "decision"
        ask = words_of(ASK, self.language)
        reading = allowance(f"{story} {now} {ask}", () if typed else [words for _, words in options], typed)
        self.question = Question(
            number=len(self.given) + (0 if self._rated else 1),
            of=self.planned - self._lost,
            kind="handover" if kind == "handover" else "pads" if kind == "pads" else "decision",
            item=item.id,
            family=item.family,
            story=story,
            now=now,
            ask=ask if kind == "decision" else "",
            options=tuple(options),
            typed=typed,
            reading_ms=reading,
            limit_ms=item.limit_ms + reading if self.limits and kind != "handover" else None,
            first=item.id in self._first_met,
            again=self._rated,
        )
        self.told = None
        self._hinted = False
        self._shown_at = at
        self.phase = "answer" if self._again else "handover" if kind == "handover" else "sure"

    def gone_ms(self, at: int) -> int:
        """How long the present question has been on show."""
        return max(at - self._shown_at, 0)

    def sure(self, level: Sure) -> None:
        """Say how sure, before the answer."""
        if self.phase == "sure":
            self._sure = level
            self.phase = "answer"

    def hint(self) -> None:
        """Fewer to choose among; for typing, the choices themselves."""
        question = self.question
        if self.phase != "answer" or question is None or self._hinted or self._rated:
            return
        self._hinted = True
        if question.typed:
            self.question = replace(question, typed=False, hinted=True)
            return
        other = next(option for option in question.options if option[0] != self._right())
        kept = tuple(option for option in question.options if option == other or option[0] == self._right())
        self.question = replace(question, options=kept, hinted=True)

    def _right(self) -> str:
        if self._fire is not None:
            return self._fire.right
        assert self._moment is not None, "a question has an answer"
        return self._moment.right[0]

    def understood(self, text: str) -> Understood:
        """What a typed line means among all that can be done."""
        assert self._walk is not None, "typing is for decisions of a story"
        actions = (*self._walk.moments.actions, *TEMPTATIONS)
        if self._moment is not None and "rolled" in self._moment.right:  # in words the two are one
            actions = tuple(action for action in actions if action != "recovery")
        return understand(text, actions, self.matter.protocol)

    def choose(self, place: int, at: int) -> None:
        """Answer with the option at ``place``, from 0; anything else is no answer."""
        if self.phase == "answer" and self.question is not None and 0 <= place < len(self.question.options):
            self.answer(self.question.options[place][0], at)

    def dont_know(self, at: int) -> None:
        """ "I don't know" is an answer: it counts as wrong and nothing worse."""
        if self.phase == "sure":
            self.sure("guess")
        self.answer(NOTHING, at)

    def answer(self, action: str, at: int) -> None:
        """Answer with an action by its id."""
        if self.phase != "answer" or self.question is None:
            return
        ms = max(at - self._shown_at - self.question.reading_ms, 0)
        if self._fire is not None:
            self._answer_pads(action, ms)
        elif self._moment is not None:
            self._answer_world(action, ms)

    def handed_over(self, said: Sequence[str], at: int) -> None:
        """The handover is spoken or ticked: these parts of it were said."""
        if self.phase != "handover" or self._walk is None or self._drawn is None or self.question is None:
            return
        from coach.measure.handover import ITEMS  # the measures are loaded where a handover is told, not at every start
        from coach.rehearse import handover as crew

        found = crew.against(self._walk, self._drawn, tuple(said), self.language)
        item = self.matter.items[self.question.item]
        share = f"{len(found.said)} of {len(ITEMS)}"
        self._sure = "think"
        self._record(
            item, found.right, max(at - self._shown_at, 0), share, "right" if found.right else "wrong", timed=False
        )
        self._tell(Told("handover", crew.told_lines(found, self.language)))

    def go_on(self, at: int) -> None:
        """What was told has been read."""
        if self.phase != "told":
            return
        walk, moment = self._walk, self._moment
        if self._again and walk is not None and moment is not None and self._fire is None:
            due = walk.asked_again(moment.item)
            if due is not None:
                self._ask_world(due, at)
                return
        if self.question is not None and not self._rated:
            self._lost += 1  # what was asked went by unanswered
        self._next(at)

    def _answer_pads(self, action: str, ms: int) -> None:
        fire, question = self._fire, self.question
        assert fire is not None and question is not None, "there is a quick-fire question"
        item = self.matter.items[fire.item]
        right = action == fire.right
        self._record(item, right, ms, action, "right" if right else "wrong", fire=fire)
        shown = words_of(ACTIONS[fire.right], self.language)
        if question.first:
            head = self.say("right") if right else self.say("not so", words=shown)
            self._tell(Told("right" if right else "wrong", (head, self.given[-1].line)))
        else:
            self._tell(Told("noted", (self.say("noted"),)))

    def _answer_world(self, action: str, ms: int) -> None:
        walk, moment, question = self._walk, self._moment, self.question
        assert walk is not None and moment is not None and question is not None, "there is a decision"
        item = self.matter.items[moment.item]
        judged = Judged("wrong") if action == NOTHING else walk.judge(moment, action)
        if judged.worth == "also":
            self._pass_time(walk, ms)
            walk.perform(action)
            self._shown_at += ms
            words = self.named(action)
            self._again_unless_gone(moment)
            self._tell(Told("also", (self.say("also", words=words),)))
            return
        first_try = not self._rated
        if first_try:
            self._record(item, judged.worth == "right", ms, action, judged.worth)
        if judged.worth == "danger":
            assert judged.fault is not None, "dangerous is an arrow with a critical fault"
            fault = judged.fault
            source = self.matter.listing.source(list(fault.source))
            said = with_source(words_of(fault.say, self.language), source, self.language)
            self._tried |= {action}
            self._again = True
            self._tries += 1
            self._tell(Told("danger", (self.say("danger"), said, self.say("rewound"))))
            return
        if judged.worth == "right":
            self._right_turn(walk, moment, action, ms, first_try)
        else:
            self._wrong_turn(walk, moment, action, judged, ms)

    def _right_turn(self, walk: Walk, moment: Moment, action: str, ms: int, first_try: bool) -> None:
        question = self.question
        assert question is not None, "there was a question"
        self._again = False
        gone = self._pass_time(walk, ms, moment)
        if not gone:
            walk.perform(action)
        lines = [gone] if gone else []
        if first_try and question.limit_ms is not None and ms > self.matter.items[moment.item].limit_ms:
            lines.append(self.say("over limit", took=seconds(ms), limit=seconds(self._limit(moment))))
        if question.first and first_try:
            self._tell(Told("right", (self.say("right"), self.given[-1].line, *lines)))
        elif question.first or lines:
            self._tell(Told("noted", tuple(lines) or (self.say("done so"),)))
        else:
            self._tell(Told("noted", (self.say("noted"),)))

    def _wrong_turn(self, walk: Walk, moment: Moment, action: str, judged: Judged, ms: int) -> None:
        """Harmless: it costs time and shows what follows; or it is not known, and the world goes on without."""
        question = self.question
        assert question is not None, "there was a question"
        lines: list[str] = []
        before = walk.state.e
        cues = len(walk.effects)
        gone = self._pass_time(walk, ms, moment)
        if gone:
            lines.append(gone)
        elif judged.worth == "impossible":
            lines.append(self.say("impossible"))
        elif action != NOTHING:
            walk.perform(action)
            words = self.named(action)
            lines.append(self.say("time gone", words=words, took=seconds(walk.state.e - before)))
        if judged.fault is not None:
            lines.append(words_of(judged.fault.say, self.language))
        if action in TEMPTATIONS and question.first:
            lines.append(words_of(TEMPTATIONS[action].why, self.language))
        lines += cues_since(walk, cues, self.language)
        self._tried |= {action}
        self._tries += 1
        self._again_unless_gone(moment)
        if action == NOTHING or self._tries >= MOST_TRIES:
            due = walk.due()
            helps = self.named(moment.right[0])
            if due is not None and due.item == moment.item:
                walk.perform(due.right[0])
            self._again = False
            if question.first:
                lines.append(self.say("helps", words=helps))
        if question.first and not question.again:
            lines.append(self.given[-1].line)
        if not lines:
            lines.append(self.say("goes on"))
        self._tell(Told("unknown" if action == NOTHING else "wrong", tuple(lines)))

    def _again_unless_gone(self, moment: Moment) -> None:
        """Ask the same decision again while it is still due."""
        walk = self._walk
        due = walk.due() if walk is not None else None
        self._again = due is not None and due.item == moment.item

    def _pass_time(self, walk: Walk, ms: int, moment: Moment | None = None) -> str:
        """The thought's time passes in the story too; what it made impossible, in words."""
        if not self.limits:
            return ""
        walk.wait(min(ms, LONGEST_THOUGHT_MS))
        if moment is None:
            return ""
        due = walk.due()
        if due is not None and due.item == moment.item:
            return ""
        return self.say("too late", took=seconds(min(ms, LONGEST_THOUGHT_MS)))

    def say(self, ident: str, **values: object) -> str:
        """A sentence of the rehearsal's own wording in the learner's language."""
        return words_in(self.language, ident, **values)

    def named(self, action: str) -> str:
        """An action by the name that it goes by just now."""
        name = self._walk.name_of(action) if self._walk is not None else action
        return label(name, self.matter.protocol, self.language)

    def _limit(self, moment: Moment) -> int:
        return self.matter.items[moment.item].limit_ms

    def _tell(self, told: Told) -> None:
        self.told = told
        self.phase = "told"

    def _record(
        self, item: Item, right: bool, ms: int, answer: str, worth: str, *, fire: Fire | None = None, timed: bool = True
    ) -> None:
        entered = self._walk.why(item.id) if self._walk is not None and fire is None else {}
        why, source = words_of(entered or item.why, self.language), item.source
        if fire is not None:
            assert self.matter.pads is not None, "a quick-fire question has its rules"
            why, source = why_of(self.matter.pads, fire, self.language), source_of(fire.decision)
        given = rating(
            right=right,
            ms=ms,
            limit_ms=item.limit_ms if self.limits and timed else None,
            hint=self._hinted,
            sure=self._sure,
        )
        title = words_of(item.title, self.language)
        self._rated = True
        self.given.append(
            Given(
                item.id,
                title,
                right,
                self._sure,
                ms,
                int(given),
                worth,
                answer,
                item.id in self._first_met,
                why,
                source,
                self.language,
            )
        )
        if not self.recorded:
            return
        standing = review(
            item.id, item.critical, self.history.standings.get(item.id), given, self.day, right=right, sure=self._sure,
            drill=self.drill, ms=ms,
        )  # fmt: skip
        kept = Review(
            self.day, item.id, words_of(item.title, "en"), item.critical, int(given), right, self._sure, ms,
            item.limit_ms if self.limits and timed else 0, self._hinted, answer, self.drill, item.family,
        )  # fmt: skip
        try:
            self.history.add_review(kept, standing, self.matter.protocol.id)
        except Unkept as error:
            self.trouble = str(error)

    def _end(self, lines: Sequence[str]) -> None:
        self.question = None
        self.told = Told("over", tuple(lines))
        self.phase = "over"
