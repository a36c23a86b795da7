"""What measures say in words, in each language: names of targets, the strength, the handover told from the record.

The Spanish is a draft that nobody has reviewed.
"""

from __future__ import annotations

from coach.wording import Table

WORDS: Table = {
    # Targets by name
    "compression_rate": ("Rate of compressions", "Ritmo de compresiones"),
    "hands_on_share": ("Hands-on share", "Porcentaje con manos puestas"),
    "hands_off": ("Your own time without compressions", "Tu propio tiempo sin compresiones"),
    "breath_gap": ("Pause for breaths", "Pausa para soplos"),
    "run_length": ("Compressions in a run", "Compresiones por serie"),
    "breaths_per_gap": ("Breaths in one pause", "Soplos en una pausa"),
    "pre_shock": ("Pause before a shock", "Pausa antes de la descarga"),
    "post_shock": ("Pause after a shock", "Pausa tras la descarga"),
    "peri_shock": ("Pause around a shock", "Pausa en torno a la descarga"),
    "period": ("Time between checks", "Tiempo entre revisiones"),
    "from-to": ("From {start} to {end}", "Desde {start} hasta {end}"),
    "go": ("go", "el inicio"),
    "recognised": ("recognition", "reconocerlo"),
    "called": ("the call", "la llamada"),
    "first_compression": ("the first compression", "la primera compresión"),
    "unit_at_side": ("the unit at their side", "el equipo a su lado"),
    "unit_on": ("unit on", "el equipo encendido"),
    "pads_on": ("both pads on", "los dos parches puestos"),
    "first_analysis": ("the first analysis", "el primer análisis"),
    "first_shock": ("the first shock", "la primera descarga"),
    "resumed": ("compressions after the first shock", "compresiones tras la primera descarga"),
    # The handover
    "old": ("{age} old", "{age} de edad"),
    "adult": ("An adult; nothing else is on record.", "Una persona adulta; no consta nada más."),
    "collapse": ("Collapse {ago} ago (the drill's go).", "Colapso hace {ago} (inicio del ejercicio)."),
    "no-cpr": ("No compressions were keyed.", "No se marcaron compresiones."),
    "cpr": (
        "Compressions for {length}, since {since}, begun by {by}{changes}.",
        "Compresiones durante {length}, desde {since}, empezó {by}{changes}.",
    ),
    "by": ("learner {learner}", "practicante {learner}"),
    "by-learner": ("the learner", "quien practica"),
    "change": ("; who pushes changed {count} time", "; {count} cambio de quien comprime"),
    "changes": ("; who pushes changed {count} times", "; {count} cambios de quien comprime"),
    "no-shock": ("No shock given.", "Ninguna descarga."),
    "shock": ("{count} shock given, the last {ago} ago.", "{count} descarga, la última hace {ago}."),
    "shocks": ("{count} shocks given, the last {ago} ago.", "{count} descargas, la última hace {ago}."),
    "no-verdict": ("The unit gave no verdict.", "El equipo no dio veredicto."),
    "shock_advised": ("Last verdict: shock advised, {ago} ago.", "Último veredicto: descarga indicada, hace {ago}."),
    "no_shock_advised": (
        "Last verdict: no shock advised, {ago} ago.",
        "Último veredicto: descarga no indicada, hace {ago}.",
    ),
    "nothing-seen": ("Nothing else on record.", "No consta nada más."),
    "alive": ("Signs of life since {since}.", "Señales de vida desde {since}."),
    "hands-on": (
        "No signs of life keyed; hands on at that moment.",
        "Sin señales de vida marcadas; manos puestas en ese momento.",
    ),
    "hands-off": (
        "No signs of life keyed; hands off at that moment.",
        "Sin señales de vida marcadas; manos fuera en ese momento.",
    ),
    "watch": (
        "Watch the breathing; leave pads and unit on.",
        "Vigilar la respiración; dejar puestos parches y equipo.",
    ),
    "take-over": (
        "Take over the compressions without a break; leave pads and unit on.",
        "Seguir las compresiones sin parar; dejar puestos parches y equipo.",
    ),
    # The strength to keep
    "noticed": ("Noticed as good: {label}.", "Visto como bueno: {label}."),
    "met": ("{target}: {value} (aim {bounds}).", "{target}: {value} (meta {bounds})."),
    "met-at-most": ("{target}: at most {value} (aim {bounds}).", "{target}: como mucho {value} (meta {bounds})."),
    "clear-always": ("Clear was called before every shock.", "Se avisó antes de cada descarga."),
    "all-critical": ("Every critical step was seen.", "Se vieron todos los pasos críticos."),
    "hands-went-on": (
        "Hands went on the chest: the step that matters most was taken.",
        "Las manos fueron al pecho: se dio el paso que más importa.",
    ),
    "took-part": ("Took part and stayed with it.", "Participó y siguió hasta el final."),
}
"""Every sentence by id."""
