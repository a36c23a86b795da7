"""The splitter alone: characters and arrival times in, pieces out."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from screens.input_bytes import PASTE_SILENCE_S, Alt, Escape, EscapeSplitter, Pasted, Piece, Text

MS = 0.001


def split(*arrivals: tuple[float, str], end: float | None = None) -> list[Piece]:
    """Feed (ms, characters) in order, asking before each whether time has run out, as the driver does."""
    splitter = EscapeSplitter()
    out: list[Piece] = []
    for at, text in arrivals:
        out += splitter.passed(at * MS - 0.0005)
        out += splitter.feed(text, at * MS)
    if end is not None:
        out += splitter.passed(end * MS)
    return out


def test_escape_alone_is_escape_once_its_time_has_passed() -> None:
    assert split((100, "\x1b"), end=109) == []
    assert split((100, "\x1b"), end=111) == [Escape(0.1)]


def test_escape_and_a_later_key_are_both_kept_with_their_own_times() -> None:
    for key in (" ", "\r", "\x7f", "c", "[", "O", "1"):
        assert split((0, "\x1b"), (60, key)) == [Escape(0.0), Text(key, 0.06)]
    assert split((0, "\x1b"), (11, "c")) == [Escape(0.0), Text("c", 0.011)]


def test_escape_and_a_key_within_ten_milliseconds_are_alt() -> None:
    assert split((0, "\x1bc")) == [Alt("c", 0.0)]
    assert split((0, "\x1b"), (10, "c")) == [Alt("c", 0.01)]
    names = {"\r": "enter", " ": "space", "\x7f": "backspace", "\t": "tab"}
    for byte, name in names.items():
        assert split((0, "\x1b" + byte), end=900) == [Alt(name, 0.0)]
    assert split((0, "\x1b[")) == [Alt("[", 0.0)]
    assert split((0, "\x1bcd")) == [Alt("c", 0.0), Text("d", 0.0)]


def test_sequences_that_arrive_together_are_left_alone() -> None:
    for sequence in ("\x1b[A", "\x1bOM", "\x1b[I", "\x1b[27u", "\x1b[99;3u", "\x1b[<35;10;10M", "\x1b[?2026;2$y"):
        assert split((0, sequence), end=900) == [Text(sequence, 0.0)]
    assert split((0, "\x1b[O\x1b[I")) == [Text("\x1b[O", 0.0), Text("\x1b[I", 0.0)]
    assert split((0, "\x1b"), (4, "[A")) == [Text("\x1b[A", 0.004)]
    assert split((0, "\x1b\x1b[A")) == [Text("\x1b[A", 0.0)]


def test_two_escapes() -> None:
    assert split((0, "\x1b"), (300, "\x1b"), end=400) == [Escape(0.0), Escape(0.3)]
    assert split((0, "\x1b\x1b"), end=400) == [Escape(0.0)]
    assert split((0, "a\x1b"), (50, "\x1bb")) == [Text("a", 0.0), Escape(0.0), Alt("b", 0.05)]


def test_a_paste_is_one_piece_whatever_stands_in_it() -> None:
    assert split((0, "\x1b[200~a\x1bb \x1b[A z\x1b[201~q")) == [Pasted("a\x1bb \x1b[A z", 0.0), Text("q", 0.0)]
    assert split((0, "\x1b[200~ab\x1b"), (30, "[201~")) == [Pasted("ab", 0.03)]
    assert split((0, "\x1b[200~ab\x1b[20"), (30, "1~\x1b"), end=50) == [Pasted("ab", 0.03), Escape(0.03)]


def test_escape_gets_out_of_a_paste_that_never_ends() -> None:
    late = (PASTE_SILENCE_S + 3.001) * 1000
    assert split((0, "\x1b[200~ab"), (2000, "c"), (3000, "\x1b"), end=late) == [
        Pasted("abc", late * MS),
        Escape(3.0),
    ]


ARRIVALS = st.lists(
    st.tuples(
        st.integers(11, 500), st.sampled_from(["\x1b", "c", " ", "\r", "\x1b[A", "\x1b[I", "\x1b[200~x\x1b[201~"])
    ),
    max_size=20,
)


@given(ARRIVALS)
def test_whatever_comes_apart_stays_apart_and_no_escape_is_lost(gaps: list[tuple[int, str]]) -> None:
    at = 0.0
    arrivals = []
    for gap, text in gaps:
        at += gap
        arrivals.append((at, text))
    out = split(*arrivals, end=at + 1000)
    expected: list[Piece] = []
    for when, text in arrivals:
        if text == "\x1b":
            expected.append(Escape(when * MS))
        elif "200~" in text:
            expected.append(Pasted("x", when * MS))
        else:
            expected.append(Text(text, when * MS))
    assert out == expected


@given(st.lists(st.tuples(st.integers(0, 40), st.text("\x1bcO[1A ", min_size=1, max_size=9)), max_size=12))
def test_no_input_breaks_it_and_no_plain_character_is_lost(gaps: list[tuple[int, str]]) -> None:
    at = 0.0
    arrivals = []
    for gap, text in gaps:
        at += gap
        arrivals.append((at, text))
    kept = ""
    for piece in split(*arrivals, end=at + 5000):
        kept += piece.text if isinstance(piece, Text) else piece.name if isinstance(piece, Alt) else ""
    sent = "".join(text for _, text in arrivals)
    assert kept.replace("space", " ").replace("\x1b", "") == sent.replace("\x1b", "")
