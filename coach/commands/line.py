"""The command line itself: names, options, what an ending means. The work stands elsewhere, imported when asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

import typer
from typer.main import get_command

from coach.commands.words import FINE, Refused, say

app = typer.Typer(
    name="kneeside",
    help="A drill coach in the terminal for people who teach collapse, call, compress and defibrillate. Training only.",
    epilog="Ends with 0 fine, 1 findings, 2 misuse or unreadable input, 3 undecided, 70 our crash, 130 interrupted.",
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
Log = Annotated[Path, typer.Argument(metavar="LOG", help="The log of a drill (.jsonl).")]


@app.callback()
def home(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", "-V", help="Print the version and leave.")] = False,
) -> int:
    """Without a command: the home screen, from which everything is one key away."""
    if version:
        from coach import __version__

        say(f"kneeside {__version__}")
        raise typer.Exit(FINE)
    if context.invoked_subcommand is not None:
        return FINE
    from coach.commands import doors

    return doors.home()


@app.command(short_help="Brief and run a drill.")
def drill(
    protocol: Annotated[str, typer.Argument(help="Its id, or a file; asked for in the briefing if left out.")] = "",
) -> int:
    """Brief and run a drill beside a manikin."""
    from coach.commands import doors

    return doors.drill(protocol)


@app.command(short_help="Watch a drill and its debrief.")
def demo(
    plain: Annotated[bool, typer.Option("--plain", help="Print the drill and its debrief; no full screen.")] = False,
) -> int:
    """Watch a drill played on the live screen, then its debrief. Any key takes over."""
    from coach.commands import doors

    return doors.demo(plain)


@app.command(short_help="Rehearse decisions alone, no manikin.")
def rehearse(
    protocol: Annotated[str, typer.Argument(help="Its id; else the first of the settings' guidance.")] = "",
    part: Annotated[
        Literal["decisions", "pads", "tempo", "progress"],
        typer.Option(help="A sitting, pads in quick fire, your own tempo, or how you stand."),
    ] = "decisions",
    plain: Annotated[bool, typer.Option("--plain", help="In lines of text; no full screen.")] = False,
    typed: Annotated[bool, typer.Option("--typed", help="Type a verb instead of choosing.")] = False,
    no_limits: Annotated[bool, typer.Option("--no-limits", help="No time limits.")] = False,
    seed: Annotated[int | None, typer.Option(metavar="N", help="The same questions again.")] = None,
    language: Annotated[str, typer.Option(metavar="CODE", help="en or es; else as in the settings.")] = "",
    most: Annotated[int | None, typer.Option(metavar="N", min=2, max=12, help="At most so many decisions.")] = None,
    sensitive: Annotated[
        bool, typer.Option("--sensitive", help="Draw sensitive stories too: children, pregnancy, overdose.")
    ] = False,
    slip: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the readiness slip there (.json for JSON) and leave.")
    ] = None,
    page: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the progress page there as HTML and leave.")
    ] = None,
) -> int:
    """Rehearse the decisions alone. It does not train the hands, and what you answer stays with you."""
    from coach.commands import rehearse as room
    from coach.rehearse.wishes import Wishes

    wishes = Wishes(protocol, part, language, typed, not no_limits, seed, most, sensitive)
    return room.rehearse(wishes, plain=plain, slip=slip, page=page)


@app.command(short_help="Play a key script into a log.")
def play(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A key script.")],
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Where the log goes.")],
) -> int:
    """Play a key script on the very code of a live drill, and print the path of the log."""
    from coach.commands import drills

    return drills.play(file, out)


@app.command(short_help="Play a log again and compare every state.")
def replay(log: Log, json: Json = False) -> int:
    """Play a log again from its raw keys: every state must come out the same, to the digest."""
    from coach.commands import drills

    return drills.replay(log, json)


@app.command(short_help="Check that a log is whole.")
def verify(log: Log, json: Json = False) -> int:
    """Check a log's chain of hashes, and name the first line that does not fit."""
    from coach.commands import drills

    return drills.verify(log, json)


@app.command(short_help="One page from one log.")
def debrief(
    log: Log,
    form: Annotated[
        Literal["text", "markdown", "html", "json", "csv", "xapi"], typer.Option("--as", help="In which form.")
    ] = "text",
    also: Annotated[Literal["", "en", "es"], typer.Option("--also", help="HTML in a second language too.")] = "",
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write it there instead.")] = None,
) -> int:
    """One page from one log: what was seen, in what order and when, how sure that is, and one thing to do again."""
    from coach.commands import drills

    return drills.debrief(log, form, also, out)


@app.command(short_help="Say more of a drill that has ended.")
def amend(
    log: Log,
    who: Annotated[str, typer.Option(metavar="ID", help="Who says so.")],
    why: Annotated[str, typer.Option(metavar="WORDS", help="Why.")] = "",
    answer: Annotated[
        list[str] | None,
        typer.Option(metavar="FINDING=ANSWER", help="saw, did-not-happen or not-looking, of what is to be confirmed."),
    ] = None,
    name: Annotated[list[str] | None, typer.Option(metavar="PIN=WORDS", help="What a pin on that line meant.")] = None,
    move: Annotated[list[str] | None, typer.Option(metavar="LINE=SECONDS", help="Another moment for an input.")] = None,
    meant: Annotated[list[str] | None, typer.Option(metavar="LINE=EVENT", help="What a key was meant for.")] = None,
    add: Annotated[list[str] | None, typer.Option(metavar="EVENT@SECONDS", help="Seen later, on a video say.")] = None,
    one_thing: Annotated[
        str | None, typer.Option(metavar="FINDING", help='Another one thing than the rule\'s; "" for the strength.')
    ] = None,
) -> int:
    """Say more of a drill that has ended: lines behind its end, with who, when and why; nothing is written over."""
    from coach.commands import afterwards as room

    return room.amend(log, who, why, answer or [], name or [], move or [], meant or [], add or [], one_thing)


@app.command(short_help="Sign a drill off.")
def sign(
    log: Log,
    who: Annotated[str, typer.Option(metavar="ID", help="Who signs.")],
    result: Annotated[
        Literal["", "pass", "not-yet", "safety"], typer.Option(help="As the rule gives it if left out.")
    ] = "",
    reason: Annotated[str, typer.Option(metavar="WORDS", help="Where one is needed, or may stand for a mark.")] = "",
    json: Json = False,
) -> int:
    """Sign a drill off as its protocol's rule for a pass gives it; what is missing is confirmed first."""
    from coach.commands import afterwards as room

    return room.sign(log, who, result, reason, json)


@app.command(short_help="A second verdict beside the first.")
def judge(
    log: Log,
    protocol: Annotated[str, typer.Option(metavar="PROTOCOL", help="The other protocol: its id, or a file.")],
    json: Json = False,
) -> int:
    """Judge a log under another protocol too, and put that verdict beside the first."""
    from coach.commands import seconds

    return seconds.judge(log, protocol, json)


@app.command(short_help="Compare two assessors of one drill.")
def agree(
    one: Annotated[Path, typer.Argument(metavar="LOG", help="One assessor's log.")],
    other: Annotated[Path, typer.Argument(metavar="LOG", help="The other's, of the same drill.")],
    json: Json = False,
) -> int:
    """Compare two assessors of one drill: marks matched in time, steps, kappa with its error."""
    from coach.commands import seconds

    return seconds.agree(one, other, json)


@app.command(short_help="One learner over their attempts.")
def progress(
    learner: Annotated[str, typer.Argument(metavar="LEARNER", help="The learner's id.")],
    folder: Annotated[Path | None, typer.Option("--in", metavar="FOLDER", help="Where the logs are.")] = None,
    page: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the chart there as an HTML page too.")
    ] = None,
    language: Annotated[str, typer.Option(metavar="CODE", help="en or es; else as in the settings.")] = "",
    json: Json = False,
) -> int:
    """One learner over their attempts: longest own pause, the one thing, steps still prompted. No score, no rank."""
    from coach.commands import seconds

    return seconds.progress(learner, folder, page, language, json)


@app.command(name="pre-flight", short_help="Test keyboard and reaction before class.")
def pre_flight(
    assessor: Annotated[str, typer.Option(metavar="ID", help="Whose reaction it is.")] = "",
    keys: Annotated[bool, typer.Option("--keys/--no-keys", help="Test keyboard and reaction.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print checks and what is kept as JSON; test nothing.")] = False,
) -> int:
    """Before class: how evenly the keyboard stamps, how fast you react, disk, clock, battery, line. Widens what a drill
    prints as uncertain."""
    from coach.commands import preflight as room

    return room.pre_flight(assessor, keys, json)


@app.command(short_help="Which pads, and where.")
def pads(
    age: Annotated[
        str, typer.Option(metavar="YEARS", show_default=False, help="Decimals allowed; unknown if left out.")
    ] = "unknown",
    weight: Annotated[
        str,
        typer.Option(metavar="WEIGHT", show_default=False, help="With its unit, 24.9kg or 55lb; unknown if left out."),
    ] = "unknown",
    months: Annotated[str, typer.Option(metavar="MONTHS", help="Beside or instead of the years.")] = "",
    guidance: Annotated[
        str, typer.Option(metavar="NAME", help='"ERC 2025" or "AHA 2025"; else as in the settings.')
    ] = "",
    no_paediatric_pads: Annotated[bool, typer.Option("--no-paediatric-pads", help="None at hand.")] = False,
    only_paediatric_pads: Annotated[bool, typer.Option("--only-paediatric-pads", help="No others at hand.")] = False,
    confirm: Annotated[bool, typer.Option("--confirm", help="Yes, an unlikely age and weight are meant.")] = False,
    json: Json = False,
) -> int:
    """Which pads, and where, for an age and a weight. It is teaching, not advice for a real person."""
    from coach.commands import pads as room

    return room.pads(
        age=age,
        weight=weight,
        months=months,
        guidance=guidance,
        no_paediatric=no_paediatric_pads,
        only_paediatric=only_paediatric_pads,
        confirmed=confirm,
        json=json,
    )


@app.command(short_help="List the protocols at hand.")
def protocols(json: Json = False) -> int:
    """List the protocols at hand, with guidance and approval."""
    from coach.commands import lists

    return lists.protocols(json)


@app.command(short_help="List the scenarios at hand.")
def scenarios(json: Json = False) -> int:
    """List the scenarios at hand."""
    from coach.commands import lists

    return lists.scenarios(json)


@app.command(short_help="Read files and print every mistake.")
def read(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Protocol, scenario or pads files.")],
    json: Json = False,
) -> int:
    """Read files as the program would, and print every mistake with its line and what to do."""
    from coach.commands import lists

    return lists.read(files, json)


@app.command(short_help="Check protocols and prove their rules.")
def check(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="Protocol files, or protocols by name.")],
    json: Json = False,
    sarif: Annotated[bool, typer.Option("--sarif", help="Print SARIF 2.1.0, for editors.")] = False,
    injects: Annotated[
        int, typer.Option(metavar="N", min=0, max=6, help="1: each inject alone; more: so many open at once.")
    ] = 0,
    limit: Annotated[float, typer.Option(metavar="SECONDS", min=0.1, help="For each search, then: not decided.")] = 60,
    scripts: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Write the story of each broken rule there, to be played.")
    ] = None,
) -> int:
    """Check protocol files: each mistake with its line, each rule with a proof or the shortest story that breaks it."""
    from coach.commands import check as room

    return room.check(files, json=json, sarif=sarif, injects=injects, seconds=limit, scripts=scripts)


@app.command(short_help="Change, check and walk a protocol.")
def bench(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="A protocol file, or one by name; picked if left out.")
    ] = "",
) -> int:
    """A protocol on the bench: findings beside its source, checked on every save, walked with keys and no clock."""
    from coach.commands import doors

    return doors.bench(file)


@app.command(short_help="Play a protocol's golden key scripts.")
def scripts(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="Protocol files, or protocols by name.")],
    json: Json = False,
) -> int:
    """Play the golden key scripts that lie in scripts/NAME beside a protocol file: each must be judged as its header
    says, `# expects: pass` or ids of findings. A file over a base is played by its base's scripts too."""
    from coach.commands import scripts as room

    return room.scripts(files, json)


@app.command(short_help="What scripts and random learners reach.")
def coverage(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A protocol file, or a protocol by name.")],
    learners: Annotated[int, typer.Option(metavar="N", min=0, max=100_000, help="How many random learners.")] = 1_000,
    seed: Annotated[int, typer.Option(metavar="N", min=0, help="Other learners; the same ones for the same seed.")] = 1,
    json: Json = False,
) -> int:
    """Say which steps, arrows and outcomes of guards golden key scripts and random learners come by, and list at its
    line what nobody came by. Ends with 1 where there is any such."""
    from coach.commands import scripts as room

    return room.coverage(file, learners, seed, json)


@app.command(short_help="What a word of a file or of the checker means.")
def explain(
    word: Annotated[str, typer.Argument(help="A code such as guard-gap or a table such as step; or all.")] = "",
    json: Json = False,
) -> int:
    """Say what a code of the checker means and what to do about it, or what may stand in a table of a file."""
    from coach.commands import explaining as room

    return room.explain(word, json)


@app.command(short_help="Print the whole protocol in force.")
def flatten(
    protocol: Annotated[str, typer.Argument(metavar="FILE", help="A protocol file, or a protocol by name.")],
    derived: Annotated[bool, typer.Option("--derived", help="With the arrows that the spine lends.")] = False,
) -> int:
    """Print the whole protocol that a local file over a base brings into force, with what it changed and why."""
    from coach.commands import protocols as room

    return room.flatten(protocol, derived)


@app.command(short_help="Compare two protocols or versions.")
def compare(
    old: Annotated[str, typer.Argument(help="A protocol file, or a protocol by name.")],
    new: Annotated[
        str, typer.Argument(help="The one to compare with it; left out, the first is compared with what is in force.")
    ] = "",
    json: Json = False,
    pairs: Annotated[
        int | None, typer.Option(metavar="N", min=100, show_default=False, help="Pairs of states for each search.")
    ] = None,
    heard: Annotated[bool, typer.Option("--heard", help="What each says on the shared key scripts too.")] = False,
) -> int:
    """Compare two protocols in words: relaxed rules, rules newly broken, timing, arrows, wording, and how they run. One
    alone is compared with the version of it in force: the copy kept when it was approved, else the library's."""
    from coach.commands import protocols as room

    return room.compare(old, new, json, pairs, heard)


@app.command(short_help="Draw a protocol.")
def map(  # noqa: A001 - the command's name
    protocol: Annotated[str, typer.Argument(metavar="FILE", help="A protocol file, or a protocol by name.")],
    form: Annotated[
        Literal["text", "mermaid", "dot", "svg", "scxml"],
        typer.Option("--as", help="In which form; scxml is the W3C's, for other programs to run."),
    ] = "text",
    findings: Annotated[
        Path | None, typer.Option(metavar="JSON", help="What `check --json` wrote: marked on the drawing.")
    ] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write it there instead.")] = None,
) -> int:
    """Draw a protocol, each track a diagram of its own, in the order of the file."""
    from coach.commands import protocols as room

    return room.draw(protocol, form, findings, out)


@app.command(short_help="Sign a protocol file, or withdraw it.")
def approve(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Your own protocol file; it is changed in place.")],
    role: Annotated[
        str, typer.Option(metavar="ROLE", help='Who approves or withdraws, as a role: "medical director".')
    ] = "",
    reason: Annotated[str, typer.Option(metavar="WORDS", help="Why this version.")] = "",
    effective: Annotated[str, typer.Option(metavar="DAY", help="In force from, 2026-01-31.")] = "",
    review_due: Annotated[str, typer.Option(metavar="DAY", help="To be reviewed by, 2027-01-31.")] = "",
    status: Annotated[
        Literal["checked", "approved", "in-force", "superseded", "withdrawn"],
        typer.Option(help="The state to put it in."),
    ] = "approved",
    json: Json = False,
) -> int:
    """Write an approval into a protocol file: digest of exactly what is approved, role, days. What does not check, with
    each inject alone, is refused. Of one that is withdrawn it is said which drills were made with it."""
    from coach.commands import approving as room

    return room.approve(
        file, role=role, reason=reason, effective=effective, review_due=review_due, status=status, json=json
    )


@app.command(short_help="Print a protocol's approval sheet.")
def sheet(
    protocol: Annotated[str, typer.Argument(metavar="FILE", help="A protocol file, or a protocol by name.")],
    form: Annotated[Literal["markdown", "html"], typer.Option("--as", help="In which form.")] = "markdown",
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write it there instead.")] = None,
    unproved: Annotated[bool, typer.Option("--unproved", help="Without proving the rules.")] = False,
) -> int:
    """Print what an approver signs for: every number with its source, every text, every rule with its verdict."""
    from coach.commands import approving as room

    return room.sheet(protocol, form, out, not unproved)


@app.command(short_help="Which folders and files are in use.")
def where(json: Json = False) -> int:
    """Print which folders and files are in use."""
    from coach.commands import lists

    return lists.where(json)


def run(given: Sequence[str]) -> int:
    """Run one command line; what it raises is told by :func:`coach.commands.endings.ended`."""
    try:
        code = get_command(app).main(list(given), prog_name="kneeside", standalone_mode=False)
    except typer.TyperException as error:
        context = getattr(error, "ctx", None)
        path = context.command_path if context is not None else "kneeside"
        what = error.format_message().replace("Value error, ", "")
        raise Refused(what, todo=f"For help: {path} --help") from error
    except typer.Abort as error:
        raise KeyboardInterrupt from error
    except SystemExit as error:
        # Typer turns a broken pipe into an exit; any other exit (of shell completion) is meant.
        if isinstance(error.__context__, BrokenPipeError):
            raise error.__context__ from error
        raise
    return code if isinstance(code, int) else FINE
