"""The rules of a protocol, each proved or told by the shortest story that breaks it."""
