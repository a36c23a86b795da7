"""Rules about pads: the pads file asked for every class of age and weight, known and unknown, and every kit."""

from __future__ import annotations

from itertools import product

from coach.check.proof.rules import Atom
from coach.check.states.openfacts import classes_of, constants_of
from coach.engine.state import FactValue
from coach.protocol import guards
from coach.protocol.guards import Layout
from coach.protocol.model import Fact, Pads
from coach.protocol.pads import decide
from coach.units import quantity_text

KITS = (("adult", "paediatric"), ("adult",), ("paediatric",), ())


def check_pads_rule(pads: Pads, atom: Atom) -> tuple[str, int, bool]:
    """What breaks ``never = {pads = ...}``: ("", cases, asked) where nothing does.

    The text names an age, a weight and the kit; ``cases`` is how many were asked; ``asked`` is False where no case
    meets the atom's own condition.
    """
    exprs = [guards.parse(rule.when) for rule in pads.rule if rule.when]
    exprs += [guards.parse(text) for text in pads.terms.values()]
    when = guards.parse(atom.when) if atom.when else None
    constants = constants_of([*exprs, when] if when is not None else exprs)
    layout = Layout(
        facts={name: (index, fact) for index, (name, fact) in enumerate(pads.facts.items())},
        terms={name: guards.parse(text) for name, text in pads.terms.items()},
    )
    guard = guards.compile_guard(when, layout) if when is not None else None
    age, weight = _fact(pads, ("year", "month")), _fact(pads, ("kg",))
    cases = 0
    asked = False
    every = [classes_of(fact, constants.get(name, set())) for name, fact in pads.facts.items()]
    kits = [kit for kit in KITS if set(atom.have) <= set(kit)]
    for values in product(*every):
        if guard is not None and not guard(None, values):
            continue
        for kit in kits:
            cases += 1
            asked = True
            given = dict(zip(pads.facts, values, strict=True))
            size = decide(pads, _amount(given.get(age)), _amount(given.get(weight)), kit, confirmed=True).size
            if (size or "none") == atom.pads:
                words = [f"{name} {_text(pads.facts[name], value)}" for name, value in given.items()]
                return f"{', '.join(words)}; at hand: {' and '.join(kit) or 'nothing'}", cases, True
    return "", cases, asked


def _fact(pads: Pads, units: tuple[str, ...]) -> str:
    return next((name for name, fact in pads.facts.items() if fact.unit in units), "")


def _amount(value: FactValue) -> int | None:
    return value if isinstance(value, int) else None


def _text(fact: Fact, value: FactValue) -> str:
    return "unknown" if not isinstance(value, int) else quantity_text(value, fact.unit)
