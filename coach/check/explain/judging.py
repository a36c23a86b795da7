"""Codes of what a run is judged by, and of what is said of it: grades, numbers, sources, texts, rules, local files."""

from __future__ import annotations

from coach.check.explain.code import Code

JUDGING: dict[str, Code] = {
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
    "throw-late": Code(
        "error",
        "A scenario throws something after every drill is over.",
        "It comes by itself at a time that no drill reaches: more likely min was written for s.",
    ),
    "id-elsewhere": Code(
        "warning",
        "A scenario has another id than the place where it is found.",
        "It is chosen by its folder and file, and a log names it by its id: who reads the log looks for another story.",
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
