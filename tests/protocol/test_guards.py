"""Guards: what reads, what does not and why, and that the compiled form means what the tree says."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.protocol.guards import (
    MAX_DEPTH,
    MAX_LENGTH,
    And,
    Choice,
    Compare,
    Expr,
    GuardProblem,
    InStep,
    Layout,
    Name,
    Not,
    Or,
    Running,
    Unknown,
    compile_guard,
    facts_read,
    names,
    parse,
    render,
)
from coach.protocol.model import Fact

LAYOUT = Layout(
    facts={
        "weight": (0, Fact(kind="number", unit="kg")),
        "age": (1, Fact(kind="number", unit="year")),
        "chest": (2, Fact(kind="choice", of=["dry", "wet", "damp"])),
        "implant": (3, Fact(kind="flag")),
        "rhythm": (4, Fact(kind="script", of=["shockable", "not_shockable"], counter="analyses")),
        "rescuers": (5, Fact(kind="number", unit="person")),
    },
    counters={"shocks": 0, "analyses": 1},
    marks={"clear_said": 0, "late.call": 1},
    timers={"period": 0, "remind": 1},
    tracks={"rescuer": 0, "machine": 1},
    steps={("rescuer", "check"): 0, ("rescuer", "push"): 1, ("machine", "off"): 0},
    terms={"small": parse("weight < 25 kg or unknown(weight) and age < 8 years")},
)


def state(**changed: Any) -> SimpleNamespace:
    plain: dict[str, Any] = {"steps": (0, 0), "counters": (0, 0), "marks": 0, "timers": ()}
    return SimpleNamespace(**{**plain, **changed})


FACTS = (24_900, 94_800, "wet", True, ("shockable", "not_shockable"), 2)


def holds(text: str, facts: Any = FACTS, **changed: Any) -> bool:
    return compile_guard(parse(text), LAYOUT)(state(**changed), facts)


@pytest.mark.parametrize(
    ("text", "tree"),
    [
        ("implant", Name("implant")),
        ("weight < 24.9 kg", Compare("weight", "<", 24_900, "kg")),
        ("age < 7.9 years", Compare("age", "<", 94_800, "years")),
        ("age < 6 months", Compare("age", "<", 6_000, "months")),
        ("age >= 1 year", Compare("age", ">=", 12_000, "year")),
        ("chest in (wet, damp)", Choice("chest", "in", ("wet", "damp"))),
        ("chest != dry", Choice("chest", "!=", ("dry",))),
        ("not unknown(age)", Not(Unknown("age"))),
        ("running(period)", Running("period")),
        ("in_step(rescuer, push)", InStep("rescuer", "push")),
        ("late.call", Name("late.call")),
        ("a or b and not c", Or((Name("a"), And((Name("b"), Not(Name("c"))))))),
        ("(a or b) and c", And((Or((Name("a"), Name("b"))), Name("c")))),
        ("a\n  and b", And((Name("a"), Name("b")))),
    ],
)
def test_reads(text: str, tree: Expr) -> None:
    assert parse(text) == tree


@pytest.mark.parametrize(
    ("text", "offset", "what", "nearest"),
    [
        ("implant == true", 8, "not needed", "implant"),
        ("implant != true", 8, "not needed", "not implant"),
        ("1 < shocks < 4", 0, "starts with a name", None),
        ("shocks > 1 < 4", 11, "chained", None),
        ("(shocks > 1) < 4", 13, "chained", None),
        ("shocks + 1 > 2", 7, "arithmetic", None),
        ("shocks > -1", 9, "arithmetic", None),
        ("weight < 25 pounds", 12, "unknown unit", None),
        ("weight < 55 lb", 12, "unknown unit", "kg"),
        ("age < 8 yeers", 8, "unknown unit", "years"),
        ("weight < age", 9, "constants only", None),
        ("unknwn(age)", 0, "no call", "unknown"),
        ('chest == "wet"', 9, "quoted", None),
        ("chest = wet", 6, "single =", None),
        ("a && b", 2, "&", None),
        ("a and", 5, "missing", None),
        ("", 0, "missing", None),
        ("   ", 3, "missing", None),
        ("a b", 2, "does not belong", None),
        ("(a", 2, "is missing here", None),
        ("a)", 1, "does not belong", None),
        ("Implant", 0, "no name", "implant"),
        ("chest in (1)", 10, "a number", None),
        ("chest in ()", 10, "missing", None),
        ("in_step(rescuer)", 15, "`,` is missing", None),
        ("weight < 24.90001 kg", 9, "finer than a gram", None),
        ("shocks > 1.5", 9, "whole", None),
        ("not", 3, "missing", None),
        ("true", 0, "not a word", None),
        ("a\u202eb", 1, "not a sign", None),
        ("shocks > 1111111111111111111", 9, "15 characters", None),
        ("shocks == and", 10, "constant is missing", None),
    ],
)
def test_a_bad_guard_says_where_what_and_the_nearest_word(
    text: str, offset: int, what: str, nearest: str | None
) -> None:
    with pytest.raises(GuardProblem, match=what) as caught:
        parse(text)
    assert (caught.value.offset, caught.value.nearest) == (offset, nearest)


def test_length_and_depth_are_bounded() -> None:
    assert parse("(" * MAX_DEPTH + "a" + ")" * MAX_DEPTH) == Name("a")
    for text in ("(" * (MAX_DEPTH + 1) + "a", "not " * (MAX_DEPTH + 1) + "a", "a" * (MAX_LENGTH + 1), "(" * 100_000):
        with pytest.raises(GuardProblem, match=r"more than|at most"):
            parse(text)


@pytest.mark.parametrize(
    ("text", "truth"),
    [
        ("weight < 25 kg", True),
        ("weight < 24.9 kg", False),
        ("weight <= 24.9 kg", True),
        ("age >= 8 years", False),
        ("rescuers >= 2", True),
        ("chest == wet and implant", True),
        ("chest != wet", False),
        ("chest in (dry, damp)", False),
        ("this_rhythm == shockable", True),
        ("small", True),
        ("clear_said or shocks > 0", False),
    ],
)
def test_holds(text: str, truth: bool) -> None:
    assert holds(text) is truth


def test_an_unknown_fact_makes_every_comparison_false() -> None:
    unknown = (None,) * 6
    for text in ("weight < 25 kg", "weight >= 25 kg", "weight != 25 kg", "chest == wet", "chest != wet", "implant"):
        assert holds(text, unknown) is False
        assert holds(f"not ({text})", unknown) is True
    assert holds("unknown(weight)", unknown) is True
    assert holds("this_rhythm != shockable", unknown) is False


@pytest.mark.parametrize(
    ("analyses", "word"), [(0, "shockable"), (1, "shockable"), (2, "not_shockable"), (9, "not_shockable")]
)
def test_a_script_starts_at_its_first_entry_and_repeats_its_last(analyses: int, word: str) -> None:
    assert holds(f"this_rhythm == {word}", counters=(0, analyses)) is True


def test_marks_timers_and_steps() -> None:
    assert holds("clear_said", marks=1) and not holds("late.call", marks=1) and holds("late.call", marks=2)
    assert holds("running(remind)", timers=((5_000, 1, -1),)) and not holds("running(period)", timers=((5_000, 1, -1),))
    assert holds("in_step(rescuer, push)", steps=(1, 0)) and not holds("in_step(rescuer, push)")


class OnlyAsked(dict[int, Any]):
    """Facts that fail the test when one is read that the answer does not hang on."""

    def __missing__(self, index: int) -> Any:
        raise AssertionError(f"fact {index} was read needlessly")


def test_facts_are_read_only_when_the_answer_hangs_on_them() -> None:
    assert holds("clear_said and weight < 25 kg", OnlyAsked()) is False
    assert holds("shocks == 0 or age < 8 years", OnlyAsked()) is True
    assert holds("implant and weight < 25 kg and age < 8 years", OnlyAsked({3: False})) is False
    assert holds("small", OnlyAsked({0: 20_000})) is True


def test_exact_fractions_may_stand_for_facts() -> None:
    pounds = (Fraction("24947.58035"), *FACTS[1:])
    assert holds("weight < 25 kg", pounds) and not holds("weight <= 24.947 kg", pounds)


def test_a_name_that_the_layout_lacks_is_a_problem() -> None:
    for text in (
        "nobody",
        "nobody < 3",
        "nobody == wet",
        "unknown(nobody)",
        "running(nobody)",
        "in_step(rescuer, nobody)",
    ):
        with pytest.raises(GuardProblem, match="unknown"):
            compile_guard(parse(text), LAYOUT)
    with pytest.raises(GuardProblem, match="back to itself"):
        compile_guard(parse("a"), Layout(terms={"a": parse("not b"), "b": parse("a")}))


def test_names_and_facts_read() -> None:
    expr = parse("small and this_rhythm == shockable or chest == wet and running(period)")
    assert names(expr) == {"small", "this_rhythm", "chest"}
    assert facts_read(expr, LAYOUT.facts, LAYOUT.terms) == {"weight", "age", "rhythm", "chest"}
    looped = {"a": parse("b"), "b": parse("a or implant")}
    assert facts_read(parse("a"), LAYOUT.facts, looped) == {"implant"}


def trees() -> st.SearchStrategy[Expr]:
    operators = st.sampled_from(["<", "<=", ">", ">=", "==", "!="])
    leaves: st.SearchStrategy[Expr] = st.one_of(
        st.builds(Name, st.sampled_from(["implant", "clear_said", "late.call", "small"])),
        st.builds(Compare, st.just("weight"), operators, st.integers(0, 60_000), st.just("kg")),
        st.builds(Compare, st.just("age"), operators, st.integers(0, 200_000), st.sampled_from(["month", "months"])),
        st.builds(Compare, st.just("age"), operators, st.integers(0, 20).map(lambda n: n * 12_000), st.just("years")),
        st.builds(Compare, st.sampled_from(["shocks", "rescuers"]), operators, st.integers(0, 5)),
        st.builds(
            Choice,
            st.just("chest"),
            st.sampled_from(["==", "!="]),
            st.sampled_from([("dry",), ("wet",)]),
        ),
        st.builds(Choice, st.just("chest"), st.just("in"), st.sampled_from([("dry",), ("wet", "damp")])),
        st.builds(Choice, st.just("this_rhythm"), st.just("=="), st.just(("shockable",))),
        st.builds(Unknown, st.sampled_from(["weight", "age"])),
        st.builds(Running, st.sampled_from(["period", "remind"])),
        st.just(InStep("rescuer", "push")),
    )

    def grown(inner: st.SearchStrategy[Expr]) -> st.SearchStrategy[Expr]:
        several = st.lists(inner, min_size=2, max_size=3).map(tuple)
        return st.one_of(inner.map(Not), several.map(And), several.map(Or))

    return st.recursive(leaves, grown, max_leaves=8)


@given(trees())
def test_what_is_rendered_reads_back(tree: Expr) -> None:
    text = render(tree)
    if len(text) <= MAX_LENGTH:
        assert parse(text) == tree


def reference(expr: Expr, machine: Any, facts: tuple[Any, ...]) -> bool:
    """The meaning of a guard, written as plainly as can be and sharing nothing with the compiler."""
    compare = {
        "<": lambda a, b: a < b,
        "<=": lambda a, b: a <= b,
        ">": lambda a, b: a > b,
        ">=": lambda a, b: a >= b,
        "==": lambda a, b: a == b,
        "!=": lambda a, b: a != b,
    }
    by_name = dict(zip(["weight", "age", "chest", "implant", "rhythm", "rescuers"], facts, strict=True))
    if isinstance(expr, Not):
        return not reference(expr.item, machine, facts)
    if isinstance(expr, And):
        return all([reference(item, machine, facts) for item in expr.items])
    if isinstance(expr, Or):
        return any([reference(item, machine, facts) for item in expr.items])
    if isinstance(expr, Unknown):
        return by_name[expr.fact] is None
    if isinstance(expr, Running):
        return {"period": 0, "remind": 1}[expr.timer] in [pending[1] for pending in machine.timers]
    if isinstance(expr, InStep):
        return bool(machine.steps[0] == 1)
    if isinstance(expr, Name):
        if expr.name == "small":
            weight, age = by_name["weight"], by_name["age"]
            return weight < 25_000 if weight is not None else age is not None and age < 96_000
        if expr.name == "implant":
            return by_name["implant"] is True
        return bool(machine.marks >> {"clear_said": 0, "late.call": 1}[expr.name] & 1)
    if isinstance(expr, Compare):
        value = machine.counters[0] if expr.name == "shocks" else by_name[expr.name]
        return False if value is None else compare[expr.op](value, expr.value)
    value = by_name["rhythm"] if expr.name == "this_rhythm" else by_name[expr.name]
    if value is None:
        return False
    if expr.name == "this_rhythm":
        value = [value[0], *value, *[value[-1]] * 9][machine.counters[1]]
    return (value not in expr.words) if expr.op == "!=" else (value in expr.words)


@given(
    tree=trees(),
    steps=st.tuples(st.integers(0, 1), st.just(0)),
    counters=st.tuples(st.integers(0, 5), st.integers(0, 5)),
    marks=st.integers(0, 3),
    timers=st.lists(st.integers(0, 1), max_size=2).map(lambda all_: tuple((9, index, 1) for index in all_)),
    facts=st.tuples(
        st.none() | st.integers(0, 60_000),
        st.none() | st.integers(0, 200_000),
        st.none() | st.sampled_from(["dry", "wet", "damp"]),
        st.none() | st.booleans(),
        st.none() | st.lists(st.sampled_from(["shockable", "not_shockable"]), min_size=1, max_size=3).map(tuple),
        st.integers(1, 4),
    ),
)
def test_compiled_and_plain_meaning_agree(tree: Expr, facts: tuple[Any, ...], **parts: Any) -> None:
    machine = state(**parts)
    assert compile_guard(tree, LAYOUT)(machine, facts) is reference(tree, machine, facts)


@given(
    st.text(max_size=60)
    | st.lists(st.sampled_from(["(", ")", "not ", "a", " and ", " or ", "<", "8", " kg", ","])).map("".join)
)
def test_no_text_does_worse_than_a_problem_inside_itself(text: str) -> None:
    try:
        tree = parse(text)
    except GuardProblem as problem:
        assert 0 <= problem.offset <= len(text)
        assert problem.what
    else:
        assert parse(render(tree)) == tree
