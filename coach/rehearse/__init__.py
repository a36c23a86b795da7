"""Rehearsing alone: decisions without hands, on the protocol files and the engine of the drills.

It trains the order of decisions and nothing that hands do, and every front end says so on entry.
"""
