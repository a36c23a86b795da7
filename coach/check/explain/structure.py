"""Codes of what a file is made of: reading it, its steps and arrows, guards, timers, keys."""

from __future__ import annotations

from coach.check.explain.code import Code

STRUCTURE: dict[str, Code] = {
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
    # --- keys -------------------------------------------------------------------------------------------------------
    "key-conflict": Code(
        "error",
        "Keys that do not go together.",
        "One key would mean two things, or clear and shock would lie next to each other on QWERTY, QWERTZ or AZERTY, "
        "where one slip of a finger is written down as a critical fault; or the key is none that a drill can use.",
    ),
}
