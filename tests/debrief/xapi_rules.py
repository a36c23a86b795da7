"""The rules for xAPI statements, field by field, written from the published text and from nothing of ours.

Sections are those of "Experience API, Part Two: Data" (ADL, Apache-2.0), which IEEE 9274.1.1-2023 took over as its data
model: 2.2 formatting, 2.4.x statement properties, 4.1 extensions, 4.2 language maps, 4.3 IRIs, 4.4 UUIDs, 4.5
timestamps, 4.6 durations. Version 2.0 adds ``contextAgents`` and ``contextGroups``, which nothing here uses.
"""

from __future__ import annotations

import re
from typing import Any

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", re.IGNORECASE)
"""RFC 4122, standard string form, variant 2 (4.4)."""
IRI = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:[^\s<>\"{}|\\^`\x00-\x20]+")
"""RFC 3987: a scheme is a must (2.2.s4.b1.b8), and none of the signs that no IRI may hold."""
LANGUAGE = re.compile(
    r"(?:[A-Za-z]{2,3}(?:-[A-Za-z]{3}){0,3}|[A-Za-z]{4}|[A-Za-z]{5,8})"
    r"(?:-[A-Za-z]{4})?(?:-(?:[A-Za-z]{2}|[0-9]{3}))?"
    r"(?:-(?:[A-Za-z0-9]{5,8}|[0-9][A-Za-z0-9]{3}))*(?:-[0-9A-WY-Za-wy-z](?:-[A-Za-z0-9]{2,8})+)*(?:-x(?:-[A-Za-z0-9]{1,8})+)?"
)
"""RFC 5646, 2.1: langtag."""
TIMESTAMP = re.compile(
    r"\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])T(?:[01]\d|2[0-3]):[0-5]\d:(?:[0-5]\d|60)(?:\.\d+)?"
    r"(?:Z|[+-](?:[01]\d|2[0-3]):[0-5]\d)"
)
"""RFC 3339, 5.6 (4.5.s1.b2); an offset of -00:00 is no time zone."""
DURATION = re.compile(
    r"P(?:\d+(?:\.\d+)?W|(?=\d|T\d)(?:\d+(?:\.\d+)?Y)?(?:\d+(?:\.\d+)?M)?(?:\d+(?:\.\d+)?D)?"
    r"(?:T(?=\d)(?:\d+(?:\.\d+)?H)?(?:\d+(?:\.\d+)?M)?(?:\d+(?:\.\d+)?S)?)?)"
)
"""ISO 8601:2004(E), 4.4.3.2; not the form of 4.4.3.3 (4.6.s1.b1)."""

STATEMENT = {
    "id": False,
    "actor": True,
    "verb": True,
    "object": True,
    "result": False,
    "context": False,
    "timestamp": False,
    "stored": False,
    "authority": False,
    "version": False,
    "attachments": False,
}
IDENTIFIERS = ("mbox", "mbox_sha1sum", "openid", "account")
CONTEXT = {
    "registration",
    "instructor",
    "team",
    "contextActivities",
    "revision",
    "platform",
    "language",
    "statement",
    "extensions",
    "contextAgents",
    "contextGroups",
}


def faults(statement: Any) -> list[str]:
    """Every rule that a statement breaks, with its section; empty where it is sound."""
    found: list[str] = []

    def must(holds: bool, rule: str) -> bool:
        if not holds:
            found.append(rule)
        return holds

    def only(table: Any, names: set[str], where: str) -> bool:
        if not must(isinstance(table, dict), f"2.2: {where} is an object"):
            return False
        must(set(table) <= names, f"2.2.s4.b1.b7: {where} holds {sorted(set(table) - names)}")
        return True

    def text(value: Any, where: str) -> None:
        must(isinstance(value, str), f"2.2.s4.b1.b2: {where} is a string")

    def iri(value: Any, where: str) -> None:
        must(isinstance(value, str) and IRI.fullmatch(value) is not None, f"4.3: {where} is an IRI with a scheme")

    def language_map(value: Any, where: str) -> None:
        if must(isinstance(value, dict) and bool(value), f"4.2: {where} is a language map"):
            for tag, words in value.items():
                must(LANGUAGE.fullmatch(tag) is not None, f"4.2: {where} has the language {tag!r}")
                text(words, f"{where}.{tag}")

    def extensions(value: Any, where: str) -> None:
        if must(isinstance(value, dict), f"4.1: {where} is a map"):
            for key in value:
                iri(key, f"4.1.s3.b1: key of {where}")

    def agent(value: Any, where: str) -> None:
        if not only(value, {"objectType", "name", *IDENTIFIERS, "member"}, where):
            return
        kind = value.get("objectType", "Agent")
        must(kind in ("Agent", "Group"), f"2.4.2: {where} is an Agent or a Group")
        named = [name for name in IDENTIFIERS if name in value]
        must(len(named) <= 1, f"2.4.2.1.s2.b2: {where} has {named}")
        if kind == "Agent":
            must(len(named) == 1, f"2.4.2.1.s2.b1: {where} has one inverse functional identifier")
            must("member" not in value, f"2.4.2.1: {where} has members")
        else:
            must(bool(named) or bool(value.get("member")), f"2.4.2.2: {where} has members or an identifier")
            for member in value.get("member", []):
                agent(member, f"{where}.member")
        if "name" in value:
            text(value["name"], f"{where}.name")
        if "mbox" in value:
            must(re.fullmatch(r"mailto:[^\s@]+@[^\s@]+", str(value["mbox"])) is not None, f"2.4.2.3: {where}.mbox")
        if "mbox_sha1sum" in value:
            must(re.fullmatch(r"[0-9a-f]{40}", str(value["mbox_sha1sum"])) is not None, f"2.4.2.3: {where}.sha1")
        if "openid" in value:
            iri(value["openid"], f"2.4.2.3: {where}.openid")
        if "account" in value and only(value["account"], {"homePage", "name"}, f"{where}.account"):
            account = value["account"]
            must(set(account) == {"homePage", "name"}, f"2.4.2.4: {where}.account has both")
            iri(account.get("homePage"), f"2.4.2.4: {where}.account.homePage")
            text(account.get("name"), f"2.4.2.4: {where}.account.name")

    def activity(value: Any, where: str) -> None:
        if not only(value, {"objectType", "id", "definition"}, where):
            return
        must(value.get("objectType", "Activity") == "Activity", f"2.4.4.1: {where} is an Activity")
        iri(value.get("id"), f"2.4.4.1: {where}.id")
        # Interaction properties are left out on purpose: nothing of ours is a quiz.
        if "definition" in value and only(
            value["definition"], {"name", "description", "type", "moreInfo", "extensions"}, f"{where}.definition"
        ):
            definition = value["definition"]
            for name in ("name", "description"):
                if name in definition:
                    language_map(definition[name], f"2.4.4.1: {where}.definition.{name}")
            for name in ("type", "moreInfo"):
                if name in definition:
                    iri(definition[name], f"2.4.4.1: {where}.definition.{name}")
            if "extensions" in definition:
                extensions(definition["extensions"], f"{where}.definition.extensions")

    def result(value: Any) -> None:
        if not only(value, {"score", "success", "completion", "response", "duration", "extensions"}, "result"):
            return
        for name in ("success", "completion"):
            must(isinstance(value.get(name, True), bool), f"2.4.5: result.{name} is true or false")
        if "response" in value:
            text(value["response"], "2.4.5: result.response")
        if "duration" in value:
            duration = value["duration"]
            must(isinstance(duration, str) and DURATION.fullmatch(duration) is not None, "4.6.s1.b1: result.duration")
            must(re.search(r"\.\d{3}", str(duration)) is None, "4.6.s1.b2: finer than 0.01 s")
        if "score" in value:
            score = value["score"]
            must(-1 <= score.get("scaled", 0) <= 1, "2.4.5.1: score.scaled from -1 to 1")
        if "extensions" in value:
            extensions(value["extensions"], "result.extensions")

    def context(value: Any, about_activity: bool) -> None:
        if not only(value, CONTEXT, "context"):
            return
        if "registration" in value:
            registered = value["registration"]
            must(
                isinstance(registered, str) and UUID.fullmatch(registered) is not None, "2.4.6: registration is a UUID"
            )
        for name in ("instructor", "team"):
            if name in value:
                agent(value[name], f"context.{name}")
        for name in ("revision", "platform"):
            if name in value:
                text(value[name], f"2.4.6: context.{name}")
                must(about_activity, f"2.4.6.s4: {name} only where the object is an Activity")
        if "language" in value:
            must(LANGUAGE.fullmatch(str(value["language"])) is not None, "2.4.6: context.language, RFC 5646")
        if "contextActivities" in value and only(
            value["contextActivities"], {"parent", "grouping", "category", "other"}, "2.4.6.2: contextActivities"
        ):
            for kind, activities in value["contextActivities"].items():
                for one in activities if isinstance(activities, list) else [activities]:
                    activity(one, f"contextActivities.{kind}")
        if "extensions" in value:
            extensions(value["extensions"], "context.extensions")

    def no_nulls(value: Any, where: str) -> None:
        if isinstance(value, dict):
            for name, one in value.items():
                if name != "extensions":
                    no_nulls(one, f"{where}.{name}")
        elif isinstance(value, list):
            for one in value:
                no_nulls(one, where)
        else:
            must(value is not None, f"2.2.s4.b1.b1: {where} is null")

    if not only(statement, set(STATEMENT), "statement"):
        return found
    for name, needed in STATEMENT.items():
        must(not needed or name in statement, f"2.4: {name} is required")
    no_nulls(statement, "statement")
    if "id" in statement:
        must(UUID.fullmatch(str(statement["id"])) is not None, "2.4.1: id is a UUID")
    agent(statement.get("actor"), "actor")
    verb = statement.get("verb")
    if only(verb, {"id", "display"}, "verb"):
        iri(verb.get("id"), "2.4.3: verb.id")
        if "display" in verb:
            language_map(verb["display"], "2.4.3: verb.display")
    thing = statement.get("object")
    kind = thing.get("objectType", "Activity") if isinstance(thing, dict) else "Activity"
    activity(thing, "object")
    if "result" in statement:
        result(statement["result"])
    if "context" in statement:
        context(statement["context"], kind == "Activity")
    for name in ("timestamp", "stored"):
        if name in statement:
            when = str(statement[name])
            must(TIMESTAMP.fullmatch(when) is not None and not when.endswith("-00:00"), f"4.5: {name}")
            must(re.search(r"\.\d{3}", when) is not None, f"4.5.s1.b3: {name} to the millisecond")
    if "version" in statement:
        must(re.fullmatch(r"(?:1\.0|2\.0)\.\d+", str(statement["version"])) is not None, "2.4.10: version")
    must("stored" not in statement and "authority" not in statement, "2.4.8, 2.4.9: set by the store")
    return found
