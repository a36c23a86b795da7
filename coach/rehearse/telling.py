"""What happened, in a few plain words: the situation before each question. The Spanish is a draft."""

from __future__ import annotations

import re
from collections.abc import Sequence

from coach.drill.setup import words_of
from coach.observations import OBSERVATIONS, label
from coach.protocol.model import Inject, Protocol
from coach.rehearse.draws import MOST_WORDS
from coach.rehearse.verbs import PUSH
from coach.rehearse.world import Step, Walk
from coach.text import one_line

_OUTCOMES: dict[str, dict[str, str]] = {
    "scene_checked": {
        "en": "Nothing here can hurt you; you kneel down.",
        "es": "Nada aquí te puede dañar; te arrodillas.",
    },
    "response_checked": {"en": "No answer, no movement.", "es": "No contesta ni se mueve."},
    "call_made": {"en": "The call-taker listens on the loudspeaker.", "es": "Emergencias escucha por el altavoz."},
    "not_breathing": {"en": "There is no ordinary breathing.", "es": "No respira como siempre."},
    "helper_sent": {"en": "Somebody runs for the unit.", "es": "Alguien corre por el equipo."},
    PUSH: {"en": "You push.", "es": "Comprimes."},
    "breath": {"en": "Two breaths went in.", "es": "Entraron dos soplos."},
    "hands_lifted": {"en": "Your hands are off the chest.", "es": "Tus manos están fuera del pecho."},
    "unit_on": {"en": "The unit is on.", "es": "El equipo está encendido."},
    "chest_bared": {"en": "The chest is bare.", "es": "El pecho está descubierto."},
    "chest_dried": {"en": "The chest is dry.", "es": "El pecho está seco."},
    "hair_removed": {"en": "The hair is off.", "es": "El vello está quitado."},
    "patch_removed": {
        "en": "The medicine patch is off, the skin wiped.",
        "es": "El parche de medicina está fuera, la piel limpia.",
    },
    "pad_right": {"en": "The right pad sticks.", "es": "El electrodo derecho está pegado."},
    "pad_left": {"en": "The left pad sticks.", "es": "El electrodo izquierdo está pegado."},
    "pad_right@front": {"en": "The front pad sticks.", "es": "El electrodo delantero está pegado."},
    "pad_left@back": {"en": "The back pad sticks.", "es": "El electrodo trasero está pegado."},
    "pad_right@again": {"en": "The pad sticks again.", "es": "El electrodo vuelve a estar pegado."},
    "pad_left@again": {"en": "The pad sticks again.", "es": "El electrodo vuelve a estar pegado."},
    "breath@tried": {"en": "You gave two breaths.", "es": "Diste dos soplos."},
    "breath@first": {"en": "The first breaths went in.", "es": "Entraron los primeros soplos."},
    "clear_called": {"en": "Everyone stands back.", "es": "Todos se apartan."},
    "shock_pressed": {"en": "The shock went.", "es": "La descarga se dio."},
    "swapped": {"en": "Somebody else pushes.", "es": "Comprime otra persona."},
    "rolled": {"en": "The mouth is clear again.", "es": "La boca está despejada."},
    "recovery": {"en": "They lie on their side.", "es": "Está de lado."},
    "handover": {"en": "The crew listens.", "es": "La ambulancia escucha."},
}
_NUMBERS = {30: ("Thirty", "treinta"), 15: ("Fifteen", "quince")}
RUN_DONE = {"en": "{number} pushes are done.", "es": "Van {number} compresiones."}
READY = {"en": "The unit waits for its button.", "es": "El equipo espera el botón."}
UNIT_SAYS = {"en": "The unit: “{words}”", "es": "El equipo: «{words}»"}
GONE = {"en": "About {minutes} min of pushing go by.", "es": "Pasan unos {minutes} min de compresiones."}
HANDS_ON = {"en": "You are pushing.", "es": "Estás comprimiendo."}
ASK = {"en": "What do you do next?", "es": "¿Qué haces ahora?"}
KEEP = {"en": "Keep pushing", "es": "Sigue comprimiendo"}

_LONG_MS = 45_000


def event_words(protocol: Protocol, event: str, language: str) -> str:
    """One thing that happened, as a sentence; "" for what needs no telling."""
    kind, _, name = event.partition(":")
    if kind == "inject" and name in protocol.inject:
        return inject_words(protocol.inject[name], language)
    if event in _OUTCOMES:
        return words_of(_OUTCOMES[event], language)
    own = protocol.observations.get(event)
    if own is not None:
        return f"{one_line(words_of(own.label, language))}.".capitalize()
    return f"{label(event)}.".capitalize() if event in OBSERVATIONS else ""


def inject_words(inject: Inject, language: str) -> str:
    """What comes from outside: its title, and what is said aloud in it."""
    title = one_line(words_of(inject.title, language))
    said = re.search(r"[\"«“]([^\"»”]+)[\"»”]", words_of(inject.play, language)) if inject.play else None
    quoted = f" “{one_line(said[1])}”" if said is not None and language != "es" else ""
    if said is not None and language == "es":
        quoted = f" «{one_line(said[1])}»"
    return f"{title}.{quoted}"


def step_words(walk: Walk, step: Step, language: str) -> str:
    """One entry of a walk's telling."""
    if step.voice:
        said = one_line(words_of(walk.machine.voices[step.voice], language))
        return words_of(UNIT_SAYS, language).format(words=said)
    if step.ms:
        if step.ms < _LONG_MS:
            return ""
        return words_of(GONE, language).format(minutes=max(round(step.ms / 60_000), 1))
    return event_words(walk.listing.protocol, step.event, language)


def situation_now(walk: Walk, steps: Sequence[Step], language: str) -> str:
    """What is so now, from what happened since the last question, in at most forty words: the latest counts most."""
    said: list[str] = []
    tail = []
    if walk.scene.thirty:
        english, spanish = _NUMBERS.get(walk.run, (str(walk.run), str(walk.run)))
        tail.append(words_of(RUN_DONE, language).format(number=spanish if language == "es" else english))
    elif walk.moments.hands_on(walk.state) and (not steps or steps[-1].event != PUSH):
        tail.append(words_of(HANDS_ON, language))
    if walk.moments.armed(walk.state) and not any(step.voice for step in steps):
        tail.append(words_of(READY, language))
    for step in reversed(steps):
        words = step_words(walk, step, language)
        if not words or words in said or (step.event == PUSH and tail):
            continue
        if len(" ".join([*said, words, *tail]).split()) > MOST_WORDS or len(said) >= 4:
            break
        said.insert(0, words)
    return " ".join([*said, *tail])
