"""What people do instead: actions outside every protocol that cost time, as wrong answers worth offering.

They rest on the list of usual errors that instructors see (common practice, no source). Each is offered only where it
is possible and plainly not right; none is ever dangerous by this program's own judgement, which only a protocol's
critical faults make.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Temptation:
    """One of them. It is offered where all tags in ``needs`` and none in ``bars`` hold; it costs ``ms``."""

    label: dict[str, str]
    why: dict[str, str]
    ms: int
    needs: frozenset[str] = frozenset()
    bars: frozenset[str] = frozenset()


def _tags(words: str) -> frozenset[str]:
    return frozenset(words.split())


TEMPTATIONS: dict[str, Temptation] = {
    "wait_watch": Temptation(
        {"en": "Wait and watch for a moment", "es": "Espera y mira un momento"},
        {"en": "Waiting brings nothing back.", "es": "Esperar no devuelve nada."},
        10_000,
        bars=_tags("alive reading scene"),
    ),
    "feel_pulse": Temptation(
        {"en": "Feel for a pulse", "es": "Busca el pulso"},
        {"en": "A lay rescuer looks for no pulse.", "es": "Un reanimador lego no busca pulso."},
        10_000,
        needs=_tags("lay"),
        bars=_tags("alive scene crew"),
    ),
    "look_longer": Temptation(
        {"en": "Watch the breathing for another half minute", "es": "Mira la respiración otro medio minuto"},
        {"en": "In doubt it is a no, and pushes begin.", "es": "En la duda es que no, y se comprime."},
        30_000,
        needs=_tags("check"),
        bars=_tags("alive reading armed crew"),
    ),
    "phone_family": Temptation(
        {"en": "Phone their family first", "es": "Llama antes a su familia"},
        {"en": "The emergency number comes first.", "es": "Primero va el número de emergencias."},
        30_000,
        needs=_tags("before"),
        bars=_tags("scene"),
    ),
    "sit_up": Temptation(
        {"en": "Sit them up against something", "es": "Siéntalo contra algo"},
        {"en": "Flat on the back is where the chest can be pushed.", "es": "Boca arriba es donde se puede comprimir."},
        12_000,
        needs=_tags("before"),
        bars=_tags("scene"),
    ),
    "splash_water": Temptation(
        {"en": "Splash water on the face", "es": "Échale agua en la cara"},
        {"en": "It wakes nobody whose heart stands still.", "es": "No despierta a quien tiene el corazón parado."},
        10_000,
        needs=_tags("before"),
        bars=_tags("scene wet"),
    ),
    "go_straight_in": Temptation(
        {"en": "Run straight to them", "es": "Corre directo hacia la persona"},
        {"en": "One look first: a hurt rescuer helps nobody.", "es": "Antes una mirada: herido no ayudas a nadie."},
        3_000,
        needs=_tags("scene"),
    ),
    "ask_around": Temptation(
        {"en": "Ask around what happened", "es": "Pregunta a la gente qué pasó"},
        {"en": "Who they are and what happened can wait.", "es": "Quién es y qué pasó puede esperar."},
        15_000,
        needs=_tags("before"),
    ),
    "read_manual": Temptation(
        {"en": "Read the unit's booklet", "es": "Lee el folleto del equipo"},
        {"en": "The unit tells you itself, once it is on.", "es": "El equipo lo dice solo, una vez encendido."},
        20_000,
        needs=_tags("unit_work"),
        bars=_tags("alive reading armed crew"),
    ),
    "drag_away": Temptation(
        {"en": "Drag them somewhere dry, off the metal", "es": "Arrástralo a un sitio seco, sin metal"},
        {
            "en": "Wet or metal ground is safe while nobody touches them: no needless moving.",
            "es": "Suelo mojado o metálico es seguro si nadie toca: no lo muevas sin necesidad.",
        },
        25_000,
        needs=_tags("unit_work wet_or_metal"),
        bars=_tags("alive reading armed crew"),
    ),
    "pads_off": Temptation(
        {"en": "Peel the pads off", "es": "Despega los electrodos"},
        {
            "en": "Pads stay on until the crew takes them.",
            "es": "Los electrodos siguen puestos hasta que los quite el equipo.",
        },
        8_000,
        needs=_tags("pads_on"),
        bars=_tags("reading armed loose"),
    ),
    "unit_off": Temptation(
        {"en": "Switch the unit off", "es": "Apaga el equipo"},
        {"en": "The unit stays on: it may be needed again.", "es": "El equipo sigue encendido: puede hacer falta."},
        5_000,
        needs=_tags("pads_on"),
        bars=_tags("reading armed"),
    ),
    "walk_away": Temptation(
        {"en": "Step back: your part is done", "es": "Apártate: lo tuyo está hecho"},
        {"en": "You stay until the crew takes over.", "es": "Te quedas hasta que te releven."},
        8_000,
        needs=_tags("late"),
        bars=_tags("reading armed"),
    ),
    "let_unit_decide": Temptation(
        {"en": "Wait for the unit to tell you to push", "es": "Espera a que el equipo te diga que comprimas"},
        {"en": "Hands go back at once, told or not.", "es": "Las manos vuelven ya, lo diga o no."},
        8_000,
        needs=_tags("hands_back"),
    ),
}
