"""What is at hand, and where: protocols, scenarios, files in use."""

from __future__ import annotations

from coach.commands.words import FINE, say, say_json, table


def where(json: bool) -> int:
    """Print the folders and files in use."""
    from coach.resources import data_dir, user_dir
    from coach.settings import settings_path

    own = user_dir()
    places = {
        "settings": settings_path(),
        "logs": own / "drills",
        "own_protocols": own / "protocols",
        "shipped_protocols": data_dir("protocols"),
        "demo": data_dir("demo"),
    }
    if json:
        say_json({name: str(path) for name, path in places.items()})
        return FINE
    rows = [
        (name.replace("_", " "), str(path), "" if path.exists() else "(not there yet)") for name, path in places.items()
    ]
    say(table(rows))
    return FINE
