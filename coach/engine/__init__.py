"""The engine: a pure function from a state, an event and a time to a state and its effects."""
