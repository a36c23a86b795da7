"""The page's own wording in each language. Each sentence says no more than was keyed.

The Spanish is a draft: nobody has reviewed it, and a page in Spanish says so.
"""

from __future__ import annotations

from coach.debrief.approvals import APPROVALS
from coach.measure import wording as measured
from coach.wording import LANGUAGES, Table, say, spoken

WORDS: Table = {
    # Headings, in the order of the talk
    "head:own": ("First, in the learner's own words", "Primero, en palabras de quien practica"),
    "head:keep": ("To keep", "Para conservar"),
    "head:tape": ("The tape, one cell a second", "La cinta, una casilla por segundo"),
    "head:drawn": ("The tape", "La cinta"),
    "head:milestones": ("What was keyed, and when", "Qué se marcó y cuándo"),
    "head:gaps": ("Hands off the chest", "Manos fuera del pecho"),
    "head:shocks": ("Analysis and shock", "Análisis y descarga"),
    "head:rhythm": ("Rhythm", "Ritmo"),
    "head:eye": ("By eye", "A ojo"),
    "head:steps": ("Steps", "Pasos"),
    "head:confirm": ("For the assessor to confirm first", "Por confirmar antes por quien evalúa"),
    "head:findings": ("Findings", "Hallazgos"),
    "head:limit": ("At the limit, so no finding", "En el límite: no es hallazgo"),
    "head:one": ("One thing, again now", "Una cosa, otra vez ahora"),
    "head:handover": ("Handover", "Relevo"),
    "head:signoff": ("Sign-off", "Firma"),
    "head:care": ("Read with care", "Léase con cuidado"),
    "head:lines": ("The lines behind the figures", "Las líneas detrás de las cifras"),
    # The learner's own words
    "own:felt": ("It felt", "Sensación"),
    "own:plus": ("Went well", "Salió bien"),
    "own:change": ("Change", "Cambiar"),
    "own:again": ("Again", "Otra vez"),
    "own:take": ("Take home", "Me llevo"),
    # The head of the page
    "drill": ("Drill {drill}", "Ejercicio {drill}"),
    "learner": ("learner {learner}", "practica {learner}"),
    "attempt": ("attempt {attempt}", "intento {attempt}"),
    "assessor": ("assessor {assessor}", "evalúa {assessor}"),
    "after": ("{id} {version}, after {guidance}, not endorsed", "{id} {version}, según {guidance}, sin su aval"),
    "unit:floor": ("unit on the floor", "equipo en el suelo"),
    "unit:laptop": ("unit played by the laptop", "equipo simulado por el portátil"),
    "metronome": ("metronome on", "con metrónomo"),
    "ended:at": ("{how} at {at}", "{how} a los {at}"),
    "ended:ended": ("ended", "terminado"),
    "ended:safety": ("stopped for safety", "detenido por seguridad"),
    "ended:interrupted": ("record interrupted", "registro interrumpido"),
    "mode:teach": ("teach", "enseñar"),
    "mode:practise": ("practise", "practicar"),
    "mode:test": ("test", "prueba"),
    "counting:each": ("each compression tapped", "cada compresión marcada"),
    "counting:counter": (
        "each compression tapped by a second person",
        "cada compresión marcada por una segunda persona",
    ),
    "counting:probe": (
        "hands on and off marked, a few taps along",
        "manos puestas y quitadas, con algunos toques",
    ),
    "counting:marks": (
        "hands on and off marked, nothing tapped",
        "manos puestas y quitadas, sin toques",
    ),
    # Milestones
    "milestone:recognised": ("Not breathing normally, decided", "No respira normal: decidido"),
    "milestone:called": ("Call made", "Llamada hecha"),
    "milestone:first_compression": ("First compression", "Primera compresión"),
    "milestone:unit_at_side": ("Unit beside them", "Equipo a su lado"),
    "milestone:unit_on": ("Unit on", "Equipo encendido"),
    "milestone:pads_on": ("Both pads on", "Los dos electrodos puestos"),
    "milestone:first_analysis": ("First analysis", "Primer análisis"),
    "milestone:first_shock": ("First shock", "Primera descarga"),
    "milestone:resumed": ("Compressions after it", "Compresiones tras ella"),
    "by-hand": ("Times by hand ±1-2 s", "Tiempos a mano ±1-2 s"),
    "not-reached": ("not reached by {at}", "no alcanzado a los {at}"),
    "after-deciding": ("{time} after deciding", "{time} tras decidir"),
    "before-deciding": ("{time} before deciding", "{time} antes de decidir"),
    "col:what": ("What", "Qué"),
    "col:when": ("When", "Cuándo"),
    "col:since": ("From recognition", "Desde que se reconoció"),
    # Hands on and off
    "share:unmarked": (
        "No hands-on share: hands were still marked on at a verdict or a shock, so an off mark is missing.",
        "Sin porcentaje de manos: seguían marcadas en un veredicto o descarga, así que falta una marca.",
    ),
    "share:none": (
        "No compression was keyed, so there is no hands-on share.",
        "No se marcó ninguna compresión: no hay porcentaje de manos.",
    ),
    "share": ("{share} hands on, of {window}.", "{share} con manos puestas, de {window}."),
    "share:ceiling": (
        " With stops for breaths only ({ratio} at {pace}/min): {ceiling} at {gap} s a stop",
        " Solo con paradas para soplos ({ratio} a {pace}/min): {ceiling} con {gap} s por parada",
    ),
    "share:most": (", the most allowed", ", lo máximo permitido"),
    "share:own": (", {ceiling} at {gap}, the median here", ", {ceiling} con {gap}, la mediana aquí"),
    "share:marks": (" From hand marks it reads 1-2 points high.", " Con marcas a mano sale 1-2 puntos alto."),
    "col:length": ("Length", "Duración"),
    "col:at": ("At", "A los"),
    "col:for": ("For", "Por"),
    "col:whose": ("Whose time", "De quién"),
    "at": ("{what} at {at}", "{what} a los {at}"),
    "more-gaps": ("and {count} more, none over {longest}", "y {count} más, ninguna de más de {longest}"),
    "part:prep": ("getting ready", "preparar"),
    "part:unit": ("the unit", "el equipo"),
    "part:unsplit": ("not split", "sin repartir"),
    "part:press": ("to the shock", "hasta la descarga"),
    "part:resume": ("back on", "volver"),
    "part:own": ("not around an analysis", "sin análisis"),
    "parts": ("{cause}: {parts}", "{cause}: {parts}"),
    "analyses": ("{count} analyses", "{count} análisis"),
    "across": ("across a {stops}", "cruza: {stops}"),
    "to-the-end": ("to the end", "hasta el final"),
    "stop:teaching": ("pause to teach", "pausa para enseñar"),
    "stop:safety": ("safety stop", "parada de seguridad"),
    "stop:hole": ("hole", "hueco"),
    "stop:shortened": ("jump to the next check", "salto a la siguiente revisión"),
    # Analysis, shock, touch, pads
    "shock:at": ("Shock at {at}: {said}.", "Descarga a los {at}: {said}."),
    "shock": ("{before}, {after}{together}; {clear}", "{before}, {after}{together}; {clear}"),
    "shock:none-before": ("no compression before", "sin compresión antes"),
    "shock:before": ("hands off {time} before", "manos fuera {time} antes"),
    "shock:none-after": ("no compression after", "sin compresión después"),
    "shock:after": ("{time} after", "{time} después"),
    "shock:unmarked-before": ("hands still marked on before", "manos aún marcadas antes"),
    "shock:unmarked-after": ("no hands-off mark to measure from", "sin marca desde la que medir"),
    "shock:together": (", {time} in all", ", {time} en total"),
    "shock:no-clear": ("no clear call marked", "sin aviso marcado"),
    "shock:clear": ("clear called {time} before", "aviso {time} antes"),
    "touch:none-keyed": ("No analysis was keyed.", "No se marcó ningún análisis."),
    "touch": (
        "From analysis to shock or verdict: {touches} marked.",
        "Del análisis a la descarga o veredicto: {touches}.",
    ),
    "touch:none": ("no touch", "ningún contacto marcado"),
    "touch:count": ("{count} touch|{count} touches", "{count} contacto marcado|{count} contactos marcados"),
    "pads": ("Pads for this casualty: {said}", "Electrodos para esta persona: {said}"),
    "pads:adult": ("adult pads, {placement}: {why}", "electrodos de adulto, {placement}: {why}"),
    "pads:paediatric": ("paediatric pads, {placement}: {why}", "electrodos pediátricos, {placement}: {why}"),
    "pads:none": ("not the pads at hand: {why}", "no los electrodos a mano: {why}"),
    "place:right-and-left": ("right and left", "derecha e izquierda"),
    "place:front-and-back": ("front and back", "delante y detrás"),
    "place:": ("-", "-"),
    # Rhythm
    "rate:none": (
        "No rate: fewer than six compressions in a row were tapped.",
        "Sin ritmo: se marcaron menos de seis compresiones seguidas.",
    ),
    "rate": ("{median}/min ±{plus_minus}{over}", "{median}/min ±{plus_minus}{over}"),
    "rate:runs": (" ({low}-{high} over {runs} runs)", " ({low}-{high} en {runs} series)"),
    "rate:probes": (" ({low}-{high} over {runs} probes)", " ({low}-{high} en {runs} muestras)"),
    "rate:run": (" (one run)", " (una serie)"),
    "rate:probe": (" (one probe)", " (una muestra)"),
    "rate:inside": (": inside {low}-{high}", ": dentro de {low}-{high}"),
    "rate:outside": (": outside {low}-{high}", ": fuera de {low}-{high}"),
    "rate:at the limit": (": at the limit of {low}-{high}", ": en el límite de {low}-{high}"),
    "rate:means": (
        "; {inside} of {windows} five-beat means in it",
        "; {inside} de {windows} medias de cinco dentro",
    ),
    "beats": (
        "{seen} compressions seen{inferred}; runs+breaths: {shape}{more}",
        "{seen} compresiones vistas{inferred}; series+soplos: {shape}{more}",
    ),
    "beats:inferred": (" + {count} inferred", " + {count} inferidas"),
    "runs": (
        "{count} run, compressions not counted; breaths after each: {breaths}"
        "|{count} runs, compressions not counted; breaths after each: {breaths}",
        "{count} serie, compresiones sin contar; soplos tras cada una: {breaths}"
        "|{count} series, compresiones sin contar; soplos tras cada una: {breaths}",
    ),
    "period": (
        "From hands back on to the next analysis: {length}{cut}.",
        "De manos al pecho al siguiente análisis: {length}{cut}.",
    ),
    "period:cut": (", cut short", ", acortado"),
    # By eye
    "eye:none": (
        "Nothing was looked at on purpose: no statement on depth, release or hands.",
        "No se miró nada a propósito: nada que decir de profundidad, descompresión o manos.",
    ),
    "eye:concern": (
        "{target}: concern in {concern} of {looked} look|{target}: concern in {concern} of {looked} looks",
        "{target}: duda en {concern} de {looked} mirada|{target}: duda en {concern} de {looked} miradas",
    ),
    "eye:looked": (
        "{target}: looked {looked} time, no concern|{target}: looked {looked} times, no concern",
        "{target}: {looked} mirada, sin duda|{target}: {looked} miradas, sin duda",
    ),
    # Steps
    "status:omitted": ("omitted", "omitido"),
    "status:out of order": ("out of order", "fuera de orden"),
    "status:prompted": ("prompted", "con ayuda"),
    "status:cued": ("cued", "con aviso en pantalla"),
    "status:independent": ("independent", "sin ayuda"),
    "status:not observed": ("not observed", "no observado"),
    "status:not reached": ("not reached", "no alcanzado"),
    "status:not applicable": ("not applicable", "no aplica"),
    "col:step": ("Step", "Paso"),
    "col:how": ("How", "Cómo"),
    "severity:critical": ("critical", "crítico"),
    "severity:major": ("major", "importante"),
    "severity:minor": ("minor", "menor"),
    "finding": ("{severity}: {say}", "{severity}: {say}"),
    "finding:at": ("{severity} at {at}: {say}", "{severity} a los {at}: {say}"),
    "source": (" (source: {source})", " (fuente: {source})"),
    "more-findings": ("and {count} more, in the other forms", "y {count} más, en las otras formas"),
    "target:at": ("{target} at {at}: {amount} ({limit})", "{target} a los {at}: {amount} ({limit})"),
    "target": ("{target}: {amount} ({limit})", "{target}: {amount} ({limit})"),
    # One thing, handover, record
    "one:keep": ("Keep this: {say}", "Consérvalo: {say}"),
    "one:confirm": ("to be confirmed by the assessor first", "por confirmar antes por quien evalúa"),
    "one:confirm-long": ("To be confirmed by the assessor first.", "Por confirmar antes por quien evalúa."),
    "handover": ("{said} of {total} said", "{said} de {total} dichos"),
    "handover:missing": ("; not marked as said: {missing}.", "; sin marcar como dicho: {missing}."),
    "said:yes": ("said", "dicho"),
    "yes": ("yes", "sí"),
    "no": ("no", "no"),
    "col:said": ("Said", "Dicho"),
    "col:item": ("Item", "Punto"),
    "col:true": ("From the record", "Según el registro"),
    "item:who_where": ("who and where", "quién y dónde"),
    "item:collapse_time": ("time of collapse", "hora del colapso"),
    "item:cpr_since_by": ("compressions since, by whom", "compresiones: desde, por quién"),
    "item:shocks": ("shocks", "descargas"),
    "item:last_advice": ("last verdict", "último veredicto"),
    "item:seen": ("what was seen", "qué se vio"),
    "item:now": ("now", "ahora"),
    "item:needed": ("what is needed", "qué hace falta"),
    "record": ("On record: {changes}.", "En el registro: {changes}."),
    "record:nothing": ("nothing voided, moved or added", "nada anulado, movido ni añadido"),
    "record:voided": ("{count} line voided|{count} lines voided", "{count} línea anulada|{count} líneas anuladas"),
    "record:moved": (
        "{count} line moved in time|{count} lines moved in time",
        "{count} línea movida en el tiempo|{count} líneas movidas en el tiempo",
    ),
    "record:added": (
        "{count} line added later|{count} lines added later",
        "{count} línea añadida después|{count} líneas añadidas después",
    ),
    "record:dropped": (
        "{count} press dropped as bounces or a held key|{count} presses dropped as bounces or a held key",
        "{count} pulsación descartada por rebote o tecla sostenida"
        "|{count} pulsaciones descartadas por rebote o tecla sostenida",
    ),
    "record:stop": ("{stop} at {at} of {length}", "{stop} a los {at}, de {length}"),
    # Cautions
    "care:training": (
        "Training only. In a real collapse call your emergency number and do what the call-taker says.",
        "Solo para practicar. En un colapso real llama al número de emergencias y sigue lo que te digan.",
    ),
    "care:local": (
        "Not for the care of anyone: local guidance and the unit's own instructions come first.",
        "No sirve para atender a nadie: primero la guía local y las instrucciones del equipo.",
    ),
    "care:guidance": (
        "After {guidance}, not endorsed by that body; other bodies and years differ.",
        "Según {guidance}, sin aval de ese organismo; otros organismos y años difieren.",
    ),
    "care:keys": (
        "Order and timing seen; depth, release and breaths not measured, and judged by eye they are unreliable.",
        "Orden y tiempos vistos; profundidad, descompresión y soplos no medidos, y a ojo son poco fiables.",
    ),
    "care:nothing-more": (
        "No certificate, and no word on anybody's chance to survive.",
        "No es un certificado ni dice nada de las posibilidades de nadie.",
    ),
    "care:hygiene": (
        "Pushing is hard work: whoever feels unwell stops. Clean the manikin between two people.",
        "Comprimir cansa: quien se sienta mal, para. Limpiad el maniquí entre dos personas.",
    ),
    "care:pads": (
        "Choosing pads by age or weight is practice: in doubt treat as an adult, and never wait for pads.",
        "Elegir electrodos por edad o peso es práctica: en la duda, como adulto, y nunca esperar por ellos.",
    ),
    "care:marks": (
        "From marks alone the hands-on share reads 1 to 2 points high; there is no rate and no count.",
        "Solo con marcas el porcentaje de manos sale 1 o 2 puntos alto; no hay ritmo ni cuenta.",
    ),
    "care:probe": (
        "Hands on and off were marked by hand: the hands-on share reads 1 to 2 points high.",
        "Manos puestas y quitadas a mano: el porcentaje sale 1 o 2 puntos alto.",
    ),
    "care:metronome": (
        "The metronome was on: taps may follow the beat, not the hands.",
        "El metrónomo sonaba: los toques pueden seguir el compás y no las manos.",
    ),
    "care:away": (
        "The keyboard was elsewhere for {seconds} s: what happened then is not on record.",
        "El teclado estuvo en otra parte {seconds} s: lo que pasó entonces no consta.",
    ),
    "care:engine": (
        "Made with meaning {then} of the engine, read with meaning {now}: states may differ from those on the day.",
        "Hecho con el sentido {then} del motor y leído con el {now}: los estados pueden diferir de los de aquel día.",
    ),
    "care:hole": (
        "The record has a hole: what happened in it is not known, and no figure spans it.",
        "El registro tiene un hueco: no se sabe qué pasó en él y ninguna cifra lo cruza.",
    ),
    "care:shortened": (
        "A period was cut short by the instructor: figures do not span the cut.",
        "Se acortó un periodo: ninguna cifra cruza el corte.",
    ),
    "care:safety": (
        "Stopped for safety: this drill is never scored.",
        "Detenido por seguridad: este ejercicio nunca se puntúa.",
    ),
    "care:interrupted": (
        "The record was interrupted: what is not reached may only not be recorded.",
        "El registro se interrumpió: lo no alcanzado quizá solo no se registró.",
    ),
    "care:reconstructed": (
        "Reconstructed: more than three critical events were added after the drill.",
        "Reconstruido: se añadieron después más de tres hechos críticos.",
    ),
    "flip": (
        "By a mark that was moved or renamed by hand: {what}: {now}; as pressed: {then}.",
        "Por una marca movida o renombrada a mano: {what}: {now}; tal como se pulsó: {then}.",
    ),
    "flip:none": ("no finding", "sin hallazgo"),
    "flip:found": ("a finding", "hallazgo"),
    "flip:confirm": ("to be confirmed", "por confirmar"),
    "care:draft": (
        "This page's own wording has not been reviewed by a speaker.",
        "Traducción en borrador: nadie ha revisado aún el texto de esta página.",
    ),
    # Before and after
    "pair:hands-off": (
        "Longest own time without compressions: {then}, then {now}.",
        "Mayor tiempo propio sin compresiones: {then}, después {now}.",
    ),
    "pair:rate": ("Rate: {then}/min, then {now}/min.", "Ritmo: {then}/min, después {now}/min."),
    "pair:step": ("{step}: {then}, then {now}.", "{step}: {then}, después {now}."),
    "pair:rule": ("{say}: {then}, then {now}.", "{say}: {then}, después {now}."),
    "pair:times": ("{count} time|{count} times", "{count} vez|{count} veces"),
    # Sign-off
    "sign:pass": ("By the protocol's rule: pass. {says}", "Según la regla del protocolo: apto. {says}"),
    "sign:not-yet": ("By the protocol's rule: not yet.", "Según la regla del protocolo: todavía no."),
    "sign:safety": ("Stopped for safety: never scored.", "Detenido por seguridad: nunca se puntúa."),
    "sign:open": ("By the protocol's rule: not decided yet.", "Según la regla del protocolo: aún sin decidir."),
    "sign:none": ("Nobody is signed off by this drill.", "Este ejercicio no acredita a nadie."),
    "sign:confirm": (
        "{count} finding to be confirmed first|{count} findings to be confirmed first",
        "{count} hallazgo por confirmar antes|{count} hallazgos por confirmar antes",
    ),
    "sign:again": ("To be repeated at no cost, nobody looked: {part}", "Se repite sin coste, nadie miraba: {part}"),
    "sign:reason": ("A reason is needed: {why}", "Hace falta un motivo: {why}"),
    "sign:critical": ("{done} of {total} critical steps seen unaided", "{done} de {total} pasos críticos sin ayuda"),
    "sign:majors": (
        "{count} major finding stands beside it: read it before you sign."
        "|{count} major findings stand beside it: read them before you sign.",
        "{count} hallazgo importante queda al lado: léelo antes de firmar."
        "|{count} hallazgos importantes quedan al lado: léelos antes de firmar.",
    ),
    "sign:safety-says": (
        "A safety stop uses up no attempt and needs no reason.",
        "Parar por seguridad no gasta intento ni pide motivo.",
    ),
    "sign:never-interrupted": (
        "The record was interrupted: begin again, at no cost.",
        "El registro se interrumpió: se empieza de nuevo, sin coste.",
    ),
    "sign:never-teach": ("A teach drill signs nobody off.", "Un ejercicio de enseñanza no acredita a nadie."),
    "sign:never-part": (
        "It began at a later step, so it shows a part: only a whole drill is signed.",
        "Empezó en un paso posterior y muestra una parte: solo se firma un ejercicio entero.",
    ),
    "sign:never-rule": (
        "This protocol has no [pass], so nothing says what a pass is.",
        "Este protocolo no tiene [pass]: nada dice qué es ser apto.",
    ),
    "sign:never-own": (
        "No critical step of this drill was this learner's to hold.",
        "Ningún paso crítico de este ejercicio era de quien practica.",
    ),
    "sign:too-short": (
        "The drill ended before the unit read anything: too short for a pass.",
        "El ejercicio acabó antes de que el equipo leyera nada: demasiado corto para ser apto.",
    ),
    "sign:says": (
        "Order and timing seen; depth, release and breaths not measured.",
        "Orden y tiempos vistos; profundidad, descompresión y soplos no medidos.",
    ),
    "sign:did-not-happen": ("it did not happen", "no ocurrió"),
    "sign:past": ("{target}: past its limit", "{target}: pasa del límite"),
    "sign:not-met": ("{name} ({part}): not met", "{name} ({part}): no se cumple"),
    "sign:untold": ("{name} ({part}): cannot be told", "{name} ({part}): no se puede decir"),
    "sign:no-rule": ("{name}: no such published rule", "{name}: no hay tal regla publicada"),
    "signed": ("Signed: {result}, by {who}", "Firmado: {result}, por {who}"),
    "signed:reason": (" (reason: {reason})", " (motivo: {reason})"),
    "result:pass": ("pass", "apto"),
    "result:not-yet": ("not yet", "todavía no"),
    "result:safety": ("stopped for safety", "detenido por seguridad"),
    # One learner over their attempts
    "progress:title": ("Learner {learner} over their attempts", "{learner}: intento a intento"),
    "progress:drills": ("{count} drill|{count} drills", "{count} ejercicio|{count} ejercicios"),
    "progress:what": (
        "Longest own stop of compressions, one row for each drill. No score, no rank.",
        "Mayor parada propia de compresiones, una fila por ejercicio. Sin nota ni puesto.",
    ),
    "progress:again": ("again:", "otra vez:"),
    "progress:keep": ("keep:", "conservar:"),
    "progress:aided": ("still aided:", "aún con ayuda:"),
    "progress:still": ("Still with a prompt or a cue: {steps}.", "Aún con ayuda o aviso: {steps}."),
    "progress:none": ("No step of the last attempt was prompted.", "Ningún paso del último intento llevó ayuda."),
    "progress:bar": ("{length}, attempt {number} of {total}", "{length}, intento {number} de {total}"),
    "progress:order": (
        "In the order of the drills; day and hour are left out.",
        "En el orden de los ejercicios; sin día ni hora.",
    ),
    "col:drill": ("Drill", "Ejercicio"),
    "col:longest": ("Longest own stop", "Mayor parada propia"),
    "col:thing": ("One thing", "Una cosa"),
    "col:aided": ("Still aided", "Aún con ayuda"),
    "col:result": ("Signed", "Firma"),
    # The tape
    "tape:#": ("hands on", "manos puestas"),
    "tape:·": ("hands off", "manos fuera"),
    "tape:o": ("breath", "soplo"),
    "tape:A": ("analysis", "análisis"),
    "tape:V": ("verdict", "veredicto"),
    "tape:C": ("clear called", "aviso de apartarse"),
    "tape:S": ("shock", "descarga"),
    "tape:T": ("touch", "contacto"),
    "tape:P": ("pad", "electrodo"),
    "tape:U": ("unit on", "equipo encendido"),
    "tape:E": ("call", "llamada"),
    "tape:|": ("pause", "pausa"),
    # The page in HTML
    "page:tape": (
        "The drill as a tape, from go to {end}, {row} seconds a row.",
        "El ejercicio como cinta, del inicio a {end}, {row} segundos por fila.",
    ),
    "page:tape-said": (
        "Hands on the chest: {on}. Marked: {marks}.",
        "Manos en el pecho: {on}. Marcado: {marks}.",
    ),
    "page:longest": ("the longest stop", "la parada más larga"),
    "page:nothing": ("nothing", "nada"),
    "page:sources": ("Sources:", "Fuentes:"),
    "page:refs": (
        "Small numbers name the lines of the log that a figure rests on; they lead to the list at the end.",
        "Los números pequeños nombran las líneas del registro en que se apoya cada cifra; llevan a la lista final.",
    ),
    "page:lines": ("lines {lines}", "líneas {lines}"),
    "page:made": (
        "Made by kneeside {program} from the log of this drill. Times are minutes and seconds since go, less pauses.",
        "Hecho por kneeside {program} a partir del registro. Tiempos: minutos y segundos desde el inicio, sin pausas.",
    ),
    "col:line": ("Line", "Línea"),
    "col:length-at": ("Length", "Duración"),
    "line:setup": ("set-up: {facts}", "preparación: {facts}"),
    "line:voided": ("voided: {what}", "anulado: {what}"),
    "line:added": ("{what}, added later", "{what}, añadido después"),
    "line:moved": ("{what}, moved from {at}", "{what}, movido desde {at}"),
    "line:many": ("{count} × {what}", "{count} × {what}"),
    "line:looked": ("looked: {target}", "mirado: {target}"),
    "line:pin": ("pin: {which}", "marca: {which}"),
    "pin:fault": ("fault", "fallo"),
    "pin:good": ("good", "bien"),
    "pin:other": ("did something else", "hizo otra cosa"),
    "kind:go": ("go", "inicio"),
    "kind:end": ("end", "fin"),
    "kind:said": ("handover ticked", "relevo marcado"),
    "kind:signoff": ("sign-off", "firma"),
    "kind:void": ("voided the last", "anulado lo último"),
    "kind:nudge": ("moved the last", "movido lo último"),
    "kind:retime": ("moved afterwards", "movido después"),
    "kind:classify": ("named afterwards", "nombrado después"),
    "kind:confirmed": ("confirmed afterwards", "confirmado después"),
    "kind:pause": ("pause to teach", "pausa para enseñar"),
    "kind:resume": ("resumed", "reanudado"),
    "kind:stop": ("safety stop", "parada de seguridad"),
    **APPROVALS,
    "line:nothing": ("no line: nothing was keyed", "sin línea: no se marcó nada"),
}
"""Every sentence by id. Where a number decides the form, the one for 1 stands before the bar."""


def words(language: str, ident: str, /, **values: object) -> str:
    """A sentence of the page, filled in."""
    return say(WORDS, language, ident, **values)


def count(language: str, ident: str, number: int, /, **values: object) -> str:
    """A sentence with a number in it, in the form that the number asks for; it is filled in as ``count`` too."""
    one, _, many = WORDS[ident][LANGUAGES.index(spoken(language))].partition("|")
    return (one if number == 1 else many).format(count=number, **values)


def known(language: str, kind: str, name: str) -> str:
    """The page's word for a name from a closed list (``cause``, ``look`` …), or the name itself (a file's own)."""
    ident = f"{kind}:{name}"
    return words(language, ident) if ident in WORDS else measured.known(language, kind, name)


def approval(language: str, state: str) -> str:
    """How far a protocol is approved, from the words that a log has for it (``in force, 2 rules relaxed``)."""
    word, *more = state.split(", ")
    return ", ".join(
        part for part in (known(language, "approval", word), *(_turned(language, one) for one in more)) if part
    )


def _turned(language: str, said: str) -> str:
    """``2 rules relaxed`` in a language; what reads otherwise stays as it is."""
    number, _, how = said.replace(" rules ", " rule ", 1).partition(" rule ")
    known = number.isdecimal() and how in ("relaxed", "tightened")
    return count(language, f"approval:{how}", int(number)) if known else said
