"""Every code that the checker uses: its level, what it means in a line, and a paragraph of help."""

from __future__ import annotations

from typing import NamedTuple

from coach.check.findings import Level


class Code(NamedTuple):
    """A kind of finding."""

    level: Level
    title: str
    help: str


CODES: dict[str, Code] = {
    # --- reading ----------------------------------------------------------------------------------------------------
    "bad-file": Code(
        "error",
        "The file does not fit the form of a protocol.",
        "Something in the file is not as the language has it: a key that it does not know, a value of the wrong kind,"
        " a duration without its unit, a number out of its range. Nothing else is checked before the file reads. The "
        "line names the place, the help what would do.",
    ),
    "unknown-name": Code(
        "error",
        "A name leads nowhere.",
        "A step, timer, event, fact, counter, mark, term, source or inject is used that the file does not declare and"
        " the vocabulary does not know. Mostly it is a slip of the pen; the nearest legal word is offered. A name "
        "that nothing declares would make an arrow that is never taken, so the file is not read at all.",
    ),
    "write-conflict": Code(
        "error",
        "Two tracks write one value on one event.",
        "All tracks hear an event at once and read the same state before any of them moves. If two of them write one "
        "counter or mark, what stands afterwards would hang on their order in the file. Let one track write it and "
        "emit an event of the file's own to the other.",
    ),
    "zero-time-loop": Code(
        "error",
        "Something can happen without end while no time passes.",
        "Either an event leads back to itself through emits, or a timer that reckons from the last push starts itself"
        " again when it fires: the last push is as long ago as before, so it is due at once, for ever. Use a timer "
        "with `every`, or one that reckons from now.",
    ),
    # --- structure --------------------------------------------------------------------------------------------------
    "unreachable-step": Code(
        "error",
        "A step is never entered.",
        "No way leads from the start of the track to this step. The finding says whether no arrow points to it at "
        "all, or whether the arrows that do have guards, or wait for events, that cannot come about. A step that "
        "nobody can reach teaches nothing and hides a mistake: the arrow to it was probably meant to stand somewhere.",
    ),
    "dead-end": Code(
        "error",
        "A step has no way out.",
        "Once the track is in this step nothing can move it on: no arrow of the step, of a later step of the spine or"
        " of the track leads anywhere else. If the track is meant to end here, say so with required = false.",
    ),
    "missing-exit": Code(
        "error",
        "For some facts a step has no way out.",
        "Arrows lead out of the step, but for the values printed below none of their guards can ever hold, whatever "
        "else happens. A learner with such a casualty is stuck. Add an arrow for the values left out, or a last arrow"
        " without a guard.",
    ),
    "done-unheard": Code(
        "warning",
        "A step does not listen for its own observation.",
        "`done` names the observation that is the step's own deed, and no arrow that is tried in the step waits for "
        "it. The deed is keyed and logged as not expected, and a step of the spine that lends no arrow cannot be "
        "jumped to.",
    ),
    "late-cue-never": Code(
        "warning",
        "A late cue that is never said.",
        "A late cue is said when the step has lasted longer than its `within`. This step has none, so that its words "
        "are never heard.",
    ),
    "mark-unused": Code(
        "warning",
        "A mark is set and never read.",
        "No guard and no rule asks for this mark. Either a guard that should ask for it has lost its words, or the "
        "mark can go.",
    ),
    "counter-unused": Code(
        "warning",
        "A counter is never written.",
        "No arrow sets the counter or adds to it, so that it stays 0 and every guard that reads it says the same all "
        "drill long. A counter that is written and only shown is no finding.",
    ),
    "term-unused": Code("warning", "A term is never used.", "No guard names this term. Use it, or take it out."),
    "emit-unheard": Code(
        "warning",
        "An event of the file's own is emitted and nobody waits for it.",
        "No arrow, step or inject waits for the event that is emitted here. Perhaps the arrow that should hear it was"
        " taken out, or spells it otherwise.",
    ),
    "event-without-key": Code(
        "warning",
        "Nobody can mark an observation.",
        "The observation is the file's own, it bears no key, nothing emits it, and because its moment is measured J "
        "never logs it. An arrow that waits for it waits for ever. Give it a key, or take timed = true away.",
    ),
    "finding-idle": Code(
        "error",
        "A finding of the debrief that can never be made.",
        "The table names no form that the debrief knows (omitted, out_of_order, over, under, outside), or a target, "
        "step or observation that the file does not have; or the target lacks the bound that it looks at (over needs "
        "to, under needs from), or the step the limit. The debrief would pass it over, and a fault would go unsaid.",
    ),
    "finding-alike": Code(
        "warning",
        "Two findings judge one target in one way.",
        "A reading past the limit is found twice, and another target, which one of them was meant for, by none.",
    ),
    "finding-twice": Code(
        "error",
        "Two findings of the debrief bear one id.",
        "A log, a sign-off, a golden script and a local file speak of a finding by its id. Where two bear one, a word "
        "about the one is taken for the other, and a local file changes the first only.",
    ),
    "word-idle": Code(
        "error",
        "A word in a finding or in the pass that nothing reads.",
        "A finding, its form and the pass each have words of their own. Any other is passed over: a severity that is "
        "misspelt leaves the finding minor, a bound of faults that is misspelt bounds nothing.",
    ),
    "finding-grade": Code(
        "error",
        "A finding of the debrief has a severity that there is not.",
        "A severity is critical, major or minor (for steps also `as the step`). Any other word would be taken for "
        "minor, and a grave fault would fail nobody.",
    ),
    "role-unknown": Code(
        "error",
        "A role that no rescuer can have.",
        "A step or a fault with roles is the learner's only where the briefing gave them one of these. The briefing "
        "offers lead, second, breaths, unit and caller; a role by any other word is nobody's, so that the step fails "
        "nobody.",
    ),
    # --- the floor of judgement -------------------------------------------------------------------------------------
    "critical-unjudged": Code(
        "error",
        "A critical step that can never be judged.",
        "The file calls the step critical, and then takes it out of all judgement: with required = false, or without "
        "the observation that does it, it can never have been left out. Whoever skips it passes.",
    ),
    "severity-floor": Code(
        "error",
        "A grave mistake that is graded below critical.",
        "The call, the clear call, the shock and the first push are what a drill is about, and a shock without a clear "
        "call, after a touch or to somebody awake hurts people. A pass counts critical steps and faults only, so "
        "that a lower grade lets it by (a choice of this program). If it is meant, waive it and say why.",
    ),
    "inject-without-deadline": Code(
        "warning",
        "An inject opens an obligation that has no end.",
        "The inject expects an answer and says neither how soon (`within`) nor, perhaps, which answers are allowed. "
        "It stays open for the whole drill, and nobody can be told that it was late. Add within, and allowed answers.",
    ),
    "throw-ruled-out": Code(
        "note",
        "A scenario throws what its own facts rule out.",
        "With one of the protocols that the scenario suits, the inject's `when` is false for these facts whatever "
        "happens, so that its digit does nothing all drill long and its time passes by. That can be meant, where the "
        "scenario serves several protocols; the briefing tells it.",
    ),
    "throw-twice": Code(
        "error",
        "A scenario throws one inject twice over.",
        "A digit throws its inject as often as the protocol allows. Two digits for one inject, or one that stands "
        "twice with no time of its own, leave a digit less for something else; mostly a name was copied.",
    ),
    "pads-dead": Code(
        "error",
        "A rule of a pads file never decides.",
        "The first rule whose guard holds decides. Those before this one hold for every age and weight, known or not: "
        "perhaps one lost its when.",
    ),
    "pads-reason": Code(
        "error",
        "The reason of a pads rule speaks of other pads than it chooses.",
        "The reason is read out with the decision. Here it names small pads where adult ones are chosen, or the other "
        "way round, or another place. One of the two is wrong.",
    ),
    "push-forms": Code(
        "error",
        "An arrow hears pushes in one way of counting only.",
        "A push is `compression` where each is keyed, `hands_placed` where hands on and off are marked, `probe_tap` "
        "where one is tapped while hands are on. An arrow that leads somewhere on one of them and not on the others "
        "works in one class and is deaf in the next.",
    ),
    "inject-both-ways": Code(
        "error",
        "An inject allows what it forbids.",
        "One observation stands under `allowed` and under `forbidden` of the same inject: whoever makes it answers "
        "rightly and is blamed at once. Let it be one of the two.",
    ),
    "spine-order": Code(
        "error",
        "The spine is not in the order in which its steps are done.",
        "The spine is the way that a learner goes. Here it begins elsewhere than the track does, has a step after one "
        "to which that step leads, or leaves out a step on the way. The debrief judges order and what was left out by "
        "the spine, and a key that was forgotten is jumped over along it.",
    ),
    "armed-unheard": Code(
        "error",
        "A step is armed and hears no shock, or a shock is heard and no step is armed.",
        "A shock can be pressed only while a track stands in an armed step. Where nothing there takes it, the press is "
        "not told as one that came too early; where no step is armed at all, no shock can ever be given.",
    ),
    "script-by-analysis": Code(
        "error",
        "A script of what analyses find, and no analysis moves it on.",
        "The word of a script is the entry that its counter has come to. Where the counter goes on with something "
        "else, with shocks say, two analyses in a row read the same word.",
    ),
    "count-forgotten": Code(
        "error",
        "One way into a step counts and another does not.",
        "Of two arrows on the same event into the same step one adds to the counter that a script reads, and the other "
        "does not. Whoever comes the other way reads the same entry of the script twice.",
    ),
    # --- guards -----------------------------------------------------------------------------------------------------
    "guard-never": Code(
        "error",
        "An arrow can never be taken.",
        "Its guard is false for every value of the facts, counters, marks and steps that it reads, or the arrows that"
        " are tried before it on the same event take every case. Guards are compared as truth tables over the classes"
        " of the facts, unknown values included.",
    ),
    "never-come-by": Code(
        "warning",
        "Neither a golden script nor a random learner came by it.",
        "`kneeside coverage` counts which steps, arrows and outcomes of guards golden key scripts and random learners "
        "come by. What nobody comes by has never been tried: write a script that does, or find out why none can. Where "
        "that is meant, waive it there with `where` naming it as the list does (a guard by the id of its arrow).",
    ),
    "guard-always": Code(
        "warning",
        "A guard that is always true.",
        "Whatever the facts, counters, marks and steps are, the guard holds; it says nothing, and every arrow after "
        "it on the same event is dead. Take it out, or mend it: often it compares with a number outside of the fact's"
        " range, or says `or` where `and` is meant.",
    ),
    "guard-gap": Code(
        "error",
        "Guards on one event leave out some values.",
        "Several arrows share an event and part the cases by a fact or a counter, and for the values printed below "
        "none of them holds. Typical gaps are the border itself (< 25 kg beside > 25 kg) and the unknown value: a "
        "comparison with an unknown fact is false. Use <= or >=, or ask unknown(fact).",
    ),
    "guard-overlap": Code(
        "warning",
        "Two guards on one event hold together and lead to different steps.",
        "For the values printed below both hold; the first in the file is taken. That is right where one is a special"
        " case of the other and stands before it. Here neither contains the other, so that the order of two lines "
        "decides where the learner goes. Make them exclude each other.",
    ),
    "count-never": Code(
        "error",
        "An arrow asks for a count that never comes about where it is tried.",
        "The guard compares a counter with a number that it never has in the steps in which the arrow is tried: the "
        "counter is not brought so far, or an arrow leads away as soon as it is, or sets it back. The arrow is never "
        "taken, or the comparison never decides anything.",
    ),
    "reads-unknown": Code(
        "warning",
        "A fact that may be unknown is read as if it were known.",
        "A comparison with an unknown fact is false, and `not` turns that into true. Where a fact may be unknown the "
        "file has to say what then: ask unknown(fact) in this guard or in another one on the same event.",
    ),
    # --- time -------------------------------------------------------------------------------------------------------
    "timer-never-started": Code(
        "error",
        "A timer is never started.",
        "No step and no arrow starts it, so that whatever waits for it waits for ever. Start it where its time begins.",
    ),
    "timer-never-fires": Code(
        "error",
        "A timer is started and never runs out.",
        "It is always stopped, restarted or overtaken before its time is over. The search was over all times, to the "
        "millisecond. Either the timer is too long for where it runs, or something stops it that should not.",
    ),
    "timer-unhandled": Code(
        "warning",
        "A timer runs out and nothing hears it.",
        "No arrow waits for this timer, or none that waits for it can be taken when it runs out. Add the arrow (on = "
        '"timer:NAME"), or take the timer away.',
    ),
    "timer-tie": Code(
        "warning",
        "The order of two timers decides what happens.",
        "The file itself leads both to one millisecond (started together, or one after others that add up to the "
        "same), and what is seen or heard then differs with the order in which they are declared. The drill is still "
        "the same each time, but the file hangs on the order of two lines. Make one of them longer, or let one arrow "
        "do both. Two that meet only when a key falls on just that millisecond are no finding, nor are those whose "
        "order changes nothing. Two of one length that start together are told at once; the others need a check with "
        "injects, and come with the run that shows it.",
    ),
    "timer-leak": Code(
        "warning",
        "A timer goes on running where nothing listens any more.",
        "It outlives the step that hears it: it was started on the way in or is kept, the step can be left without "
        "stopping it, and in the next step nothing waits for it. If the step is entered again it may run out at once."
        " Stop it on that arrow, or start it in the step itself.",
    ),
    "endless-reminder": Code(
        "warning",
        "A reminder that never falls silent.",
        "The timer repeats without `most`, and every time it says its words. A person who cannot do what it asks for "
        "hears it until the drill ends. Bound it: most = 6, for instance.",
    ),
    "reminder-shorter-than-its-speech": Code(
        "warning",
        "A reminder comes again before its words are spoken.",
        "At 150 words a minute (an ordinary pace of speech; common practice, no source) the words take longer than "
        "the interval at which they are said again. Say fewer words, or say them less often.",
    ),
    "reminder-seldom": Code(
        "warning",
        "A reminder that comes again when it is long forgotten.",
        "From the second time on the timer waits more than three times as long as at first (a choice of this program): "
        "more likely a slip of the unit, s for min.",
    ),
    # --- numbers ----------------------------------------------------------------------------------------------------
    "target-beyond-guidance": Code(
        "warning",
        "A target that is wider than all published guidance.",
        "100 to 120 pushes a minute, and at most 10 s without a push, are what the guidance of 2025 and before says "
        "alike. Another number is a local decision: waive this with the name of the role that made it.",
    ),
    "unattainable-target": Code(
        "error",
        "A target that nobody can meet.",
        "The file's own numbers exclude each other. With runs of 30 pushes at 110 a minute and 5 s from the last push"
        " of one run to the first of the next, hands are on for 29 x 60/110 = 15.8 s of every 20.8 s: 76 %. A target "
        "above that fails everybody who does as taught. The 5 s for two breaths are common practice.",
    ),
    "target-empty": Code(
        "error",
        "The bounds of a target leave nothing between them.",
        "`from` lies above `to`, or the value to aim at lies outside of them. Nobody can be inside.",
    ),
    "cycle-arithmetic": Code(
        "warning",
        "Cycles and minutes that do not fit together.",
        "The file speaks of a number of cycles and of a time for them, and the two differ by more than a tenth: 5 "
        "cycles of 30:2 at 110 a minute with 5 s for the breaths last 104 s, not 120. Say one of the two.",
    ),
    "compare-outside": Code(
        "warning",
        "A comparison that always says the same.",
        "A guard compares a fact with a number outside of the range that the file gives the fact, so that the answer "
        "is the same for everybody. Mostly the unit is wrong (months for years, pounds for kilograms), or the range "
        "is.",
    ),
    "target-conflict": Code(
        "error",
        "Two numbers that speak of one thing do not fit.",
        "A pause for breaths or a shock may not be longer than any pause may be, the two pauses about a shock not "
        "longer than both together; the reminder of hands off comes by the limit that the debrief judges by; the timer "
        "of the two minutes is as long as their target. Where they differ a learner is told one thing and judged by "
        "another.",
    ),
    "pass-lenient": Code(
        "warning",
        "A pass in spite of critical faults.",
        "The file lets a learner pass who made a fault that it calls critical itself. Write critical_faults = 0, or "
        "give the fault another weight. Critical steps count only where they were independent, whatever is written.",
    ),
    "unit-plausible": Code(
        "warning",
        "A number that looks like another unit.",
        "The value lies outside of what people, pads or drills have: pounds read as kilograms, months as years, "
        "milliseconds as seconds are the usual slips. If the number is meant, waive the finding and say why.",
    ),
    "by-eye-criterion": Code(
        "error",
        "Depth or release, judged by eye, decides something.",
        "No key can see depth, release or chest rise; a person's eye misjudges them often. They may be talked about, "
        "and they can be no finding and no criterion of a pass.",
    ),
    # --- sources and approval ---------------------------------------------------------------------------------------
    "no-source": Code(
        "error",
        "A number, step or fault without a source.",
        "Whoever signs the file must see where each number comes from, even if that is a local decision or common "
        "practice. Name one of [sources] here.",
    ),
    "source-unused": Code(
        "note",
        "A source that nothing cites.",
        "Nothing in the file names this source. Cite it, or take it out.",
    ),
    "stale-source": Code(
        "warning",
        "A source that nobody has looked at for long.",
        "Guidance comes out every five years, with errata between. The source bears no date on which somebody looked "
        "at it (`checked`), or that date is more than two years ago, or it lies ahead.",
    ),
    "approval": Code(
        "error",
        "The approval in the file does not hold.",
        "It bears a signature that no longer fits: the content was changed since, it was in force before it was "
        "approved, its review date has passed, its approver is its author, or date, role and digest are not all "
        "there. Such a file needs a typed reason before a test. kneeside approve signs anew.",
    ),
    # --- wording ----------------------------------------------------------------------------------------------------
    "cue-too-long": Code(
        "warning",
        "A cue is too long to be heard.",
        "A person who pushes hears nine words, or 60 characters, at most. Say one thing.",
    ),
    "translation-missing": Code(
        "warning",
        "A text lacks one of the file's languages.",
        "The languages of the title are those that the file claims to speak. A cue that is not there in one of them "
        "is shown in another, in the middle of a drill.",
    ),
    "text-in-another-language": Code(
        "warning",
        "A text reads as another language than its own.",
        "More of its words are found among the file's texts in the other language than among those in its own. It was "
        "copied and not put into words yet, or the two were exchanged.",
    ),
    "number-differs-between-languages": Code(
        "error",
        "A number is not the same in all languages.",
        "The texts of one cue give different numbers, in digits or in words. One of them teaches something else.",
    ),
    "number-said": Code(
        "error",
        "A text says another number than the file has.",
        "Said and measured are two numbers: the fault of an inject names another time than its limit, a cue another "
        "count than the guard that brings it, seconds left another than the timers make, a ratio another than the "
        "targets, the reason of a pads rule another age or weight than its guard. One of the two is wrong, and people "
        "believe what they hear. A story's age against its facts is one of these too.",
    ),
    "promise": Code(
        "warning",
        "Words that promise or diagnose.",
        "Nobody can promise that a life is saved, and no page of a drill makes a diagnosis. Say what to do and what "
        "was seen.",
    ),
    "double-negative": Code(
        "warning",
        "Two negations in one breath.",
        "Under stress people miss one of two negations and do the opposite. Say what to do instead.",
    ),
    # --- keys -------------------------------------------------------------------------------------------------------
    "key-conflict": Code(
        "error",
        "Keys that do not go together.",
        "One key would mean two things, or clear and shock would lie next to each other on QWERTY, QWERTZ or AZERTY, "
        "where one slip of a finger is written down as a critical fault; or the key is none that a drill can use.",
    ),
    # --- rules ------------------------------------------------------------------------------------------------------
    "bad-rule": Code(
        "error",
        "A rule is no sentence of the language.",
        "Rules come in a closed list of forms, so that each can be proved. The line says what is missing or does not "
        "belong.",
    ),
    "rule-broken": Code(
        "error",
        "A rule of the file does not hold.",
        "There is a run on which the rule is broken. The shortest one is told below, key by key, and has been "
        "replayed in the drill's own engine; its script plays with kneeside play. `As taught` leaves out every way "
        "over a fault arrow; `noticed` means that whatever breaks the rule goes over one.",
    ),
    "vacuous-rule": Code(
        "warning",
        "A rule speaks of what never happens.",
        "It holds because its trigger cannot come about. Either it names the wrong thing, or the way to it is missing.",
    ),
    "rule-missing": Code(
        "warning",
        "A shock can be given, and a rule that every such file needs is not there.",
        "A file that lets a shock be given should itself say, and so have it proved: no shock without a clear call; no "
        "touch after it passed over; hands back after a shock and after none; hands never off by its own prompts; "
        "small pads never on who is no child, and adult pads never withheld; a handover always possible. A rule that "
        "was taken out is proved no more, and nothing else tells.",
    ),
    "rule-slack": Code(
        "warning",
        "A rule grants far more time than any run takes.",
        "The rule holds, and would hold with less than half of its limit: it bounds nothing. Mostly the unit of the "
        "limit is wrong (min for s). The finding tells the longest that it ever takes; write what the rule should "
        "bound.",
    ),
    # --- local files and waivers ------------------------------------------------------------------------------------
    "overlay-noop": Code(
        "warning",
        "A change of a local file that changes nothing.",
        "The base says the same already. Leave it out: it hides what really differs.",
    ),
    "rule-relaxed": Code(
        "note",
        "A local file relaxes a rule of its base.",
        "It says so with a reason, and whoever compares or signs the file sees it first. It is told here too, each "
        "time.",
    ),
    "rule-tightened": Code(
        "note",
        "A local file makes a rule of its base tighter.",
        "The rule's sentence is the same and its bound asks for more, so whoever keeps the file's rule keeps the "
        "base's too. It stands under relax.rule as any change of a rule does.",
    ),
    "waive-refused": Code(
        "error",
        "A waiver of what cannot be waived.",
        "A rule that is broken, that speaks of nothing, or that cannot be read is not accepted by a waiver: whoever "
        "reads that a file was checked takes its rules for held, and nobody signs one whose rules are not. Mend the "
        "file or the rule. A rule of a base that does not suit is relaxed under relax.rule, with the reason, which "
        "stands on the approval sheet.",
    ),
    "overlay-relaxed": Code(
        "warning",
        "A local file judges less strictly than its base.",
        "It lowers a severity, makes a step no longer required, widens a target or lengthens a limit. The base has it "
        "stricter, with a source. Where the local file means it, a [[waive]] with this code, the place and the reason "
        "says so to whoever signs it.",
    ),
    "part-unfit": Code(
        "error",
        "A file that takes a part cannot be read with it.",
        "The part by itself has the form of one, and laid on a base it takes away, renames or lacks what a file that "
        "takes it needs. Mend the part, or that file.",
    ),
    "part-untaken": Code(
        "note",
        "No file at hand takes this part.",
        "A part is differences only: whether its names lead anywhere and its rules hold shows within a file that takes "
        "it. None within reach names it under [[with]].",
    ),
    "waive-unused": Code(
        "warning",
        "A waiver that covers nothing.",
        "No finding has this code at this place, or the code is none. What was waived has been mended, or the place "
        "has another name now. Take the waiver out.",
    ),
    "waive-without-reason": Code(
        "error",
        "A waiver without a reason.",
        "Whoever signs the file must read why a finding is accepted. The finding stands until the reason is there.",
    ),
}
