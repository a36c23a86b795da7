"""What a rehearsal says around its questions, in each language: the entry, what follows an answer, charts, slip, page.

The Spanish is a draft that nobody has reviewed, and a rehearsal in Spanish says so.
"""

from __future__ import annotations

from typing import NamedTuple

from coach.wording import LANGUAGES, Table, say, spoken

WORDS: Table = {
    # The entry
    "hands": (
        "This does not train your hands: depth, release and breaths need a manikin and a person who looks.",
        "Esto no entrena tus manos: profundidad, descompresión y soplos piden un maniquí y alguien que mire.",
    ),
    "caution": (
        "Training only. In a real collapse: put it away, call, push, fetch the unit.",
        "Solo para practicar. Si alguien cae de verdad: déjalo, llama, comprime, trae el equipo.",
    ),
    "alone": ("Rehearsing alone: decisions, no manikin.", "Ensayo a solas: decisiones, sin maniquí."),
    "draft": ("", "El texto en español es un borrador que nadie ha revisado."),
    "after": (
        "{title}, after {guidance}, not endorsed; {state}",
        "{title}, según {guidance}, sin su aval; {state}",
    ),
    "kept": (
        "Private: what you answer stays in {path}, readable by you alone.",
        "Privado: lo que contestas queda en {path} y solo lo puedes leer tú.",
    ),
    "private": (
        "What you answer stays on this machine, for you alone. No certificate comes of it.",
        "Lo que contestas queda en este ordenador, solo para ti. De aquí no sale ningún certificado.",
    ),
    "planned": (
        "{count} decision, {limits}. Seed {seed}.|{count} decisions, {limits}. Seed {seed}.",
        "{count} decisión, {limits}. Semilla {seed}.|{count} decisiones, {limits}. Semilla {seed}.",
    ),
    "planned:limits": ("with limits", "con límites de tiempo"),
    "planned:none": ("no time limits", "sin límites de tiempo"),
    "keys": (
        "h gives a hint, ? is “I don't know”, q leaves.",
        "h da una pista, ? es «no lo sé», q sale.",
    ),
    "lines": (
        "There is no terminal here to draw in, so the rehearsal is told in lines.",
        "Aquí no hay terminal en que dibujar: el ensayo se cuenta en líneas.",
    ),
    # What has to be said before the first question
    "told:changed": (
        "The protocol has changed since last time; what was learned is kept by the decisions' ids.",
        "El protocolo ha cambiado desde la última vez; lo aprendido se conserva por el id de cada decisión.",
    ),
    "told:gone": ("No longer in the protocol: {names}.", "Ya no está en el protocolo: {names}."),
    "told:scenario": (
        "The scenario {name} cannot be read and is left out.",
        "El escenario {name} no se puede leer y se deja fuera.",
    ),
    "told:pads": (
        "There are no pads rules for {name}: no quick fire.",
        "No hay reglas de electrodos para {name}: sin preguntas rápidas.",
    ),
    "told:damaged": (
        "The history was damaged; the file is kept as {aside}, and {count} answers were carried over.",
        "El historial estaba dañado; el archivo se guarda como {aside} y se han recuperado {count} respuestas.",
    ),
    "told:unreadable": (
        "The history was damaged; it is kept as {aside}, and a new one begins.",
        "El historial estaba dañado; se guarda como {aside} y empieza uno nuevo.",
    ),
    "told:format": (
        "The history was of another format ({format}); it is kept as {aside}, and a new one begins.",
        "El historial era de otro formato ({format}); se guarda como {aside} y empieza uno nuevo.",
    ),
    "told:enough": (
        "Twelve decisions a day are enough: today's are done. Come back tomorrow.",
        "Doce decisiones al día bastan: las de hoy están hechas. Vuelve mañana.",
    ),
    "told:practice": (
        "Today's twelve are done: this is practice, and it is not written down.",
        "Las doce de hoy están hechas: esto es práctica y no se apunta.",
    ),
    # Questions
    "once more": ("Once more", "Otra vez"),
    "number": ("{number} of {of}", "{number} de {of}"),
    "sure?": (
        "How sure will you be? s sure, t think so, g guess, ? I don't know, q leave: ",
        "¿Cuánta seguridad tendrás? s seguro, c creo que sí, a al azar, ? no lo sé, q salir: ",
    ),
    "sure:keys": ("Type s, t, g, ? or q.", "Escribe s, c, a, ? o q."),
    "key:sure": ("s", "s"),
    "key:think": ("t", "c"),
    "key:guess": ("g", "a"),
    "sure:sure": ("sure", "seguro"),
    "sure:think": ("think so", "creo que sí"),
    "sure:guess": ("guess", "al azar"),
    "limit": (" ({limit} s with reading)", " ({limit} s con la lectura)"),
    "type": ("Type what you do{limit}: ", "Escribe qué haces{limit}: "),
    "choose": ("Number{limit}: ", "Número{limit}: "),
    "choose:keys": ("Type a number from 1 to {most}.", "Escribe un número del 1 al {most}."),
    "no hint": ("There is no hint now.", "Ahora no hay pista."),
    "not understood": (
        "That was not understood; it costs nothing. A verb such as push, phone, switch on, send back.",
        "No se ha entendido; no cuesta nada. Un verbo como comprimir, llamar, encender, apartar.",
    ),
    "which": ("Which of them? ", "¿Cuál de ellas? "),
    "left": ("Left early: what was answered is kept.", "Sales antes: lo contestado se guarda."),
    # After an answer
    "right": ("Right.", "Bien."),
    "not so": ("Not so: {words}.", "No: {words}."),
    "noted": ("Noted.", "Anotado."),
    "done so": ("So it is done.", "Así se hace."),
    "goes on": ("Noted. The world goes on.", "Anotado. El mundo sigue."),
    "also": ("That is right too: {words}. And besides?", "También vale: {words}. ¿Y además?"),
    "danger": ("Stop. That would be dangerous.", "Para. Eso sería peligroso."),
    "rewound": ("Back to just before it.", "Vuelves a justo antes."),
    "over limit": (
        "That took {took} beyond reading; the limit is {limit}.",
        "Has tardado {took} sin contar la lectura; el límite es {limit}.",
    ),
    "impossible": (
        "That cannot be done here, or it is done already.",
        "Eso no se puede hacer aquí, o ya está hecho.",
    ),
    "time gone": ("{words}: {took} gone.", "{words}: se van {took}."),
    "helps": ("What helps: {words}.", "Lo que ayuda: {words}."),
    "too late": (
        "Too late: {took} went by, and things moved on.",
        "Demasiado tarde: pasaron {took} y todo siguió adelante.",
    ),
    "no source": ("no source named in the file", "sin fuente en el archivo"),
    "grade:read": ("read", "leído"),
    "grade:second-hand": ("second-hand", "de segunda mano"),
    "grade:memory": ("memory", "de memoria"),
    "grade:arithmetic": ("arithmetic", "cálculo"),
    "grade:local": ("local", "elección local"),
    "grade:common-practice": ("common-practice", "práctica habitual"),
    # The end of a sitting
    "score": (
        "{right} of {count} right at the first try.|{right} of {count} right at the first try.",
        "{right} de {count} bien a la primera.|{right} de {count} bien a la primera.",
    ),
    "mark:right": ("right", "bien"),
    "mark:wrong": ("wrong", "mal"),
    "mark:danger": ("dangerous", "peligroso"),
    "was sure": (", and you were sure: it comes first next time", ", y lo dabas por seguro: será la primera"),
    "was sure:short": ("sure and wrong: first next time", "seguro y mal: será la primera"),
    "when": ("When: {words}.", "Cuándo: {words}."),
    "back:one": ("they come back on {first}", "vuelven el {first}"),
    "back:two": (
        "the first comes back on {first}, the last on {last}",
        "la primera vuelve el {first}, la última el {last}",
    ),
    "no certificate": (
        "No certificate: kneeside rehearse --part progress shows how you stand, --slip FILE writes it down.",
        "Sin certificado: kneeside rehearse --part progress enseña cómo vas, --slip ARCHIVO lo escribe.",
    ),
    # The handover
    "handover:say": (
        "Say it to the crew. Type it, or say it aloud and type the numbers of what you said:",
        "Cuéntaselo a la ambulancia. Escríbelo, o dilo en voz alta y escribe los números de lo que dijiste:",
    ),
    "handover:ask": ("Handover: ", "Relevo: "),
    "handover:heard": ("Heard: {words}.", "Se oyó: {words}."),
    "handover:nothing": ("nothing of the eight", "nada de las ocho"),
    "handover:more": (
        "Numbers of what was said and not heard (Enter for none): ",
        "Números de lo que se dijo y no se oyó (Intro si nada): ",
    ),
    "handover:more-screen": (
        "Heard that. Numbers of what was said and not ticked, or 0 for done.",
        "Oído. Números de lo que se dijo y no está marcado, o 0 si está todo.",
    ),
    "handover:count": ("{said} of {of} were said.", "Se dijeron {said} de {of}."),
    "handover:said": ("said", "dicho"),
    "handover:missing": ("missing", "falta"),
    # The tempo
    "tempo:begin": (
        "Tap any key as you would push, about thirty times, then stop. No beat is given. Enter begins: ",
        "Pulsa una tecla como si comprimieras, unas treinta veces, y para. Sin compás. Intro empieza: ",
    ),
    "tempo:pace": (
        "Now with a beat to see. Pace {paces} (q leaves): ",
        "Ahora con un compás a la vista. Ritmo {paces} (q sale): ",
    ),
    "tempo:few": ("Under six taps make no rate.", "Con menos de seis pulsaciones no hay ritmo."),
    "tempo:how many": ("How many did you make?", "¿Cuántas has hecho?"),
    "tempo:mind": (
        "A keyboard shows the pace of your mind, not the depth of your hands.",
        "Un teclado enseña el ritmo de tu cabeza, no la profundidad de tus manos.",
    ),
    "tempo:taps": (
        "{taps} taps, {rate} ± {plus_minus} a minute",
        "{taps} pulsaciones, {rate} ± {plus_minus} por minuto",
    ),
    "tempo:unclear": ("too near {edge} to say which side.", "demasiado cerca de {edge} para decir de qué lado."),
    "tempo:inside": ("inside {low} to {high}.", "entre {low} y {high}."),
    "tempo:slower": ("slower than {low}.", "más lento que {low}."),
    "tempo:faster": ("faster than {high}.", "más rápido que {high}."),
    "tempo:counted": ("You counted {counted}; they were {taps}.", "Contaste {counted}; fueron {taps}."),
    "tempo:counted right": (
        "You counted {counted}, and so many they were.",
        "Contaste {counted}, y esas fueron.",
    ),
    "tempo:intro": (
        "Tap any key as you would push, about {taps} times, and count. Then stop: two seconds end it.",
        "Pulsa una tecla como si comprimieras, unas {taps} veces, y cuenta. Luego para: dos segundos lo acaban.",
    ),
    "tempo:tap": ("Tap. Stop when you think that it was thirty.", "Pulsa. Para cuando creas que van treinta."),
    "tempo:first": ("The first tap starts it.", "La primera pulsación empieza."),
    "tempo:beat": ("beat at {pace} a minute", "compás a {pace} por minuto"),
    "tempo:push": ("PUSH", "YA"),
    "tempo:with": ("with a beat at {pace}", "con un compás a {pace}"),
    "tempo:without": ("with no beat given", "sin compás"),
    "tempo:row": ("{rate} ± {plus_minus} a minute", "{rate} ± {plus_minus} por minuto"),
    "tempo:row beat": (", beat at {pace}", ", compás a {pace}"),
    "tempo:row none": (", no beat", ", sin compás"),
    "tempo:row count": (", {taps} taps, counted {counted}", ", {taps} pulsaciones, contadas {counted}"),
    # How one stands: the chart
    "chart:head": ("{title}, after {guidance}, not endorsed. {day}", "{title}, según {guidance}, sin su aval. {day}"),
    "chart:sittings": ("{count} sitting|{count} sittings", "{count} ensayo|{count} ensayos"),
    "chart:counts": (
        "{sittings}; {met} decisions met, {new} not yet; {due} due.",
        "{sittings}; decisiones vistas: {met}, aún no: {new}; tocan: {due}.",
    ),
    "chart:weakest": ("Weakest", "Lo más flojo"),
    "chart:sure and wrong": ("sure and wrong", "seguro y mal"),
    "chart:wrong": ("wrong {lapses} of {reviews}", "mal {lapses} de {reviews}"),
    "chart:chance": (
        "Chance to know it in a week, and when it comes back",
        "Probabilidad de saberlo en una semana, y cuándo vuelve",
    ),
    "chart:critical": ("! critical: never away for longer than 60 days", "! crítica: nunca falta más de 60 días"),
    "chart:weeks": ("Right at the first try, by week", "Bien a la primera, por semana"),
    "chart:of": ("of {asked}", "de {asked}"),
    "chart:tempo": ("Own tempo", "Ritmo propio"),
    "chart:new": ("Not met yet: {count}|Not met yet: {count}", "Aún sin ver: {count}|Aún sin ver: {count}"),
    "word:weak": ("weak", "flojo"),
    "word:fair": ("fair", "medio"),
    "word:strong": ("strong", "firme"),
    "due:now": ("due now", "toca ya"),
    "due:past": ("due for {days} d", "hace {days} d"),
    "due:in": ("in {days} d", "en {days} d"),
    "family:start": ("the start", "el comienzo"),
    "family:pushing": ("pushing and breaths", "compresiones y soplos"),
    "family:unit": ("the unit", "el equipo"),
    "family:skin": ("the skin", "la piel"),
    "family:shock": ("the shock", "la descarga"),
    "family:after": ("after the verdict", "tras el veredicto"),
    "family:life": ("signs of life", "signos de vida"),
    "family:special": ("what comes between", "lo que surge"),
    "family:change": ("changing over", "el cambio"),
    "family:crew": ("the crew", "la ambulancia"),
    "family:pads": ("which pads", "qué electrodos"),
    # The page
    "page:title": ("Rehearsal: {title}", "Ensayo: {title}"),
    "page:only": (
        "Training only, and decisions only: this says nothing of what the hands can do. It is no certificate.",
        "Solo práctica y solo decisiones: no dice nada de lo que hacen las manos. No es un certificado.",
    ),
    "page:chance": ("Chance to know it in a week", "Probabilidad de saberlo en una semana"),
    "page:decision": ("Decision", "Decisión"),
    "page:kind": ("Kind", "Tipo"),
    "page:share": ("Share", "Parte"),
    "page:percent": ("percent", "por ciento"),
    "page:odds": ("Chance", "Probabilidad"),
    "page:word": ("Word", "Palabra"),
    "page:back": ("Comes back", "Vuelve"),
    "page:asked": ("Asked", "Veces"),
    "page:wrong": ("Wrong", "Mal"),
    "page:week": ("Week", "Semana"),
    "page:critical": ("critical", "crítica"),
    "page:new": ("Not met yet", "Aún sin ver"),
    # The slip
    "slip:title": ("READINESS SLIP: decisions rehearsed alone", "HOJA DE PREPARACIÓN: decisiones ensayadas a solas"),
    "slip:no": (
        "This is no certificate. It tells which decisions were rehearsed on a keyboard, alone, unwatched.",
        "No es un certificado. Dice qué decisiones se ensayaron con un teclado, a solas, sin que nadie mirase.",
    ),
    "slip:hands": (
        "It says nothing of depth, release, breaths or pads: those need a manikin and a person who looks.",
        "No dice nada de profundidad, descompresión, soplos ni electrodos: piden un maniquí y alguien que mire.",
    ),
    "slip:name": (
        "It holds no name, and nothing of it enters a class's records by itself.",
        "No lleva nombre, y nada de esto entra por sí solo en el registro de un curso.",
    ),
    "slip:day": ("Day", "Día"),
    "slip:protocol": ("Protocol", "Protocolo"),
    "slip:sittings": ("Sittings", "Ensayos"),
    "slip:decisions": ("Decisions", "Decisiones"),
    "slip:counts": (
        "{met} met: {strong} strong, {fair} fair, {weak} weak; {not_met} not met; {due} due",
        "{met} vistas: {strong} firmes, {fair} medias, {weak} flojas; {not_met} sin ver; {due} pendientes",
    ),
    "slip:critical": ("Critical", "Críticas"),
    "slip:critical counts": ("{met} met; weak: {weak}", "{met} vistas; flojas: {weak}"),
    "slip:weakest": ("Weakest", "Lo más flojo"),
    "slip:tempo": ("Tempo", "Ritmo"),
    "slip:not taken": ("not taken", "sin medir"),
    "slip:tempo words": (
        "{rate} ± {plus_minus} a minute{beat} ({day}); counted {counted} of {taps}",
        "{rate} ± {plus_minus} por minuto{beat} ({day}); contadas {counted} de {taps}",
    ),
    "slip:with beat": (", with a beat at {pace}", ", con un compás a {pace}"),
    "slip:none": ("none", "ninguna"),
    # The screen: its words
    "title": ("Rehearse alone", "Ensayo a solas"),
    "title:number": ("Rehearse  {number} of {of}", "Ensayo  {number} de {of}"),
    "title:tempo": ("Own tempo", "Ritmo propio"),
    "training only": ("training only", "solo práctica"),
    "reading": ("Reading the protocol and your history …", "Leyendo el protocolo y tu historial …"),
    "how you stand": ("How you stand", "Cómo vas"),
    "row:protocol": ("protocol", "protocolo"),
    "row:decisions": ("decisions", "decisiones"),
    "row:decisions words": ("{all}: {met} met, {due} due", "{all}: {met} vistas, {due} pendientes"),
    "row:today": ("today", "hoy"),
    "row:today words": ("{done} of {most} done", "{done} de {most} hechas"),
    "row:enough": ("; enough", "; basta"),
    "row:answers": ("answers", "respuestas"),
    "row:answers typed": ("type a verb", "escribir un verbo"),
    "row:answers chosen": ("choose among four to six", "elegir entre cuatro y seis"),
    "row:limits": ("limits", "límites"),
    "row:limits on": ("each decision's own, reading time on top", "los de cada decisión, más la lectura"),
    "row:limits off": ("none", "ninguno"),
    "row:stories": ("stories", "historias"),
    "row:stories calm": ("sensitive ones left out", "sin las delicadas"),
    "row:stories all": (
        "sensitive ones too: children, pregnancy, overdose",
        "también las delicadas: menores, embarazo, sobredosis",
    ),
    "row:history": ("your history", "tu historial"),
    "row:next": ("next", "vuelve"),
    "think first": ("Think first. How sure will you be?", "Piensa primero. ¿Cuánta seguridad tendrás?"),
    "which do you mean": ("Which do you mean?", "¿Cuál quieres decir?"),
    "type here": (
        "Type what you do, in your words. ? is “I don't know”, h a hint.",
        "Escribe qué haces, con tus palabras. ? es «no lo sé», h una pista.",
    ),
    "tell the crew": (
        "Tell the crew. Type it; or say it aloud and type the numbers of what you said.",
        "Cuéntalo. Escríbelo; o dilo en voz alta y escribe los números de lo que dijiste.",
    ),
    "clock": ("{gone} of {limit} s", "{gone} de {limit} s"),
    "clock:over": ("longer than the limit", "más que el límite"),
    "esc again": (
        "Esc again leaves; what was answered is kept.",
        "Esc otra vez sale; lo contestado se guarda.",
    ),
    "not understood:short": (
        "Not understood; it costs nothing. A verb such as push, phone, switch on.",
        "No se entiende; no cuesta nada. Un verbo como comprimir, llamar, encender.",
    ),
    "you say": ("you say", "dices"),
    "verdict:right": ("right", "bien"),
    "verdict:wrong": ("not so", "no"),
    "verdict:danger": ("stop", "para"),
    "verdict:unknown": ("so you know", "para que lo sepas"),
    "verdict:also": ("right too", "también vale"),
    "verdict:noted": ("noted", "anotado"),
    "verdict:handover": ("the handover", "el relevo"),
    "verdict:opening": ("before we begin", "antes de empezar"),
    "verdict:over": ("over", "fin"),
    # The screen: its keys
    "cap:home": ("home", "inicio"),
    "cap:leave": ("leave", "salir"),
    "cap:back": ("back", "volver"),
    "cap:done": ("done", "hecho"),
    "cap:begin": ("begin", "empezar"),
    "cap:pads": ("pads", "electrodos"),
    "cap:tempo": ("tempo", "ritmo"),
    "cap:stand": ("how you stand", "cómo vas"),
    "cap:limits off": ("limits off", "sin límites"),
    "cap:limits on": ("limits on", "con límites"),
    "cap:choose": ("choose", "elegir"),
    "cap:type": ("type", "escribir"),
    "cap:calm": ("calm stories", "historias tranquilas"),
    "cap:sensitive": ("sensitive too", "delicadas también"),
    "cap:dont know": ("I don't know", "no lo sé"),
    "cap:go on": ("go on", "seguir"),
    "cap:say": ("say it", "decirlo"),
    "cap:hint": ("hint", "pista"),
    "cap:do": ("do it", "hacerlo"),
    "cap:any key": ("any key", "cualquier tecla"),
    "cap:tap": ("tap", "pulsar"),
    "cap:how many": ("how many", "cuántas"),
    "cap:that many": ("that many", "esas"),
    "cap:no beat": ("no beat", "sin compás"),
    "cap:beat": ("beat {pace}", "compás {pace}"),
}


class Saying(NamedTuple):
    """Something to be told later, in whatever language it is told in: a sentence's id and what is filled in."""

    ident: str
    values: dict[str, object]


def words(language: str, ident: str, /, **values: object) -> str:
    """A sentence of the rehearsal, filled in."""
    return say(WORDS, language, ident, **values)


def told(language: str, saying: Saying) -> str:
    """A saying in words."""
    return words(language, saying.ident, **saying.values)


def count(language: str, ident: str, number: int, /, **values: object) -> str:
    """A sentence in the form that its number asks for; the number is filled in as ``count`` too."""
    one, _, many = WORDS[ident][LANGUAGES.index(spoken(language))].partition("|")
    return (one if number == 1 else many).format(count=number, **values)
