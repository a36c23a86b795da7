"""Random examples are the same in every run, so that a red suite is red for everybody.

``pytest --hypothesis-profile=search`` looks at other ones each time; what it finds goes into a test of its own.
"""

from hypothesis import settings

settings.register_profile("same", derandomize=True)
settings.register_profile("search", derandomize=False, print_blob=True)
settings.load_profile("same")
