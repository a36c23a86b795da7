"""What can be done, as an order a person would give: for choosing, and for typing with forgiven spelling.

The Spanish is a draft, as in the protocol files.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from coach.drill.setup import words_of
from coach.observations import OBSERVATIONS
from coach.protocol.model import Protocol
from coach.rehearse.temptations import TEMPTATIONS
from coach.text import one_line

PUSH = "hands_placed"
"""Pushing as one decision: the engine's input for it in a rehearsal, where single pushes are not counted."""

LABELS: dict[str, dict[str, str]] = {
    PUSH: {"en": OBSERVATIONS["compression"].verb, "es": "Comprime el pecho"},
    "breath": {"en": "Give two breaths", "es": "Da dos soplos"},
    "not_breathing": {
        "en": "Look at the breathing; doubt counts as no",
        "es": "Mira si respira; la duda cuenta que no",
    },
    "scene_checked": {"en": OBSERVATIONS["scene_checked"].verb, "es": "Mira si hay peligro antes de acercarte"},
    "response_checked": {"en": OBSERVATIONS["response_checked"].verb, "es": "Háblale y muévele los hombros"},
    "call_made": {"en": OBSERVATIONS["call_made"].verb, "es": "Llama a emergencias, con altavoz"},
    "helper_sent": {"en": OBSERVATIONS["helper_sent"].verb, "es": "Manda a alguien por el equipo"},
    "hands_lifted": {"en": OBSERVATIONS["hands_lifted"].verb, "es": "Quita las manos del pecho"},
    "unit_on": {"en": OBSERVATIONS["unit_on"].verb, "es": "Enciende el equipo"},
    "chest_bared": {"en": OBSERVATIONS["chest_bared"].verb, "es": "Descubre el pecho"},
    "chest_dried": {"en": OBSERVATIONS["chest_dried"].verb, "es": "Seca el pecho"},
    "hair_removed": {"en": OBSERVATIONS["hair_removed"].verb, "es": "Quita el vello donde no pega el electrodo"},
    "patch_removed": {"en": OBSERVATIONS["patch_removed"].verb, "es": "Quita el parche de medicina y limpia la piel"},
    "pad_right": {"en": "Stick the right pad", "es": "Pega el electrodo derecho"},
    "pad_left": {"en": "Stick the left pad", "es": "Pega el electrodo izquierdo"},
    "clear_called": {"en": OBSERVATIONS["clear_called"].verb, "es": "Mira de pies a cabeza y aparta a todos"},
    "shock_pressed": {"en": OBSERVATIONS["shock_pressed"].verb, "es": "Da la descarga"},
    "swapped": {"en": OBSERVATIONS["swapped"].verb, "es": "Cambiad quien comprime"},
    "rolled": {"en": OBSERVATIONS["rolled"].verb, "es": "Gíralo y despeja la boca"},
    "recovery": {"en": OBSERVATIONS["recovery"].verb, "es": "Ponlo de lado"},
    "handover": {"en": OBSERVATIONS["handover"].verb, "es": "Cuéntale a la ambulancia lo que pasó"},
}
"""The vocabulary's verbs with their Spanish; where a decision reads better in other words, those."""

AGAIN: dict[str, str] = {"pad_right": "pad_right@again", "pad_left": "pad_left@again"}
FRONT: dict[str, str] = {"pad_right": "pad_right@front", "pad_left": "pad_left@back"}
FIRST: dict[str, str] = {"breath": "breath@first"}
"""Under which other name a deed goes: done before, on front and back, before the first push."""

SPECIAL: dict[str, dict[str, str]] = {
    "pad_right@again": {"en": "Press the loose pad down", "es": "Vuelve a pegar el electrodo suelto"},
    "pad_left@again": {"en": "Press the loose pad down", "es": "Vuelve a pegar el electrodo suelto"},
    "pad_right@front": {"en": "Stick the front pad", "es": "Pega el electrodo delantero"},
    "pad_left@back": {"en": "Stick the back pad", "es": "Pega el electrodo trasero"},
    "breath@first": {"en": "Give the first breaths", "es": "Da los primeros soplos"},
}

_TYPED: dict[str, tuple[str, ...]] = {
    PUSH: (
        "push", "push on the chest", "compress", "start compressions", "compressions", "pump the chest", "do cpr",
        "start cpr", "hands back on the chest", "hands on", "keep pushing", "comprimir", "comprime", "compresiones",
        "empieza a comprimir", "manos al pecho", "masaje", "rcp",
    ),
    "breath": (
        "breathe", "first breaths", "five breaths", "initial breaths", "primeros soplos", "cinco soplos",
        "two breaths", "give breaths", "give two breaths", "rescue breaths", "blow", "ventilate",
        "ventilar", "dos soplos", "soplar", "ventilaciones", "dos ventilaciones",
    ),
    "not_breathing": (
        "check breathing", "look at the breathing", "breathing", "see if they breathe", "listen for breath",
        "look for breathing", "decide not breathing", "mirar si respira", "respira", "comprobar respiracion",
    ),
    "scene_checked": (
        "look for danger", "check the scene", "is it safe", "safety", "look round", "make sure it is safe",
        "mirar si hay peligro", "lugar seguro", "peligro", "seguridad",
    ),
    "response_checked": (
        "check response", "speak to them", "shake the shoulders", "talk to them", "see if they respond", "rock them",
        "are you all right", "hablarle", "mover los hombros", "responde", "comprobar respuesta",
    ),
    "call_made": (
        "call", "phone", "phone the emergency number", "call an ambulance", "ring emergency", "dial", "call for help",
        "llamar", "llama", "telefono", "llamar a emergencias", "llamar a la ambulancia",
    ),
    "helper_sent": (
        "send someone for the unit", "send for the defibrillator", "send them for the unit", "send a helper",
        "fetch the unit", "mandar por el equipo", "manda a alguien", "que traigan el desfibrilador",
    ),
    "hands_lifted": (
        "hands off", "take the hands off", "stop pushing", "lift the hands", "do not touch", "stand back", "stop",
        "quitar las manos", "manos fuera", "parar", "no tocar", "dejar de comprimir",
    ),
    "unit_on": (
        "switch on", "switch the unit on", "turn it on", "turn the unit on", "power on", "start the unit",
        "encender", "enciende el equipo", "encender el desfibrilador",
    ),
    "chest_bared": ("bare the chest", "open the shirt", "cut the clothes", "undress the chest", "descubrir el pecho",
                    "abrir la camisa", "cortar la ropa"),
    "chest_dried": ("dry the chest", "wipe the chest", "dry", "wipe dry", "secar el pecho", "secar"),
    "hair_removed": ("shave", "remove the hair", "clear the hair", "afeitar", "quitar el vello", "rasurar"),
    "patch_removed": ("remove the patch", "take the patch off", "peel the medicine patch", 
                      "quitar el parche de medicina",
                      "quitar la medicina"),
    "pad_right": ("right pad", "press the pad down", "stick the pad again", "loose pad",
                  "stick the right pad", "first pad", "front pad", "pads on", "stick the pads",
                  "electrodo derecho", "pegar el electrodo derecho", "pegar los electrodos",
                  "parche derecho", "pegar el parche derecho", "pegar los parches"),
    "pad_left": ("left pad", "stick the left pad", "second pad", "back pad", "other pad",
                 "electrodo izquierdo", "pegar el electrodo izquierdo", "segundo electrodo", "parche izquierdo",
                 "pegar el parche izquierdo", "segundo parche"),
    "clear_called": ("clear", "call clear", "say clear", "send everyone back", "everyone back", "everybody back",
                     "stand clear",
                     "look and say clear", "send them back", "avisar", "apartar a todos", "fuera todos", "todos atras"),
    "shock_pressed": ("shock", "press shock", "press the button", "give the shock", "deliver the shock", "press",
                      "descarga", "dar la descarga", "apretar el boton"),
    "swapped": ("swap", "change over", "swap who pushes", "change who pushes", "relevo de compresiones", "cambiar",
                "turnarse"),
    "rolled": ("roll", "roll them and clear the mouth", "clear the mouth", "turn and clear", "girar y despejar la boca",
               "despejar la boca"),
    "recovery": ("recovery position", "turn on the side", "put on the side", "side position",
                 "posicion lateral", "poner de lado"),
    "handover": ("hand over", "handover", "tell the crew", "report to the crew", "relevo", "contar a la ambulancia",
                 "informar"),
}  # fmt: skip
"""Further words that mean the same, without accents: what people type."""

_AT_LEAST = 78.0
"""Least likeness (rapidfuzz WRatio, 0 to 100) that counts as meant; set by the spellings in the tests."""
_AHEAD_BY = 4.0
"""A word that two actions share within this many points is asked about, never guessed."""


class Understood(NamedTuple):
    """What a typed line can mean: one action, several to choose from, or none."""

    actions: tuple[str, ...]


def label(action: str, protocol: Protocol, language: str) -> str:
    """An action in words, as an order."""
    if action in SPECIAL:
        return words_of(SPECIAL[action], language)
    if action in LABELS:
        return words_of(LABELS[action], language)
    if action in TEMPTATIONS:
        return words_of(TEMPTATIONS[action].label, language)
    own = protocol.observations.get(action)
    if own is not None:
        return one_line(words_of(own.verb or own.label, language))
    return OBSERVATIONS[action].verb if action in OBSERVATIONS else action.replace("_", " ")


def lower_first(words: str) -> str:
    """The words as they stand within a sentence."""
    return words[:1].lower() + words[1:]


def plain(text: str) -> str:
    """Small letters, no accents, no punctuation, single blanks."""
    parts = unicodedata.normalize("NFKD", one_line(text).casefold())
    return " ".join("".join(c if c.isalnum() else " " for c in parts if not unicodedata.combining(c)).split())


def _phrases(actions: Iterable[str], protocol: Protocol) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for action in actions:
        spoken: Mapping[str, str] = {}
        if action in LABELS:
            spoken = LABELS[action]
        elif action in TEMPTATIONS:
            spoken = TEMPTATIONS[action].label
        elif action in protocol.observations:
            own = protocol.observations[action]
            spoken = {f"verb-{key}": word for key, word in own.verb.items()}
            spoken = {**spoken, **{f"label-{key}": word for key, word in own.label.items()}}
        found += [(plain(word), action) for word in (*spoken.values(), *_TYPED.get(action, ()))]
    return found


def understand(typed: str, actions: Iterable[str], protocol: Protocol) -> Understood:
    """What ``typed`` means among ``actions``, spelling forgiven, in English or Spanish."""
    from rapidfuzz import fuzz, process  # only where somebody types

    said = plain(typed)[:80]
    if not said:
        return Understood(())
    phrases = _phrases(actions, protocol)
    best: dict[str, float] = {}
    for _, score, place in process.extract(
        said, [phrase for phrase, _ in phrases], scorer=fuzz.ratio, limit=None, score_cutoff=60
    ):
        action = phrases[place][1]
        best[action] = max(best.get(action, 0.0), score)
    if not best or max(best.values()) < _AT_LEAST:
        # Longer sentences: the words of a phrase, in any order, among others.
        for _, score, place in process.extract(
            said, [phrase for phrase, _ in phrases], scorer=fuzz.token_set_ratio, limit=None, score_cutoff=_AT_LEAST
        ):
            action = phrases[place][1]
            best[action] = max(best.get(action, 0.0), score)
    ranked = sorted((score, action) for action, score in best.items() if score >= _AT_LEAST)[::-1]
    if not ranked:
        return Understood(())
    top = ranked[0][0]
    return Understood(tuple(action for score, action in ranked if top - score <= _AHEAD_BY)[:4])
