"""What the page says of how its protocol was approved: in a word, as a caution of its own, and rule by rule."""

from __future__ import annotations

from coach.wording import Table

SIGNED = ("approved", "in-force", "in force")
"""States of approval that need neither shouting nor a caution."""

APPROVALS: Table = {
    "approval:draft": ("draft", "borrador"),
    "approval:checked": ("checked", "comprobado"),
    "approval:superseded": ("superseded", "sustituido"),
    "approval:withdrawn": ("withdrawn", "retirado"),
    "approval:not signed": ("not signed", "sin firma"),
    "approval:changed since approved": ("changed since approved", "cambiado tras aprobarse"),
    "approval:approver is author": ("approver is author", "aprobado por su autor"),
    "approval:effective before approval": ("effective before approval", "en vigor antes de aprobarse"),
    "approval:approved later than today": ("approved later than today", "aprobado en fecha futura"),
    "approval:not in force yet": ("not in force yet", "aún no en vigor"),
    "approval:review date passed": ("review date passed", "revisión vencida"),
    "approval:in force": ("in force", "en vigor"),
    "approval:relaxed": (
        "{count} rule relaxed|{count} rules relaxed",
        "{count} regla relajada|{count} reglas relajadas",
    ),
    "approval:tightened": (
        "{count} rule tightened|{count} rules tightened",
        "{count} regla más estricta|{count} reglas más estrictas",
    ),
    "care:approval": (
        "The protocol is not approved ({approval}): no medical director has signed it.",
        "El protocolo no está aprobado ({approval}): ninguna dirección médica lo ha firmado.",
    ),
    "care:approval withdrawn": (
        "The protocol was withdrawn: what it teaches is not to be taught any more.",
        "El protocolo se retiró: lo que enseña ya no debe enseñarse.",
    ),
    "care:approval superseded": (
        "Another version has taken the place of this protocol.",
        "Otra versión ha sustituido a este protocolo.",
    ),
    "care:approval changed since approved": (
        "The protocol was signed and changed afterwards: nobody has signed what was run here.",
        "El protocolo se firmó y se cambió después: nadie ha firmado lo que se usó aquí.",
    ),
    "care:approval approver is author": (
        "The protocol's signature does not count: its author signed it alone.",
        "La firma del protocolo no vale: solo lo firmó quien lo escribió.",
    ),
    "care:approval effective before approval": (
        "The protocol's signature does not count: it was to be in force before the day of signing.",
        "La firma del protocolo no vale: iba a estar en vigor antes del día de la firma.",
    ),
    "care:approval approved later than today": (
        "The protocol's signature bears a day that lay ahead: that day, or the clock, is wrong.",
        "La firma del protocolo lleva una fecha aún por llegar: esa fecha, o el reloj, está mal.",
    ),
    "care:approval not in force yet": (
        "The protocol was signed, but was not in force yet.",
        "El protocolo estaba firmado, pero aún no en vigor.",
    ),
    "care:approval review date passed": (
        "The protocol was signed, but its review was overdue.",
        "El protocolo estaba firmado, pero su revisión había vencido.",
    ),
    "care:relaxed": (
        "The rule {rule} of the base was relaxed: {turns}. Reason: “{reason}”",
        "La regla {rule} de la base se relajó: {turns}. Motivo: “{reason}”",
    ),
    "care:tightened": (
        "The rule {rule} of the base was made stricter: {turns}. Reason: “{reason}”",
        "La regla {rule} de la base se hizo más estricta: {turns}. Motivo: “{reason}”",
    ),
    "turn:dropped": ("dropped", "suprimida"),
    "turn:at_most": ("at most {now}, was {was}", "como máximo {now}, antes {was}"),
    "turn:at_least": ("at least {now}, was {was}", "al menos {now}, antes {was}"),
    "turn:within": ("within {now}, was {was}", "en {now}, antes {was}"),
    "turn:other": ("{member} {now}, was {was}", "{member} {now}, antes {was}"),
    "turn:none": ("nothing", "nada"),
    "care:reason": (
        "Reason given before the drill, as typed: “{reason}”",
        "Motivo dado antes del ejercicio, tal como se escribió: “{reason}”",
    ),
}
"""Sentences by id; a state without a caution of its own is one that nobody has signed."""
