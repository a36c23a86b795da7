"""Pieces of the drill screen: block digits, beads, the band, the tape, the keys at hand."""
