"""The card for a real emergency: shown by the second Esc, and it stays.

It says five things in the order in which hands need them, with the number in block digits. The kit on the floor is for
training and gives no shock, so it comes first. Keys are no longer logged while it stands.
"""

from __future__ import annotations

from coach.settings import Room
from screens.keyboard import Caps
from screens.widgets.digits import big, big_width, can_show
from screens.widgets.ink import Glyphs, Line, fill, plain, wrap

NO_NUMBER = "your emergency number"
NO_ADDRESS = "Say where you are: no address was filled in."


def card_rows(room: Room, width: int, height: int, caps: Caps, marks: Glyphs) -> list[Line]:
    """The whole screen as the card."""
    ascii_only = marks.full == "#"
    number = plain(room.emergency_number, ascii_only)
    address = plain(room.address, ascii_only)
    unit = plain(room.real_unit, ascii_only)
    margin = 3 if width >= 60 else 0
    room_left = width - 2 * margin
    end = caps.cap("end")
    where = f"You are at: {address}" if address else NO_ADDRESS
    steps = [
        "Training kit aside: it gives no shock.",
        "Shout for help.",
        f"Phone {number or NO_NUMBER}, loudspeaker on.",
        "No normal breathing: push hard on the chest.",
        f"Send someone for the real unit: {unit}" if unit else "Send someone for the real unit.",
    ]
    show = number.replace(" ", "")
    large = height >= 22 and bool(show) and can_show(show) and big_width(show) <= room_left
    air = height >= 22
    lines: list[Line] = [[]] if air else []
    lines.append([(" REAL EMERGENCY ", "halt-strong"), ("  This is no drill now.", "strong")])
    if air:
        lines.append([])
    for place, step in enumerate(steps, 1):
        made = wrap(step, room_left - 3, 2)
        lines += [[(f"{place}  " if row == 0 else "   ", "quiet"), (text, "strong")] for row, text in enumerate(made)]
        if place == 3:
            if large:
                lines += [[], *([("   ", ""), (row, "strong")] for row in big(show, marks)), []]
            lines += [[("   ", ""), (text, "sand")] for text in wrap(where, room_left - 3, 2)]
        if air and (place == 3 or height >= 28):
            lines.append([])
    last: Line = [
        ("Nothing is logged any more. ", "quiet"),
        (f"{end} {end}", "strong"),
        (" leaves this card.", "quiet"),
    ]
    if height < 22 and width < 60:
        last = [(f"{end} {end}", "strong"), (" leaves this card", "quiet")]
    body = [[(" " * margin, ""), *line] for line in lines[: height - 1]]
    body += [[] for _ in range(height - 1 - len(body))]
    return [fill(line, width, more=marks.more) for line in [*body, [(" " * margin, ""), *last]]]
