"""Many logs judged on several processes: the same as on one, in the order in which they were given."""

from __future__ import annotations

from pathlib import Path

from coach.debrief.many import each
from coach.debrief.progress import attempt_of
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.resources import data_dir
from coach.same import Same

SCRIPT = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8")


def test_processes_change_nothing_and_a_broken_log_is_told_in_its_place(tmp_path: Path) -> None:
    paths = []
    for number in range(3):
        script = read_script(SCRIPT.replace("learner: 07", f"learner: 1{number}"), "test")
        paths.append(play(script, setup_of(script, setup_for), tmp_path))
    broken = tmp_path / "broken.jsonl"
    broken.write_bytes(paths[0].read_bytes().replace(b'"call_made"', b'"call_mode"', 1))
    asked = [paths[2], broken, *paths] * 4  # more than go to a process at once
    alone, together = (list(each(asked, attempt_of, processes)) for processes in (1, 2))
    assert alone == together and len(alone) == 20
    assert alone[0][0] is not None and alone[0][0].drill == paths[2].stem and alone[0][1] == ""
    assert alone[1][0] is None and "broken.jsonl" in alone[1][1]


def test_a_key_means_one_very_object() -> None:
    one, like = [1], [1]
    assert Same(one) == Same(one) and hash(Same(one)) == hash(Same(one))
    assert Same(one) != Same(like) and Same(one) != one
