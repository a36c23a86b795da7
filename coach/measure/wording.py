"""What measures say in words, in each language: names of targets, the strength, the handover told from the record.

The Spanish is a draft that nobody has reviewed.
"""

from __future__ import annotations

from coach.observations import label
from coach.wording import Table, say

WORDS: Table = {
    # What a gap was for. A file's own word that is not here stands as the file has it.
    "cause:breaths": ("breaths", "soplos"),
    "cause:analysis": ("analysis", "análisis"),
    "cause:pads": ("pads", "electrodos"),
    "cause:swap": ("swap", "cambio"),
    "cause:call": ("call", "llamada"),
    "cause:unknown": ("unknown", "desconocida"),
    "cause:never": ("not by the end", "no antes del final"),
    "cause:keyboard elsewhere": ("keyboard elsewhere", "teclado en otra parte"),
    "cause:bystander": ("bystander", "persona cercana"),
    "cause:gasp": ("gasp", "boqueada"),
    "cause:helper": ("helper", "ayudante"),
    "cause:mouth": ("mouth", "boca"),
    "cause:pad loose": ("pad loose", "electrodo suelto"),
    "cause:signs of life faded": ("signs of life faded", "señales de vida apagadas"),
    "cause:tired": ("tired", "cansancio"),
    "cause:unit fault": ("unit fault", "fallo del equipo"),
    "cause:vomit": ("vomit", "vómito"),
    "cause:antidote": ("antidote", "antídoto"),
    "cause:away to phone": ("away to phone", "fue a llamar"),
    "cause:breath does not go in": ("breath does not go in", "el soplo no entra"),
    "cause:fumes": ("fumes", "vapores"),
    "cause:jerking": ("jerking", "sacudidas"),
    "cause:looking for pads": ("looking for pads", "buscando electrodos"),
    "cause:bra or chain": ("bra or chain", "sujetador o cadena"),
    "cause:wrong pads": ("wrong pads", "electrodos que no tocan"),
    "cause:oxygen": ("oxygen", "oxígeno"),
    "cause:setting of the unit": ("setting of the unit", "modo del equipo"),
    # What is looked at
    "look:hands": ("hands", "manos"),
    "look:posture": ("posture", "postura"),
    "look:depth": ("depth", "profundidad"),
    "look:release": ("release", "descompresión"),
    "look:head": ("head", "cabeza"),
    "look:rise": ("rise", "elevación del pecho"),
    # What a pin can be named
    "label:where the hands were": ("where the hands were", "dónde estaban las manos"),
    "label:arms and shoulders": ("arms and shoulders", "brazos y hombros"),
    "label:depth": ("depth", "profundidad"),
    "label:release": ("release", "descompresión"),
    "label:head and chin": ("head and chin", "cabeza y barbilla"),
    "label:breaths": ("breaths", "soplos"),
    "label:pads": ("pads", "electrodos"),
    "label:clear and touch": ("clear and touch", "aviso y contacto"),
    "label:talking to people": ("talking to people", "hablar con la gente"),
    # What the assessor is asked
    "ask:missing": (
        "Seen and not pressed, did it not happen, or were you not looking?",
        "¿Se vio y no se marcó, no ocurrió, o no estabas mirando?",
    ),
    "ask:no-mark": (
        "No mark of it: {what}. Seen and not pressed, did it not happen, or were you not looking?",
        "Falta la marca: {what}. ¿Se vio y no se marcó, no ocurrió, o no estabas mirando?",
    ),
    "ask:or": (", or ", ", o "),
    "ask:just-after": (
        "{what} was keyed just after: late, or pressed late?",
        "{what}: se marcó justo después. ¿Ocurrió tarde o se pulsó tarde?",
    ),
    "ask:none-before": ("No mark of it: {what}.", "Falta la marca: {what}."),
    "ask:pushing": (
        "Pushing went on for 3 s past the mark of analysis: had the unit begun to read?",
        "Las compresiones siguieron 3 s tras la marca de análisis: ¿había empezado a leer el equipo?",
    ),
    "ask:no-order": (
        "Marks closer than {window} s have no order: did it happen in this one?",
        "Marcas a menos de {window} s no tienen orden: ¿ocurrió en este?",
    ),
    "ask:one-press": (
        "It rests on one press: did it happen, or was it a slip of the key?",
        "Se apoya en una sola pulsación: ¿ocurrió, o fue un desliz de la tecla?",
    ),
    "ask:to-the-end": (
        "Hands were off to the end: was the drill over before it was keyed?",
        "Manos fuera hasta el final: ¿había acabado el ejercicio antes de marcarlo?",
    ),
    "ask:still-on": (
        "Hands still marked on: were they off, and the key not pressed?",
        "Manos aún marcadas: ¿estaban fuera y no se pulsó la tecla?",
    ),
    # Findings of no file's own words
    "rule-omitted": ("Not marked, and a later step was.", "Sin marcar, y sí un paso posterior."),
    "rule-out-of-order": ("Marked out of order.", "Marcado fuera de orden."),
    "in-all": ("{whole} in all", "{whole} en total"),
    "rule-past": ("{target}: past its limit.", "{target}: pasa del límite."),
    "answered-wrongly": ("{title}: answered wrongly.", "{title}: respuesta equivocada."),
    "by-eye": (
        "By eye, a concern in {seen} of {looked} looks: {target}.",
        "A ojo, una duda en {seen} de {looked} miradas: {target}.",
    ),
    # Published rules
    "rule:hansen-2019": (
        "count and rate of the first three cycles; depth and breaths not measured",
        "cuenta y ritmo de los tres primeros ciclos; profundidad y soplos no medidos",
    ),
    "rule:anderson-2019": (
        "rate over two minutes; depth and release not measured",
        "ritmo en dos minutos; profundidad y descompresión no medidas",
    ),
    "rule:cheskes-2011": ("pauses before and around each shock", "pausas antes y en torno a cada descarga"),
    # Ages
    "age:year": ("{number} year", "{number} año"),
    "age:years": ("{number} years", "{number} años"),
    "age:month": ("{number} month", "{number} mes"),
    "age:months": ("{number} months", "{number} meses"),
    "value:wet": ("wet", "mojado"),
    "value:dry": ("dry", "seco"),
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
    "pads_on": ("both pads on", "los dos electrodos puestos"),
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
        "Vigilar la respiración; dejar puestos electrodos y equipo.",
    ),
    "take-over": (
        "Take over the compressions without a break; leave pads and unit on.",
        "Seguir las compresiones sin parar; dejar puestos electrodos y equipo.",
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

EVENTS: Table = {
    "scene_checked": ("scene checked", "escena revisada"),
    "response_checked": ("response checked", "respuesta comprobada"),
    "call_made": ("call made", "llamada hecha"),
    "not_breathing": ("not breathing normally", "no respira normal"),
    "helper_sent": ("someone sent for the unit", "alguien va por el equipo"),
    "compression": ("push", "compresión"),
    "hands_placed": ("hands on", "manos puestas"),
    "probe_tap": ("probe tap", "toque de muestra"),
    "breath": ("breath", "soplo"),
    "hands_lifted": ("hands off", "manos fuera"),
    "unit_arrived": ("unit beside them", "equipo a su lado"),
    "unit_on": ("unit on", "equipo encendido"),
    "chest_bared": ("chest bared", "pecho descubierto"),
    "chest_dried": ("chest dried", "pecho secado"),
    "hair_removed": ("hair removed", "vello retirado"),
    "patch_removed": ("patch removed", "parche de medicina retirado"),
    "pad_right": ("right pad", "electrodo derecho"),
    "pad_left": ("left pad", "electrodo izquierdo"),
    "analysis_begins": ("analysis begins", "empieza el análisis"),
    "shock_advised": ("shock advised", "descarga indicada"),
    "no_shock_advised": ("no shock advised", "descarga no indicada"),
    "clear_called": ("clear called", "aviso de apartarse"),
    "shock_pressed": ("shock pressed", "descarga pulsada"),
    "shock_delivered": ("shock delivered", "descarga dada"),
    "touch": ("touch seen", "contacto visto"),
    "swapped": ("who pushes changed", "cambio de quien comprime"),
    "rolled": ("rolled to clear the mouth", "de lado para limpiar la boca"),
    "signs_of_life": ("signs of life", "señales de vida"),
    "life_fades": ("signs of life fade", "se apagan las señales de vida"),
    "recovery": ("turned on the side", "puesto de lado"),
    "period_cut": ("on to the next check", "a la siguiente revisión"),
    "crew_arrived": ("crew beside them", "llega la ambulancia"),
    "handover": ("handover begins", "empieza el relevo"),
    # Keys that steer the record
    "next": ("expected step done", "paso esperado hecho"),
    "advice_planned": ("advice as planned", "veredicto previsto"),
    "advice_other": ("the other advice", "el otro veredicto"),
    "prompted": ("I prompted", "ayuda dada"),
    "pin_fault": ("fault, named later", "fallo, por nombrar"),
    "pin_good": ("good, named later", "bien, por nombrar"),
    "something_else": ("did something else", "hizo otra cosa"),
    "concern": ("concern at what I look at", "duda en lo que miro"),
    "no_concern": ("looked, no concern", "mirado, sin duda"),
    "inject_1": ("throw or answer 1", "lanza o contesta 1"),
    "inject_2": ("throw or answer 2", "lanza o contesta 2"),
    "inject_3": ("throw or answer 3", "lanza o contesta 3"),
    "inject_4": ("throw or answer 4", "lanza o contesta 4"),
    "inject_5": ("throw or answer 5", "lanza o contesta 5"),
    "inject_6": ("throw or answer 6", "lanza o contesta 6"),
    "answered_wrong": ("answered wrongly", "respuesta equivocada"),
    "void": ("void the last", "anula lo último"),
    "earlier": ("half a second earlier", "medio segundo antes"),
    "later": ("half a second later", "medio segundo después"),
    "plan": ("show the plan, three seconds", "muestra el plan tres segundos"),
    "pause": ("pause to teach", "pausa para enseñar"),
    "stop": ("safety stop", "parada de seguridad"),
    "stop_too": ("safety stop", "parada de seguridad"),
    "end": ("end, twice", "fin, dos veces"),
    "audience": ("clock only, for a projector", "solo el reloj, para proyectar"),
    "help": ("keys", "teclas"),
}
"""What was seen or done to the record, by the id of its observation or control."""


def known(language: str, kind: str, name: str) -> str:
    """Our word for a name from a closed list (``cause``, ``look`` …), or the name itself (a file's own)."""
    ident = f"{kind}:{name}"
    return say(WORDS, language, ident) if ident in WORDS else name


def event(language: str, name: str) -> str:
    """What something seen, or a key that steers the record, is called."""
    return say(EVENTS, language, name) if name in EVENTS else label(name.removeprefix("inject:"))
