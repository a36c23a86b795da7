"""The reference of the language: it is the models', and every name of a file is in it."""

from __future__ import annotations

import inspect

import pytest

from coach.protocol import local_model, model
from coach.protocol.reference import PLACES, table_of


def test_every_table_of_the_models_is_told() -> None:
    told = {of for _, of in PLACES.values()}
    models = {
        one
        for room in (model, local_model)
        for _, one in inspect.getmembers(room, inspect.isclass)
        if issubclass(one, model.Authored)
    }
    # When a throw happens is told with the throw.
    assert models - told == {model.Authored, model.After, model.Span}


@pytest.mark.parametrize("name", sorted(PLACES))
def test_a_table_has_its_words_and_each_member_says_what_it_may_be(name: str) -> None:
    made = table_of(name)
    assert made.about and "``" not in made.about and ":mod:" not in made.about
    assert [one.name for one in made.members] == [
        info.alias or field for field, info in PLACES[name][1].model_fields.items()
    ]
    assert all(one.what and "typing" not in one.what and "Annotated" not in one.what for one in made.members)


def test_what_a_member_may_be_is_read_from_its_type() -> None:
    said = {one.name: (one.what, one.needed) for one in table_of("timer").members}
    assert said["after"] == ('a time, such as "500 ms", "10 s", "2 min"', False)
    assert said["most"] == ("a whole number, from 1 to 10000", False)
    arrow = {one.name: one.what for one in table_of("arrow").members}
    assert arrow["fault"] == "a table as `fault`" and arrow["on"] == "a name, or a list of names"
    track = {one.name: (one.what, one.needed) for one in table_of("track").members}
    assert track["step"] == ("tables by name, each as `step`", True) and track["spine"][0] == "a list of names"
    assert {one.name: one.what for one in table_of("step").members}["severity"].startswith("one of critical, major")
